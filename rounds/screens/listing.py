"""A sheet: a row each, what stands under the marked one, its reasons by a key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from msgspec import Struct
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.reports.told import Told
from rounds.screens.ink import BOLD, STYLES, flagged, ink, paragraph, paragraphs, row
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.screens.why import why


class Row(Struct, frozen=True):
    """A row of the sheet: its cells without the mark, and what it says in full."""

    cells: Content
    told: Told
    place: str = ""
    key: str = ""
    """What it is known by when the sheet is worked out anew; left out, its place or its title."""
    loud: tuple[str, ...] = ()
    """Said first, filled as a verdict's `word` is."""
    word: str = ""

    @property
    def known(self) -> str:
        """What the mark holds on to."""
        return self.key or self.place or self.told.title


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

    def __init__(self, label: str, begins: str = "") -> None:
        super().__init__(label)
        self.chosen = 0
        self._begins = begins
        """Place of the row that is marked first."""
        self.found: Sequence[Row] = ()
        self.columns = Lines("columns")
        self.table = Lines("table", mark=True)
        self.detail = Lines("detail")

    # -- for each sheet to say -------------------------------------------------------------------

    def listed(self) -> Sequence[Row]:
        """Work out every row as the farm stands now."""
        raise NotImplementedError

    def heads(self) -> Sequence[Content]:
        """Return the rows above the table."""
        return ()

    def figure(self) -> tuple[str, ...]:
        """Return a drawing that stands under the reasons of the marked row."""
        return ()

    # -- what they share -------------------------------------------------------------------------

    def rows(self) -> ComposeResult:
        """Yield the table and what is to be said of the marked row."""
        yield self.columns
        yield self.table
        yield self.detail

    def gather(self) -> None:
        """Work the rows out anew; the mark stays on what it was on."""
        marked, begins = self.marked, self._begins
        self.found, self._begins = self.listed(), ""
        at = self._row_of(marked.known if marked else begins)
        if at is None and marked is not None:
            self.gone(marked)
        self.chosen = min(self.chosen if at is None else at, max(len(self.found) - 1, 0))

    def gone(self, marked: Row) -> None:
        """React to the marked row being on the sheet no more."""

    def _row_of(self, known: str) -> int | None:
        return next((n for n, one in enumerate(self.found) if one.known == known), None)

    def show(self) -> None:
        """Show the rows, and what belongs to the marked one."""
        self.columns.set_rows(self.heads())
        self.table.show(
            [self._row(n == self.chosen, one.cells) for n, one in enumerate(self.found)]
            or [ink(f"  {self.nothing}")],
            max(self.chosen, 0),
        )
        free = self.app.size.height - max(self.app.size.height // 3, 4) - 6
        self.table.styles.height = min(max(len(self.found), 1), free)
        self.detail.show(self.detail_rows())
        self.hint(f"PgDn: more of it, {self.detail.span}" if self.detail.span else "")

    def _row(self, marked: bool, cells: Content) -> Content:
        if cells.cell_length > self.width - 3:  # it stands in full below
            cells = cells.truncate(self.width - 5).rstrip().append("..")
        line = row(Content.styled(" > " if marked else "   ", BOLD), cells)
        return line.stylize_before("on $chosen", 3) if marked else line

    @property
    def marked(self) -> Row | None:
        """The marked row."""
        return self.found[self.chosen] if 0 <= self.chosen < len(self.found) else None

    @property
    def place(self) -> str:
        """The marked row's."""
        return self.marked.place if self.marked else ""

    def detail_rows(self) -> list[Content]:
        """Return what is to be said of the marked row."""
        if (one := self.marked) is None:
            return []
        width = self.width - 2
        rows = [Content(""), *paragraph(one.told.title, width, 2, BOLD)]
        for text in one.loud:
            rows += flagged(text, STYLES.get(one.word, BOLD), self.width)
        return rows + paragraphs(one.told.says, width, 2)

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only rows and reasons there are."""
        if action == "move":
            return len(self.found) > 1 or (bool(self.found) and self.marked is None)
        if action == "scroll":
            return bool(self.detail.span)
        if action == "why":
            return self.marked is not None and bool(self.marked.told.reasons)
        return True

    def reach(self, place: str) -> None:
        """Mark a place that was found, if it has a row here."""
        at = next((n for n, one in enumerate(self.found) if one.place == place), None)
        if at is None:
            super().reach(place)
        else:
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
        self.tell()
        self.paint()

    def action_why(self) -> None:
        """Open the reasons of the marked row."""
        if (one := self.marked) is not None:
            told = one.told
            self.app.push_screen(why(self.desk, told.title, told.reasons, figure=self.figure()))
