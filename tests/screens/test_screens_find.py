"""Anything is found by its name, and a place by its label; a learner's and a shared walk."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

from msgspec.structs import replace
from screens_hand import Clock, Hand, of_kind, open_book, opened
from textual import events
from textual.keys import _character_to_key

from rounds.records.entry import Answer, Correction, Matter, Note, Reading, Signed, Walk
from rounds.screens.find import Found, matching
from rounds.screens.halves import HalfTyped
from rounds.site.glossary import glossary
from rounds.site.model import Person, Site


def found(*titles: str) -> list[str]:
    every = [Found(title, "place", print, title.split()[0]) for title in ("G1 Grow", "G12 Grow")]
    every += [Found(title, "page", print) for title in ("rations", "growth of G1", "hand-off")]
    return [one.title for one in matching(every, *titles)]


def test_a_whole_code_comes_first_then_what_begins_so() -> None:
    assert found("g1") == ["G1 Grow", "G12 Grow", "growth of G1"]
    assert found("G12") == ["G12 Grow"]
    assert found("grow") == ["growth of G1", "G1 Grow", "G12 Grow"]
    assert found("hand off") == ["hand-off"]
    assert found("zz") == []
    assert len(found("")) == 5


async def scanned(hand: Hand, label: str) -> None:
    """Send a label as a scanner does: all of it at once, and Enter."""
    for key in (*label, "enter"):
        name = _character_to_key(key) if len(key) == 1 else key
        hand.app.post_message(events.Key(name, key if len(key) == 1 else None))
    for _ in range(3):
        await hand.settle()


async def test_a_label_scanned_in_a_walk_goes_to_its_place_and_keeps_what_was_half_typed(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.")
        await scanned(hand, "JQ1")
        assert "Q1  Quarantine" in hand.lines("head")
        await hand.press("1")
        await scanned(hand, "ja1")
        assert "A1  First tank" in hand.lines("head")
        assert "A1 is cleaner than Q1: wash, dip boots" in hand.lines("body")
        assert "You had typed 6." in hand.lines("telling")
        assert [a.place for a in of_kind(hand.entries(), Answer)] == ["A1", "Q1"]
        await scanned(hand, "JX9")
        assert "There is no X9 here" in hand.lines("telling")


async def test_a_label_scanned_on_the_board_marks_the_place_and_enter_walks_there(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await scanned(hand, "JA2")
        assert "A2 Second tank" in hand.lines("telling")
        await hand.press("enter")
        assert "A2  Second tank" in hand.lines("head")


async def test_what_was_kept_is_found_by_place_and_name_and_corrected(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await scanned(hand, "JA1 do all")
        assert hand.label == "WALK"
        assert "A1  First tank" in hand.lines("head")
        await hand.press("escape")
        await scanned(hand, "JA1 do all")
        assert "CORRECT  A1  First tank" in hand.lines("head")
        await hand.press("2", "enter", "1")
        assert hand.label == "BOARD"
        (kept,) = of_kind(hand.entries(), Answer)
        (fixed,) = of_kind(hand.entries(), Correction)
        assert fixed.of == kept.id


async def test_a_label_scanned_where_digits_answer_answers_nothing(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        for keys in (("enter", "s"), ("r", "e"), ("k",), ("k", "1")):
            await hand.press(*keys)
            label, size = hand.label, hand.app.desk.farm.size
            await scanned(hand, "JA1")
            if not hand.app.screen.words:  # a line of words takes the label as words
                assert (hand.label, "A1 is" in hand.text) == ("WHY", True), keys
                await hand.press("escape")
                assert hand.label == label
            assert hand.app.desk.farm.size == size
            while hand.label != "BOARD":
                await hand.press("escape")


async def test_pages_forms_cards_and_words_are_found_over_a_walk_and_lead_back_to_it(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        for line, label, says in (
            ("fish moved", "RECORD", "fish moved"),
            ("low ox", "EMERGENCY", "Low oxygen"),
            ("tan", "WORD", "Total ammonia nitrogen"),
            ("who may", "SIGNED OFF", "nobody is signed off"),
            ("rat", "RATION", "A1"),
        ):
            await hand.press("j")
            await hand.type(line)
            await hand.press("enter")
            assert (hand.label, says in hand.text) == (label, True), line
            if label == "RATION":  # it began at the walk's place
                await scanned(hand, "ja2")
                assert "> A2" in hand.lines("table")
            while hand.label != "WALK":
                await hand.press("escape")
        assert "> Dissolved oxygen" in hand.lines("body")


async def test_the_place_that_was_found_goes_along_to_the_sheet_and_the_form(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await scanned(hand, "JA2")
        await hand.press("r")
        assert "> A2" in hand.lines("table")
        await hand.press("escape", "k", "3")  # fish out: out of which place
        assert "> 2  A2" in hand.lines("body")
        await hand.press("enter")
        assert "> 1" in hand.lines("body")  # the only lot there
        await hand.press("enter")
        assert "How many fish" in hand.lines("head")


async def test_the_sheet_of_a_lot_is_found_by_its_name(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("j", *"lot l1", "enter")
        await hand.until("WHERE IT SWAM")
        assert hand.label == "LOT"
        assert "400 of L1 came in" in hand.lines("body")


async def test_an_empty_line_does_nothing_and_words_take_every_letter(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("j", "enter")
        assert (hand.label, "Type part of a name" in hand.text) == ("FIND", True)
        await hand.press("escape", "m")
        await hand.type("jj")
        await hand.press("enter")
        assert [note.text for note in of_kind(hand.entries(), Note)] == ["jj"]


def test_the_glossary_explains_each_word_once() -> None:
    words = glossary()
    assert len(words) >= 60
    assert len({word.name.casefold() for word in words}) == len(words)
    assert all(word.says.endswith((".", "NOW.")) and len(word.says) < 300 for word in words)
    every = " ".join(word.name for word in words)
    said = "TAN NH3-N alkalinity FCR SGR dry pass loop NBS gamma-Poisson = ^ ~ matter wet hold"
    assert not [word for word in said.split() if word not in every.replace(",", "").split()]


# -- half typed ------------------------------------------------------------------------------------


def test_what_is_half_typed_outlives_the_program_and_is_one_persons(tmp_path: Path) -> None:
    at = ("A1", "oxygen")
    HalfTyped(tmp_path / "state").hold("w1", "ana", at, "6.")
    again = HalfTyped(tmp_path / "state")
    assert again.of("w1", "ana") == {at: "6."}
    assert again.of("w2", "ana") == {}
    assert HalfTyped(tmp_path / "state").of("w1", "rui") == {}
    again.hold("w1", "ana", at, "")
    assert not list((tmp_path / "state").iterdir())


def test_a_file_with_anything_else_in_it_is_passed_over(tmp_path: Path) -> None:
    HalfTyped(tmp_path).hold("w1", "ana", ("A1", "oxygen"), "6.")
    (file,) = tmp_path.iterdir()
    for text in ("", "[", "{}", "[[1]]", "[" * 9999, json.dumps([["A1", "oxygen", "\x1b[2J"]])):
        file.write_text(text, "utf-8")
        assert HalfTyped(tmp_path).of("w1", "ana") == {}


async def test_a_half_typed_value_is_on_the_disk_before_anything_ends(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.")
        hand.app.screen._pauses[0].stop()  # type: ignore[attr-defined]
        await hand.app.screen._hold_half()  # type: ignore[attr-defined]
        state = hand.app.desk.half
        (walk,) = hand.app.desk.farm.walks
    assert HalfTyped(state.folder).of(walk, "ana") == {("A1", "oxygen"): "6."}
    async with opened(stocked, clock) as hand:
        await hand.press("enter")
        assert "You had typed 6." in hand.lines("telling")
        await hand.press("right", "8", "enter")
        assert HalfTyped(state.folder).of(walk, "ana") == {}


# -- two people ------------------------------------------------------------------------------------


async def test_a_step_somebody_else_kept_meanwhile_is_gone_on_from(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        (walk,) = hand.app.desk.farm.walks

        def theirs(measure: str, value: str, unit: str) -> None:
            with open_book(stocked, clock) as book:
                book.append(
                    Reading(measure=measure, value=value, unit=unit, step=measure, place="A1",
                            walk=walk, verdict="ok", by="rui")
                )  # fmt: skip

        theirs("oxygen", "6.7", "mg/L")
        await hand.app.listen()
        assert "A1 Dissolved oxygen: 6.7 mg/L, by Rui 07:10" in hand.lines("telling")
        assert "> Water temperature" in hand.lines("body")
        assert "by Rui 07:10" in hand.lines("body")
        await hand.type("25")
        theirs("temperature", "25.1", "degC")
        await hand.app.listen()
        assert "Down leaves it, Enter keeps" in hand.lines("telling")
        assert "> Water temperature" in hand.lines("body")
        assert "[ 25 " in hand.lines("body")


# -- learning --------------------------------------------------------------------------------------


async def test_a_learner_reads_why_and_is_told_once_to_have_somebody_beside(
    stocked: Site, clock: Clock
) -> None:
    ines = Person("ines", "Ines", "student")
    site = replace(stocked, people={**stocked.people, "ines": ines})
    async with opened(site, clock, by="ines") as hand:
        await hand.press("enter")
        assert "Ines, this round is yours with somebody beside you" in hand.lines("telling")
        assert "Ines: new here" in hand.lines("head")
        await hand.press("1")
        assert "somebody" not in hand.lines("telling")
        assert "Why: Fish die in minutes without it." in hand.lines("body")
        with open_book(site, clock) as book:
            book.append(Signed(person="ines", task="first-light", level="done alone", by="ana"))
        await hand.app.listen()
        await hand.press("escape", "enter")
        assert "beside" not in hand.text
        assert "Ines: done alone" in hand.lines("head")
    async with opened(site, clock, by="rui") as hand:
        await hand.press("enter")
        assert "Why: Fish die" not in hand.text


# -- what stands at the foot, and what is known ----------------------------------------------------


async def test_what_is_to_be_read_again_stands_on_every_screen(stocked: Site, clock: Clock) -> None:
    with open_book(stocked, clock) as book:
        book.append(
            Reading(measure="oxygen", value="4.8", unit="mg/L", place="A2", verdict="watch", by="a")
        )
    async with opened(stocked, clock) as hand:
        says = "Read again A2 oxygen by 07:40"
        for keys in ((), ("r",), ("escape", "o"), ("escape", "x"), ("escape", "m"),
                     ("escape", "enter"), ("s",)):  # fmt: skip
            await hand.press(*keys)
            assert says in hand.lines("standing"), hand.label
            assert "LATE" not in hand.lines("standing")
        clock.now += timedelta(minutes=31)
        await hand.press("escape")
        assert f"! LATE  {says}" in hand.lines("standing")


async def test_a_value_to_watch_is_put_into_somebodys_hands_by_digits(
    stocked: Site, clock: Clock
) -> None:
    with open_book(stocked, clock) as book:
        for code in stocked.places:
            book.append(Reading(measure="oxygen", value="6.8", unit="mg/L", place=code, by="rui"))
        book.append(Reading(measure="tan", value="0.02", unit="mg/L", place="A2", by="rui"))
        book.append(
            Reading(measure="ph", value="8.5", unit="pH", place="A2", verdict="watch", by="rui")
        )
    async with opened(stocked, clock) as hand:
        await hand.press("o", "n")
        assert "1  A2 pH 8.50, above 8.40" in hand.text
        await hand.press("1")
        await hand.type("CO2 valve ordered")
        await hand.press("enter", "2", "3")
        assert "2  above 8.65" in hand.text
        await hand.press("2")
        (kept,) = of_kind(hand.entries(), Matter)
        assert (kept.owner, kept.until, kept.again_if) == ("rui", "2026-11-27 07:10", "above 8.65")
        await hand.press("escape")
        assert "~ KNOWN" in hand.lines("places")
        assert "! WATCH" not in hand.text


# -- the first five minutes ------------------------------------------------------------------------


async def test_the_guide_notices_what_was_done_and_esc_on_the_board_ends_it_for_ever(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock, told=False) as hand:
        await hand.press("enter")
        for keys, number in (
            ((), 1), (("w",), 2), (("escape",), 3), (("enter",), 4), (("1",), 5), (("6", "8"), 6),
            (("backspace", "escape", "r"), 7), (("w",), 8), (("escape", "escape", "o"), 9),
        ):  # fmt: skip
            await hand.press(*keys)
            assert f"Guide {number} of 9" in hand.lines("standing"), keys
        await hand.press("escape")
        assert "Guide" not in hand.text
        await hand.press("j")
        await hand.type("first five")
        await hand.press("enter")
        assert "Guide 1 of 9" in hand.lines("standing")
        await hand.press("escape")
        assert "Guide" not in hand.text
    async with opened(stocked, clock, told=False) as hand:
        assert "Guide" not in hand.text


async def test_a_farm_that_is_not_invented_has_no_guide(stocked: Site, clock: Clock) -> None:
    async with opened(replace(stocked, notice=""), clock, told=False) as hand:
        await hand.press("enter")
        assert hand.label == "BOARD"
        assert "Guide" not in hand.text
        await hand.press("j")
        await hand.type("first five")
        assert "Nothing has that name" in hand.text


async def test_words_typed_on_after_a_correction_that_asks_no_reason_are_no_keys(
    stocked: Site, clock: Clock
) -> None:
    time = [0.0]

    def steady() -> float:
        time[0] += 0.4
        return time[0]

    async with opened(stocked, clock, steady=steady) as hand:
        await hand.press("enter", "1")
        await hand.type("6.8")
        await hand.press("enter", "up")
        await hand.type("7.1")
        await hand.press("enter")
        walks = len(of_kind(hand.entries(), Walk))
        await hand.type("sw bx")
        assert hand.label == "WALK"
        assert "needs no reason" in hand.lines("telling")
        assert "> Water temperature" in hand.lines("body")
        time[0] += 5
        await hand.press("s")
        assert "Why is this skipped?" in hand.text
        assert len(of_kind(hand.entries(), Walk)) == walks
