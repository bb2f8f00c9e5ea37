"""Rows of text on the screen, of which only those that changed are drawn."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content
from textual.geometry import Region
from textual.strip import Strip
from textual.visual import Visual
from textual.widget import Widget

from rounds.screens.ink import QUIET


class Lines(Widget):
    """As many rows as there is room for; the chosen one, if any, is kept in view."""

    def __init__(self, id: str, *, mark: bool = False) -> None:
        super().__init__(id=id)
        self.mark = mark
        """Whether the last row says how many there are above and below, when not all are seen."""
        self._all: tuple[Content, ...] = ()
        self._chosen: int | None = None
        self._top = 0
        self._seen: list[Content] = []

    def show(self, rows: Sequence[Content], chosen: int | None = None) -> None:
        """Show these rows from now on, with row `chosen` in view."""
        self._all, self._chosen = tuple(rows), chosen
        self._paint()

    def set_rows(self, rows: Sequence[Content]) -> None:
        """Show these rows and be exactly as high."""
        if self.styles.height is None or self.styles.height.value != len(rows):
            self.styles.height = len(rows)
        self.show(rows)

    def scroll_rows(self, by: int) -> None:
        """Move the view up or down by rows, as far as there are any."""
        self._top += by
        self._paint()

    def to_top(self) -> None:
        """Show the first row again."""
        self._top = 0
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

    def render_line(self, y: int) -> Strip:
        """Draw one of the rows in view: Textual asks for those that changed."""
        if len(self._seen) != self.size.height:
            self._seen = self._cut()
        row, width = self._seen[y], self.size.width
        return Visual.to_strips(self, row, width, 1, self.visual_style)[0]

    def _cut(self) -> list[Content]:
        """Return as many rows as there is room for, the chosen one among them."""
        height = self.size.height
        marks = self.mark and height > 1 and len(self._all) > height
        height -= marks
        if self._chosen is not None:
            self._top = min(self._top, self._chosen)
            self._top = max(self._top, self._chosen - height + 1)
        self._top = max(0, min(self._top, len(self._all) - height))
        seen = list(self._all[self._top : self._top + height])
        if marks:
            below = len(self._all) - self._top - height
            hidden = [
                f"{n} more {where}" for n, where in ((self._top, "above"), (below, "below")) if n
            ]
            return [*seen, Content.styled(f"   {', '.join(hidden)}", QUIET)]
        return seen + [Content("")] * (height - len(seen))

    def _paint(self) -> None:
        if not self._seen:
            return  # not painted yet: the first painting asks for the rows itself
        seen = self._cut()
        if len(seen) != len(self._seen):
            self.refresh()
            return
        pairs = enumerate(zip(self._seen, seen, strict=True))
        changed = [Region(0, y, self.size.width, 1) for y, (a, b) in pairs if not a.is_same(b)]
        if changed:
            self._seen = seen
            self.refresh(*changed)
