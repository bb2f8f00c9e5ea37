"""The board: every place, what is due, the worst told first. Everything else opens from here."""

from __future__ import annotations

from datetime import timedelta
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.content import Content

from rounds.day.board import KNOWN, Board, BoardLine, board
from rounds.day.plan import Round
from rounds.day.unheard import named
from rounds.day.verdict import SIGNS
from rounds.day.when import clock, local_day, spoken
from rounds.records.entry import Note
from rounds.screens.ask import Ask
from rounds.screens.boardtexts import air_told, minutes, two_rows
from rounds.screens.ink import (
    BOLD,
    LINK,
    QUIET,
    STYLES,
    cell,
    flow,
    ink,
    paragraph,
    paragraphs,
    row,
)
from rounds.screens.keys import bind, digits
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.screens.why import why_place
from rounds.site.rhythm import event_of

_COLUMNS = (
    ("temperature", "Temp", 6),
    ("oxygen", "O2", 6),
    ("ph", "pH", 6),
    ("ammonia", "NH3-N", 7),
)
_MARKS = {"watch": "!", "act": "X"}
_ROUND_WORDS = {"late": "act", "due": "watch"}
_WORST_SHOWN = 2
_FOOT = 4
_EARLY = timedelta(hours=1)
"""A round begun longer before its window asks one Enter."""
_ROW = 70
"""Cells of a place's row besides its name and minutes of air."""
_AIR = 9


