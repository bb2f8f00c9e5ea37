"""Rows of text on the screen, of which only those that changed are sent to the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.content import Content
from textual.geometry import Region
from textual.widget import Widget


class Lines(Widget):
    """As many rows as there is room for; the chosen one, if any, is kept in view."""

    def __init__(self, id: str, classes: str = "") -> None:
        super().__init__(id=id, classes=classes)
        self._all: tuple[Content, ...] = ()
        self._chosen: int | None = None
        self._top = 0
        self._seen: list[Content] = []

    def show(self, rows: Sequence[Content], chosen: int | None = None) -> None:
        """Show these rows from now on, with row `chosen` in view."""
        self._all, self._chosen = tuple(rows), chosen
        self._paint()

    def scroll_rows(self, by: int) -> None:
        """Move the view up or down by rows, as far as there are any."""
        self._top += by
        self._paint()

    @property
    def span(self) -> str:
        """Which rows are seen ("rows 1-18 of 40"), empty when all are."""
        height = self.size.height
        if len(self._all) <= height or not height:
            return ""
        last = min(self._top + height, len(self._all))
        return f"rows {self._top + 1}-{last} of {len(self._all)}"

    @property
    def at_end(self) -> bool:
        """Whether the last row is in view."""
        return self._top + self.size.height >= len(self._all)

    @property
    def text(self) -> str:
        """Every row as plain text, seen or not."""
        return "\n".join(row.plain.rstrip() for row in self._all)

    def render(self) -> Content:
        """Return the rows in view."""
        return Content("\n").join(self._seen)

    def on_resize(self, event: events.Resize) -> None:
        """Take another cut of the rows."""
        self._paint(whole=True)

    def _paint(self, whole: bool = False) -> None:
        width, height = self.size
        if not height:
            return
        if self._chosen is not None:
            self._top = min(self._top, self._chosen)
            self._top = max(self._top, self._chosen - height + 1)
        self._top = max(0, min(self._top, len(self._all) - height))
        seen = list(self._all[self._top : self._top + height])
        seen += [Content("")] * (height - len(seen))
        old, self._seen = self._seen, seen
        if whole or len(old) != len(seen):
            self.refresh()
            return
        changed = [y for y in range(height) if not old[y].is_same(seen[y])]
        if changed:
            self.refresh(*(Region(0, y, width, 1) for y in changed))
