"""Weighing a sample: how many, what it says of the lot, and how it meets the carried weight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist, fmean, median, stdev
from typing import Final

from msgspec import Struct

from rounds.fish.distributions import normal_above, t_quantile
from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within

RECOUNT_ABOVE_Z: Final = 2.0  # common practice
_EQUATION: Final = "mean and t interval, n - 1"
BIASES: Final = (
    "Small, slow fish are caught first: crowd the tank, take from several depths.",
    "Not always the same corner.",
    "Full guts add weight: sample before the first meal, or note that they were fed.",
    "Let the net drip, and take its wet weight off.",
    "A lot in several tanks is sampled in each of them.",
    "An odd fish stays in the sample: weigh it again, note it, do not drop it.",
)


def sample_size(
    cv_percent: float,
    half_width_percent: float,
    confidence: float = 0.95,
    population: int | None = None,
) -> int:
    """Return how many fish to weigh for a mean of a wanted precision.

    Args:
        cv_percent: Spread of the weights, SD in % of the mean, 0.1 to 300.
        half_width_percent: Wanted half-width of the interval, % of the mean, 0.1 to 100.
        confidence: 0.5 to 0.999.
        population: Fish in the tank, 2 or more; None when very many.

    Returns:
        Smallest n with t(n-1) CV / sqrt(n) sqrt(1 - n/N) at most the half-width.

    Raises:
        ValueError: An argument is out of range.

    Source: interval of a mean, with finite population correction.
    """
    within("CV", cv_percent, 0.1, 300, "%")
    within("half-width", half_width_percent, 0.1, 100, "%")
    within("confidence", confidence, 0.5, 0.999)
    if population is not None:
        within("fish in the tank", population, 2, 1e9)
    upper = (1 + confidence) / 2
    least = (NormalDist().inv_cdf(upper) * cv_percent / half_width_percent) ** 2
    if population is not None:
        least = least / (1 + least / population)
    n = max(2, int(least))
    while True:
        left = 1 - n / population if population else 1.0
        reach = t_quantile(upper, n - 1) * cv_percent * math.sqrt(max(0.0, left) / n)
        if reach <= half_width_percent:
            return n
        n += 1


class Sample(Struct, frozen=True):
    """What weighed fish say; spread and interval are None where there are too few."""

    n: int
    mean_g: float
    median_g: float
    sd_g: float | None
    cv_percent: float | None
    low_g: float | None
    high_g: float | None
    skew: float | None
    reasons: Reasons

    @property
    def se_g(self) -> float | None:
        """Standard error of the mean, g; None for one fish."""
        return None if self.sd_g is None else self.sd_g / math.sqrt(self.n)


def describe(weights_g: Sequence[float], confidence: float = 0.95) -> Sample:
    """Return mean, median, spread, interval and skew of weighed fish.

    Args:
        weights_g: One weight a fish, g, 0.0001 to 50,000; at least one.
        confidence: Of the interval, 0.5 to 0.999.

    Returns:
        The figures; no spread and no interval for one fish, no skew below three or without spread.

    Raises:
        ValueError: No weight, or a value out of range.

    Source: t interval with n - 1; skew g1 sqrt(n(n-1)) / (n-2) (common practice).
    """
    within("number of fish", len(weights_g), 1, 1e6)
    within("confidence", confidence, 0.5, 0.999)
    for weight_g in weights_g:
        within("weight", weight_g, 1e-4, 50_000, "g")
    n, mean_g = len(weights_g), fmean(weights_g)
    middle_g = median(weights_g)
    if n == 1:
        alone = Reason(
            "one fish: {mean:.4g}, no spread and no interval", {"mean": Amount(mean_g, "g")}
        )
        return Sample(1, mean_g, middle_g, None, None, None, None, None, (alone,))
    sd_g = stdev(weights_g)
    reach = t_quantile((1 + confidence) / 2, n - 1) * sd_g / math.sqrt(n)
    reason = Reason(
        "{n} fish: {mean:.4g}, CV {cv:.0f} %, mean between {low:.4g} and {high:.4g}",
        {
            "n": n,
            "mean": Amount(mean_g, "g"),
            "cv": 100 * sd_g / mean_g,
            "low": Amount(mean_g - reach, "g"),
            "high": Amount(mean_g + reach, "g"),
        },
        _EQUATION,
    )
    return Sample(
        n,
        mean_g,
        middle_g,
        sd_g,
        100 * sd_g / mean_g,
        mean_g - reach,
        mean_g + reach,
        _skew(weights_g, mean_g),
        (reason,),
    )


def _skew(values: Sequence[float], mean: float) -> float | None:
    n = len(values)
    second = fmean((value - mean) ** 2 for value in values)
    if n < 3 or second <= 0:
        return None
    third = fmean((value - mean) ** 3 for value in values)
    return third / math.pow(second, 1.5) * math.sqrt(n * (n - 1)) / (n - 2)


def batch_mean_g(nets: Sequence[tuple[int, float]]) -> float:
    """Return the mean weight of fish weighed by the net, g; it tells nothing of their spread.

    Args:
        nets: Fish and net weight (kg, net tared) of each net; at least one.

    Returns:
        All kilograms over all fish, not the mean of the nets' means.

    Raises:
        ValueError: No net, a net without fish, or a weight out of range.

    Source: ratio estimate.
    """
    within("number of nets", len(nets), 1, 10_000)
    for fish, kg in nets:
        within("fish in a net", fish, 1, 1e7)
        within("net weight", kg, 1e-6, 1e5, "kg")
    return 1000 * math.fsum(kg for _, kg in nets) / sum(fish for fish, _ in nets)


def fraction_above_in_sample(weights_g: Sequence[float], limit_g: float) -> float:
    """Return the part of weighed fish at or above a size, 0 to 1; preferred from 30 fish up.

    Raises:
        ValueError: No weight, or a value out of range.

    Source: definition.
    """
    within("number of fish", len(weights_g), 1, 1e6)
    within("limit", limit_g, 1e-4, 50_000, "g")
    return sum(weight_g >= limit_g for weight_g in weights_g) / len(weights_g)


def fraction_above_normal(mean_g: float, cv_percent: float, limit_g: float) -> float:
    """Return the part of the fish above a size, were the weights normal.

    Args:
        mean_g: Mean weight, g, 0.0001 to 50,000.
        cv_percent: SD in % of the mean, 0.1 to 200.
        limit_g: The size, g, 0.0001 to 50,000.

    Returns:
        0 to 1.

    Raises:
        ValueError: An argument is out of range.

    Source: normal distribution.
    """
    _check_spread(mean_g, cv_percent, limit_g)
    return normal_above(limit_g, mean_g, mean_g * cv_percent / 100)


def fraction_above_lognormal(mean_g: float, cv_percent: float, limit_g: float) -> float:
    """Return the part of the fish above a size, were the weights log-normal; args as the normal.

    Raises:
        ValueError: An argument is out of range.

    Source: log-normal distribution matched on mean and CV.
    """
    _check_spread(mean_g, cv_percent, limit_g)
    variance = math.log1p((cv_percent / 100) ** 2)
    return normal_above(math.log(limit_g), math.log(mean_g) - variance / 2, math.sqrt(variance))


def _check_spread(mean_g: float, cv_percent: float, limit_g: float) -> None:
    within("mean weight", mean_g, 1e-4, 50_000, "g")
    within("CV", cv_percent, 0.1, 200, "%")
    within("limit", limit_g, 1e-4, 50_000, "g")


class Reconciled(Struct, frozen=True):
    """Carried and sampled weight combined; `recount` asks for a second sample before use."""

    weight_g: float
    se_g: float
    z: float
    recount: bool
    reasons: Reasons


def reconcile(
    carried_g: float, carried_se_g: float, sample_g: float, sample_se_g: float
) -> Reconciled:
    """Return the carried and the sampled mean weight combined by inverse variance.

    Args:
        carried_g: Mean weight carried forward, g, 0.0001 to 50,000.
        carried_se_g: Its standard error, g, above 0 (0.000001 to 50,000).
        sample_g: Mean weight of the sample, g, 0.0001 to 50,000.
        sample_se_g: Its standard error, g, same range.

    Returns:
        Weight, error, how far the two are apart (z), and whether to recount (z above 2).

    Raises:
        ValueError: An argument is out of range.

    Source: inverse-variance weighting; the limit of 2 is common practice.
    """
    for name, weight_g in (("carried weight", carried_g), ("sampled weight", sample_g)):
        within(name, weight_g, 1e-4, 50_000, "g")
    for name, se_g in (("carried error", carried_se_g), ("sampling error", sample_se_g)):
        within(name, se_g, 1e-6, 50_000, "g")
    by_carried, by_sample = 1 / carried_se_g**2, 1 / sample_se_g**2
    weight_g = (carried_g * by_carried + sample_g * by_sample) / (by_carried + by_sample)
    z = abs(carried_g - sample_g) / math.hypot(carried_se_g, sample_se_g)
    recount = z > RECOUNT_ABOVE_Z
    says = "carried {carried:.4g} and sampled {sample:.4g}: {weight:.4g}"
    if recount:
        says += "; they disagree, weigh again before using the sample"
    values = {
        "carried": Amount(carried_g, "g"),
        "sample": Amount(sample_g, "g"),
        "weight": Amount(weight_g, "g"),
    }
    reason = Reason(says, values, "inverse-variance weighting")
    return Reconciled(weight_g, (by_carried + by_sample) ** -0.5, z, recount, (reason,))
