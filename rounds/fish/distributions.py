"""Student's t, Poisson and binomial, as far as samples, counts and deaths need them."""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final

from rounds.water.ranges import root, within

_TINY: Final = 1e-300
_TERMS: Final = 10_000
_NEARLY_NORMAL: Final = 100_000  # degrees of freedom


def normal_above(value: float, mean: float, sd: float) -> float:
    """Return the part of a normal distribution above a value, 0 to 1.

    Args:
        value: The limit.
        mean: Of the distribution.
        sd: Its standard deviation, above 0.

    Source: statistics.NormalDist.
    """
    return NormalDist(mean, sd).cdf(2 * mean - value)


def t_quantile(probability: float, degrees_of_freedom: int) -> float:
    """Return the value that Student's t stays below with a probability.

    Args:
        probability: 0.5 to 0.9999.
        degrees_of_freedom: 1 to 1e9.

    Returns:
        The quantile.

    Raises:
        ValueError: An argument is out of range.

    Source: Abramowitz & Stegun 1964, 26.5.27 (t by the incomplete beta function), 26.7.5.
    """
    within("probability", probability, 0.5, 0.9999)
    within("degrees of freedom", degrees_of_freedom, 1, 1e9)
    if degrees_of_freedom > _NEARLY_NORMAL:
        z = NormalDist().inv_cdf(probability)
        return z + (z**3 + z) / (4 * degrees_of_freedom)
    df, tail = degrees_of_freedom, 2 * (1 - probability)
    return root(lambda t: tail - _beta_part(df / 2, 0.5, df / (df + t * t)), 0.0, 4000.0)


def _beta_part(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function."""
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - _beta_part(b, a, 1 - x)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    # continued fraction, Abramowitz & Stegun 26.5.8, from the front (modified Lentz)
    c, d = 1.0, 1 / _kept(1 - (a + b) * x / (a + 1))
    fraction = d
    for m in range(1, _TERMS):
        for numerator in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / _kept(1 + numerator * d)
            c = _kept(1 + numerator / c)
            fraction *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return front * fraction / a


def _kept(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def poisson_at_least(count: int, mean: float) -> float:
    """Return the probability that a Poisson count is at least some number.

    Args:
        count: The number, 0 to 1e7.
        mean: Expected count, 0 to 1e7.

    Returns:
        0 to 1.

    Raises:
        ValueError: An argument is out of range.

    Source: Abramowitz & Stegun 1964, 6.5.13 and 6.5.29-31 (incomplete gamma function).
    """
    within("count", count, 0, 1e7)
    within("mean", mean, 0, 1e7)
    if count == 0:
        return 1.0
    if mean == 0:
        return 0.0
    front = math.exp(count * math.log(mean) - mean - math.lgamma(count + 1))
    if mean < count + 1:
        term = total = 1.0
        for n in range(1, 10 * _TERMS):
            term *= mean / (count + n)
            total += term
            if term < total * 1e-16:
                break
        return min(1.0, front * total)
    term = total = count / mean
    for n in range(1, count):
        term *= (count - n) / mean
        total += term
        if term < total * 1e-16:
            break
    return 1 - front * total


def gamma_poisson_at_least(count: int, shape: float, share: float) -> float:
    """Return the probability that a Poisson count is at least some number, its mean not known.

    The mean lies in a gamma distribution, as one learnt from earlier counts does.

    Args:
        count: The number, 0 to 1e7.
        shape: What was counted before, and half of one, 0.5 to 1e7.
        share: Time of the count over all the time, this and before, 0.0001 to 0.9999.

    Returns:
        0 to 1.

    Raises:
        ValueError: An argument is out of range.

    Source: negative binomial tail by the incomplete beta function (from memory).
    """
    within("count", count, 0, 1e7)
    within("shape", shape, 0.5, 1e7)
    within("share of the time", share, 1e-4, 0.9999)
    return 1.0 if count == 0 else min(1.0, _beta_part(count, shape, share))


def poisson_interval(count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact interval of the mean behind a Poisson count.

    Args:
        count: What was counted, 0 to 1e6.
        confidence: 0.5 to 0.999.

    Returns:
        Low and high end; the low end of a zero count is 0.

    Raises:
        ValueError: An argument is out of range.

    Source: Garwood 1936, Biometrika 28:437-442.
    """
    within("count", count, 0, 1e6)
    within("confidence", confidence, 0.5, 0.999)
    tail = (1 - confidence) / 2
    far = count + 12 * math.sqrt(count + 1) + 12
    low = root(lambda mean: poisson_at_least(count, mean) - tail, 0, count) if count else 0.0
    high = root(lambda mean: poisson_at_least(count + 1, mean) - (1 - tail), 0, far)
    return low, high


def binomial_interval(hits: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact interval of the share behind some hits in a number of trials.

    Args:
        hits: 0 to `of`.
        of: Trials, 1 to 100,000.
        confidence: 0.5 to 0.999.

    Returns:
        Low and high end, 0 to 1.

    Raises:
        ValueError: An argument is out of range.

    Source: Clopper & Pearson 1934, Biometrika 26:404-413, by the incomplete beta function.
    """
    within("number looked at", of, 1, 100_000)
    within("number found", hits, 0, of)
    within("confidence", confidence, 0.5, 0.999)
    tail = (1 - confidence) / 2
    low = root(lambda p: _beta_part(hits, of - hits + 1, p) - tail, 0, 1) if hits else 0.0
    high = (
        root(lambda p: _beta_part(hits + 1, of - hits, p) - (1 - tail), 0, 1) if hits < of else 1.0
    )
    return low, high
