"""What holds keys up and what must not: a long look at the book, a question with no way round."""

from __future__ import annotations

import asyncio

import pytest
from msgspec.structs import replace
from screens_hand import Clock, of_kind, opened

from rounds.records.entry import Note
from rounds.screens.choose import Choose
from rounds.screens.field import Field
from rounds.site.model import Site


async def test_keys_are_heard_while_others_entries_are_looked_for(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    go_on = asyncio.Event()
    looks = 0

    async with opened(stocked, clock) as hand:

        async def slow() -> int:
            nonlocal looks
            looks += 1
            await go_on.wait()
            return 0

        monkeypatch.setattr(hand.app.desk, "listen", slow)
        hand.app._hear()
        await hand.settle()
        hand.app._hear()  # three seconds later it is not over yet
        await hand.press("x")
        assert (looks, hand.label) == (1, "EMERGENCY")
        go_on.set()


async def test_who_writes_must_be_said_before_anything_is_found(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock, by=None) as hand:
        assert isinstance(hand.app.screen, Choose)
        await hand.press("j", "escape")
        assert isinstance(hand.app.screen, Choose)
        await hand.press("1")
        await hand.press("j")
        assert hand.label == "FIND"


async def test_nothing_is_kept_of_nobody(site: Site, clock: Clock) -> None:
    async with opened(site, clock) as hand:
        hand.app.desk.by = ""
        await hand.press("m", "a", "enter")
        assert "NOT SAVED" in hand.lines("telling")
        assert not of_kind(hand.entries(), Note)


async def test_a_tenth_round_is_counted_and_found_by_its_name(stocked: Site, clock: Clock) -> None:
    async with opened(stocked, clock) as hand:
        found = hand.app.board.board
        assert found is not None
        ten = (*found.rounds, *found.rounds * 9)[:10]
        last = ten[-1]
        hand.app.board.board = replace(found, rounds=ten)
        hand.app.repaint()
        await hand.settle()
        assert "1 more: J" in hand.lines("due")
        await hand.press("j", *last.checklist.title)
        assert hand.lines("body").count(last.checklist.title) >= 10


async def test_a_round_asked_about_is_forgotten_when_another_screen_opens(
    stocked: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rounds.screens.board.asked_first", lambda *_: "Enter begins it now")
    async with opened(stocked, clock) as hand:
        await hand.press("1")
        assert "Enter begins it now" in hand.lines("telling")
        await hand.press("j", "escape")
        assert hand.app.board._asked is None


async def test_what_does_not_fit_is_told_and_all_lines_of_a_paste_are_taken(
    stocked: Site, clock: Clock
) -> None:
    field = Field(limit=5)
    assert field.paste("ab\nc\n")
    assert (field.text, field.full) == ("ab c", False)
    assert field.press("x", "x")
    assert field.press("y", "y")
    assert (field.text, field.full) == ("ab cx", True)
    assert field.press("backspace", None)
    assert not field.full
    async with opened(stocked, clock) as hand:
        await hand.press("m")
        hand.app.screen.field.set("x" * 200)
        await hand.press("y")
        assert "No more than 200 signs fit here" in hand.lines("telling")
