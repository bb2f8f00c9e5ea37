"""A trend as text: its drawing, what it says in words, and one value read out of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import SIGNS, Figure, with_unit
from rounds.day.telling.trend_events import KINDS
from rounds.day.telling.trend_limits import Edge
from rounds.day.telling.trends import Curve, Seen, Trend, thinned
from rounds.day.when import clock, long_day, short_day, spoken
from rounds.reports.plot import Limit, Series, Strip, plot
from rounds.reports.time_axis import ticks
from rounds.site.measures import MEASURES
from rounds.site.model import Site
from rounds.units import Amount, shown, shown_unit

LAPTOPS: Final = "ox+*%"
"""Marks of the laptops that read one place; the last one is of all others."""
TANKS: Final = "abcde"
"""Marks of places compared."""
DOUBTFUL: Final = "?"
_EDGE: Final = {"watch": ("-", "!"), "act": ("=", "X")}
_BROKEN: Final = 4.0
"""A line is broken where nothing was read for so many times the usual."""
_TALL: Final = 10
"""Rows besides those of events, with fewer of which kinds of events share a row."""
_LEAST: Final = 6
"""Rows of a drawing with its axis."""
_GIVEN: Final = ("fed", "dosed", "water", "fish")
"""Events a value is told to come after."""
_A_YEAR: Final = timedelta(days=300)
_ROOM: Final = 4.0
"""A limit is drawn while values still take this part of the height."""
_QUIET: Final = 4.0
"""Accuracies of the meter that a drawing holds at least: noise is not blown up."""


def columns_of(width: int) -> int:
    """Return how many columns of a drawing of this width stand for time, at most."""
    return max(width - 8, 1)


def chart(
    site: Site,
    trend: Trend,
    *,
    width: int = 78,
    height: int = 18,
    whole: bool = False,
    pointer: Seen | None = None,
) -> tuple[str, ...]:
    """Draw a trend.

    Args:
        site: The site, for its clock and its units.
        trend: What is drawn.
        width: Columns.
        height: Rows of the drawing with what happened and its axis; the key comes below.
        whole: Draw every limit, however far from what was read.
        pointer: A value marked as the one read out.

    Returns:
        The lines; in words where nothing was read in the span.
    """
    if not any(curve.points for curve in trend.curves):
        return (f"Nothing was read of {trend.name} in this span.", *_befores(site, trend))
    figure, zone = _figure(site, trend), site.timezone
    points = [
        thinned(curve.points, trend.since, trend.until, columns_of(width)) for curve in trend.curves
    ]
    drawn, hidden = _fitting(site, trend, whole)
    strips = tuple(_strips(trend))
    if height - len(strips) < _TALL:
        strips = _one_strip(strips)[: max(height - _LEAST - 2, 0)]
    lines = plot(
        _series(trend, points, figure),
        width=width,
        height=max(height, _LEAST),
        limits=[_limit(edge, figure) for edge in drawn],
        strips=strips,
        x_ticks=ticks(trend.since, trend.until, zone, columns_of(width)),
        x_range=(trend.since.timestamp(), trend.until.timestamp()),
        y_range=_least(trend, figure),
        pointer=None if pointer is None else (pointer.at.timestamp(), _y(figure, pointer.value)),
    )
    not_drawn = ", ".join(_edge_in_words(edge, figure) for edge in hidden)
    return (*lines, *([f" Beyond the drawing: {not_drawn}"] if not_drawn else []))


def says(site: Site, trend: Trend) -> tuple[str, ...]:
    """Return a trend in words, a sentence or two a place: last, lowest, highest, what was out."""
    lines = []
    for mark, curve in zip(TANKS, trend.curves, strict=False):
        which = f"{mark} {curve.place}: " if len(trend.curves) > 1 else ""
        lines.append(which + _curve_in_words(site, trend, curve))
    if trend.other_limits:
        lines.append(
            f"Limits drawn are those of {trend.curves[0].place}; others hold in "
            f"{', '.join(trend.other_limits)}"
        )
    return tuple(lines)


def heading(site: Site, trend: Trend) -> str:
    """Return what a trend is of: "G2 Oxygen, mg/L, 17 Nov to 24 Nov 2026"."""
    zone = site.timezone
    first, last = trend.since.astimezone(zone).date(), trend.until.astimezone(zone).date()
    begin = short_day(first) if first.year == last.year else long_day(first)
    unit = with_unit("", shown_unit(trend.unit, site.display_units)).strip()
    places = " ".join(curve.place for curve in trend.curves)
    return f"{places} {trend.name}{', ' if unit else ''}{unit}, {begin} to {long_day(last)}"


def read_out(site: Site, farm: Farm, trend: Trend, seen: Seen, place: str) -> str:
    """Return one value with time, verdict, who and which laptop, and what came before it."""
    if seen.doubt:
        return f"{_value(site, farm, trend, seen, place)}   ? {seen.doubt}"
    given = [e for e in trend.events if e.kind in _GIVEN and e.at <= seen.at and e.place == place]
    last = f"   {_ago(seen.at - given[-1].at)} after: {given[-1].says}" if given else ""
    return _value(site, farm, trend, seen, place) + last


def listed(site: Site, farm: Farm, trend: Trend) -> tuple[str, ...]:
    """Return a trend as words only: limits, what was out of them, what happened, newest first."""
    figure, zone = _figure(site, trend), site.timezone
    limits = [f"Limit: {_edge_in_words(edge, figure)}" for edge in trend.edges]
    found = [
        (
            one.at,
            _value(site, farm, trend, one, curve.place) + (f"   ? {one.doubt}" * bool(one.doubt)),
        )
        for curve in trend.curves
        for one in curve.points
        if one.doubt or one.verdict in ("watch", "act")
    ]
    found += [
        (event.at, f"{event.place} {_when(event.at, trend, zone)}   {event.says}")
        for event in trend.events
    ]
    said = [text for _, text in sorted(found, reverse=True)]
    return (*says(site, trend), "", *(limits or ["No limits are set here"]), "", *said)


# -- what the drawing is made of -------------------------------------------------------------------


def _figure(site: Site, trend: Trend) -> Figure:
    return Figure(MEASURES[trend.measure].decimals, trend.unit, site.display_units)


def _y(figure: Figure, value: float) -> float:
    return shown(Amount(value, figure.unit), figure.display).value


def _series(
    trend: Trend, points: Sequence[Sequence[Seen]], figure: Figure
) -> list[Series]:  # fmt: skip
    """Return a line a place, and marks: a sign a laptop, or a place where several are compared."""
    found = []
    laptops = list(dict.fromkeys(one.laptop for part in points for one in part))
    signs = {name: LAPTOPS[min(n, len(LAPTOPS) - 1)] for n, name in enumerate(laptops)}
    several = len(trend.curves) > 1
    marked: dict[str, list[tuple[float, float]]] = {}
    names: dict[str, list[str]] = {}
    for mark, curve, part in zip(TANKS, trend.curves, points, strict=False):
        found += [Series("", "", _at(run, figure)) for run in _unbroken(part)]
        if several:
            marked.setdefault(mark, [])
            names[mark] = [curve.place]
        for one in part:
            sign = DOUBTFUL if one.doubt else mark if several else signs[one.laptop]
            marked.setdefault(sign, []).extend(_at([one], figure))
            name = "doubtful" if one.doubt else curve.place if several else one.laptop
            if name not in names.setdefault(sign, []):
                names[sign].append(name)
    for sign, at in sorted(marked.items(), key=lambda one: one[0] == DOUBTFUL):
        what = "" if several or sign == DOUBTFUL else "laptop "
        found.append(Series(what + ", ".join(names[sign]), sign, tuple(at), joined=False))
    return found


def _at(seen: Sequence[Seen], figure: Figure) -> tuple[tuple[float, float], ...]:
    return tuple((one.at.timestamp(), _y(figure, one.value)) for one in seen)


def _unbroken(points: Sequence[Seen]) -> Iterable[Sequence[Seen]]:
    """Yield the stretches of points without a long gap."""
    if not points:
        return
    gaps = [b.at - a.at for a, b in pairwise(points)]
    most = _BROKEN * sorted(gaps)[len(gaps) // 2] if gaps else timedelta(0)
    start = 0
    for n, gap in enumerate(gaps, 1):
        if gap > most:
            yield points[start:n]
            start = n
    yield points[start:]


def _least(trend: Trend, figure: Figure) -> tuple[float, float]:
    """Return what the drawing holds at least: the values, and a few accuracies of the meter."""
    values = [one.value for curve in trend.curves for one in curve.points]
    low, high = min(values), max(values)
    room = _QUIET * MEASURES[trend.measure].accuracy_at(high) - (high - low)
    if room > 0:
        low = max(low - room / 2, min(0.0, low))
        high += room / 2
    return _y(figure, low), _y(figure, high)


def _fitting(
    site: Site, trend: Trend, whole: bool
) -> tuple[list[Edge], list[Edge]]:  # fmt: skip
    """Return the limits drawn and those left out, for they would press the values flat."""
    low, high = sorted(_least(trend, figure := _figure(site, trend)))
    room = _ROOM * (high - low)
    drawn, hidden = [], []
    for edge in sorted(trend.edges, key=lambda e: _distance(_y(figure, e.value), low, high)):
        y = _y(figure, edge.value)
        if whole or max(high, y) - min(low, y) <= room:
            low, high = min(low, y), max(high, y)
            drawn.append(edge)
        else:
            hidden.append(edge)
    return [e for e in trend.edges if e in drawn], [e for e in trend.edges if e in hidden]


def _distance(y: float, low: float, high: float) -> float:
    return max(low - y, y - high, 0.0)


def beyond(site: Site, trend: Trend) -> bool:
    """Tell whether some limits are left out of the usual drawing."""
    return any(curve.points for curve in trend.curves) and bool(_fitting(site, trend, False)[1])


def _limit(edge: Edge, figure: Figure) -> Limit:
    line, sign = _EDGE[edge.word]
    return Limit(
        _edge_in_words(edge, figure), _y(figure, edge.value), line,
        f"{sign} {figure.bare(edge.value)}",
        tuple((a.timestamp(), b.timestamp()) for a, b in edge.spans),
    )  # fmt: skip


def _strips(trend: Trend) -> Iterable[Strip]:
    """Return a row for each kind of event there was."""
    marks = {curve.place: mark for mark, curve in zip(TANKS, trend.curves, strict=False)}
    for kind in KINDS:
        found = [event for event in trend.events if event.kind == kind]
        if found:
            signs = [marks[e.place] if len(marks) > 1 else _SIGN[kind] for e in found]
            at = zip((event.at.timestamp() for event in found), signs, strict=True)
            yield Strip(kind, tuple(at))


_SIGN: Final = {kind: kind[0].upper() for kind in KINDS} | {
    "fish": "M", "dead": "+", "fault": "!", "meter": "C",
}  # fmt: skip


def _one_strip(strips: Sequence[Strip]) -> tuple[Strip, ...]:
    """Return meals in a row and all else in another, where there is no room for a row each."""
    rest = [strip for strip in strips if strip.name != "fed"]
    if len(rest) < 2:
        return tuple(strips)
    marks = tuple(
        (x, _SIGN[kind]) for strip in rest for x, _ in strip.marks if (kind := strip.name) in _SIGN
    )
    return (*(strip for strip in strips if strip.name == "fed"), Strip("other", marks))


# -- in words --------------------------------------------------------------------------------------


def _curve_in_words(site: Site, trend: Trend, curve: Curve) -> str:
    figure, zone = _figure(site, trend), site.timezone
    last, low, high = curve.last, curve.lowest, curve.highest
    if last is None or low is None or high is None:
        return " ".join(_befores(site, replace(trend, curves=(curve,)))) or "nothing read"
    word = f" {SIGNS[last.verdict]}" if last.verdict in _EDGE else ""
    parts = [f"last {figure.rounded(last.value)}{word} {_when(last.at, trend, zone)}"]
    if len(curve.points) > 1:
        parts.append(f"lowest {_short(figure, low)} {_when(low.at, trend, zone)}")
        parts.append(f"highest {_short(figure, high)} {_when(high.at, trend, zone)}")
    text = "; ".join(parts)
    out = curve.out
    if out:
        act = sum(one.verdict == "act" for one in out)
        text += f". Out of band {len(out)} of {len(curve.points)} times"
        text += f", {act} to act on" if act else ""
        text += f", first {_when(out[0].at, trend, zone)}"
    if curve.pace is not None:
        way = "falls" if curve.pace < 0 else "rises"
        a_day = abs(_y(figure, curve.pace) - _y(figure, 0.0))
        doses = sum(e.kind == "dosed" and e.place == curve.place for e in trend.events)
        text += f". It {way} {a_day:.2g} a day"
        text += f", {doses} {'dose' if doses == 1 else 'doses'} in it" if doses else ""
        if curve.crosses is not None and curve.crosses[1] > trend.now:
            limit, when = curve.crosses
            day = when.astimezone(zone)
            text += f": {figure.bare(limit)} is passed about {short_day(day)} if it goes on so"
    doubts = sum(bool(one.doubt) for one in curve.points)
    return text + (f". {doubts} doubtful ({DOUBTFUL})" if doubts else "") + "."


def _befores(site: Site, trend: Trend) -> list[str]:
    figure = _figure(site, trend)
    return [
        f"{curve.place}: nothing read in this span, before it {_short(figure, one)} "
        f"{_when(one.at, trend, site.timezone)}"
        for curve in trend.curves
        if (one := curve.before) is not None
    ]


def _short(figure: Figure, seen: Seen) -> str:
    sign = f" {_EDGE[seen.verdict][1]}" if seen.verdict in _EDGE else ""
    return f"{figure.rounded(seen.value)}{sign}"


def _value(site: Site, farm: Farm, trend: Trend, seen: Seen, place: str) -> str:
    figure = _figure(site, trend)
    where = f"{place} " if len(trend.curves) > 1 else ""
    parts = [
        f"{where}{_when(seen.at, trend, site.timezone)}",
        f"{figure.with_unit(seen.value)} {SIGNS[seen.verdict]}",
        f"{named(farm, seen.by)}, {seen.laptop}",
    ]
    return "   ".join(parts + ([f"read in {seen.where}"] if seen.where != place else []))


def _edge_in_words(edge: Edge, figure: Figure) -> str:
    sign = _EDGE[edge.word][1]
    hours = f", {edge.hours}" if edge.hours else ""
    return f"{sign} {edge.word} {edge.side} {figure.bare(edge.value)}{hours}"


def _when(at: datetime, trend: Trend, zone: ZoneInfo) -> str:
    """Return an instant as it is spoken, with its year where it could be of another."""
    if trend.now - at < _A_YEAR:
        return spoken(at, trend.now, zone)
    return f"{long_day(at.astimezone(zone).date())} {clock(at, zone)}"


def _ago(span: timedelta) -> str:
    minutes = int(span / timedelta(minutes=1))
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 2880 else f"{minutes // 1440} days"
