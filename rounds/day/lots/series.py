"""A lot's own history in a place: what was weighed and when, who was there, how warm it was."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from statistics import fmean, stdev
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import amount
from rounds.day.when import local_day
from rounds.fish.growth import filled
from rounds.records.entry import Counted, Died, Entry, Moved, Removed, Stocked, Weighed

_GIVEN_ERROR: Final = {False: 0.05, True: 0.10}
"""Relative standard error of a weight without a spread: weighed or counted, or an estimate."""
LOST: Final = "lost"
"""Cause of fish out that nobody saw dead: jumped, taken by a bird. They count as dead."""
_DEEPEST: Final = 8
"""Moves followed back to where a lot was weighed before."""


class Point(Struct, frozen=True):
    """A mean weight of a lot on a day, with its standard error; `cv_percent` where fish were."""

    at: datetime
    place: str
    n: int
    weight_g: float
    se_g: float
    cv_percent: float | None
    what: str
    """ "stocked", "moved in" or "sample"."""
    range_g: tuple[float, float] | None = None
    """The smallest and the largest fish, where each was weighed."""


def points(farm: Farm, of_lot: Sequence[Entry], place: str, until: datetime) -> tuple[Point, ...]:
    """Return the mean weights of a lot that lead to the fish now in a place, oldest first.

    A lot moved on whole or in part carries on from where it came from, unless it was weighed in
    the move. Where fish of the lot were added later, only what was weighed after that counts.

    Args:
        farm: The farm, for its time zone.
        of_lot: What was done to the lot's fish, `Farm.lots`.
        place: Where the fish are.
        until: Nothing after this counts.
    """
    return tuple(_points(farm, of_lot, place, until, 0))


def _points(
    farm: Farm, of_lot: Sequence[Entry], place: str, until: datetime, depth: int
) -> list[Point]:
    came = [
        e
        for e in of_lot
        if e.at <= until
        and (e.place == place if isinstance(e, Stocked) else isinstance(e, Moved))
        and (not isinstance(e, Moved) or e.target == place)
    ]
    if not came or depth > _DEEPEST:
        return []
    last, found = came[-1], []
    if len(came) == 1:
        if isinstance(last, Stocked):
            weight_g = amount(last.mean_weight, last.unit, "g")
            found = _given(last, place, weight_g, last.estimated, "stocked")
        elif isinstance(last, Moved):
            kg = amount(last.mass, last.unit, "kg")
            if kg and last.count > 0:
                found = _given(last, place, 1000 * kg / last.count, False, "moved in")
            else:
                found = _points(farm, of_lot, last.source, last.at, depth + 1)
    days: dict[object, list[Weighed]] = {}
    for entry in of_lot:
        here = isinstance(entry, Weighed) and entry.place == place
        if here and last.at <= entry.at <= until and isinstance(entry, Weighed):
            days.setdefault(local_day(entry.at, farm.site.timezone), []).append(entry)
    return found + [one for day in days.values() if (one := _sampled(place, day)) is not None]


def _given(
    entry: Stocked | Moved, place: str, weight_g: float | None, estimated: bool, what: str
) -> list[Point]:
    if not weight_g or not 1e-4 <= weight_g <= 50_000:
        return []
    error_g = weight_g * _GIVEN_ERROR[estimated]
    return [Point(entry.at, place, entry.count, weight_g, error_g, None, what)]


def _sampled(place: str, day: Sequence[Weighed]) -> Point | None:
    """Return one point of a day's weighings: fish by fish, or several nets, or one."""
    nets = [(e.count, g) for e in day if (g := amount(e.mass, e.unit, "g")) and e.count > 0]
    fish = [g for e in day for w in e.weights if (g := amount(w, e.unit, "g")) is not None]
    n, total_g = sum(count for count, _ in nets), math.fsum(g for _, g in nets)
    ends = None
    if n == 0 or not 1e-4 <= total_g / n <= 50_000:
        return None
    mean_g, cv = total_g / n, None
    if len(fish) == n > 1:
        mean_g = fmean(fish)
        cv = 100 * stdev(fish) / mean_g
        error_g = stdev(fish) / math.sqrt(n)
        ends = min(fish), max(fish)
    elif len(nets) > 1:
        error_g = stdev(g / count for count, g in nets) / math.sqrt(len(nets))
    else:
        error_g = mean_g * _GIVEN_ERROR[False]
    return Point(day[-1].at, place, n, mean_g, max(error_g, mean_g * 1e-6), cv, "sample", ends)


