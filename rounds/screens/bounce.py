"""A wet glove presses a key twice: the second press within a moment answers nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

BOUNCE_S: Final = 0.3
HELD_S: Final = 0.6
"""A Backspace that follows the last one sooner is the same key still held down."""

WORDS_S: Final = 0.8
"""A letter that follows sooner, where a reason might have been asked, is part of a word."""


_QUICK: Final = "Too quick, taken for one press."


def too_quick(told: str) -> str:
    """Return what is told of a second press that came too soon, before what was told already."""
    return told if told.startswith(_QUICK) else f"{_QUICK} {told}"


class Bounce:
    """Tells a second press of an answering key from a bounce, by a steady clock."""

    def __init__(self, steady: Callable[[], float]) -> None:
        self._steady = steady
        self._last: tuple[str, float] | None = None
        self._erased: float | None = None
        self._unasked: float | None = None

    def bounced(self, key: str) -> bool:
        """Tell whether this same key answered something just before."""
        if self._last is None or self._last[0] != key:
            return False
        return self._steady() - self._last[1] < BOUNCE_S

    def answers(self, key: str) -> None:
        """Remember that this key answers something now."""
        self._last = (key, self._steady())

    def typed(self) -> None:
        """Note that something was typed: the next Enter is meant, however soon it comes."""
        self._last = None

    def needs_no_words(self) -> None:
        """Note that something was kept of which a reason is often asked, and was not."""
        self._unasked = self._steady()

    def typed_on(self, character: str) -> bool:
        """Tell whether a letter belongs to words typed on, where none were asked."""
        before, self._unasked = self._unasked, None
        if before is None or not (character.isalpha() or character == " "):
            return False
        now = self._steady()
        if now - before >= WORDS_S:
            return False
        self._unasked = now
        return True

    def held(self) -> bool:
        """Tell whether this Backspace is one still held down, and remember it."""
        before, self._erased = self._erased, self._steady()
        return before is not None and self._erased - before < HELD_S
