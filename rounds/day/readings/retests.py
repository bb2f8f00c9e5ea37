"""Tests of one water that disagree: which of them counts, for rations, doses and verdicts alike.

Where the last two lie further apart than the test reads, the one that is worse counts, until two in
a row agree (common practice).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.site.measures import MEASURES
from rounds.site.model import Place

WITHIN: Final = timedelta(hours=2)
"""Readings nearer together than this are of one water at one time."""
TESTED: Final = ("tan", "nitrite", "nitrate", "alkalinity")
"""Tests of the water that all places of a loop share."""
_WORSE_ABOVE: Final = ("tan", "nitrite")


def sharing(farm: Farm, place: Place) -> tuple[Place, ...]:
    """Return the places whose water this one has now: its loop's, itself alone when isolated."""
    if not place.loop or farm.state_of(place.code) != "in service":
        return (place,)
    loop = farm.site.places_of(place.loop)
    return tuple(one for one in loop if farm.state_of(one.code) == "in service")


def last_two(
    farm: Farm, places: Iterable[Place], measure: str, until: datetime
) -> tuple[Read, ...]:
    """Return the last two tests of one water, the later one last; one, where no other is near.

    Args:
        farm: The farm.
        places: The places that share the water.
        measure: A code of the list of measures.
        until: When the last one was read.
    """
    codes = [place.code for place in places]
    found = [r for code in codes for r in farm.between(code, measure, until - WITHIN, until)]
    return tuple(sorted(found, key=lambda read: (read.at, read.id))[-2:])


def counted(farm: Farm, place: Place, read: Read) -> tuple[Read, Read | None]:
    """Return the test that counts where another one stands beside it, and the one it is not.

    Args:
        farm: The farm.
        place: Where.
        read: The newest test that stands for this place.

    Returns:
        The test that counts; the other one, None where they agree or more is not worse.
    """
    if read.measure not in _WORSE_ABOVE:
        return read, None
    two = last_two(farm, sharing(farm, place), read.measure, read.at)
    low, high = min(two, key=_value, default=read), max(two, key=_value, default=read)
    if high.value - low.value <= MEASURES[read.measure].accuracy_at(high.value) + 1e-9:
        return read, None
    return high, low


def _value(read: Read) -> float:
    return read.value
