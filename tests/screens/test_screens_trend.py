"""The chart on the screen: opened where the eye is, read value by value, by keys alone."""

from __future__ import annotations

from screens_hand import Clock, Hand, open_book, opened

from rounds.records.entry import Reading
from rounds.site.model import Site


def told(hand: Hand) -> str:
    return hand.lines("telling").strip()


async def test_the_worst_opens_at_what_is_wrong_with_it_and_its_values_are_read_out(
    falling: Site, clock: Clock
) -> None:
    async with opened(falling, clock, size=(120, 40)) as hand:
        await hand.press("v")
        assert hand.label == "TREND"
        assert "A1 Oxygen, mg/L, 17 Nov to 24 Nov 2026" in hand.text
        assert "! 5.0 +---" in hand.lines("chart")
        assert told(hand).startswith("@ yesterday 19:10   4.5 mg/L ! WATCH   Rui, ")
        assert told(hand).endswith("0 min after: fed 120 g PELLET")
        await hand.press("left")
        assert told(hand).startswith("@ yesterday 0")
        await hand.press("right")
        assert told(hand).startswith("@ yesterday 19:10")
        await hand.press("escape")
        assert hand.label == "BOARD"


async def test_spans_windows_and_tanks_are_one_key_away(falling: Site, clock: Clock) -> None:
    async with opened(falling, clock, size=(120, 40)) as hand:
        await hand.press("v", "4")
        assert "27 Oct to 24 Nov" in hand.text
        await hand.press("1", "pageup")
        assert "22 Nov to 23 Nov" in hand.text
        await hand.press("3", "c", "1")
        await hand.until("b A2: last 6.8")
        assert "a A1: last" in hand.text
        await hand.press("c", "1")
        await hand.until("TREND  A1 Oxygen")


async def test_the_walk_opens_the_measure_it_asks_and_goes_on_there(
    falling: Site, clock: Clock
) -> None:
    async with opened(falling, clock) as hand:
        await hand.press("enter", "1", "7", "v")
        assert "Oxygen, mg/L" in hand.lines("head")
        await hand.press("escape")
        assert hand.label == "WALK"
        assert "7" in hand.text
        assert "Dissolved oxygen" in hand.text


async def test_every_size_shows_the_limit_and_the_values(falling: Site, clock: Clock) -> None:
    async with opened(falling, clock) as hand:
        await hand.press("v")
        for width, height in ((60, 16), (80, 24), (200, 60)):
            await hand.resize(width, height)
            rows = hand.lines("chart").split("\n")
            assert len(rows) <= height - 3
            assert max(map(len, rows)) < width
            assert any("! 5.0 +---" in row for row in rows)
            assert any(row.count("o") > 1 for row in rows[:-3])


async def test_a_new_value_of_another_laptop_is_drawn(falling: Site, clock: Clock) -> None:
    async with opened(falling, clock, size=(120, 40)) as hand:
        await hand.press("v")
        with open_book(falling, clock) as book:
            book.append(Reading(measure="oxygen", value="3.5", unit="mg/L", place="A1", by="rui"))
        await hand.app.listen()
        await hand.settle()
        assert told(hand).startswith("@ today 07:10   3.5 mg/L X ACT NOW")
