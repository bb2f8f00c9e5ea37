"""Prey for a tank of predators: which sizes fit, and when fish of one tank are prey themselves."""

from __future__ import annotations

import math
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within

GRADE_BELOW: Final = 0.6  # smallest over largest length; common practice


def attack_success(prey_ratio: float) -> float:
    """Return the part of striped bass attacks that succeed.

    Args:
        prey_ratio: Prey length over predator length, 0 to 1.

    Returns:
        0 to 0.861; 0 from a ratio of 0.473.

    Raises:
        ValueError: The ratio is out of range.

    Source: Hartman 2000, Mar. Ecol. Prog. Ser. 194:263-268, 0.861 - 1.82 ratio.
    """
    within("prey over predator length", prey_ratio, 0, 1)
    return max(0.0, 0.861 - 1.82 * prey_ratio)


def handling_time(prey_ratio: float) -> float:
    """Return the time a striped bass takes to handle a prey, in the source's unit.

    Args:
        prey_ratio: Prey length over predator length, 0 to 0.6.

    Returns:
        Time, to compare sizes with.

    Raises:
        ValueError: The ratio is out of range.

    Source: Hartman 2000, Mar. Ecol. Prog. Ser. 194:263-268, 0.339 e^(11.9 ratio).
    """
    within("prey over predator length", prey_ratio, 0, 0.6)
    return 0.339 * math.exp(11.9 * prey_ratio)


class PreyWindow(Struct, frozen=True):
    """Prey lengths for a predator, mm: what is usually eaten, the largest eaten, what to offer."""

    median_mm: tuple[float, float]
    largest_mm: tuple[float, float]
    offer_mm: tuple[float, float]
    refuse_above_mm: float
    deep_at_most_mm: float
    """Deep-bodied or spiny prey no longer than this."""
    reasons: Reasons


def prey_window(predator_mm: float) -> PreyWindow:
    """Return the prey lengths that fit a predator.

    Args:
        predator_mm: Its total length, mm, 5 to 2000.

    Returns:
        Median prey 10 to 20 % and largest 32 to 46 % of its length; offer 12 to 20 %, refuse
        above 30 %, deep-bodied or spiny prey above 15 %.

    Raises:
        ValueError: The length is out of range.

    Source: Gaeta et al. 2018, PLoS ONE 13(3):e0194092; offer and refuse are common practice.
    """
    within("predator length", predator_mm, 5, 2000, "mm")
    offer = (0.12 * predator_mm, 0.20 * predator_mm)
    reason = Reason(
        "a fish of {length:.0f} takes prey of {low:.0f} to {high:.0f}",
        {
            "length": Amount(predator_mm, "mm"),
            "low": Amount(offer[0], "mm"),
            "high": Amount(offer[1], "mm"),
        },
        "common practice, inside Gaeta et al. 2018",
    )
    return PreyWindow(
        (0.10 * predator_mm, 0.20 * predator_mm),
        (0.32 * predator_mm, 0.46 * predator_mm),
        offer,
        0.30 * predator_mm,
        0.15 * predator_mm,
        (reason,),
    )


def grade_now(smallest_cm: float, largest_cm: float) -> bool:
    """Return whether the largest fish of a tank can eat the smallest, so that it must be graded.

    Args:
        smallest_cm: Length of the smallest fish, cm, 0.1 to `largest_cm`.
        largest_cm: Length of the largest, cm, up to 250.

    Returns:
        True below 60 % of its length.

    Raises:
        ValueError: A length is out of range.

    Source: common practice; barramundi take up to 60 % (Davis 1985, in FAO AFFRIS).
    """
    within("largest fish", largest_cm, 0.1, 250, "cm")
    within("smallest fish", smallest_cm, 0.1, largest_cm, "cm")
    return smallest_cm < GRADE_BELOW * largest_cm
