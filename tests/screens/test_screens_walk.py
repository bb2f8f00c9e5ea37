"""The walk by keyboard: typed, judged, kept, skipped, corrected, left and gone on with."""

from __future__ import annotations

from datetime import timedelta

import pytest
from screens_hand import Clock, of_kind, open_book, opened

from rounds.records.book import Book, NotSaved
from rounds.records.entry import Answer, Correction, Note, Reading, Skipped, Walk
from rounds.screens.bounce import BOUNCE_S
from rounds.site.model import Site


async def test_enter_on_the_board_begins_the_round_that_is_due(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        assert "First light" in hand.lines("due")
        await hand.press("enter")
        assert hand.label == "WALK"
        assert "Do all swim as usual?" in hand.text
        (walk,) = of_kind(hand.entries(), Walk)
        assert (walk.event, walk.by) == ("begun", "ana")


async def test_a_digit_answers_and_a_comma_is_a_decimal_mark(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        assert "Dissolved oxygen" in hand.lines("body")
        assert "aim 5 or more mg/L" in hand.lines("body")
        assert "last 6.8 mg/L yesterday 08:10" in hand.lines("body")
        await hand.type("6,8")
        assert " OK  Oxygen 6.8 mg/L" in hand.lines("body")
        await hand.press("enter")
        assert "Water temperature" in hand.lines("body")
        (answer,) = of_kind(hand.entries(), Answer)
        reading = [e for e in of_kind(hand.entries(), Reading) if e.walk][-1]
        assert (answer.step, answer.value) == ("look", "yes")
        assert (reading.measure, reading.value, reading.unit) == ("oxygen", "6.8", "mg/L")
        assert "saved 07:10" in hand.lines("head")


async def test_the_verdict_follows_every_key(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        seen = []
        for key in ("4", ".", "9", "backspace", "backspace", "backspace"):
            await hand.press(key)
            body = hand.lines("body").partition("Steps at")[0]
            seen.append(next((w for w in ("ACT NOW", "WATCH", "OK") if w in body), ""))
        assert seen[0] == seen[2] == seen[3] == "WATCH"
        assert seen[-1] == ""
        await hand.press("3")
        assert "X ACT NOW" in hand.lines("body")
        assert "Aerate now." in hand.lines("body")


async def test_a_value_to_watch_is_kept_by_a_second_enter(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("4.9")
        await hand.press("enter")
        assert "Enter again keeps it" in hand.lines("telling")
        assert not [e for e in of_kind(hand.entries(), Reading) if e.walk]
        await hand.press("enter")
        reading = [e for e in of_kind(hand.entries(), Reading) if e.walk][-1]
        assert (reading.value, reading.verdict) == ("4.9", "watch")
        assert "A1: kept 4.9. More air. Read again by 07:40" in hand.lines("telling")


async def test_a_tenfold_slip_is_named_and_typed_again(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("68")
        assert "6.8" in hand.lines("body")
        await hand.press("enter")
        assert "cannot be" in hand.lines("telling")
        await hand.press("backspace", "backspace")
        await hand.type("0.68")
        await hand.press("enter")
        assert "decimal point? 6.8" in hand.lines("body")
        await hand.press("backspace", "backspace", "backspace", "backspace")
        await hand.type("6.8")
        await hand.press("enter")
        reading = [e for e in of_kind(hand.entries(), Reading) if e.walk][-1]
        assert (reading.value, reading.confirmed) == ("6.8", False)


async def test_typing_after_the_first_enter_takes_the_confirmation_back(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("4.9")
        await hand.press("enter", "backspace", "8", "enter")
        assert not [e for e in of_kind(hand.entries(), Reading) if e.walk]


async def test_a_bouncing_enter_confirms_nothing_and_answers_no_next_step(
    stocked: Site, clock: Clock
) -> None:
    time = [0.0]

    def steady() -> float:
        return time[0]

    async with opened(stocked, clock, steady=steady) as hand:
        await hand.press("enter")
        time[0] += 1
        await hand.press("1", "1")
        assert len(of_kind(hand.entries(), Answer)) == 1
        time[0] += 1
        await hand.type("4.9")
        await hand.press("enter")
        time[0] += BOUNCE_S / 3
        await hand.press("enter")
        assert "Too quick, taken for one press. Enter again keeps it" in hand.lines("telling")
        assert not [e for e in of_kind(hand.entries(), Reading) if e.walk]
        time[0] += 1
        await hand.press("enter")
        assert [e.value for e in of_kind(hand.entries(), Reading) if e.walk] == ["4.9"]


@pytest.mark.parametrize("key", ["s", "S", "slash", "divide"])
async def test_a_step_is_skipped_with_a_reason(stocked: Site, clock: Clock, key: str) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1", "6", key)
        assert "no time" in hand.text
        await hand.press("2")
        (skipped,) = of_kind(hand.entries(), Skipped)
        assert (skipped.step, skipped.reason) == ("oxygen", "instrument broken")
        assert "Water temperature" in hand.lines("body")
        assert "- SKIPPED instrument broken" in hand.lines("body")


async def test_a_skip_can_be_given_a_reason_in_words(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "s", "3")
        await hand.type("lights out [/")
        await hand.press("enter")
        (skipped,) = of_kind(hand.entries(), Skipped)
        assert skipped.reason == "lights out [/"


async def test_going_back_and_typing_corrects(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.8")
        await hand.press("enter", "up")
        assert "6.8" in hand.lines("body").split("[")[1]
        await hand.type("7.1")
        await hand.press("enter")
        (correction,) = of_kind(hand.entries(), Correction)
        assert correction.set == {"value": "7.1"}
        assert "Water temperature" in hand.lines("body")


async def test_a_correction_that_changes_the_verdict_asks_why(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.8")
        await hand.press("enter", "backspace")
        await hand.type("4.9")
        await hand.press("enter", "enter")
        assert "Why is it corrected?" in hand.text
        await hand.press("enter")
        assert "Press the digit" in hand.lines("telling")
        await hand.press("4")
        await hand.type("probe was dry")
        await hand.press("enter")
        (correction,) = of_kind(hand.entries(), Correction)
        assert correction.why == "probe was dry"
        assert correction.set["verdict"] == "watch"


@pytest.mark.parametrize("key", ["m", "M", "asterisk", "multiply"])
async def test_a_note_leaves_the_step_and_the_typed_value_alone(
    stocked: Site, clock: Clock, key: str
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.")
        await hand.press(key)
        await hand.type("pump 2 hums, x h t s")
        await hand.press("enter")
        (note,) = of_kind(hand.entries(), Note)
        assert (note.text, note.place, note.about) == ("pump 2 hums, x h t s", "A1", "oxygen")
        await hand.press("8")
        assert "Oxygen 6.8 mg/L" in hand.lines("body")


async def test_esc_and_enter_go_on_at_the_same_step_with_the_half_typed_value(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.")
        await hand.press("escape")
        assert hand.label == "BOARD"
        assert "1/21" in hand.lines("due")
        await hand.press("enter")
        assert "Dissolved oxygen" in hand.lines("body")
        assert "You had typed 6." in hand.lines("telling")
        await hand.press("right")
        await hand.type("8")
        await hand.press("enter")
        assert [e for e in of_kind(hand.entries(), Reading) if e.walk][-1].value == "6.8"


async def test_a_new_start_goes_on_exactly_there(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.8")
        await hand.press("enter")
    clock.now += timedelta(minutes=5)
    async with opened(stocked, clock) as hand:
        await hand.press("enter")
        assert "Water temperature" in hand.lines("body")
        assert "A1" in hand.lines("head")
        assert len([w for w in of_kind(hand.entries(), Walk) if w.event == "begun"]) == 1


async def test_the_board_leads_to_an_earlier_place_and_says_wash(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter")
        for _ in range(2):
            await hand.press("1")
            await hand.type("6.8")
            await hand.press("enter")
            await hand.type("25")
            await hand.press("enter")
        assert "Q1" in hand.lines("head")
        await hand.press("1", "escape", "down", "enter")
        assert "A1  First tank" in hand.lines("head")
        assert "wash, dip boots" in hand.lines("body")


async def test_the_whole_round_ends_on_the_board_as_done(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter")
        for _ in range(3):
            await hand.press("1")
            await hand.type("6.8")
            await hand.press("enter", "2", "5", "enter")
        for _ in range(3):
            await hand.type("7.9")
            await hand.press("enter", "1", "0", "enter", "enter")
            await hand.type("all quiet")
            await hand.press("enter")
        assert "Every step is walked" in hand.text
        await hand.press("enter")
        assert hand.label == "BOARD"
        assert "First light done" in hand.lines("due")
        assert {w.event for w in of_kind(hand.entries(), Walk)} == {"begun", "done"}


class FullDisk(Book):
    """A book that can be told to fail."""

    fails = False

    def append(self, entry):  # type: ignore[no-untyped-def]
        if self.fails:
            raise NotSaved("Not saved: the disk is full. Free some space, then save again.")
        return super().append(entry)


async def test_what_is_not_saved_is_not_ticked_and_still_stands_in_the_field(
    stocked: Site, clock: Clock
) -> None:
    book = open_book(stocked, clock, FullDisk)
    assert isinstance(book, FullDisk)
    async with opened(stocked, clock, book=book) as hand:
        await hand.press("enter", "1")
        await hand.type("6.8")
        book.fails = True
        await hand.press("enter")
        assert "NOT SAVED, still here: the disk is full. Free some" in hand.lines("telling")
        assert "Dissolved oxygen" in hand.lines("body")
        book.fails = False
        await hand.press("enter")
        assert "Water temperature" in hand.lines("body")
        assert [e for e in of_kind(hand.entries(), Reading) if e.walk][-1].value == "6.8"


async def test_another_program_changes_the_step_in_sight(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        assert "last 6.8 mg/L" in hand.lines("body")
        with open_book(stocked, clock) as other:
            other.append(Reading(measure="oxygen", value="5.9", unit="mg/L", place="A1", by="rui"))
        await hand.type("5.")
        await hand.app.listen()
        assert "last 5.9 mg/L today" in hand.lines("body")
        assert "5." in hand.lines("body")


async def test_why_opens_the_reasons_of_what_is_typed(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("4.9")
        await hand.press("w")
        assert hand.label == "WHY"
        assert "Fish die in minutes without it." in hand.text
        assert "Oxygen 4.9 mg/L" in hand.text
        await hand.press("escape")
        assert "4.9" in hand.lines("body")


async def test_a_number_block_without_num_lock_is_named(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1", "home")
        assert "Num Lock" in hand.lines("telling")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (60, 16)])
async def test_a_resize_keeps_the_value_and_the_step(
    stocked: Site, clock: Clock, size: tuple[int, int]
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "1")
        await hand.type("6.")
        for width, height in ((120, 40), (40, 10), size):
            await hand.resize(width, height)
        body = hand.app.screen.query_one("#body")
        assert all(len(line) <= body.size.width for line in hand.lines("body").split("\n"))
        await hand.type("8")
        assert "6.8" in hand.lines("body")
        await hand.press("enter")
        assert [e for e in of_kind(hand.entries(), Reading) if e.walk][-1].value == "6.8"
