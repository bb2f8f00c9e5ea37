"""Like hour compared with like hour: what a place usually reads at this time of the day.

Mats and ponds take up carbon dioxide and give off oxygen in the light: pH, oxygen and temperature
climb to the afternoon and fall by night. A change is one only against the same hour of other days.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from statistics import median
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.site.model import Place, Site

NEAR: Final = timedelta(hours=2)
"""Clock hours this near are alike (common practice)."""
WEEK: Final = 7
FEWEST: Final = 3
"""Readings that make a habit."""
SWINGS: Final = ("ph", "temperature", "oxygen", "oxygen_percent")
"""Measures that go with the sun where something green lives in the water."""


def like_hour(
    farm: Farm, place: str, measure: str, at: datetime, days: int = WEEK, besides: str | None = None
) -> tuple[Read, ...]:
    """Return the readings of earlier days within two hours of the same clock hour, oldest first.

    Args:
        farm: The farm.
        place: Code of the place.
        measure: A code of the list of measures.
        at: The instant compared with.
        days: How many days back.
        besides: Id of an entry left out of account.

    Returns:
        The readings, none of the last 20 hours.
    """
    zone, day = farm.site.timezone, timedelta(days=1)
    here = at.astimezone(zone)
    found = farm.between(place, measure, at - days * day - NEAR, at - timedelta(hours=20))

    def near(read: Read) -> bool:
        apart = (here - read.at.astimezone(zone)) % day  # of one zone: by the clock on the wall
        return min(apart, day - apart) <= NEAR

    return tuple(read for read in found if read.id != besides and near(read))


def usual(farm: Farm, place: str, measure: str, at: datetime, days: int = WEEK) -> float | None:
    """Return the median of the like hours of earlier days; None of fewer than three readings."""
    values = [read.value for read in like_hour(farm, place, measure, at, days)]
    return median(values) if len(values) >= FEWEST else None


def under_the_sun(site: Site, place: Place) -> bool:
    """Tell whether mats or a pond share this place's water, so that it swings with the day."""
    shared = site.places_of(place.loop) if place.loop else (place,)
    return any(one.kind in ("tray", "pond") for one in shared)
