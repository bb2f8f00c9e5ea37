"""Growth forward and backward: by specific rate, by thermal coefficient, and day by day.

TGC is kept on the x1000 scale everywhere, and the name says so: printed values stand on x100,
x1000 or plain scales. A coefficient holds for the temperatures and sizes it was learnt at, and
never above the optimum (Jobling 2003, Aquac. Res. 34:581-584).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

from msgspec import Struct

from rounds.water.ranges import within

_THIRD: Final = 1 / 3
_DAYS: Final = (0, 10_000)


def _weight(weight_g: float, name: str = "weight") -> None:
    within(name, weight_g, 1e-5, 50_000, "g")


def sgr_percent_day(start_g: float, end_g: float, days: float) -> float:
    """Return the specific growth rate, % a day; negative when fish lost weight.

    Args:
        start_g: Mean weight at the start, g, 0.00001 to 50,000.
        end_g: Mean weight at the end, g, same range.
        days: Between them, above 0 to 10,000.

    Returns:
        100 ln(end / start) / days.

    Raises:
        ValueError: An argument is out of range; weights of one day give no rate.

    Source: definition.
    """
    _weight(start_g, "start weight")
    _weight(end_g, "end weight")
    within("time", days, 1e-3, 10_000, "days")
    return 100 * math.log(end_g / start_g) / days


def weight_from_sgr_g(weight_g: float, sgr: float, days: float) -> float:
    """Return the weight after some days at a specific growth rate, g.

    Good for days to a few weeks: the rate falls as fish grow.

    Args:
        weight_g: Mean weight now, g, 0.00001 to 50,000.
        sgr: Specific growth rate, % a day, -20 to 60.
        days: Forward, 0 to 10,000.

    Returns:
        Mean weight, g.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    _weight(weight_g)
    within("growth rate", sgr, -20, 60, "% a day")
    within("time", days, *_DAYS, "days")
    return weight_g * math.exp(sgr / 100 * days)


class DailyTemperatures(Struct, frozen=True):
    """One temperature a day, with gaps filled from the day before, and how many were filled."""

    temperatures_c: tuple[float, ...]
    missing_days: int


def filled(daily_c: Sequence[float | None]) -> DailyTemperatures:
    """Return daily temperatures with each missing day given the day before's value.

    Args:
        daily_c: One temperature a day, degC, -2 to 40; None where no reading was made.

    Returns:
        The filled series, and the number of days carried forward, to show beside the result.

    Raises:
        ValueError: No day, the first day is missing, or a temperature is out of range.

    Source: common practice.
    """
    if not daily_c or daily_c[0] is None:
        raise ValueError("temperature of the first day is missing: nothing to carry forward")
    out: list[float] = []
    for value in daily_c:
        if value is not None:
            within("temperature", value, -2, 40, "degC")
        out.append(out[-1] if value is None else value)
    return DailyTemperatures(tuple(out), sum(value is None for value in daily_c))


def degree_days_c(temperatures_c: Sequence[float], base_c: float = 0.0) -> float:
    """Return the sum of daily temperatures above a base, degC days.

    Args:
        temperatures_c: One temperature a day, degC, -2 to 40.
        base_c: Counted from here, degC, -2 to 30; a colder day counts against.

    Returns:
        degC days.

    Raises:
        ValueError: A temperature is out of range.

    Source: definition.
    """
    within("base", base_c, -2, 30, "degC")
    for value in temperatures_c:
        within("temperature", value, -2, 40, "degC")
    return math.fsum(value - base_c for value in temperatures_c)


class Tgc(Struct, frozen=True):
    """A thermal growth coefficient with the scale it is printed on and where it holds.

    `scale` is 1, 100 or 1000. Use it only inside its band of temperature and weight, and keep
    the band's warm end at or below the optimum.
    """

    value: float
    scale: int
    temperatures_c: tuple[float, float]
    weights_g: tuple[float, float]

    @property
    def x1000(self) -> float:
        """The coefficient on the scale every function here takes."""
        return self.value * 1000 / self.scale

    def covers(self, weight_g: float, temperature_c: float) -> bool:
        """Return whether the coefficient was learnt at this weight and temperature."""
        cold, warm = self.temperatures_c
        small, large = self.weights_g
        return cold <= temperature_c <= warm and small <= weight_g <= large


def tgc_x1000(start_g: float, end_g: float, degree_days: float) -> float:
    """Return the thermal growth coefficient on the x1000 scale.

    Args:
        start_g: Mean weight at the start, g, 0.00001 to 50,000.
        end_g: Mean weight at the end, g, same range.
        degree_days: Sum of daily temperatures between, degC days, 0.1 to 400,000.

    Returns:
        1000 (end^(1/3) - start^(1/3)) / degree days.

    Raises:
        ValueError: An argument is out of range.

    Source: Iwama & Tautz 1981.
    """
    _weight(start_g, "start weight")
    _weight(end_g, "end weight")
    within("degree days", degree_days, 0.1, 400_000, "degC d")
    return 1000 * (math.pow(end_g, _THIRD) - math.pow(start_g, _THIRD)) / degree_days


