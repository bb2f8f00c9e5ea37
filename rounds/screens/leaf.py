"""A page that is only read: why a number is what it is, an emergency card, the help."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.screens.ink import BOLD, ink, paragraph, row
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.page import Page


class Leaf(Page[bool]):
    """A title and paragraphs; the rows scroll. The result is whether the reader went on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("escape", "close", "back"),
        bind("enter", "go_on", "go on"),
        bind("enter", "go_back", "back", show=False),
        bind("up", "scroll(-1)", "up", show=False),
        bind("down", "scroll(1)", "more"),
        bind("page-up", "scroll(-15)", "up a page", show=False),
        bind("page-down", "scroll(15)", "down a page", show=False),
    ]

    def __init__(
        self,
        label: str,
        title: str,
        texts: Sequence[str],
        *,
        figure: Sequence[str] = (),
        first: bool = False,
    ) -> None:
        super().__init__(label)
        self.first = first
        """Shown before something else: it is gone on from, not only back."""
        self.title_text = title
        self.texts = texts
        self.figure = figure
        """A drawing under the text, laid out already."""
        self.body = Lines("body")

    def rows(self) -> ComposeResult:
        """Yield the text."""
        yield self.body

    def heading(self) -> Content:
        """Return the title."""
        return ink(self.title_text, BOLD)

    def show(self) -> None:
        """Show the paragraphs, folded to the width."""
        lines = [Content("")]
        for text in self.texts:
            lines += paragraph(text, self.width - 2, indent=2)
        lines += [row("  ", Content(line)) for line in self.figure]
        self.body.show(lines)
        self.hint(self.body.span)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to scroll only where there is more than the window holds."""
        if action in ("go_on", "go_back"):
            return self.first == (action == "go_on")
        return action != "scroll" or bool(self.body.span)

    def action_scroll(self, by: int) -> None:
        """Move the view."""
        self.body.scroll_rows(by)
        self.hint(self.body.span)

    def action_go_on(self) -> None:
        """Go on to what lies below."""
        self.dismiss(True)

    action_go_back = action_go_on

    def action_close(self) -> None:
        """Go back to where the reader came from."""
        self.dismiss(False)
