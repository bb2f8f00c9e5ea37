"""Deaths of a day against the lot's own recent days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from rounds.fish.distributions import poisson_at_least
from rounds.reason import Reason, Reasons
from rounds.water.ranges import within

WATCH_BELOW: Final = 0.01  # probability by chance; common practice
ACT_BELOW: Final = 0.001


@dataclass(frozen=True, slots=True)
class Deaths:
    """How odd a day's deaths are: their probability by chance, and the verdict."""

    probability: float
    verdict: Literal["ok", "watch", "act"]
    reasons: Reasons


def expected_a_day(deaths_before: int, days_before: float = 14.0) -> float:
    """Return the deaths to expect in a day from the lot's last days, half a fish added.

    Args:
        deaths_before: Dead in those days, 0 to 1e6.
        days_before: How many days, 1 to 60.

    Returns:
        Deaths a day, above 0.

    Raises:
        ValueError: An argument is out of range.

    Source: common practice.
    """
    within("deaths before", deaths_before, 0, 1e6, "fish")
    within("days before", days_before, 1, 60, "days")
    return (deaths_before + 0.5) / days_before


def judge(deaths: int, expected: float) -> Deaths:
    """Return how odd a day's deaths are against what was expected.

    Args:
        deaths: Dead today, 0 to 1e6.
        expected: Deaths a day, 0 to 1e6; see `expected_a_day`.

    Returns:
        Probability of this many or more, watch below 0.01, act below 0.001.

    Raises:
        ValueError: An argument is out of range.

    Source: Poisson tail; the two levels are common practice.
    """
    within("deaths", deaths, 0, 1e6, "fish")
    within("expected deaths", expected, 0, 1e6, "a day")
    probability = poisson_at_least(deaths, expected)
    verdict: Literal["ok", "watch", "act"] = (
        "act" if probability < ACT_BELOW else "watch" if probability < WATCH_BELOW else "ok"
    )
    reason = Reason(
        "{deaths} dead, {expected:.2g} a day expected: by chance {probability:.2g}",
        {"deaths": deaths, "expected": expected, "probability": probability},
        "Poisson tail",
    )
    return Deaths(probability, verdict, (reason,))
