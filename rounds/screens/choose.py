"""A short list to pick from: one digit picks, or Up, Down and Enter."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.screens.ink import BOLD, LINK, ink, paragraph, row
from rounds.screens.keys import bind, digits
from rounds.screens.lines import Lines
from rounds.screens.page import Page

OUT = "Ctrl+Q leaves the program, all is saved"
"""Stands under a question that has no other way out."""


def option_rows(
    options: Sequence[str], chosen: int | None, width: int
) -> tuple[list[Content], int]:
    """Return options with their digits, folded, and the row in which the marked one begins."""
    rows: list[Content] = []
    marked = 0
    for index, option in enumerate(options):
        digit = str(index + 1) if index < 9 else " "
        mark, style = (" > ", "bold on $chosen") if index == chosen else ("   ", "")
        if index == chosen:
            marked = len(rows)
        head = row(Content.styled(mark, BOLD), Content.styled(digit, LINK), "  ")
        for n, line in enumerate(ink(option).wrap(width - 7) or [Content("")]):
            rows.append(row(" " * 6 if n else head, line.stylize(style)))
    return rows, marked


class Choose(Page[int]):
    """Asks one question with given answers; the result is the index, None when left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *digits("pick", "pick"),
        bind("enter", "pick(0)", "the marked one"),
        bind("enter", "unmarked", "", show=False),
        bind("up", "move(-1)", "up", show=False),
        bind("down", "move(1)", "mark the next"),
        bind("escape", "close", "back"),
    ]

    def __init__(
        self,
        label: str,
        question: str,
        options: Sequence[str],
        *,
        says: Sequence[str] = (),
        must: bool = False,
    ) -> None:
        super().__init__(label)
        self.question = question
        self.options = options
        self.says = says
        self.must = must
        self.chosen: int | None = None
        """Marked by Down or Up only: an Enter that came along must answer nothing."""
        self.body = Lines("body", mark=True)

    def rows(self) -> ComposeResult:
        """Yield the list."""
        yield self.body

    def heading(self) -> Content:
        """Return the question."""
        return ink(self.question, BOLD)

    def show(self) -> None:
        """Show the options with their digits."""
        lines = [Content("")]
        for text in self.says:
            lines += paragraph(text, self.width - 2, indent=2)
        lines += [Content("")] if self.says else []
        self.hint(OUT if self.must else "")
        options, marked = option_rows(self.options, self.chosen, self.width)
        self.body.show([*lines, *options], len(lines) + marked)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only digits that stand on the list, and no way round a question that must be."""
        if action == "close":
            return not self.must
        if action == "pick" and parameters:
            digit = int(str(parameters[0]))
            return digit <= len(self.options) if digit else self.chosen is not None
        return action != "unmarked" or self.chosen is None

    def action_move(self, by: int) -> None:
        """Move the mark."""
        start = self.chosen if self.chosen is not None else (-1 if by > 0 else 0)
        self.chosen = (start + by) % len(self.options)
        self.tell()
        self.paint()

    def action_pick(self, digit: int) -> None:
        """Answer with the option of this digit; 0 stands for the marked one."""
        index = digit - 1 if digit else self.chosen
        if index is not None:
            self.picked(index)

    def action_unmarked(self) -> None:
        """Say how to answer, where nothing is marked."""
        self.tell("Press the digit, or Down marks one", "watch")

    def picked(self, index: int) -> None:
        """Answer with this option."""
        self.dismiss(index)
