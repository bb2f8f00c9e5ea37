"""A sheet that is read: a row each, what stands under the marked one, its reasons by a key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from msgspec import Struct
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.reports.told import Told
from rounds.screens.ink import BOLD, QUIET, ink, paragraph, paragraphs, row
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.screens.why import why


class Row(Struct, frozen=True):
    """A row of the sheet: its cells without the mark, what it says in full, a drawing perhaps."""

    cells: Content
    told: Told
    place: str = ""
    figure: tuple[str, ...] = ()


class Listing(Page[None]):
    """Up and Down mark a row, W opens its reasons, PgDn reads on under it."""

    CSS_PATH = "listing.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("w", "why", "why"),
        bind("up", "move(-1)", "up", show=False),
        bind("down", "move(1)", "next"),
        bind("page-down", "scroll(8)", "more of it"),
        bind("page-up", "scroll(-8)", "back up", show=False),
        bind("escape", "close", "board"),
    ]
    nothing = "Nothing on record"

    def __init__(self, label: str) -> None:
        super().__init__(label)
        self.chosen = 0
        self._laid_for = 0
        self.found: Sequence[Row] = ()
        self.columns = Lines("columns")
        self.table = Lines("table", mark=True)
        self.detail = Lines("detail")

    # -- for each sheet to say -------------------------------------------------------------------

    def gather(self) -> Sequence[Row]:
        """Work out every row as the farm stands now."""
        raise NotImplementedError

    def heads(self) -> Content:
        """Return the heads of the cells."""
        return Content("")

    # -- what they share -------------------------------------------------------------------------

    def rows(self) -> ComposeResult:
        """Yield the table and what is to be said of the marked row."""
        yield self.columns
        yield self.table
        yield self.detail

    def show(self) -> None:
        """Show the rows as the farm stands now."""
        if self.moved() or self._laid_for != self.width:
            self._laid_for = self.width
            self.found = self.gather()
            self.chosen = min(self.chosen, max(len(self.found) - 1, 0))
        heads = self.heads()
        self.columns.set_rows([row("   ", heads)] if heads.plain else [])
        self.table.show(
            [self._row(n == self.chosen, one.cells) for n, one in enumerate(self.found)]
            or [ink(f"  {self.nothing}")],
            self.chosen,
        )
        least = max(self.app.size.height // 3, 4)
        self.table.styles.height = min(max(len(self.found), 1), self.app.size.height - least - 6)
        self.detail.show(self._detail_rows())

    def _row(self, marked: bool, cells: Content) -> Content:
        if cells.cell_length > self.width - 4:  # it stands in full below
            cells = cells.truncate(self.width - 6).rstrip().append("..")
        line = row(Content.styled(" > " if marked else "   ", BOLD), cells)
        return line.stylize("on $chosen", 3) if marked else line

    @property
    def marked(self) -> Row | None:
        """The marked row."""
        return self.found[self.chosen] if self.chosen < len(self.found) else None

    @property
    def place(self) -> str:
        """The marked row's."""
        return self.marked.place if self.marked else ""

    def _detail_rows(self) -> list[Content]:
        if (one := self.marked) is None:
            return []
        width = self.width - 2
        rows = [Content(""), *paragraph(one.told.title, width, 2, BOLD)]
        rows += paragraphs(one.told.says, width, 4)
        if one.told.reasons:
            rows.append(ink("    W opens why", QUIET))
        return rows

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only rows and reasons there are."""
        if action == "move":
            return len(self.found) > 1
        if action == "scroll":
            return bool(self.detail.span)
        if action == "why":
            return self.marked is not None and bool(self.marked.told.reasons or self.marked.figure)
        return True

    def reach(self, place: str) -> None:
        """Mark a place that was found, if it has a row here."""
        at = next((n for n, one in enumerate(self.found) if one.place == place), None)
        if at is None:
            super().reach(place)
            return
        self.action_move(at - self.chosen)

    def action_move(self, by: int) -> None:
        """Mark another row."""
        self.chosen = min(max(self.chosen + by, 0), max(len(self.found) - 1, 0))
        self.detail.to_top()
        self.tell()
        self.paint()

    def action_scroll(self, by: int) -> None:
        """Read on under the marked row."""
        self.detail.scroll_rows(by)
        self.tell(self.detail.span)

    def action_why(self) -> None:
        """Open the reasons of the marked row."""
        if (one := self.marked) is not None:
            self.app.push_screen(
                why(self.desk, one.told.title, one.told.reasons, figure=one.figure)
            )

    def action_close(self) -> None:
        """Go back to the board."""
        self.dismiss(None)
