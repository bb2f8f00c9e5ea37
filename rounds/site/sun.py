"""When the sun rises and sets, to about two minutes; good enough for the window of a round.

Equations of the NOAA solar calculator, low-precision form (after Meeus, Astronomical Algorithms,
chapter 25), from memory; checked against almanac rows in the tests.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from math import acos, asin, cos, degrees, radians, sin, tan
from typing import Final, NamedTuple

_HORIZON_DEG: Final = 90.833
"""Zenith angle of the sun's centre when its upper edge is seen at the horizon."""
_J2000: Final = datetime(2000, 1, 1, 12, tzinfo=UTC)


class Sun(NamedTuple):
    """Sunrise and sunset of one date, UTC."""

    rise: datetime
    set: datetime


def sun(day: date, latitude: float, longitude: float) -> Sun | None:
    """Return sunrise and sunset at sea level.

    Args:
        day: The local date.
        latitude: Degrees north, -90 to 90.
        longitude: Degrees east, -180 to 180.

    Returns:
        Both times in UTC, or None on a day on which the sun does not rise or does not set.

    Raises:
        ValueError: A position outside the globe.
    """
    if not -90 <= latitude <= 90:
        raise ValueError(f"latitude {latitude} degrees is outside -90 to 90")
    if not -180 <= longitude <= 180:
        raise ValueError(f"longitude {longitude} degrees is outside -180 to 180")
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(hours=longitude / 15)
    times = []
    for side in (-1, 1):
        at = noon
        for _ in range(3):
            declination, minutes = _position(at)
            turn = cos(radians(_HORIZON_DEG)) / cos(radians(latitude)) / cos(declination) - tan(
                radians(latitude)
            ) * tan(declination)
            if not -1 <= turn <= 1:
                return None
            at = noon + timedelta(minutes=4 * side * degrees(acos(turn)) - minutes)
        times.append(at)
    return Sun(*times)


def _position(at: datetime) -> tuple[float, float]:
    """Return the sun's declination in radians and the equation of time in minutes."""
    t = (at - _J2000) / timedelta(days=36525)
    mean_longitude = radians((280.46646 + t * (36000.76983 + t * 0.0003032)) % 360)
    anomaly = radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    eccentricity = 0.016708634 - t * (0.000042037 + 0.0000001267 * t)
    centre = (
        sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + sin(2 * anomaly) * (0.019993 - 0.000101 * t)
        + sin(3 * anomaly) * 0.000289
    )
    node = radians(125.04 - 1934.136 * t)
    apparent = mean_longitude + radians(centre - 0.00569 - 0.00478 * sin(node))
    obliquity = radians(23.439291 - 0.0130042 * t + 0.00256 * cos(node))
    y = tan(obliquity / 2) ** 2
    equation = (
        y * sin(2 * mean_longitude)
        - 2 * eccentricity * sin(anomaly)
        + 4 * eccentricity * y * sin(anomaly) * cos(2 * mean_longitude)
        - 0.5 * y * y * sin(4 * mean_longitude)
        - 1.25 * eccentricity * eccentricity * sin(2 * anomaly)
    )
    return asin(sin(obliquity) * sin(apparent)), 4 * degrees(equation)