def weight_from_tgc_g(weight_g: float, tgc_x1000: float, degree_days: float) -> float:
    """Return the weight after some degree days, g.

    Args:
        weight_g: Mean weight now, g, 0.00001 to 50,000.
        tgc_x1000: Thermal growth coefficient on the x1000 scale, 0 to 10.
        degree_days: Sum of daily temperatures, degC days, 0 to 400,000.

    Returns:
        Mean weight, g.

    Raises:
        ValueError: An argument is out of range.

    Source: Iwama & Tautz 1981.
    """
    _weight(weight_g)
    within("TGC x1000", tgc_x1000, 0, 10)
    within("degree days", degree_days, 0, 400_000, "degC d")
    return math.pow(math.pow(weight_g, _THIRD) + tgc_x1000 / 1000 * degree_days, 3)


def days_to_weight_tgc(
    weight_g: float, target_g: float, tgc_x1000: float, temperature_c: float
) -> float:
    """Return the days until a weight is reached at one temperature; 0 when already there.

    Args:
        weight_g: Mean weight now, g, 0.00001 to 50,000.
        target_g: Weight wanted, g, same range.
        tgc_x1000: Thermal growth coefficient on the x1000 scale, 0.001 to 10.
        temperature_c: Water temperature, degC, 0.1 to 40.

    Returns:
        Days; shown rounded up.

    Raises:
        ValueError: An argument is out of range.

    Source: Iwama & Tautz 1981.
    """
    _weight(weight_g)
    _weight(target_g, "target weight")
    within("TGC x1000", tgc_x1000, 1e-3, 10)
    within("temperature", temperature_c, 0.1, 40, "degC")
    root = math.pow(target_g, _THIRD) - math.pow(weight_g, _THIRD)
    return max(0.0, root / (tgc_x1000 / 1000 * temperature_c))


def tgc_gain_g_day(weight_g: float, tgc_x1000: float, temperature_c: float) -> float:
    """Return the gain of one day by TGC, g; ranges as `weight_from_tgc_g`, 0 to 40 degC.

    Raises:
        ValueError: An argument is out of range.

    Source: Iwama & Tautz 1981.
    """
    within("temperature", temperature_c, 0, 40, "degC")
    return weight_from_tgc_g(weight_g, tgc_x1000, temperature_c) - weight_g


def sgr_gain_g_day(weight_g: float, sgr: float) -> float:
    """Return the gain of one day by specific growth rate, g; ranges as `weight_from_sgr_g`.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    return weight_from_sgr_g(weight_g, sgr, 1) - weight_g


class Projected(Struct, frozen=True):
    """Mean weight expected, g, with the ends of its band."""

    weight_g: float
    low_g: float
    high_g: float


def project_tgc(
    weight_g: float, weight_se_g: float, tgc_x1000: float, tgc_sd_x1000: float, degree_days: float
) -> Projected:
    """Return the weight after some degree days, with a 95 % band that widens with them.

    Args:
        weight_g: Mean weight now, g, 0.00001 to 50,000.
        weight_se_g: Its standard error, g, 0 to half the weight.
        tgc_x1000: This lot's coefficient on the x1000 scale, 0 to 10.
        tgc_sd_x1000: Spread of the coefficient between this lot's own sample intervals, 0 to 10.
        degree_days: Sum of daily temperatures, degC days, 0 to 400,000.

    Returns:
        Weight and the ends of the band; the low end never falls below zero.

    Raises:
        ValueError: An argument is out of range.

    Source: Iwama & Tautz 1981, with both errors added in squares on the cube-root scale.
    """
    within("weight error", weight_se_g, 0, weight_g / 2, "g")
    within("TGC spread x1000", tgc_sd_x1000, 0, 10)
    middle = weight_from_tgc_g(weight_g, tgc_x1000, degree_days)
    root = math.pow(middle, _THIRD)
    root_se = weight_se_g / (3 * math.pow(weight_g, 2 * _THIRD))
    reach = 1.96 * math.hypot(root_se, tgc_sd_x1000 / 1000 * degree_days)
    return Projected(middle, max(0.0, root - reach) ** 3, (root + reach) ** 3)


def step_days(
    weight_g: float, temperatures_c: Sequence[float], gain_g_day: Callable[[float, float], float]
) -> tuple[float, ...]:
    """Return the mean weight at the end of each day, g, one midpoint step a day.

    Args:
        weight_g: Mean weight at the start, g, 0.00001 to 50,000.
        temperatures_c: One temperature a day, degC.
        gain_g_day: Gain in g/day of a fish of a weight in g at a temperature in degC.

    Returns:
        One weight a day.

    Raises:
        ValueError: The weight, or what the gain equation is asked, is out of range.

    Source: midpoint rule.
    """
    _weight(weight_g)
    out: list[float] = []
    for temperature_c in temperatures_c:
        half_g = weight_g + gain_g_day(weight_g, temperature_c) / 2
        weight_g += gain_g_day(half_g, temperature_c)
        out.append(weight_g)
    return tuple(out)
