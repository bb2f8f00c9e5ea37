"""The board: every place, what is due, the worst told first. Everything else opens from here."""

from __future__ import annotations

from typing import ClassVar

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.content import Content

from rounds.day.laptops.unheard import clock_behind, named
from rounds.day.telling.board import Board, BoardLine, board
from rounds.day.walking.plan import Round
from rounds.day.when import local_day, spoken, week_day
from rounds.records.entry import Note
from rounds.records.gaps import not_whole
from rounds.screens.ask import Ask
from rounds.screens.band import ROWS, band
from rounds.screens.boardtable import NAMED, Table, table
from rounds.screens.boardtexts import air_told, asked_first, detail_rows, due_rows, worst_rows
from rounds.screens.ink import BOLD, STYLES, cell, ink, row
from rounds.screens.keys import bind, digits
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.screens.why import why_place

_EDGES = 4
"""Rows of heading, columns, telling line and key line."""
_FOOT = {True: 4, False: 2}
"""Rows under the table, on a tall screen and on another."""
_LOW = 20
"""Fewer rows than these show only the rounds there is something to do in."""
_SIDE = 28
"""Fewest cells of what is told beside the table."""
_LEAD = 3
_READ = 60
"""Most cells of a line that is read in one go."""
_BELOW = 5
"""Rows left over under the table in which the marked place is told."""


