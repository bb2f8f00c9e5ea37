"""A day's ration in meals: split to the gram, and which pellet."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import nextafter
from typing import Final, NamedTuple

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within

MIXING_DAYS: Final = (3, 7)  # common practice


def split_meals(
    total_g: float,
    *,
    meals: int = 0,
    fractions: Sequence[float] = (),
    step_g: float = 1.0,
) -> tuple[float, ...]:
    """Return a ration in meals of whole scale steps that add up exactly, earlier meals first.

    Args:
        total_g: The ration, g, 0 to 1e9; what is below one step is left in the bag.
        meals: Number of equal meals, 1 to 100, or
        fractions: the part of each meal, adding up to 1 within 0.01.
        step_g: What the scale shows, g, 0.0001 to 1e6.

    Returns:
        Grams a meal, by largest remainder.

    Raises:
        ValueError: An argument is out of range, or not one of `meals` and `fractions` is given.

    Source: largest remainder.
    """
    within("ration", total_g, 0, 1e9, "g")
    within("scale step", step_g, 1e-4, 1e6, "g")
    if bool(meals) == bool(fractions):
        raise ValueError("give either the number of meals or their fractions")
    within("meals", meals or len(fractions), 1, 100)
    for part in fractions:
        within("fraction of a meal", part, 0, 1)
    parts = [_exact(part) for part in fractions] or [Fraction(1, meals)] * meals
    within("sum of the fractions", float(sum(parts)), 0.99, 1.01)
    step = _exact(step_g)
    units = int(_exact(total_g) / step)
    quotas = [units * part / sum(parts) for part in parts]
    floors = [int(quota) for quota in quotas]
    by_remainder = sorted(range(len(parts)), key=lambda i: (floors[i] - quotas[i], i))
    for i in by_remainder[: units - sum(floors)]:
        floors[i] += 1
    return tuple(float(count * step) for count in floors)


def _exact(number: float) -> Fraction:
    """Return the number as it is written, so that 0.1 is a tenth."""
    return Fraction(repr(float(number)))


class Band(NamedTuple):
    """Pellets for a range of fish weight."""

    from_g: float
    to_g: float
    low_mm: float
    high_mm: float


# FAO AFFRIS, European seabass, Table 5; the bands overlap on purpose
PELLET_BANDS: Final = (
    Band(0.3, 0.5, 0.5, 0.5),
    Band(0.5, 1, 0.8, 0.8),
    Band(1, 3, 1.1, 1.1),
    Band(2, 7, 1.5, 1.8),
    Band(7, 30, 2.2, 2.2),
    Band(25, 50, 3.2, 3.2),
    Band(50, 150, 4, 4),
    Band(150, 400, 5.5, 6),
    Band(400, 800, 6, 8),
    Band(800, 1200, 8, 9),
    Band(nextafter(1200, 50_000), 50_000, 9, 10),
)


class Pellets(Struct, frozen=True):
    """The pellets that fit a fish; more than one band means two sizes are mixed for some days."""

    low_mm: float
    high_mm: float
    bands: tuple[Band, ...]
    reasons: Reasons


def pellets(weight_g: float) -> Pellets:
    """Return the pellet sizes for a fish weight.

    Args:
        weight_g: Mean weight, g, 0.3 to 50,000.

    Returns:
        Smallest and largest pellet of every band that holds the weight.

    Raises:
        ValueError: The weight is out of range: smaller fish take crumble and live food.

    Source: FAO AFFRIS, European seabass, Table 5; mixing days are common practice.
    """
    within("weight", weight_g, 0.3, 50_000, "g")
    holding = tuple(band for band in PELLET_BANDS if band.from_g <= weight_g <= band.to_g)
    low, high = min(b.low_mm for b in holding), max(b.high_mm for b in holding)
    reasons = [
        Reason(
            "fish of {weight:.3g}: pellets of {low:g} to {high:g} mm",
            {"weight": Amount(weight_g, "g"), "low": low, "high": high},
            "FAO AFFRIS, European seabass, Table 5",
        )
    ]
    if len(holding) > 1:
        first, last = MIXING_DAYS
        mixing = "at the change mix both sizes for {first} to {last} days"
        reasons.append(Reason(mixing, {"first": first, "last": last}, "common practice"))
    return Pellets(low, high, holding, tuple(reasons))
