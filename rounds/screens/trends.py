"""The chart of a place: one measure with its limits and events, or how its fish grew."""

from __future__ import annotations

import asyncio
from datetime import datetime, timedelta
from typing import Any, ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.lots.growth import Growth, of_stock
from rounds.day.lots.projection import project
from rounds.day.readings.inputs import OXYGEN
from rounds.day.readings.judgement import NAMES
from rounds.day.telling.trends import Seen, Trend, measures_of, thinned, trend
from rounds.day.verdict import of_place
from rounds.reports.growth_chart import growth_chart
from rounds.reports.trend import TANKS, beyond, chart, columns_of, heading, listed, read_out, says
from rounds.screens.choose import Choose
from rounds.screens.ink import BOLD, cut, ink, paragraph
from rounds.screens.keys import bind, digits
from rounds.screens.leaf import Leaf
from rounds.screens.lines import Lines
from rounds.screens.page import Page
from rounds.screens.why import why
from rounds.site.measures import MEASURES

_DAYS: Final = (1, 3, 7, 28, None)
"""Spans by digit, in days; the last is the life of the lot."""
_FIRST: Final = 3


class TrendPage(Page[None]):
    """A chart with a value read out of it; other spans, measures and tanks are one key away."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *digits("span", "span", upto=len(_DAYS)),
        bind("left", "point(-1)", "value"),
        bind("right", "point(1)", "value after", show=False),
        bind("down", "measure(1)", "measure"),
        bind("up", "measure(-1)", "measure before", show=False),
        bind("c", "compare", "compare"),
        bind("g", "growth", "growth"),
        bind("w", "why", "words"),
        bind("l", "limits", "all limits, or closer", show=False),
        bind("page-up", "window(1)", "earlier", show=False),
        bind("page-down", "window(-1)", "later", show=False),
        bind("escape", "close", "back"),
    ]
    about = (
        "The chart shows what was read, the limits (- watch, = act) and under it what happened. "
        "Left and Right read single values out; 1 to 5 choose 1, 3, 7, 28 days or the lot's life; "
        "W says it all in words. Each row under the chart is named: fed, dosed, water let out or "
        "in, fish moved, dead, fault, meter checked."
    )

    def __init__(self, place: str, measure: str) -> None:
        super().__init__("TREND")
        self.places = [place]
        self.measure = measure
        self.digit = _FIRST
        self.windows = 0
        """Spans back from now."""
        self.whole = False
        self.growing = False
        self.trend: Trend | None = None
        self.growths: tuple[Growth, ...] = ()
        self.at: int | None = None
        """Which point is read out; None the last."""
        self.body = Lines("chart")
        self._wanted: tuple[object, ...] = ()
        self._looking = False
        """What is asked for is not here yet; what was drawn before stays so long."""

    def rows(self) -> ComposeResult:
        """Yield the chart."""
        yield self.body

    def heading(self) -> Content:
        """Return what is drawn."""
        if self.growing:
            return ink(f"{self.places[0]} growth", BOLD)
        if self.trend is None:
            return ink(f"{self.places[0]} {_name(self.measure)}", BOLD)
        return ink(heading(self.desk.site, self.trend), BOLD)

    # -- what is drawn ---------------------------------------------------------------------------

    def show(self) -> None:
        """Draw what is known; where it is not known yet, look it up beside the keys."""
        drawn = (tuple(self.places), self.measure, self.digit, self.windows, self.growing)
        wanted = (*drawn, self.desk.farm.size, int(self.desk.now().timestamp() // 60))
        if wanted != self._wanted:
            if drawn != self._wanted[: len(drawn)]:
                self.at = None
            self._looking = drawn != self._wanted[: len(drawn)]
            self._wanted = wanted
            self.run_worker(self._gather(wanted), group="trend")
        self.body.show(self._rows())
        self.tell(cut(self._read_out(), self.width - 2))

    async def _gather(self, wanted: tuple[object, ...]) -> None:
        """Look up what is asked for; what was asked for before and comes late is dropped."""
        if self.growing:
            growths = await asyncio.to_thread(self._growths)
            if wanted == self._wanted:
                self.growths = growths
        else:
            found = await asyncio.to_thread(self._trend)
            if wanted == self._wanted:
                self.trend = found
        if wanted == self._wanted:
            self._looking = False
            if self.is_current:
                self.paint()

    def _trend(self) -> Trend:
        desk, now = self.desk, self.desk.now()
        days, since, until = _DAYS[self.digit - 1], None, now
        if days is not None:
            until = now - self.windows * timedelta(days=days)
            since = until - timedelta(days=days)
        return trend(desk.site, desk.farm, self.places, self.measure, since, until, now)

    def _growths(self) -> tuple[Growth, ...]:
        desk, now = self.desk, self.desk.now()
        place = desk.site.places[self.places[0]]
        stocks = desk.farm.stocks.get(place.code, ())
        return tuple(of_stock(desk.site, desk.farm, place, stock, now) for stock in stocks)

    def _rows(self) -> list[Content]:
        width, room = self.width - 2, max(self.body.size.height or self.app.size.height - 3, 8)
        if self.growing and self.growths:
            return self._growth_rows(width, room)
        found = self.trend
        if self.growing or found is None:
            return []
        words = [
            line
            for text in says(self.desk.site, found)
            for line in paragraph(text, width, indent=1)
        ]
        words = words[: max(room // 4, 1)]  # W says all of it
        height = room - len(words) - 2
        lines = self._chart(found, width, height)
        if over := len(words) + len(lines) - room:
            lines = self._chart(found, width, height - over)
        return [*words, *(ink(line) if line else Content("") for line in lines)]

    def _chart(self, found: Trend, width: int, height: int) -> tuple[str, ...]:
        pointed = self._pointed()
        return chart(
            self.desk.site, found, width=width, height=height, whole=self.whole,
            pointer=pointed[1] if pointed else None,
        )  # fmt: skip

    def _growth_rows(self, width: int, room: int) -> list[Content]:
        desk, rows, each = self.desk, [Content("")][:0], room // len(self.growths)
        for one in self.growths:
            height = max(each - 9, 8)
            lines = growth_chart(desk.site, desk.farm, one, desk.now(), width=width, height=height)
            if len(lines) < each or (len(lines) > each and height > 8):
                height = max(height + each - len(lines), 8)
                lines = growth_chart(
                    desk.site, desk.farm, one, desk.now(), width=width, height=height
                )
            rows += [ink(line) if line else Content("") for line in lines]
        return rows

    # -- one value -------------------------------------------------------------------------------

    def _points(self) -> list[tuple[str, Seen]]:
        """Return the points of the drawing in the order of time, each with its place."""
        if self.trend is None or self.growing:
            return []
        columns = columns_of(self.width - 2)
        found = [
            (curve.place, one)
            for curve in self.trend.curves
            for one in thinned(curve.points, self.trend.since, self.trend.until, columns)
        ]
        return sorted(found, key=lambda pair: pair[1].at)

    def _pointed(self) -> tuple[str, Seen] | None:
        points = self._points()
        if not points:
            return None
        return points[-1 if self.at is None else min(self.at, len(points) - 1)]

    def _read_out(self) -> str:
        if self._looking:
            what = "growth" if self.growing else _name(self.measure)
            return f"Looking up {what} of {', '.join(self.places)} ..."
        pointed = self._pointed()
        if self.trend is None or pointed is None:
            return self.body.span
        place, seen = pointed
        return f"@ {read_out(self.desk.site, self.desk.farm, self.trend, seen, place)}"

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what changes something."""
        by = int(str(parameters[0])) if parameters else 0
        if action in ("point", "span", "measure", "window", "compare", "limits") and self.growing:
            return False
        match action:
            case "point":
                count = len(self._points())
                at = count - 1 if self.at is None else self.at
                return 0 <= at + by < count
            case "span":
                return by != self.digit
            case "measure":
                return len(self._measures()) > 1
            case "window":
                return self.windows + by >= 0 and _DAYS[self.digit - 1] is not None
            case "compare":
                return bool(self._others())
            case "growth":
                return bool(self.desk.farm.stocks.get(self.places[0]))
            case "limits":
                found = self.trend
                return found is not None and (self.whole or beyond(self.desk.site, found))
        return True

    def _measures(self) -> tuple[str, ...]:
        return measures_of(self.desk.farm, self.desk.site.places[self.places[0]])

    def _others(self) -> list[str]:
        site, farm = self.desk.site, self.desk.farm
        return [
            code
            for code, place in site.places.items()
            if code != self.places[0] and self.measure in measures_of(farm, place)
        ]

    def action_point(self, by: int) -> None:
        """Read the value before or after out."""
        at = len(self._points()) - 1 if self.at is None else self.at
        self.at = at + by
        self.paint()

    def action_span(self, digit: int) -> None:
        """Draw another span, up to now."""
        self.digit, self.windows = digit, 0
        self.paint()

    def action_window(self, by: int) -> None:
        """Go back by a span, or forward again."""
        self.windows += by
        self.paint()

    def action_measure(self, by: int) -> None:
        """Draw the next measure that was read here."""
        measures = self._measures()
        at = measures.index(self.measure) if self.measure in measures else -1
        self.measure = measures[(at + by) % len(measures)]
        self.paint()

    def action_limits(self) -> None:
        """Draw every limit, or only those near what was read."""
        self.whole = not self.whole
        self.paint()

    def action_growth(self) -> None:
        """Draw the growth of the fish here, or the measure again."""
        self.growing = not self.growing
        self.paint()

    def action_compare(self) -> None:
        """Draw another place beside, or take it out again."""
        others, site = self._others(), self.desk.site
        drawn = set(self.places[1:])
        options = [
            f"{code} {site.places[code].name}{', take out' if code in drawn else ''}"
            for code in others
        ]

        def picked(index: int | None) -> None:
            if index is None:
                return
            code = others[index]
            if code in drawn:
                self.places.remove(code)
            elif len(self.places) < len(TANKS):
                self.places.append(code)
            self.paint()
            if code not in drawn and code not in self.places:
                self.tell(f"At most {len(TANKS)} places are drawn together", "watch")

        self.app.push_screen(Choose(self.label, "Which place beside it?", options), picked)

    def action_why(self) -> None:
        """Say the chart in words: limits, what was out of them, what happened; or growth's why."""
        desk = self.desk
        if self.growing:
            reasons = [
                reason
                for one in self.growths
                for reason in (
                    *one.reasons, *project(desk.site, desk.farm, one, desk.now()).reasons
                )
            ]  # fmt: skip
            self.app.push_screen(why(desk, f"{self.places[0]} growth", tuple(reasons)))
        elif self.trend is not None:
            texts = listed(desk.site, desk.farm, self.trend)
            self.app.push_screen(Leaf("TREND", heading(desk.site, self.trend), texts))


def _name(measure: str) -> str:
    return NAMES.get(measure, MEASURES[measure].name)


def open_trend(page: Page[Any], code: str, measure: str = "") -> None:
    """Open the chart of a place on top of a page.

    Args:
        page: The page.
        code: The place.
        measure: What is drawn first; left out, what is out of its band there, else oxygen.
    """
    desk = page.desk
    place, now = desk.site.places[code], desk.now()
    known = measures_of(desk.farm, place)
    if not known:
        page.tell(f"Nothing has been read in {code} yet", "watch")
        return
    page.app.push_screen(TrendPage(code, measure if measure in known else _first(page, code, now)))


def _first(page: Page[Any], code: str, now: datetime) -> str:
    desk, place = page.desk, page.desk.site.places[code]
    known = measures_of(desk.farm, place)
    out = [
        one.measure
        for one in of_place(desk.site, desk.farm, place, now).judgements
        if one.verdict in ("watch", "act")
    ]
    return next((m for m in (*out, *OXYGEN) if m in known), known[0])
