"""Rations, doses, hand-off: as advised or changed with a reason, signed, taken over."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path

import pytest
from screens_hand import NOW, Clock, Hand, open_book, opened

from rounds.day.feeding.rations import today
from rounds.records.entry import (
    Correction,
    Dosed,
    Entry,
    Exchanged,
    Fed,
    Handoff,
    Matter,
    Reading,
    Takeover,
)
from rounds.screens.ink import grams
from rounds.site.model import Site


@pytest.fixture
def read(stocked: Site, clock: Clock) -> Site:
    """Oxygen of this morning: A1 and Q1 well, A2 to act on; alkalinity low."""
    clock.now = NOW - timedelta(minutes=20)
    with open_book(stocked, clock) as book:
        for code, value in (("A1", "6.8"), ("A2", "3.1"), ("Q1", "6.9")):
            book.append(Reading(measure="oxygen", value=value, unit="mg/L", place=code, by="rui"))
        book.append(Reading(measure="ph", value="7.8", unit="pH", place="A1", by="rui"))
        book.append(
            Reading(measure="alkalinity", value="80", unit="mg/L CaCO3", place="A1", by="rui")
        )
        book.append(Matter(text="order salt", by="rui"))
    clock.now = NOW
    return stocked


async def test_enter_gives_the_next_meal_as_advised_and_stays_there(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r")
        assert "1 of 2" in hand.lines("table")
        await hand.press("enter")
        fed = next(e for e in hand.entries() if isinstance(e, Fed))
        assert (fed.place, fed.meal, fed.by) == ("A1", 1, "ana")
        assert fed.amount == fed.advised != "0"
        assert any("kg" in reason for reason in fed.reasons)
        assert "2: not before" in hand.lines("table")
        assert f"meal 1, {fed.amount} g given" in hand.lines("telling")
        assert "> A1" in hand.lines("table")


async def test_the_total_in_the_heading_is_that_of_the_rows_in_sight(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r")
        with open_book(read, clock) as other:
            other.append(Reading(measure="oxygen", value="3.0", unit="mg/L", place="A1", by="rui"))
        await hand.app.listen()
        total = sum(r.total_g for r in today(read, hand.app.desk.farm, clock()))
        assert f"{grams(total)} in all" in hand.lines("head")


def meals(entries: list[Entry]) -> list[Fed]:
    return [entry for entry in entries if isinstance(entry, Fed)]


async def test_a_meal_too_soon_is_kept_only_by_a_second_enter_with_a_reason(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "enter", "enter")
        assert "next not before" in hand.lines("telling")
        assert len(meals(hand.entries())) == 1
        await hand.press("down", "up", "enter")
        assert len(meals(hand.entries())) == 1
        assert "next not before" in hand.lines("telling")
        await hand.press("enter")
        assert "Why all the same?" in hand.text
        await hand.press("enter")
        assert "Press the digit" in hand.lines("telling")
        assert len(meals(hand.entries())) == 1
        await hand.press("2")
        again = meals(hand.entries())[-1]
        assert (again.place, again.meal, again.why) == ("A1", 2, "supervisor said so")


async def test_an_amount_ten_times_too_much_is_told_and_taken_back_by_another_key(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "e")
        advised = hand.app.screen_stack[1].rations[0].next_meal_g
        await hand.type(f"{advised * 10:.0f}")
        await hand.press("enter", "2")
        assert "10 times the meal" in hand.lines("telling")
        assert "Enter again keeps it" in hand.lines("telling")
        assert not meals(hand.entries())
        await hand.press("down", "up")
        assert "10 times" not in hand.text
        await hand.press("enter")
        assert meals(hand.entries())[-1].amount == f"{advised:g}"


async def test_an_odd_amount_that_is_meant_is_kept_with_its_reason(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "e")
        await hand.type("9")
        await hand.press("enter", "1")
        assert "decimal point?" in hand.lines("telling")
        await hand.press("enter")
        (fed,) = meals(hand.entries())
        assert (fed.amount, fed.why) == ("9", "fish left food")


async def test_a_doubt_is_told_anew_when_another_laptop_wrote_meanwhile(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "enter", "enter")
        with open_book(read, clock) as other:
            other.append(Matter(text="order feed", by="rui"))
        await hand.app.listen()
        await hand.press("enter")
        assert "Why all the same?" not in hand.text
        assert len(meals(hand.entries())) == 1


async def test_a_mistaken_meal_is_taken_back_with_a_reason(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r")
        before = hand.lines("table")
        assert "take back" not in hand.lines("keys")
        await hand.press("enter")
        assert "U take back" in hand.lines("keys")
        await hand.press("u", "2")
        (void,) = [e for e in hand.entries() if isinstance(e, Correction)]
        assert void.void
        assert void.of == meals(hand.entries())[0].id
        assert void.why == "wrong tank or loop"
        assert hand.lines("table") == before
        assert "Taken back: A1 meal 1" in hand.lines("telling")
        assert "take back" not in hand.lines("keys")


async def test_another_amount_needs_a_reason_and_both_are_kept(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "e")
        await hand.type("120,5")
        await hand.press("enter", "1")
        fed = next(e for e in hand.entries() if isinstance(e, Fed))
        assert (fed.amount, fed.why) == ("120.5", "fish left food")
        assert float(fed.advised) != 120.5


async def test_no_feed_gives_nothing_and_feeding_takes_a_second_step(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "down")
        assert "NO FEED" in hand.lines("table")
        await hand.press("enter")
        assert "Nothing to give" in hand.lines("telling")
        assert not [e for e in hand.entries() if isinstance(e, Fed)]
        await hand.press("e")
        assert "A2 is NO FEED" in hand.text
        await hand.press("1")
        assert hand.label == "RATION"
        await hand.press("e", "2")
        await hand.type("50")
        await hand.press("enter", "5")
        await hand.type("supervisor asked")
        await hand.press("enter")
        fed = next(e for e in hand.entries() if isinstance(e, Fed))
        assert (fed.place, fed.amount, fed.advised, fed.why) == (
            "A2",
            "50",
            "0",
            "supervisor asked",
        )


async def test_esc_on_the_way_to_another_amount_keeps_nothing(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "e")
        await hand.type("12")
        await hand.press("enter", "escape")
        assert hand.label == "RATION"
        assert not [e for e in hand.entries() if isinstance(e, Fed)]


async def test_why_opens_a_ration_and_a_dose(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "w")
        assert "test table" in hand.text
        await hand.press("escape", "escape", "d", "w")
        assert "11.80 m^3" in hand.text


async def test_enter_gives_a_portion_as_advised(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("d")
        assert "Baking soda" in hand.lines("table")
        await hand.press("enter")
        dosed = next(e for e in hand.entries() if isinstance(e, Dosed))
        assert (dosed.loop, dosed.product, dosed.portion) == ("A", "BICARB", 1)
        assert dosed.amount == dosed.advised
        assert dosed.reasons
        assert "1 given" in hand.lines("table")


async def test_a_portion_too_soon_is_kept_only_by_a_second_enter_with_a_reason(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("d", "enter")
        assert "not before" in hand.lines("table")
        assert "at once" not in hand.lines("table").split("\n")[0]
        await hand.press("enter")
        assert "next not before" in hand.lines("telling")
        assert len([e for e in hand.entries() if isinstance(e, Dosed)]) == 1
        await hand.press("enter", "2")
        dosed = [e for e in hand.entries() if isinstance(e, Dosed)]
        assert [d.why for d in dosed] == ["", "supervisor said so"]


async def test_a_mistaken_portion_is_taken_back_with_a_reason(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("d")
        before = hand.lines("table")
        await hand.press("enter", "u", "1")
        (void,) = [e for e in hand.entries() if isinstance(e, Correction)]
        assert void.void
        assert isinstance(hand.app.desk.farm.entries[void.of], Dosed)
        assert hand.lines("table") == before
        assert "Taken back" in hand.lines("telling")


async def test_another_dose_needs_a_reason(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("d", "e")
        await hand.type("90")
        await hand.press("enter", "2")
        dosed = next(e for e in hand.entries() if isinstance(e, Dosed | Exchanged))
        assert isinstance(dosed, Dosed)
        assert (dosed.amount, dosed.why) == ("90", "not enough of it here")


async def to_the_end(hand: Hand) -> None:
    """Read on with Enter until the key that goes further does what it says."""
    await hand.press("g")
    assert "read to its end first" in hand.lines("telling")
    for _ in range(12):
        await hand.press("enter")
        if "The end. G" in hand.lines("telling"):
            return
    raise AssertionError(hand.lines("telling"))


async def test_enter_alone_never_signs_a_shift_away(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("o", "g")
        assert hand.label == "HAND-OFF"
        assert "Who takes over?" not in hand.text
        await to_the_end(hand)
        await hand.press("enter", "enter")
        assert "G signs it" in hand.lines("telling")
        assert not [e for e in hand.entries() if isinstance(e, Handoff)]
        await hand.press("pageup", "end", "g", "enter", "enter")
        assert "Who takes over?" in hand.text
        assert " > " not in hand.lines("body")
        assert "Press the digit" in hand.lines("telling")
        assert not [e for e in hand.entries() if isinstance(e, Handoff)]
        await hand.press("down", "enter")
        assert [e.to for e in hand.entries() if isinstance(e, Handoff)] == ["rui"]


async def test_a_hand_off_is_signed_to_a_name_and_written_once(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("o")
        assert "WORST PLACE FIRST" in hand.lines("body")
        await hand.press("m")
        await hand.type("pump 2 hums [/")
        await hand.press("enter")
        assert "pump 2 hums [/" in hand.lines("body")
        await to_the_end(hand)
        await hand.press("g", "1")
        signed = next(e for e in hand.entries() if isinstance(e, Handoff))
        assert (signed.by, signed.to) == ("ana", "rui")
        assert "pump 2 hums [/" in signed.text
        assert "X ACT NOW" in signed.text
        (file,) = sorted((read.folder / "reports").iterdir())
        assert file.name == "handoff-2026-11-24-1.md"
        assert "Rui" in file.read_text()
        assert f"reports/{file.name}" in hand.lines("telling")


async def test_the_next_person_reads_to_the_end_and_takes_over(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("o")
        await to_the_end(hand)
        await hand.press("g", "1")
    clock.now += timedelta(minutes=5)
    async with opened(read, clock, by="rui") as hand:
        await hand.press("o")
        assert "from Ana" in hand.lines("head")
        await to_the_end(hand)
        assert "G take over" in hand.lines("keys")
        assert "sign" not in hand.lines("keys")
        await hand.press("enter")
        assert not [e for e in hand.entries() if isinstance(e, Takeover)]
        await hand.press("g")
        taken = [e for e in hand.entries() if isinstance(e, Takeover)]
        assert [t.by for t in taken] == ["rui"]
        matter = next(e for e in hand.entries() if isinstance(e, Matter))
        assert taken[0].seen == [matter.id]
        await to_the_end(hand)
        assert "G sign" in hand.lines("keys")


async def test_a_matter_is_opened_and_settled(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("o", "n")
        await hand.type("vet comes")
        await hand.press("enter", "1", "2")
        assert "vet comes" in hand.lines("body")
        await hand.press("e", "2")
        assert [m.text for m in hand.app.desk.farm.matters] == ["order salt"]


async def test_sync_names_a_folder_once_and_exchanges_in_the_background(
    read: Site, clock: Clock, tmp_path: Path
) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    async with opened(read, clock) as hand:
        await hand.press("y", "enter")
        await hand.type(str(stick))
        await hand.press("enter", "enter")
        await hand.app.workers.wait_for_complete()
        await hand.settle()
        assert re.search(r"Sent [1-9]\d*, fetched 0 files\. OK", hand.lines("body"))
        assert list(stick.rglob("*.jsonl"))
    async with opened(read, clock) as hand:
        stick.rename(tmp_path / "gone")
        await hand.press("y")
        assert str(stick) in hand.lines("body")
        await hand.press("enter")
        await hand.app.workers.wait_for_complete()
        await hand.settle()
        assert "put the stick in or connect the share" in hand.lines("body")
