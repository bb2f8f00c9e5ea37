"""The limits of a measure over a span of time, each with the hours in which it holds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Literal

from msgspec import Struct

from rounds.day.when import local_day
from rounds.site.measures import MEASURES
from rounds.site.model import Limits, Place, Site
from rounds.units import convert


class Edge(Struct, frozen=True):
    """One limit, in the measure's unit; with `spans` it holds only in them."""

    word: Literal["watch", "act"]
    side: Literal["below", "above"]
    value: float
    spans: tuple[tuple[datetime, datetime], ...] = ()
    hours: str = ""
    """Its hours of the day in words."""


def edges(
    site: Site, place: Place, measure: str, since: datetime, until: datetime
) -> tuple[Edge, ...]:
    """Return the limits of a measure in a place over a span, the outer ones last.

    Args:
        site: The site.
        place: Where.
        measure: A code of the list of measures.
        since: Begin of the span.
        until: Its end.
    """
    cuts = sorted({time(0), *_cuts(site, place, measure)})
    parts = [(a, b, site.limits_for(measure, place, a)) for a, b in pairwise([*cuts, None]) if a]
    held: dict[tuple[Literal["watch", "act"], Literal["below", "above"], float], list[int]] = {}
    for index, (_, _, limits) in enumerate(parts):
        for key in _edges_of(limits, MEASURES[measure].unit) if limits else ():
            held.setdefault(key, []).append(index)
    found = []
    for (word, side, value), holds in held.items():
        if len(holds) == len(parts):
            found.append(Edge(word, side, value))
            continue
        hours = [(parts[n][0], parts[n][1]) for n in holds]
        spans = tuple(_spans(site, hours, since, until))
        found.append(Edge(word, side, value, spans, _in_words(hours)))
    return tuple(sorted(found, key=lambda edge: edge.word == "act"))


def _cuts(site: Site, place: Place, measure: str) -> Iterable[time]:
    species = site.species_of(place)
    ranks = [place.limits, site.limits, *(species.limits.values() if species else ())]
    for limits in (one for rank in ranks for one in rank if one.measure == measure):
        yield from limits.hours or ()


def _edges_of(
    limits: Limits, unit: str
) -> Iterable[tuple[Literal["watch", "act"], Literal["below", "above"], float]]:
    own = MEASURES[limits.measure].unit
    if limits.target_low is not None:
        yield "watch", "below", convert(limits.target_low, own, unit)
    if limits.target_high is not None:
        yield "watch", "above", convert(limits.target_high, own, unit)
    if limits.act_low is not None:
        yield "act", "below", convert(limits.act_low, own, unit)
    if limits.act_high is not None:
        yield "act", "above", convert(limits.act_high, own, unit)


def _spans(
    site: Site, hours: Sequence[tuple[time, time | None]], since: datetime, until: datetime
) -> Iterable[tuple[datetime, datetime]]:
    """Yield the stretches of a span in which hours of the site's day hold."""
    zone, day = site.timezone, local_day(since, site.timezone)
    while day <= local_day(until, zone):
        for low, high in hours:
            ends_on = day if high is not None else day + timedelta(days=1)
            start = datetime.combine(day, low, zone).astimezone(since.tzinfo)
            end = datetime.combine(ends_on, high or time(0), zone).astimezone(since.tzinfo)
            if start < until and end > since:
                yield max(start, since), min(end, until)
        day += timedelta(days=1)


def _in_words(hours: Sequence[tuple[time, time | None]]) -> str:
    """Return hours as "21:00 to 09:00", those that meet at midnight as one."""
    joined: list[list[str]] = []
    for low, high in hours:
        start, end = f"{low:%H:%M}", f"{high:%H:%M}" if high else "00:00"
        if joined and joined[-1][1] == start:
            joined[-1][1] = end
        else:
            joined.append([start, end])
    if len(joined) > 1 and joined[-1][1] == joined[0][0] == "00:00":
        joined[0][0] = joined.pop()[0]
    return " and ".join(f"{start} to {end}" for start, end in joined)
