"""One measure of one place, or of several, over a span of time: points, limits, what happened.

What is drawn, printed and read out is worked out here once; nothing of how it is shown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.lots.homes import Home, homes
from rounds.day.readings.calibration import doubtful
from rounds.day.readings.derived import NEEDS, figure
from rounds.day.readings.inputs import OXYGEN, Inputs
from rounds.day.readings.judgement import NAMES, Word, word_of
from rounds.day.readings.retests import sharing
from rounds.day.telling.trend_events import Event, events
from rounds.day.telling.trend_limits import Edge, edges
from rounds.day.when import local_day
from rounds.reason import render
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site

TOGETHER: Final = timedelta(minutes=30)
"""Readings of one stop: a figure worked out of them is worked out once."""
_SHARED: Final = (
    "temperature", "salinity", "ph", "tan", "nitrite", "nitrate", "alkalinity", "chlorine",
)  # fmt: skip
"""Measures of the water a loop shares: read elsewhere in it they stand for a place."""
_PACE_DAYS: Final = 5
"""Days with readings from which a pace is told (common practice)."""
_ONE_WAY: Final = 0.8
"""Part of all pairs of days that must go the same way for a pace to be told."""
_AHEAD: Final = timedelta(days=28)
"""A limit is told of no farther ahead than this, nor than the span looked at."""


class Seen(Struct, frozen=True):
    """One value, in the measure's unit: who read it, on which laptop, and what it means today."""

    at: datetime
    value: float
    by: str
    laptop: str
    where: str
    """The place it was read in."""
    verdict: Word
    doubt: str = ""
    """Why it is doubtful; empty when nothing speaks against it."""


class Curve(Struct, frozen=True):
    """What was seen in one place, oldest first; `pace` is its change a day, where it has one."""

    place: str
    points: tuple[Seen, ...]
    before: Seen | None = None
    """The last value before the span, where there is none in it."""
    pace: float | None = None
    crosses: tuple[float, datetime] | None = None
    """The limit met first at that pace, and when."""

    @property
    def lowest(self) -> Seen | None:
        """The lowest value, the last of equals."""
        return min(reversed(self.points), key=lambda one: one.value, default=None)

    @property
    def highest(self) -> Seen | None:
        """The highest value, the last of equals."""
        return max(reversed(self.points), key=lambda one: one.value, default=None)

    @property
    def last(self) -> Seen | None:
        """The newest value."""
        return self.points[-1] if self.points else None

    @property
    def out(self) -> tuple[Seen, ...]:
        """The values that today's limits call watch or act."""
        return tuple(one for one in self.points if one.verdict in ("watch", "act"))


class Trend(Struct, frozen=True):
    """A measure over a span. Limits are those of the first place."""

    measure: str
    name: str
    unit: str
    since: datetime
    until: datetime
    now: datetime
    curves: tuple[Curve, ...]
    edges: tuple[Edge, ...]
    events: tuple[Event, ...]
    other_limits: tuple[str, ...] = ()
    """Other places drawn, that have other limits than the first."""