class BoardPage(Page[None]):
    """Where the day begins and where Esc always leads."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "walk", "walk"),
        bind("a", "again", "read again"),
        bind("r", "ration", "ration"),
        bind("d", "dose", "dose"),
        bind("w", "why", "why"),
        bind("find", "app.find", "find"),
        bind("o", "handoff", "hand-off"),
        bind("y", "sync", "sync"),
        bind("note", "note", "note", show=False),
        bind("up", "move(-1)", "place above", show=False),
        bind("down", "move(1)", "place below", show=False),
        *digits("round", "begin or go on with that round", show=False),
        bind("q", "app.quit", "quit"),
        bind("k", "record", "record"),
        bind("v", "trend", "trend"),
        bind("escape", "end_guide", "end guide"),
        bind("s", "stock", "stock"),
        bind("l", "live_food", "live food"),
        bind("f", "pond", "pond"),
        bind("i", "air", "minutes of air", show=False),
        bind("p", "paper", "a round on paper", show=False),
    ]
    about = (
        "The board shows every place in walking order and the worst first. Enter goes on with the "
        "round that is open or due; with a place marked, it goes there. Behind a figure ^ and v "
        "say that it is above or below what is usual there at that hour by more than a meter's "
        "error, = that it is not; ! and X are its verdict. Air is how long the water lasts if air "
        "or flow stops, ~ from an old reading; I lists it. Feed is the next meal if it is due, "
        "else from when."
    )

    def __init__(self) -> None:
        super().__init__("BOARD")
        self.chosen: int | None = None
        self.board: Board | None = None
        self._asked: Round | None = None
        """The round that was asked about: long before its window, or begun by somebody else."""
        self._joined: set[str] = set()
        """Walks gone on with in this run."""
        self.band = Lines("band")
        self.due = Lines("due")
        self.worst = Lines("worst")
        self.columns = Lines("columns")
        self.places = Lines("places", mark=True)
        self.side = Lines("side")
        self.below = Lines("below")
        self.foot = Lines("foot")

    def rows(self) -> ComposeResult:
        """Yield how all stands, the worst, what is due, the places, and by them the marked one."""
        yield self.band
        yield self.worst
        yield self.due
        yield self.columns
        with Horizontal(id="middle"):
            yield self.places
            yield self.side
        yield self.below
        yield self.foot

    def heading(self) -> Content:
        """Return the farm's name and the time."""
        now = self.desk.now().astimezone(self.desk.site.timezone)
        return ink(f"{self.desk.site.name}   {week_day(now.date())} {now:%H:%M}", BOLD)

    def gather(self) -> None:
        """Judge the farm as it stands now: at first a glance, the rest in the next frame."""
        desk, glance = self.desk, self.board is None
        if desk.ready:
            self.board = board(desk.site, desk.farm, desk.now(), desk.here, glance=glance)
            if glance:
                self.call_after_refresh(self._look_closer)

    def show(self) -> None:
        """Show the farm as it was judged."""
        desk, found = self.desk, self.board
        if found is None:
            return
        width, zone = self.width, desk.site.timezone
        tall = self.has_class("-tall")
        low = self.app.size.height < _LOW
        due = due_rows(found.rounds, zone, width, each=tall, low=low)
        worst, foot = worst_rows(found, width), self._foot_rows(found, _FOOT[tall])
        height = self.standing.styles.height
        stands = max(int(height.value) if height else 0, bool(found.rereads))
        free = self.app.size.height - stands - _EDGES - len(found.lines)
        free -= len(due) + len(worst) + len(foot)
        big = free >= ROWS
        free -= ROWS if big else 1
        self.band.set_rows(band(found.verdict, found.facts, width, big=big))
        self.worst.set_rows(worst)
        self.due.set_rows(due)
        self.foot.set_rows(foot)
        side = _side_width(found, width)
        self.side.display, self.side.styles.width = bool(side), side
        below = free if not side and free >= _BELOW else 0
        told = [Content(""), *self._detail(found, width - _LEAD)]
        if len(told) > below and self.line:
            told[1:] = detail_rows(self.line, (), width - _LEAD)
        self.below.set_rows([row(" " * _LEAD, one) for one in told[:below]])
        self.side.show(self._detail(found, side - 2) if side else [])
        self._show_places(found, table(found.lines, width - side))
        self.hint(found.notice)

    def _look_closer(self) -> None:
        """Judge anew, with what the first glance left out."""
        self.desk.count_unread()
        self.gather()
        self.paint()

    @property
    def line(self) -> BoardLine | None:
        """The marked place, else the worst, else the first."""
        if self.board is None:
            return None
        if self.chosen is not None:
            return self.board.lines[self.chosen]
        return next(iter((*self.board.worst, *self.board.lines)), None)

    @property
    def place(self) -> str:
        """The marked place; none where it is only the worst that is told."""
        return self.line.place if self.line and self.chosen is not None else ""

    # -- rows ------------------------------------------------------------------------------------

    def _show_places(self, found: Board, cells: Table) -> None:
        rows = [cells.line(line, n == self.chosen) for n, line in enumerate(found.lines)]
        house = sum(line.kind == "house" for line in found.lines)
        self.columns.set_rows([cells.head(), *rows[:house]])
        chosen = None if self.chosen is None or self.chosen < house else self.chosen - house
        self.places.show(rows[house:], chosen)

    def _detail(self, found: Board, width: int) -> list[Content]:
        return detail_rows(self.line, found.matters, min(width, _READ)) if self.line else []

    def _foot_rows(self, found: Board, most: int) -> list[Content]:
        desk, zone = self.desk, self.desk.site.timezone
        first = [
            one for one in (desk.barred, clock_behind(desk.farm, desk.now(), desk.here)) if one
        ]
        says = [*first, *found.meters]
        if (waiting := desk.waiting) is not None:
            when = spoken(waiting.at, desk.now(), zone)
            says.append(f"{named(desk.farm, waiting.by)} handed on, {when}: O reads and takes over")
        says += found.fasts
        says += (known for line in found.lines for known in line.known)
        if desk.unread:
            says.append(not_whole(desk.unread))
        says += self.rounds.to_decide
        says += (one for one in found.unheard if one not in first)
        if len(says) > most:
            last = f"{says[most - 1]} (and {len(says) - most} more)"
            if cell_len(last) > self.width - 2:
                last = f"and {len(says) - most + 1} more things to know: a taller window shows them"
            says = [*says[: most - 1], last]
        loud = dict.fromkeys(first, STYLES["watch"])
        return [row(" ", cell(text, self.width - 2, loud.get(text, ""))) for text in says]

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
        if self._asked is not None:
            await self._open(self._asked)
            return
        rounds, here = self.board.rounds if self.board else (), self.place
        for state in ("open", "late", "due"):
            for index, due in enumerate(rounds):
                if due.state == state and (not here or here in due.places):
                    await self.action_round(index + 1)
                    return
        stops = f"No round that is due now stops at {here}" if here else "No round is due now"
        self.tell(f"{stops}. Its digit begins a round early", "ok")

    async def action_round(self, digit: int) -> None:
        """Begin or go on with the round of this digit."""
        due: Round = (self.board.rounds if self.board else ())[digit - 1]
        if says := asked_first(self.desk, due, self._joined):
            self._asked = due
            self.tell(says, "watch")
            return
        await self._open(due)

    def on_key(self, event: events.Key) -> None:
        """Forget the round that was asked about, with every key but the Enter that opens it."""
        if event.key != "enter" and self._asked:
            self._asked = None
            self.tell()

    def on_screen_suspend(self) -> None:
        """Forget it too when another screen opens by a key of the app."""
        self._asked = None

    async def _open(self, due: Round) -> None:
        from rounds.screens.walking import open_walk

        self._asked = None
        self._joined.add(due.walk or "")
        place, self.chosen = self.place or None, None
        await open_walk(self, due.checklist.code, due.day, place)

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
        from rounds.day.walking.walk import reread
        from rounds.screens.walking import walk_on

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

        self.app.push_screen(RationPage(self.rounds.place))

    def action_dose(self) -> None:
        """Open today's doses."""
        from rounds.screens.dose import DosePage

        self.app.push_screen(DosePage())

    def action_stock(self) -> None:
        """Open the fish of each tank, how they grow and what is next."""
        from rounds.screens.stock import StockPage

        self.app.push_screen(StockPage())

    def action_live_food(self) -> None:
        """Open larval tanks, cultures and cysts."""
        from rounds.screens.livefood import LiveFoodPage

        self.app.push_screen(LiveFoodPage())

    def action_pond(self) -> None:
        """Open what the pond bears, its crops and what tanks would take."""
        from rounds.screens.pond import PondPage

        self.app.push_screen(PondPage())

    def action_air(self) -> None:
        """Open how long each tank lasts if air or flow stops."""
        from rounds.screens.air import AirPage

        self.app.push_screen(AirPage())

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

        self.app.push_screen(RecordPage(place=self.rounds.place), kept)

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
        line, place = self.line, self.place or None

        async def written(text: str | None) -> None:
            if text:
                await self.write(lambda: Note(text=text, place=place), f"Note kept: {text}")

        about = f"{line.place} {line.name}" if line and place else "the farm"
        self.app.push_screen(Ask("NOTE", f"Note about {about}"), written)

    def action_why(self) -> None:
        """Open the reasons of the marked place's verdict, or of the worst."""
        if (line := self.line) is not None:
            self.app.push_screen(why_place(self.desk, line.place))


def _side_width(found: Board, width: int) -> int:
    """Return the cells beside the table: what it leaves, as long as no column goes for it."""
    whole = table(found.lines, width)
    if (left := width - whole.width) >= _SIDE:
        return left
    narrow = table(found.lines, width - _SIDE)
    kept = len(narrow.columns) == len(whole.columns) and narrow.name >= NAMED
    return _SIDE if kept else 0
