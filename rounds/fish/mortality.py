"""Deaths of a day, and of several, against the lot's own recent days.

Simulated with deaths by chance alone, 24 tanks over 90 days: alarms of both rules together, and of
them the calls for the veterinarian, by deaths a tank and day (tests/bench/deaths.py prints them).

    deaths a day             0.01   0.05   0.1    0.3    1      3
    every day looked at      0.0    0.1    0.3    1.6    2.1    2.3
      of them the vet        0.0    0.1    0.2    0.5    1.1    1.2
    85 % of the days         0.0    0.1    0.3    1.4    1.4    1.5
      of them the vet        0.0    0.1    0.1    0.3    0.6    0.7

Called by the third and the seventh day after deaths rose: from 0.05 to 2 a day 73 and 87 % of the
tanks, from 3 to 9 a day 82 and 98 %, from 1 to 3 a day 25 and 46 %, doubled from 3 a day 26 and
39 %. A rise too small for that is seen on the hand-off, not by these rules.
"""

from __future__ import annotations

from typing import Final, Literal

from msgspec import Struct

from rounds.fish.distributions import gamma_poisson_at_least
from rounds.reason import Reason, Reasons
from rounds.water.ranges import within

WATCH_BELOW: Final = 0.01  # probability by chance; common practice
ACT_BELOW: Final = 0.001


class Deaths(Struct, frozen=True):
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


def judge(deaths: int, days: float, deaths_before: int, days_before: float = 14.0) -> Deaths:
    """Return how odd the deaths of a day, or of several together, are against the days before.

    What was lost before is itself a count, with its own chance: it widens what may be expected,
    which a plain Poisson tail leaves out and so calls too often.

    Args:
        deaths: Dead in those days, 0 to 1e6.
        days: How many days, 1 to 60.
        deaths_before: Dead in the days before, 0 to 1e6; half a fish is added.
        days_before: How many days, 1 to 60.

    Returns:
        Probability of this many or more, watch below 0.01, act below 0.001.

    Raises:
        ValueError: An argument is out of range.

    Source: gamma-Poisson tail, the half fish as its prior (from memory); the two levels are common
    practice.
    """
    within("deaths", deaths, 0, 1e6, "fish")
    within("days", days, 1, 60, "days")
    expected = expected_a_day(deaths_before, days_before) * days
    shape, share = deaths_before + 0.5, days / (days + days_before)
    probability = gamma_poisson_at_least(deaths, shape, share)
    verdict: Literal["ok", "watch", "act"] = (
        "act" if probability < ACT_BELOW else "watch" if probability < WATCH_BELOW else "ok"
    )
    reason = Reason(
        "{deaths} dead, {expected:.2g} expected: by chance {probability:.2g}",
        {"deaths": deaths, "expected": expected, "probability": probability},
        "gamma-Poisson tail",
    )
    return Deaths(probability, verdict, (reason,))