def trend(
    site: Site,
    farm: Farm,
    places: Sequence[str],
    measure: str,
    since: datetime | None,
    until: datetime,
    now: datetime | None = None,
) -> Trend:
    """Gather what was seen of a measure in places, with limits and events.

    Args:
        site: The site.
        farm: The farm.
        places: Codes of places, the one whose limits are drawn first.
        measure: A code of the list of measures.
        since: Begin of the span; None is the life of the fish in the first place, and follows
            those of each place through the tanks they lived in.
        until: Its end, later than its begin.
        now: The present; the end of the span when left out.

    Returns:
        The trend; a place without readings has a curve without points.

    Raises:
        ValueError: An unknown measure, no place, or a span that ends before it begins.
    """
    if measure not in MEASURES:
        raise ValueError(f"measure {measure} is unknown: {', '.join(MEASURES)}")
    if not places or (since is not None and until <= since):
        raise ValueError("a trend needs a place, and a span that ends after it begins")
    found = [site.places[code] for code in dict.fromkeys(places)]
    lived = [_lived(farm, place, measure, since, until) for place in found]
    begin = lived[0][0].since
    limits = edges(site, found[0], measure, begin, until)
    curves: list[Curve] = []
    happened: list[Event] = []
    other: list[str] = []
    for place, stays in zip(found, lived, strict=True):
        curve = _curve(site, farm, place, measure, stays)
        curves.append(_paced(site, curve, limits, measure, until))
        for home in stays:
            there = site.places[home.place]
            for event in events(site, farm, there, measure, home.since, home.until):
                happened.append(replace(event, place=place.code))
            if edges(site, there, measure, begin, until) != limits:
                other.append(there.code)
    cautious = ", cautious" if measure == "ammonia" else ""
    return Trend(
        measure, NAMES.get(measure, MEASURES[measure].name) + cautious, MEASURES[measure].unit,
        begin, until, now or until, tuple(curves), limits,
        tuple(sorted(happened, key=lambda event: event.at)), tuple(dict.fromkeys(other)),
    )  # fmt: skip


def measures_of(farm: Farm, place: Place) -> tuple[str, ...]:
    """Return the measures that have ever been read in a place, or can be worked out for it."""
    read = {m for m in MEASURES if any(farm.first_read(p, m) for p in _read_in(farm, place, m))}
    for measure, needs in NEEDS.items():
        if measure in MEASURES and set(needs) <= read:
            read.add(measure)
    return tuple(measure for measure in MEASURES if measure in read)


def thinned(
    points: Sequence[Seen], since: datetime, until: datetime, columns: int
) -> tuple[Seen, ...]:
    """Return the points that a drawing of so many columns can show.

    Of those in one column the first, the lowest, the highest, the last and a doubtful one stay.
    """
    buckets: dict[int, list[Seen]] = {}
    for one in points:
        part = (one.at - since) / (until - since)
        buckets.setdefault(math.floor(part * columns), []).append(one)
    kept: list[Seen] = []
    for found in buckets.values():
        stay = {id(found[0]), id(found[-1])}
        stay |= {id(pick(found, key=lambda one: one.value)) for pick in (min, max)}
        stay |= {id(one) for one in [one for one in found if one.doubt][:1]}
        kept += [one for one in found if id(one) in stay]
    return tuple(kept)


# -- what was seen ---------------------------------------------------------------------------------


def _lived(
    farm: Farm, place: Place, measure: str, since: datetime | None, until: datetime
) -> tuple[Home, ...]:
    """Return where a curve of a place is read: there, or where its fish lived through their life.

    A place without fish has lived since the measure was first read there.
    """
    if since is not None:
        return (Home(place.code, since, until),)
    if stays := homes(farm, place.code, until):
        return stays
    codes = _read_in(farm, place, NEEDS.get(measure, (measure,))[0])
    first = [at for code in codes if (at := farm.first_read(code, measure)) is not None]
    return (Home(place.code, min([*first, until - timedelta(days=1)]), until),)


def _read_in(farm: Farm, place: Place, measure: str) -> tuple[str, ...]:
    """Return where readings that stand for a place are taken: there, else in its loop."""
    own = (place.code,)
    if not place.loop or measure not in _SHARED or farm.first_read(place.code, measure) is not None:
        return own
    return tuple(one.code for one in sharing(farm, place)) or own


def _reads(
    farm: Farm, place: Place, measure: str, since: datetime, until: datetime
) -> list[Read]:  # fmt: skip
    codes = _read_in(farm, place, measure)
    found = [read for code in codes for read in farm.between(code, measure, since, until)]
    return sorted(found, key=lambda read: read.at)


