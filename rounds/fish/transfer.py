"""Moving fish: how far two waters may differ, how slowly they are mixed, and whether it adds up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from rounds.water.ranges import within

_FASTS: Final = ((100.0, 12.0), (math.inf, 24.0))
"""Hours without feed before fish are moved or graded, up to a mean weight in g (common practice:
12 to 24, the longer the larger the fish)."""
MASS_OFF: Final = 0.02
"""Part of the mass that water on nets and two weighings leave open (common practice)."""
REST_H: Final = 48.0
"""Hours between two handlings (common practice)."""
WARMEST_C: Final = 26.0
"""Above it fish are handled at a cooler hour (common practice)."""
LEAST_OXYGEN_PERCENT: Final = 90.0
"""Oxygen wanted where fish are crowded and where they come in (common practice)."""
MOST_APART: Final[Mapping[str, float]] = {
    "temperature": 2.0,
    "salinity": 2.0,
    "ph": 0.5,
    "oxygen_percent": 25.0,
}
"""Difference between two waters that mixing still bridges, in degC, g/kg, pH and % of saturation
(common practice; a salinity may change by 2 in a day)."""
_MINUTES_EACH: Final[Mapping[str, float]] = {"temperature": 12.0, "salinity": 15.0, "ph": 60.0}
"""Minutes of mixing for a unit of difference: 5 degC, 4 g/kg and 1 pH an hour (from memory)."""


def bridged(measure: str, source: float, target: float) -> bool:
    """Return whether mixing bridges the difference of two waters.

    Args:
        measure: "temperature" in degC, "salinity" in g/kg, "ph" or "oxygen_percent" in %.
        source: Where the fish are, -5 to 400.
        target: Where they go, same range.

    Raises:
        ValueError: Another measure, or a value out of range.

    Source: common practice.
    """
    if measure not in MOST_APART:
        raise ValueError(f"measure {measure!r}: allowed is {', '.join(MOST_APART)}")
    within(f"{measure} of the source", source, -5, 400)
    within(f"{measure} of the target", target, -5, 400)
    return abs(target - source) <= MOST_APART[measure] + 1e-9


def mixing_min(apart: Mapping[str, float]) -> int:
    """Return how long the water of the target is mixed in before fish are let go, min.

    Args:
        apart: Differences of "temperature" in degC, "salinity" in g/kg and "ph", of either sign,
            -50 to 50; other measures take no time.

    Returns:
        The longest of them, up to whole five minutes; 0 where nothing differs.

    Raises:
        ValueError: A difference out of range.

    Source: from memory.
    """
    for measure, value in apart.items():
        within(f"difference of {measure}", value, -50, 50)
    found = [abs(apart.get(measure, 0.0)) * each for measure, each in _MINUTES_EACH.items()]
    return math.ceil(max(found) / 5 - 1e-9) * 5


def fast_h(weight_g: float) -> float:
    """Return the hours without feed before fish are moved or graded.

    Args:
        weight_g: Their mean weight, g, 0 to 50,000.

    Raises:
        ValueError: The weight is out of range.

    Source: common practice.
    """
    within("weight", weight_g, 0, 50_000, "g")
    return next(hours for up_to_g, hours in _FASTS if weight_g < up_to_g)


def off_balance(out: float, arrived: Sequence[float], lost: Sequence[float]) -> float:
    """Return what left and neither arrived nor was lost; 0 where a transfer balances.

    Args:
        out: What left, fish or g, 0 to 1e12.
        arrived: What came into each target, in the same unit, 0 to 1e12.
        lost: Dead and sampled on the way, in the same unit, 0 to 1e12.

    Returns:
        Above 0 where some are missing, below 0 where more arrived than left; nearer to 0 than half
        a thousandth is 0.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("what left", out, 0, 1e12)
    for value in (*arrived, *lost):
        within("what arrived or was lost", value, 0, 1e12)
    off = math.fsum((out, *(-value for value in (*arrived, *lost))))
    return 0.0 if abs(off) < 5e-4 else off