class BoardPage(Page[None]):
    """Where the day begins and where Esc always leads."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "walk", "walk"),
        bind("again", "again", "read again"),
        bind("ration", "ration", "ration"),
        bind("dose", "dose", "dose"),
        bind("find", "app.find", "find"),
        bind("handoff", "handoff", "hand-off"),
        bind("sync", "sync", "sync"),
        bind("note", "note", "note", show=False),
        bind("why", "why", "why", show=False),
        bind("up", "move(-1)", "place above", show=False),
        bind("down", "move(1)", "place below", show=False),
        *digits("round", "begin or go on with that round", show=False),
        bind("quit", "app.quit", "quit"),
        bind("record", "record", "record"),
        bind("trend", "trend", "trend"),
        bind("escape", "end_guide", "end the guide"),
        bind("paper", "paper", "a round on paper", show=False),
    ]
    about = (
        "The board shows every place in walking order and the worst first. Enter goes on with the "
        "round that is open or due; with a place marked, it goes there."
    )

    def __init__(self) -> None:
        super().__init__("BOARD")
        self.chosen: int | None = None
        self.board: Board | None = None
        self._early: Round | None = None
        self.due = Lines("due")
        self.worst = Lines("worst")
        self.columns = Lines("columns")
        self.places = Lines("places", mark=True)
        self.side = Lines("side")
        self.foot = Lines("foot")

    def rows(self) -> ComposeResult:
        """Yield what is due, the worst, the places, and beside them the marked one."""
        yield self.due
        yield self.worst
        yield self.columns
        with Horizontal(id="middle"):
            yield self.places
            yield self.side
        yield self.foot

    def heading(self) -> Content:
        """Return the farm's name and the time."""
        now = self.desk.now().astimezone(self.desk.site.timezone)
        return ink(f"{self.desk.site.name}   {now:%a} {now.day} {now:%b %H:%M}", BOLD)

    def show(self) -> None:
        """Judge the farm as it stands now and show it."""
        desk, found = self.desk, self.board
        if self.moved() or found is None:
            self.board = found = board(desk.site, desk.farm, desk.now(), desk.here)
        self._set(self.due, self._due_rows(found))
        self._set(self.worst, self._worst_rows(found))
        wide = self.has_class("-wide")
        self.columns.show([self._column_row()])
        self.places.show(
            [self._place_row(index, line) for index, line in enumerate(found.lines)], self.chosen
        )
        if wide:
            self.side.styles.width = self._side_width()
            self.side.show(self._side_rows(found))
        self._set(self.foot, self._foot_rows(found))
        if not self._told.plain:
            self._told = ink(found.notice, QUIET)

    @property
    def line(self) -> BoardLine | None:
        """The marked place, else the worst, else the first."""
        if self.board is None:
            return None
        if self.chosen is not None:
            return self.board.lines[self.chosen]
        return next(iter((*self.board.worst, *self.board.lines)), None)

    # -- rows ------------------------------------------------------------------------------------

    def _set(self, lines: Lines, rows: list[Content]) -> None:
        if lines.styles.height is None or lines.styles.height.value != len(rows):
            lines.styles.height = len(rows)
        lines.show(rows)

    def _due_rows(self, found: Board) -> list[Content]:
        zone = self.desk.site.timezone
        rows: list[Content] = []
        later: list[Content] = []
        for digit, due in enumerate(found.rounds[:9], 1):
            number = Content.styled(str(digit), LINK)
            if due.state in ("coming", "done"):
                when = "done" if due.state == "done" else clock(due.start, zone)
                if event_of(due.checklist.due) and due.state == "coming":
                    when = "at need"
                later.append(row(number, " ", ink(f"{due.checklist.title} {when}", QUIET), "  "))
                continue
            state = ink(f" {due.state} ", STYLES.get(_ROUND_WORDS.get(due.state, ""), BOLD))
            window = f"{clock(due.start, zone)} to {clock(due.end, zone)}"
            rows.append(
                row(
                    " ", number, "  ", cell(due.checklist.title, 32), cell(window, 16, QUIET),
                    cell(f"{due.done} of {due.total}", 12), state,
                )
            )  # fmt: skip
        return rows + flow(later, self.width)

    def _worst_rows(self, found: Board) -> list[Content]:
        rows: list[Content] = []
        hidden = len(found.worst) - _WORST_SHOWN
        for number, line in enumerate(found.worst[:_WORST_SHOWN], 1):
            sign = ink(f" {SIGNS[line.verdict]} ", STYLES[line.verdict])
            more = f" (and {hidden} more)" if number == _WORST_SHOWN and hidden > 0 else ""
            folded = two_rows(line, self.width - sign.cell_length - 3, more)
            rows.append(row(" ", sign, " ", folded[0]))
            rows += [row(" " * (sign.cell_length + 2), part) for part in folded[1:]]
        return rows

    def _side_width(self) -> int:
        """Return what is left beside the table, on a wide screen."""
        return min(max(self.width - _ROW - _AIR - 8, 28), 40)

    def _table_room(self) -> int:
        return self.width - (self._side_width() if self.has_class("-wide") else 0)

    def _air_width(self) -> int:
        return _AIR if self.has_class("-wide") and self._table_room() >= _ROW + _AIR else 0

    def _name_width(self) -> int:
        return max(min(self._table_room() - _ROW - self._air_width() + 1, 24), 0)

    def _column_row(self) -> Content:
        heads = [cell(head, width, QUIET, "right") for _, head, width in _COLUMNS]
        return row(
            "   ", cell("Place", 6 + self._name_width(), QUIET), cell("Fish", 6, QUIET, "right"),
            cell("Round", 9, QUIET, "right"), *heads,
            cell("Air", self._air_width(), QUIET, "right"), cell("Feed", 9, QUIET, "right"),
            "  ", cell("Verdict", 10, QUIET),
        )  # fmt: skip

    def _place_row(self, index: int, line: BoardLine) -> Content:
        marked = index == self.chosen
        cells = {measure: (text, word) for measure, text, word in line.cells}
        parts: list[Content] = []
        for measure, _, width in _COLUMNS:
            text, word = cells.get(measure, ("-", ""))
            bold = BOLD if word in _MARKS else ""
            parts.append(cell(text + _MARKS.get(word, " "), width, bold, "right"))
        no_feed = STYLES["act"] if line.feed == "NO FEED" else ""
        name = self._name_width()
        return row(
            Content.styled(" > " if marked else "   ", BOLD),
            cell(line.place, 6, "bold on $chosen" if marked else BOLD),
            cell(line.name, name, "on $chosen" if marked else ""),
            cell(line.fish, 6, align="right"),
            cell(line.round, 9, align="right"),
            *parts,
            cell(minutes(line.air), self._air_width(), align="right"),
            " " if no_feed else "",
            cell(line.feed, 8 if no_feed else 9, no_feed, "right"),
            "  ", ink(line.sign, QUIET if line.sign == KNOWN else STYLES[line.verdict]),
        )  # fmt: skip

    def _side_rows(self, found: Board) -> list[Content]:
        if (line := self.line) is None:
            return []
        rows = [ink(f"{line.place} {line.name}", BOLD)]
        width = self._side_width() - 2
        rows += paragraphs([t for t in (line.says, line.do, line.due, air_told(line)) if t], width)
        rows += paragraphs(line.known, width, style=QUIET)
        if found.matters:
            rows += [Content(""), ink("Open matters", BOLD)]
            for matter in found.matters:
                rows += paragraph(f"{matter.place or matter.loop or ''} {matter.text}", width)
        return rows

    def _foot_rows(self, found: Board) -> list[Content]:
        desk, zone = self.desk, self.desk.site.timezone
        says = list(found.meters)
        if (waiting := desk.waiting) is not None:
            when = spoken(waiting.at, desk.now(), zone)
            says.append(f"{named(desk.farm, waiting.by)} handed on, {when}: O reads and takes over")
        says += found.fasts
        says += (known for line in found.lines for known in line.known)
        if desk.unread:
            says.append(
                f"{desk.unread} lines of the book cannot be read and lie aside: rounds verify"
            )
        says += self.rounds.to_decide
        says += found.unheard
        return [row(" ", cell(text, self.width - 2)) for text in says[:_FOOT]]

    # -- keys ------------------------------------------------------------------------------------

    def action_move(self, by: int) -> None:
        """Mark another place; a step above the first one marks none."""
        if self.board is None or not self.board.lines:
            return
        start = -1 if self.chosen is None else self.chosen
        at = min(max(start + by, -1), len(self.board.lines) - 1)
        self.chosen = at if at >= 0 else None
        line = self.line if self.chosen is not None else None
        told = (f"{line.place} {line.name}", line.due, air_told(line)) if line else ()
        self.tell("   ".join(filter(None, told)))
        self.paint()

    async def action_walk(self) -> None:
        """Go on with the open round, else begin the one that is due or was just asked about."""
        if self._early is not None:
            await self._open(self._early)
            return
        rounds = self.board.rounds if self.board else ()
        for state in ("open", "late", "due"):
            for index, due in enumerate(rounds):
                if due.state == state:
                    await self.action_round(index + 1)
                    return
        self.tell("No round is due now. Its digit begins a round early", "ok")

    async def action_round(self, digit: int) -> None:
        """Begin or go on with the round of this digit."""
        rounds = self.board.rounds if self.board else ()
        due: Round = rounds[digit - 1]
        event = event_of(due.checklist.due)
        if due.state == "coming" and not event and due.start - self.desk.now() > _EARLY:
            self._early, zone = due, self.desk.site.timezone
            window = f"{clock(due.start, zone)} to {clock(due.end, zone)}"
            self.tell(f"{due.checklist.title} is for {window}: Enter begins it now", "watch")
            return
        await self._open(due)

    def on_key(self, event: events.Key) -> None:
        """Forget the round that was asked about, with every key but the Enter that begins it."""
        if event.key != "enter" and self._early is not None:
            self._early = None
            self.tell()

    async def _open(self, due: Round) -> None:
        from rounds.screens.walk import open_walk

        self._early = None
        place = self.line.place if self.line and self.chosen is not None else None
        self.chosen = None
        await open_walk(self, due, place)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to read again only what was out of its band, and rounds there are."""
        if action == "again":
            return bool(self.board and self.board.rereads)
        if action == "end_guide":
            return self.desk.guide is not None and not self.desk.guide.over
        if action == "round":
            return self.board is not None and int(str(parameters[0])) <= len(self.board.rounds)
        return True

    def reach(self, place: str) -> None:
        """Mark a place that was found; Enter walks there."""
        lines = self.board.lines if self.board else ()
        self.chosen = next((n for n, line in enumerate(lines) if line.place == place), None)
        self.action_move(0)

    def action_end_guide(self) -> None:
        """Leave the first five minutes; J finds them again."""
        self.desk.guide = None
        self.paint()

    def action_again(self) -> None:
        """Read the value again that is due first, outside any round."""
        from rounds.day.walk import reread
        from rounds.screens.walk import walk_on

        if self.board is None or not self.board.rereads:
            return
        first, desk = self.board.rereads[0], self.desk
        today = local_day(desk.now(), desk.site.timezone)
        try:
            state = reread(desk.site, desk.farm, first.place, first.measure, desk.by, today)
        except KeyError:
            self.tell(f"No checklist asks {first.measure} at {first.place}", "watch")
            return
        walk_on(self, state)

    def action_ration(self) -> None:
        """Open today's rations."""
        from rounds.screens.ration import RationPage

        self.app.push_screen(RationPage())

    def action_dose(self) -> None:
        """Open today's doses."""
        from rounds.screens.dose import DosePage

        self.app.push_screen(DosePage())

    def action_handoff(self) -> None:
        """Open the hand-off."""
        from rounds.screens.handoff import HandoffPage

        self.app.push_screen(HandoffPage())

    def action_sync(self) -> None:
        """Open the exchange with other laptops."""
        from rounds.screens.sync import SyncPage

        self.app.push_screen(SyncPage(self.rounds.exchanging))

    def action_record(self) -> None:
        """Record what happened to fish, water or a machine."""
        from rounds.screens.record import RecordPage

        def kept(says: str | None) -> None:
            if says:
                self.paint()
                self.tell(f"Kept: {says}")

        self.app.push_screen(RecordPage(), kept)

    def action_paper(self) -> None:
        """Print a blank round sheet, or type in one walked on paper."""
        from rounds.screens.slate import open_paper

        open_paper(self)

    def action_trend(self) -> None:
        """Draw what was read in the marked place, or the worst, over time."""
        from rounds.screens.trends import open_trend

        if (line := self.line) is not None:
            open_trend(self, line.place)

    def action_note(self) -> None:
        """Write a note about the marked place, or the farm."""
        line = self.line if self.chosen is not None else None
        place = line.place if line else None

        async def written(text: str | None) -> None:
            if text and await self.keep([Note(text=text, place=place)]) is not None:
                self.paint()
                self.tell(f"Note kept: {text}")

        about = f"Note about {line.place} {line.name}" if line else "Note about the farm"
        self.app.push_screen(Ask("NOTE", about), written)

    def action_why(self) -> None:
        """Open the reasons of the marked place's verdict, or of the worst."""
        if (line := self.line) is not None:
            self.app.push_screen(why_place(self.desk, line.place))
