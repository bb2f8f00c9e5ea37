"""A round walked on paper: printed from the board, typed in as a grid, dated as it was read."""

from __future__ import annotations

from datetime import UTC, datetime

from screens_hand import Clock, of_kind, opened

from rounds.records.entry import Answer, Reading, Walk
from rounds.site.model import Site


async def test_a_slate_is_typed_in_with_the_time_it_was_read(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("p", "2", "1")
        await hand.type("06:40")
        await hand.press("enter")
        await hand.until("read at 06:40")
        assert "A1     ...          ..." in hand.lines("body")
        await hand.press("1")
        await hand.type("6,7")
        await hand.press("enter", "a", *["backspace"] * 5)
        await hand.type("06:52")
        await hand.press("enter")
        await hand.type("25.0")
        await hand.press("enter")
        kept = hand.entries()
    first = datetime(2026, 11, 24, 6, 40, tzinfo=UTC)
    new = [e for e in of_kind(kept, Reading) if e.read_at]
    assert [(e.measure, e.value, e.at) for e in sorted(new, key=lambda e: e.id)] == [
        ("oxygen", "6.7", first),
        ("temperature", "25.0", first.replace(minute=52)),
    ]
    assert {e.at for e in (*of_kind(kept, Answer), *of_kind(kept, Walk))} >= {first}


async def test_a_time_far_from_the_round_is_asked_about(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("p", "2", "1")
        await hand.type("02:10")
        await hand.press("enter")
        assert "is far from First light, 06:30 to 08:30" in hand.text
        await hand.press("1", "enter", "2")  # typed again as it stands, and meant
        await hand.until("read at 02:10")


async def test_a_time_to_come_is_refused_and_nothing_begins(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("p", "2", "1")
        await hand.type("23:00")
        await hand.press("enter")
        assert "has not come yet" in hand.lines("telling")
        assert not of_kind(hand.entries(), Walk)


async def test_a_blank_slate_is_written_beside_the_hand_offs(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("p", "1", "1")
        assert "Written, print it from" in hand.lines("telling")
    (path,) = (stocked.folder / "reports").iterdir()
    assert path.name == "slate-2026-11-24-first-light-1.txt"
    assert "A2" in path.read_text()
