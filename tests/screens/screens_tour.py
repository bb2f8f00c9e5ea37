"""Every screen in one run of the app: the keys that lead there, and the way back to the board."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Final

from screens_hand import Hand

VIEWS: Final = {
    "board": (),
    "ration": ("r",),
    "why": ("r", "w"),
    "amount": ("r", "e", "1", "2"),
    "reason": ("r", "e", "1", "2", "enter"),
    "dose": ("d",),
    "dose-why": ("d", "w"),
    "stock": ("s",),
    "live-food": ("l",),
    "pond": ("f",),
    "air": ("i",),
    "handoff": ("o",),
    "matter": ("o", "n"),
    "sync": ("y", "...safe in"),
    "record": ("k",),
    "record-number": ("k", "4", "1", "1", "4"),
    "trend": ("down", "v", "c", "1"),
    "growth": ("down", "v", "g"),
    "place-why": ("w",),
    "cards": ("x",),
    "card": ("x", "3"),
    "note": ("m", "a"),
    "find": ("j", "a"),
    "help": ("h",),
    "paper": ("p",),
    "skip": ("enter", "s"),
    "walk": ("enter", "1", "4", ",", "9", "enter"),
    "slate": ("p", "2", "1", *"06:40", "enter", "...read at 06:40", "1", "6"),
}
"""Screens by name; those that write into the book stand last. After dots: what is waited for."""


async def tour(hand: Hand) -> AsyncIterator[tuple[str, list[str]]]:
    """Go to every screen from the board, and yield its name and its rows as they are seen."""
    for name, keys in VIEWS.items():
        for key in keys:
            await (hand.until(key[3:]) if key.startswith("...") else hand.press(key))
        await hand.settle()
        yield name, rows(hand)
        await home(hand)


async def home(hand: Hand) -> None:
    """Go back to the board, no place marked."""
    for _ in range(6):
        if hand.label == "BOARD":
            break
        await hand.press("escape")
    assert hand.label == "BOARD"
    while hand.app.board.chosen is not None:
        await hand.press("up")


def rows(hand: Hand) -> list[str]:
    """Return the rows of the screen, blanks at their ends left out."""
    return [strip.text.rstrip() for strip in hand.app.screen._compositor.render_strips()]
