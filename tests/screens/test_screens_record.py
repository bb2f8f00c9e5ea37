"""Recording on the screen: question after question, back without loss, kept before it is told."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace
from screens_hand import Clock, Hand, of_kind, open_book, opened

from rounds.records.book import Book, NotSaved
from rounds.records.entry import Correction, Died, Incident, Moved, State, Stocked
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.starting import start


@pytest.fixture
def started(site: Site) -> Site:
    """A farm just made, with nothing in it."""
    return load(start(site.folder / "mine").parent)


async def stock(hand: Hand, weight: str = "4.2") -> None:
    """Answer every question of fish that came in, up to the last page."""
    await hand.press("k", "1", "1")
    await hand.type("RD-30")
    await hand.press("enter", "4", "0", "0", "enter", "enter")
    await hand.type(weight)
    await hand.press("enter")
    await hand.type("own larvae")
    await hand.press("enter", "enter", "enter")


async def test_a_lot_is_stocked_on_an_empty_farm_and_has_a_ration(
    started: Site, clock: Clock
) -> None:
    async with opened(started, clock, by="me") as hand:
        await stock(hand)
        assert "RD-30: 400 fish of 4.2 g into T1, own larvae" in hand.lines("body")
        assert hand.kinds() == []
        await hand.press("enter")
        assert hand.label == "BOARD"
        assert "Kept: RD-30: 400 fish of 4.2 g into T1" in hand.lines("telling")
        (kept,) = (one for one in hand.entries() if isinstance(one, Stocked))
        assert (kept.lot, kept.place, kept.count, kept.mean_weight) == ("RD-30", "T1", 400, "4.2")
        await hand.press("r")
        assert "T1" in hand.text
        assert "400" in hand.text


async def test_esc_goes_back_one_question_and_loses_nothing(started: Site, clock: Clock) -> None:
    async with opened(started, clock, by="me") as hand:
        await stock(hand)
        for _ in range(5):
            await hand.press("escape")
        assert "How many" not in hand.lines("head")
        await hand.press("escape")
        assert "How many fish" in hand.lines("head")
        assert "[ 400 " in hand.lines("body")
        await hand.press("4", "1", "0")
        await hand.press("escape")
        assert "[ RD-30 " in hand.lines("body")
        await hand.press(*["enter"] * 7)
        assert "RD-30: 410 fish of 4.2 g" in hand.lines("body")
        await hand.press(*["escape"] * 9)
        assert "What happened?" in hand.lines("head")
        await hand.press("escape")
        assert hand.label == "BOARD"
        assert hand.kinds() == []


async def test_a_code_is_typed_or_marked_and_an_unknown_one_is_told(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("K", "2")
        await hand.type("L9")
        await hand.press("enter")
        assert "there is no lot with fish L9: L1" in hand.lines("telling")
        await hand.press("backspace", "1", "enter")
        await hand.type("a1")
        await hand.press("enter", "down", "enter", "5", "enter", "enter")
        assert "L1 is in A1 already" in hand.lines("body")
        await hand.press("escape", "escape", "escape", "down", "down", "enter")
        await hand.press("enter", "enter")
        assert "L1: 5 fish from A1 to A2" in hand.lines("body")
        await hand.press("enter")
        assert "Not known: last feed of A1" in hand.lines("telling")
        await hand.press("enter")
        (moved,) = (one for one in hand.entries() if isinstance(one, Moved))
        assert (moved.source, moved.target, moved.count) == ("A1", "A2", 5)


async def test_a_slip_takes_one_more_enter(started: Site, clock: Clock) -> None:
    async with opened(started, clock, by="me") as hand:
        await stock(hand, "42000")
        await hand.press("enter")
        told = hand.lines("telling").replace("\n", "")
        assert "47 times the market weight" in told
        assert "Enter again keeps it" in told
        assert hand.kinds() == []
        await hand.press("enter")
        assert "Stocked" in hand.kinds()


async def test_a_tank_is_isolated_and_a_fault_begins_and_ends(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("k", "5", "1", "2", "enter", "enter")
        (state,) = (one for one in hand.entries() if isinstance(one, State))
        assert (state.place, state.state) == ("A1", "isolated")
        await hand.press("k", "7")
        assert "no fault is open" in hand.lines("body")
        await hand.press("escape", "6", "2", "4", "enter", "enter")
        assert [(one.about, one.loop) for one in hand.app.desk.farm.incidents] == [("pump", "A")]
        await hand.press("k", "7", "1", "enter", "enter")
        assert hand.app.desk.farm.incidents == []
        events = [one.event for one in hand.entries() if isinstance(one, Incident)]
        assert sorted(events) == ["began", "ended"]


async def test_what_is_not_on_the_disk_is_not_told_as_kept(started: Site, clock: Clock) -> None:
    class Full(Book):
        def append(self, entry: Any) -> Any:
            raise NotSaved("Not saved: the disk is full.")

    async with opened(started, clock, by="me", book=open_book(started, clock, Full)) as hand:
        await stock(hand)
        await hand.press("enter")
        assert hand.label == "RECORD"
        assert "NOT SAVED, still here: the disk is full" in hand.lines("telling")
        assert "RD-30: 400 fish" in hand.lines("body")


async def test_the_unit_of_a_bare_number_is_the_sites(started: Site, clock: Clock) -> None:
    async with opened(replace(started, display_units="us"), clock, by="me") as hand:
        await hand.press("k", "5", "1", "1")
        assert "gal" in hand.lines("body")


async def test_u_takes_back_what_was_recorded_by_mistake_and_says_what(
    stocked: Site, clock: Clock
) -> None:
    with open_book(stocked, clock) as book:
        wrong = book.append(Died(lot="L1", place="A1", count=200, by="ana"))
    async with opened(stocked, clock) as hand:
        before = hand.app.desk.farm.stocks["A1"][0].count
        await hand.press("k", "u")
        assert "L1: 200 dead in A1" in hand.lines("body")
        await hand.press("1")
        await hand.type("other tank")
        await hand.press("enter")
        assert "taken back L1: 200 dead in A1: other tank" in hand.lines("body")
        await hand.press("enter")
        (undone,) = of_kind(hand.entries(), Correction)
        assert (undone.of, undone.void) == (wrong.id, True)
        assert hand.app.desk.farm.stocks["A1"][0].count == before + 200
