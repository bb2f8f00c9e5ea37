"""A wet glove presses Enter twice: the second press within a moment answers nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

BOUNCE_S: Final = 0.3


class Bounce:
    """Tells a second press of an answering key from a bounce, by a steady clock."""

    def __init__(self, steady: Callable[[], float]) -> None:
        self._steady = steady
        self._last: float | None = None

    def bounced(self) -> bool:
        """Tell whether this press follows the last one too closely; remember it if not."""
        now = self._steady()
        if self._last is not None and now - self._last < BOUNCE_S:
            return True
        self._last = now
        return False

    def typed(self) -> None:
        """Note that something was typed: the next Enter is meant, however soon it comes."""
        self._last = None
