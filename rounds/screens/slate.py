"""A round walked on paper: print the blank slate, and type in what was written on it as a grid."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from datetime import date, datetime
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.walking import slate
from rounds.day.walking.walk import Look, WalkState
from rounds.day.when import clock, local_day, long_day
from rounds.records.entry import Entry
from rounds.reports.slate import render, write
from rounds.screens.ask import Ask
from rounds.screens.choose import Choose
from rounds.screens.gridrows import grid_rows
from rounds.screens.ink import BOLD, ink
from rounds.screens.keys import bind
from rounds.screens.page import Page
from rounds.screens.walk import WalkPage
from rounds.screens.walking import open_walk
from rounds.site.model import Checklist

LABEL = "PAPER"
_AT = "When was it read? The time on the slate, like 07:10"


class SlatePage(WalkPage):
    """A walk as a grid of places and steps: each value is dated with the time on the slate."""

    BINDINGS: ClassVar[list[BindingType]] = [bind("a", "time", "time read")]
    about = (
        "The slate as a grid, row by row as it was walked. Digits type, Enter keeps and goes to "
        "the next empty box; S skips, Up goes back. A changes the time for what comes after it: "
        "every value is judged and dated as of then."
    )

    def __init__(self, state: WalkState, says: str, read_at: datetime) -> None:
        super().__init__(state, says)
        self.label = LABEL
        self.read_at = read_at

    def rows(self) -> ComposeResult:
        """Yield the grid."""
        yield self.body

    def heading(self) -> Content:
        """Return the round, its day and the time that counts now."""
        at = clock(self.read_at, self.desk.site.timezone)
        title, day = self.state.checklist.title, long_day(self.state.day)
        return ink(f"{title}, {day}   read at {at}", BOLD)

    def moment(self) -> datetime:
        """Return the time on the slate."""
        return self.read_at

    def dated(self, draft: Entry) -> Entry:
        """Return a draft that says when it was read."""
        return slate.dated(draft, self.read_at)

    def _body(self, look: Look | None, width: int, height: int) -> list[Content]:
        if look is None:
            return super()._body(look, width, height)
        asked = self.asked is not None
        return grid_rows(self.state, look, self.field, self.picked, asked, width, height)

    def action_time(self) -> None:
        """Ask for the time that counts from here on."""

        async def timed(at: datetime) -> None:
            self.read_at = at
            self.paint()

        at = clock(self.read_at, self.desk.site.timezone)
        _ask_time(self, self.state.checklist, self.state.day, timed, at)


def open_paper(page: Page[Any]) -> None:
    """Ask what is wanted: a blank slate to print, or values to type in."""

    def picked(index: int | None) -> None:
        if index == 0:
            _print(page)
        elif index == 1:
            _type_in(page)

    options = ("a blank slate to print and carry", "type in what was written on a slate")
    page.app.push_screen(Choose(LABEL, "A round on paper", options), picked)


def _print(page: Page[Any]) -> None:
    desk = page.desk
    rounds = slate.ahead(desk.site, desk.farm, desk.now())

    def picked(index: int | None) -> None:
        if index is None:
            return
        checklist, day = rounds[index]
        blank = slate.blank(desk.site, desk.farm, checklist.code, day, desk.now())
        try:
            path = write(desk.site.folder, blank, render(desk.site, blank))
        except OSError as error:
            page.tell(f"The slate is not written: {error.strerror}", "watch")
            return
        page.tell(f"Written, print it from {path}")

    _choose(page, "Which round is walked on paper?", rounds, picked)


def _type_in(page: Page[Any]) -> None:
    desk = page.desk
    rounds = slate.walked(desk.site, desk.farm, desk.now())

    def picked(index: int | None) -> None:
        if index is None:
            return
        checklist, day = rounds[index]

        async def timed(at: datetime) -> None:
            await open_walk(page, checklist.code, day, read_at=at)

        _ask_time(page, checklist, day, timed)

    _choose(page, "Which round was it?", rounds, picked)


def _choose(
    page: Page[Any],
    question: str,
    rounds: tuple[tuple[Checklist, date], ...],
    then: Any,
) -> None:
    today = local_day(page.desk.now(), page.desk.site.timezone)
    named = [f"{one.title}, {_day(day, today)}" for one, day in rounds]
    if named:
        page.app.push_screen(Choose(LABEL, question, named), then)
    else:
        page.tell("No round is due today", "watch")


def _day(day: date, today: date) -> str:
    near = {0: "today", -1: "yesterday", 1: "tomorrow"}
    return near.get((day - today).days, long_day(day))


def _ask_time(
    page: Page[Any],
    checklist: Checklist,
    day: date,
    then: Callable[[datetime], Awaitable[None]],
    text: str = "",
) -> None:
    """Ask for the time on the slate, and again where it is far from the round's window."""
    desk = page.desk

    def read(typed: str) -> datetime:
        return slate.time_read(typed, day, desk.now(), desk.site, checklist)

    async def timed(typed: str | None) -> None:
        if not typed:
            return
        at = read(typed)
        doubt = slate.far_off(at, checklist, day, desk.site)
        if not doubt:
            await then(at)
            return

        async def meant(index: int | None) -> None:
            if index == 1:
                await then(at)
            else:
                _ask_time(page, checklist, day, then, typed)

        options = ["type it again", f"{typed} is meant"]
        page.app.push_screen(Choose(LABEL, "Was it read then?", options, says=[doubt]), meant)

    page.app.push_screen(Ask(LABEL, _AT, text=text, limit=5, check=read), timed)
