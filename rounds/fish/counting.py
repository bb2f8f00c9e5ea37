"""Counting small animals under the microscope: density, its exact interval, and clumping."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean, variance
from typing import Final, Literal

from msgspec import Struct

from rounds.fish.distributions import poisson_interval
from rounds.reason import Reason, Reasons
from rounds.water.ranges import within

CLUMPED_ABOVE: Final = 3.0  # variance over mean; common practice
EVEN_BELOW: Final = 2.0


class Density(Struct, frozen=True):
    """Animals per mL, with the ends of the exact interval."""

    per_ml: float
    low_per_ml: float
    high_per_ml: float
    reasons: Reasons


def density(
    counted: int, volume_ml: float, dilution: float = 1.0, confidence: float = 0.95
) -> Density:
    """Return the density behind a count, with its exact Poisson interval.

    Args:
        counted: Animals counted in all, 0 to 1e6.
        volume_ml: Volume counted in all, mL, 0.001 to 1e6.
        dilution: How many times the sample was thinned before counting, 1 to 10,000.
        confidence: Of the interval, 0.5 to 0.999.

    Returns:
        Animals per mL of the culture or tank. Clumped animals vary more than the interval says.

    Raises:
        ValueError: An argument is out of range.

    Source: Garwood 1936, Biometrika 28:437-442.
    """
    within("volume counted", volume_ml, 1e-3, 1e6, "mL")
    within("dilution", dilution, 1, 10_000)
    low, high = poisson_interval(counted, confidence)
    per_animal = dilution / volume_ml
    reason = Reason(
        "{counted} in {volume:g} mL: {per_ml:.3g} per mL ({low:.3g} to {high:.3g})",
        {
            "counted": counted,
            "volume": volume_ml,
            "per_ml": counted * per_animal,
            "low": low * per_animal,
            "high": high * per_animal,
        },
        "exact Poisson interval, Garwood 1936",
    )
    return Density(counted * per_animal, low * per_animal, high * per_animal, (reason,))


def dispersion(counts: Sequence[int]) -> float:
    """Return variance over mean of replicate counts of one volume; about 1 when well mixed.

    Args:
        counts: Two or more counts, 0 to 1e6, not all zero.

    Returns:
        Index of dispersion, n - 1.

    Raises:
        ValueError: Fewer than two counts, a count out of range, or nothing counted at all.

    Source: index of dispersion.
    """
    within("number of counts", len(counts), 2, 10_000)
    for count in counts:
        within("count", count, 0, 1e6)
    within("animals counted in all", sum(counts), 1, 1e10)
    return variance(counts) / fmean(counts)


def clumping(index: float) -> Literal["even", "doubtful", "clumped"]:
    """Return what an index of dispersion says: clumped above 3 (mix and recount), even below 2.

    Raises:
        ValueError: The index is negative or above 1e6.

    Source: common practice.
    """
    within("index of dispersion", index, 0, 1e6)
    return "clumped" if index > CLUMPED_ABOVE else "even" if index < EVEN_BELOW else "doubtful"