def _curve(
    site: Site, farm: Farm, place: Place, measure: str, stays: Sequence[Home]
) -> Curve:  # fmt: skip
    points: list[Seen] = []
    for home in stays:
        there = site.places[home.place]
        reads = _reads(farm, there, measure, home.since, home.until)
        if reads or measure not in NEEDS:
            points += [_seen(site, farm, there, read) for read in reads]
        else:
            points += _worked_out(site, farm, there, measure, home.since, home.until)
    if points:
        return Curve(place.code, tuple(points))
    codes = _read_in(farm, place, measure)
    last = [r for code in codes if (r := farm.latest(code, measure, stays[0].since)) is not None]
    newest = max(last, key=lambda read: read.at, default=None)
    return Curve(place.code, (), None if newest is None else _seen(site, farm, place, newest))


def _worked_out(
    site: Site, farm: Farm, place: Place, measure: str, since: datetime, until: datetime
) -> list[Seen]:
    """Return a figure after each stop at which something of it was read."""
    leads = NEEDS[measure][: 1 if measure in OXYGEN else 2]
    inputs = sorted(
        (read for lead in leads for read in _reads(farm, place, lead, since, until)),
        key=lambda read: read.at,
    )
    ends = [a for a, b in pairwise([*inputs, None]) if a and (not b or b.at - a.at > TOGETHER)]
    worked = [_worked(site, farm, place, measure, read) for read in ends]
    return [one for one in worked if one is not None]


def _seen(site: Site, farm: Farm, place: Place, read: Read) -> Seen:
    doubt = doubtful(farm, read)
    word = word_of(site, place, read.measure, read.value, read.at)
    says = render(doubt, site.display_units) if doubt else ""
    return Seen(read.at, read.value, read.by, read.writer, read.place, word, says)


def _worked(site: Site, farm: Farm, place: Place, measure: str, lead: Read) -> Seen | None:
    """Return a figure as it was after a stop, of what counted then; what is judged where told."""
    found = figure(site, Inputs(farm, place, lead.at), measure)
    value = found.value if found.cautious is None else found.cautious
    if value is None:
        return None
    doubts = [found.doubtful] if found.doubtful else []
    doubts += [
        render(reason, site.display_units)
        for reason in found.reasons
        if reason.says.startswith("Doubtful")
    ]
    word: Word = found.judgement.verdict if found.judgement else "ok"
    return Seen(lead.at, value, lead.by, lead.writer, lead.place, word, doubts[0] if doubts else "")


# -- where it goes ---------------------------------------------------------------------------------


def _paced(
    site: Site, curve: Curve, limits: Sequence[Edge], measure: str, until: datetime
) -> Curve:
    """Return a curve with its change a day, where the days agree on one, and the limit ahead.

    Days are compared by their medians, by the slope that is the median of all pairs of days
    (Theil 1950, Sen 1968); a change smaller than the meter's accuracy is none.
    """
    days: dict[int, list[float]] = {}
    for one in curve.points:
        if not one.doubt:
            day = local_day(one.at, site.timezone).toordinal()
            days.setdefault(day, []).append(one.value)
    known = [(day, median(values)) for day, values in sorted(days.items())]
    if len(known) < _PACE_DAYS:
        return curve
    step = max(1, len(known) // 120)
    known = known[::-step][::-1]
    slopes = [(y - b) / (x - a) for n, (x, y) in enumerate(known) for a, b in known[:n]]
    pace, span = median(slopes), known[-1][0] - known[0][0]
    agree = sum(slope * pace > 0 for slope in slopes) / len(slopes)
    value = known[-1][1]
    if agree < _ONE_WAY or abs(pace) * span <= MEASURES[measure].accuracy_at(value):
        return curve
    ahead = [
        (days_to, edge.value)
        for edge in limits
        if not edge.spans
        and (edge.side == "below") == (pace < 0)
        and (days_to := (edge.value - value) / pace) > 0
    ]
    days_to, limit = min(ahead, default=(math.inf, 0.0))
    soon = days_to <= min(_AHEAD / timedelta(days=1), span)
    when = until + timedelta(days=days_to) if soon else until
    return replace(curve, pace=pace, crosses=(limit, when) if soon else None)
