"""One line to type: a note, a reason, words for the next shift, an amount, a folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.screens.choose import OUT
from rounds.screens.field import NUMBER, Field
from rounds.screens.ink import BOLD, ink, paragraph, row
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.text import clean, number


class Ask(Page[str]):
    """Asks for a line of words, or for a number when `unit` is given; None when left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "accept", "keep"),
        bind("escape", "close", "back, nothing kept"),
    ]

    def __init__(
        self,
        label: str,
        question: str,
        *,
        says: Sequence[str] = (),
        unit: str | None = None,
        text: str = "",
        limit: int = 200,
        must: bool = False,
        check: Callable[[str], object] = str,
    ) -> None:
        super().__init__(label)
        self.check = number if unit is not None else check
        """Raises ValueError, one sentence, of a line that is no answer: it stays, to be mended."""
        self.question = question
        self.says = says
        self.unit = unit
        self.must = must
        self.field = self.line = Field(NUMBER if unit is not None else None, limit=limit)
        self.line.set(text)
        self.body = Lines("body")

    def rows(self) -> ComposeResult:
        """Yield the question and the line."""
        yield self.body

    def heading(self) -> Content:
        """Return the question."""
        return ink(self.question, BOLD)

    def show(self) -> None:
        """Show what belongs to the question, and the line as it is being typed."""
        lines = [Content("")]
        for text in self.says:
            lines += paragraph(text, self.width - 2, indent=2)
        lines += [Content("")] if self.says else []
        width = self.width - 6 if self.unit is None else 18
        lines.append(row("  ", self.line.draw(width), "  ", ink(self.unit or "")))
        self.hint(OUT if self.must else "")
        self.body.show(lines, len(lines) - 1)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer no way round a question that must be answered."""
        return not (action == "close" and self.must)

    def action_accept(self) -> None:
        """Answer with the line, if there is something on it."""
        text = clean(self.line.text)
        if not text and self.unit is None:
            self.tell("Type a line" if self.must else "Type a line, or Esc goes back", "watch")
            return
        try:
            self.check(text)
        except ValueError as error:
            self.tell(str(error), "watch")
        else:
            self.dismiss(text)
