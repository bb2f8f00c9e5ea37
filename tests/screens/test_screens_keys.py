"""No dead keys: every key that is offered on a screen does something there."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from screens_hand import NOW, Clock, Hand, open_book, opened
from screens_tour import home

from rounds.records.entry import Handoff, Matter, Reading
from rounds.screens.keys import KEYS
from rounds.screens.lines import Lines
from rounds.site.model import Site

SCREENS = {
    "board": (),
    "walk, number": ("enter", "1", "6"),
    "walk, choice": ("enter",),
    "ration": ("r",),
    "dose": ("d",),
    "hand-off": ("o",),
    "sync": ("y",),
    "stock": ("s",),
    "record": ("k",),
    "trend": ("v",),
    "record, choice": ("k", "1"),
    "record, number": ("k", "4", "1", "1", "4"),
    "why": ("r", "w"),
    "cards": ("x",),
    "card": ("x", "1"),
    "note": ("m", "a"),
    "skip": ("enter", "s"),
    "help": ("h",),
    "find": ("j", "a"),
    "matter": ("o", "n"),
    "air": ("i",),
    "pond": ("f",),
    "live food": ("l",),
    "paper": ("p",),
}


UNDO = {"up": "down", "left": "right", "pageup": "pagedown"}
"""What must be pressed before a key that goes back has anywhere to go."""


def state_of(hand: Hand) -> tuple[Any, ...]:
    """Everything a key can change: what is seen, where, in which colours, and what is kept."""
    app = hand.app
    shown = tuple(
        (lines.id, tuple(row.plain for row in lines._seen)) for lines in app.screen.query(Lines)
    )
    marks = tuple(str(row.spans) for lines in app.screen.query(Lines) for row in lines._seen)
    stack = tuple(id(screen) for screen in app.screen_stack)
    return (shown, marks, stack, app.theme, app.desk.farm.size, app._exit)


def offered(hand: Hand) -> list[str]:
    """The first key of everything the screen offers now, in the key line and in the help."""
    keys: dict[str, str] = {}
    on_board = len(hand.app.screen_stack) == 1
    for key, (node, binding, enabled, _) in hand.app.screen.active_bindings.items():
        everywhere = node is hand.app and not on_board  # the same on every screen
        everywhere |= binding.id == "redraw"  # seen on a terminal only: test_screens_frame
        if enabled and binding.description and not everywhere and key not in "3456789":
            keys.setdefault(f"{binding.action} {binding.key_display}", key)
    return list(keys.values())


async def prepared(site: Site, clock: Clock) -> None:
    """Fish out of their band, matters open and a hand-off to take over: every key has work."""
    clock.now = NOW - timedelta(minutes=20)
    with open_book(site, clock) as book:
        book.append(Matter(text="order salt", by="rui"))
        for code in ("A1", "A2", "Q1"):
            book.append(Reading(measure="oxygen", value="6.8", unit="mg/L", place=code, by="rui"))
        book.append(
            Reading(measure="ph", value="8.6", unit="pH", place="A2", by="rui", verdict="watch")
        )
        book.append(
            Reading(measure="alkalinity", value="80", unit="mg/L CaCO3", place="A1", by="r")
        )
        text = "\n".join(f"line {n}" for n in range(60))
        book.append(Handoff(covers="2026-11-23T07:00:00.000Z", text=text, by="rui"))
    clock.now = NOW


@pytest.mark.parametrize("opening", SCREENS.values(), ids=SCREENS)
async def test_every_key_offered_does_something(
    stocked: Site, clock: Clock, opening: tuple[str, ...]
) -> None:
    await prepared(stocked, clock)
    keys: list[str] | None = None
    while keys is None or keys:
        async with opened(stocked, clock) as hand:
            await hand.press(*opening)
            first, offers = state_of(hand), offered(hand)
            if keys is None:
                keys = [key for key in offers if key not in ("q", "ctrl+q")]
                assert keys
            while keys and await led_back(hand, first, offers, opening):
                key = keys.pop(0)
                if key in UNDO:
                    await hand.press(UNDO[key])
                before = state_of(hand)
                await hand.press(key)
                assert state_of(hand) != before, f"{key} is dead after {opening}"


async def led_back(
    hand: Hand, first: tuple[Any, ...], offers: list[str], opening: tuple[str, ...]
) -> bool:
    """Whether Esc leads back to a screen just as it was, or the way there to what it offered."""
    if len(hand.app.screen_stack) > len(first[2]):
        await hand.press("escape")
    if state_of(hand) == first:
        return True
    await home(hand)
    await hand.press(*opening)
    return len(hand.app.screen_stack) == len(first[2]) and offered(hand) == offers


@pytest.mark.parametrize("key", ["q", "Q", "ctrl+q"])
async def test_leaving_takes_one_key_and_asks_nothing(
    stocked: Site, clock: Clock, key: str
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press(key)
        assert hand.app._exit
        assert hand.app.return_code == 0


async def test_the_key_line_fits_the_smallest_window(stocked: Site, clock: Clock) -> None:
    await prepared(stocked, clock)
    async with opened(stocked, clock, size=(60, 16)) as hand:
        for name, opening in SCREENS.items():
            await hand.press(*opening)
            the_key_line_fits(hand, name, 60)
            await home(hand)


def the_key_line_fits(hand: Hand, name: str, width: int) -> None:
    """Assert that it has room, and always names the emergency and the way back."""
    line = hand.lines("keys")
    assert len(line) <= width, name
    assert "emergency" in line or hand.label == "EMERGENCY", name
    assert "Esc" in line or hand.label == "BOARD", name


async def test_why_opens_the_marked_place_else_the_worst(stocked: Site, clock: Clock) -> None:
    await prepared(stocked, clock)
    async with opened(stocked, clock) as hand:
        await hand.press("w")
        assert "A2 is ! WATCH" in hand.text
        await hand.press("escape", "down", "w")
        assert "A1 is OK" in hand.text


def test_letters_are_bound_in_both_cases() -> None:
    for key in KEYS.values():
        letters = {name for name in key.names.split(",") if len(name) == 1 and name.isalpha()}
        assert {name.swapcase() for name in letters} == letters


async def test_the_help_lists_the_keys_of_the_screen_it_came_from(
    stocked: Site, clock: Clock
) -> None:
    async with opened(stocked, clock) as hand:
        await hand.press("enter", "question_mark")
        for says in (
            "skip",
            "note",
            "why",
            "board",
            "colours for sun, night, console",
            "emergency",
        ):
            assert says in hand.text
        assert "ration" not in hand.text