# -- how many there were ---------------------------------------------------------------------------


class Change(Struct, frozen=True):
    """Fish of a lot leaving or joining a place: how many were there before, and what happened."""

    at: datetime
    before: int
    count: int
    kind: str
    """ "in", "out", "dead" or "counted"."""
    mass_kg: float | None


def changes(of_lot: Iterable[Entry], place: str) -> list[Change]:
    """Return how the number of a lot's fish in a place changed, oldest first."""
    number, found = 0, []
    for entry in of_lot:
        told = _change(entry, place)
        if told is None:
            continue
        kind, count, mass_kg = told
        if kind in ("out", "dead"):
            count = min(max(0, count), number)
        found.append(Change(entry.at, number, count, kind, mass_kg))
        number = number_after(found[-1])
    return found


def number_after(change: Change) -> int:
    """Return how many fish there were after a change."""
    if change.kind == "counted":
        return change.count
    return change.before + (change.count if change.kind == "in" else -change.count)


def number_at(found: Sequence[Change], at: datetime) -> int:
    """Return how many fish there were at an instant."""
    known = [one for one in found if one.at <= at]
    return number_after(known[-1]) if known else 0


def _change(entry: Entry, place: str) -> tuple[str, int, float | None] | None:
    match entry:
        case Moved():
            mass_kg = amount(entry.mass, entry.unit, "kg")
            if entry.target == place:
                return "in", entry.count, mass_kg
            return ("out", entry.count, mass_kg) if entry.source == place else None
        case _ if entry.place != place:
            return None
        case Stocked():
            return "in", entry.count, None
        case Removed():
            kind = "dead" if entry.cause == LOST else "out"
            return kind, entry.count, amount(entry.mass, entry.unit, "kg")
        case Died():
            return "dead", entry.count, amount(entry.mass, entry.unit, "kg")
        case Counted():
            return "counted", max(0, entry.count), None
    return None


# -- how warm it was -------------------------------------------------------------------------------


class Warmth(Struct, frozen=True):
    """Daily temperatures of a span of days, degC, and on how many of them none was read."""

    daily_c: tuple[float, ...]
    unread: int

    @property
    def mean_c(self) -> float:
        """Mean of the days."""
        return fmean(self.daily_c)

    @property
    def known(self) -> bool:
        """It was read on at least half of the days."""
        return 2 * self.unread <= len(self.daily_c)


def warmth(
    farm: Farm, places: Sequence[str], since: datetime, until: datetime
) -> Warmth | None:  # fmt: skip
    """Return the temperatures of each day from one instant to another; None if never read.

    A day's temperature is the mean of its lowest and highest reading, in the first of the places
    that has one; a day without takes the day before's.

    Args:
        farm: The farm.
        places: Where to look, the first one first.
        since: First day, whole.
        until: The day after the last one.
    """
    zone = farm.site.timezone
    first = local_day(since, zone)
    span = max(1, (local_day(until, zone) - first).days)
    days: list[float | None] = [None] * span
    margin = timedelta(days=1)
    for place in reversed(places):
        read: dict[int, list[float]] = {}
        for one in farm.between(place, "temperature", since - margin, until):
            read.setdefault((local_day(one.at, zone) - first).days, []).append(one.value)
        for day, values in read.items():
            if 0 <= day < span:
                days[day] = (min(values) + max(values)) / 2
    known = [value for value in days if value is not None]
    if not known:
        return None
    unread = sum(value is None for value in days)
    if days[0] is None:
        days[0] = known[0]
    try:
        return Warmth(filled(days).temperatures_c, unread)
    except ValueError:  # a temperature no water has
        return None
