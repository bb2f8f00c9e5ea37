"""A start that takes long: the farm is worked out beside the keys, and the screen says how far."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.fold.snapshot import how_far
from rounds.screens.ink import BOLD, ink, paragraph
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.page import Page

_LOOK_S = 0.2
_TEXTS = (
    "So it is on a new laptop, with a new version, or when a file of the site was changed: every "
    "entry is read again, once. The next start is fast.",
    "All that was kept is safe. The emergency cards can be opened already.",
)


class OpeningPage(Page[None]):
    """How much of the book is read; it gives way to the board by itself."""

    BINDINGS: ClassVar[list[BindingType]] = [bind("q", "app.quit", "quit")]
    about = "The book is being read. The board comes by itself."

    def __init__(self) -> None:
        super().__init__("ROUNDS")
        self.body = Lines("body")

    def on_mount(self) -> None:
        """Begin to look how far it is."""
        self.set_interval(_LOOK_S, self._look)

    def rows(self) -> ComposeResult:
        """Yield the text."""
        yield self.body

    def heading(self) -> Content:
        """Return the farm's name."""
        return ink(self.desk.site.name, BOLD)

    def show(self) -> None:
        """Show how far the reading is."""
        lines = [Content(""), ink(f"  {how_far(*self.desk.read)}", BOLD), Content("")]
        for text in _TEXTS:
            lines += [*paragraph(text, self.width - 2, indent=2), Content("")]
        self.body.show(lines)

    def _look(self) -> None:
        if self.app.screen is not self:  # a card lies on top: it is read to its end
            return
        if self.desk.ready:
            self.dismiss(None)
        else:
            self.paint()
