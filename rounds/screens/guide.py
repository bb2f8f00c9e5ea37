"""The first five minutes on an invented farm: one thing to do at a time, on the real screens."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from textual.content import Content

from rounds.screens.ink import BOLD, LINK, ink, row

if TYPE_CHECKING:
    from rounds.screens.page import Page


class Task(NamedTuple):
    """What to do, and how it shows on a screen that it was done."""

    says: str
    done: Callable[[Page[Any], int], bool]
    """Takes the screen in sight, and how many entries were kept since the task was shown."""


def _on(label: str) -> Callable[[Page[Any], int], bool]:
    return lambda page, kept: page.label == label


TASKS: Final = (
    Task("The line over the table tells the worst place and what to do. W opens why", _on("WHY")),
    Task("Every number opens like this, with its reasons. Esc leads back", _on("BOARD")),
    Task("Enter begins the round that is due, a digit any other one", _on("WALK")),
    Task(
        "Answer as you stand there: a number and Enter, or the digit of an answer. It is on the "
        "disk before it shows",
        lambda page, kept: page.label == "WALK" and kept > 0,
    ),
    Task(
        "At the next number type one ten times too large: the slip is named before you press "
        "Enter. Backspace takes it back",
        lambda page, kept: page.slipped,
    ),
    Task("Esc leaves the round, it goes on there. Then R: today's rations", _on("RATION")),
    Task("W opens how a ration was worked out, and what holds it back", _on("WHY")),
    Task("Esc to the board, then O: the hand-off has written itself", _on("HAND-OFF")),
    Task(
        "That is all. J finds anything by name, H lists the keys, X is for emergencies. Esc ends "
        "this",
        _on("BOARD"),
    ),
)


class Guide:
    """How far somebody is; it notices by itself what was done."""

    def __init__(self, size: int) -> None:
        self.at = 0
        self._size = size

    @property
    def over(self) -> bool:
        """Whether nothing is left to show."""
        return self.at >= len(TASKS)

    def notice(self, page: Page[Any]) -> None:
        """Go on by one task when the screen in sight shows that the present one was done."""
        size = page.desk.farm.size
        if not self.over and TASKS[self.at].done(page, size - self._size):
            self.at, self._size = self.at + 1, size

    def rows(self, width: int) -> list[Content]:
        """Return what to do now; on the board Esc leaves the guide."""
        if self.over:
            return []
        head = Content.styled(f" Guide {self.at + 1} of {len(TASKS)} ", LINK)
        room = width - head.cell_length - 2
        told = ink(TASKS[self.at].says, BOLD).wrap(room)
        return [row(head if n == 0 else " " * head.cell_length, one) for n, one in enumerate(told)]
