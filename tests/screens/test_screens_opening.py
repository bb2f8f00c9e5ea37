"""A start that has to read the whole book shows how far it is, and keeps the keys alive."""

from __future__ import annotations

import asyncio
from datetime import datetime
from threading import Event

import pytest
from screens_hand import Clock, opened

from rounds.day.fold.farm import Farm
from rounds.day.fold.snapshot import Snapshot
from rounds.site.model import Site


class Slow:
    """A book that is read until the test lets it be."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, fault: Exception | None = None) -> None:
        self.go = Event()
        read = Snapshot.open

        def slow(snapshot: Snapshot, now: datetime) -> Farm:
            snapshot._tell(812, 5478)
            self.go.wait(20)
            if fault is not None:
                raise fault
            return read(snapshot, now)

        monkeypatch.setattr(Snapshot, "open", slow)


async def test_it_says_how_far_it_is_and_gives_way_to_the_board(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Slow(monkeypatch)
    async with opened(stocked, clock, patience_s=0) as hand:
        assert "Reading the book: 812 of 5 478 files" in hand.text
        assert "BOARD" not in hand.text
        await hand.press("j")
        assert "812 of 5 478" in hand.text
        book.go.set()
        await hand.until("First tank")
        assert hand.label == "BOARD"
        assert "25.0" in hand.lines("places")
        await hand.press("j")
        assert hand.label == "FIND"


async def test_an_emergency_card_opens_meanwhile_and_is_read_to_its_end(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Slow(monkeypatch)
    async with opened(stocked, clock, patience_s=0) as hand:
        await hand.press("!", "3")
        assert "fish gasping" in hand.text
        book.go.set()
        while not hand.app.desk.ready:
            await asyncio.sleep(0.001)
        await hand.settle()
        assert "fish gasping" in hand.text
        await hand.press("escape", "escape")
        await hand.until("First tank")


async def test_who_is_writing_is_asked_when_the_board_is_there(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Slow(monkeypatch)
    async with opened(stocked, clock, patience_s=0, by=None) as hand:
        assert "Who are you" not in hand.text
        book.go.set()
        await hand.until("Who are you")


async def test_what_keeps_the_book_from_being_read_ends_the_program(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = Slow(monkeypatch, MemoryError("no room"))
    with pytest.raises(MemoryError):  # noqa: PT012 - the fault ends the app as it is left
        async with opened(stocked, clock, patience_s=0) as hand:
            book.go.set()
            while not hand.ended:
                await asyncio.sleep(0.001)
