"""The forage pond: what it yields, what may be taken from it, and how many fish it holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.water.ranges import within

CROP_SAFETY: Final = 0.7  # of the measured yield; common practice
STALE_AFTER_DAYS: Final = 42  # an older stock estimate tells nothing; common practice


def pond_net_kg_ha_day(
    fish_per_ha: float, start_g: float, end_g: float, survival_fraction: float, days: float
) -> float:
    """Return the net production of a pond, kg/ha/day; negative where deaths outweigh growth.

    Args:
        fish_per_ha: Stocked, 0 to 1e8.
        start_g: Mean weight at the start, g, 0.0001 to 50,000.
        end_g: Mean weight at the end, g, same range.
        survival_fraction: 0 to 1.
        days: 1 to 3650.

    Returns:
        kg/ha/day.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("fish stocked", fish_per_ha, 0, 1e8, "fish/ha")
    within("start weight", start_g, 1e-4, 50_000, "g")
    within("end weight", end_g, 1e-4, 50_000, "g")
    within("survival", survival_fraction, 0, 1)
    within("time", days, 1, 3650, "days")
    return fish_per_ha * (end_g * survival_fraction - start_g) / 1000 / days


def pond_yield_g_m2_day(fish_per_week: float, weight_g: float, area_m2: float) -> float:
    """Return the yield of a pond that is partly seined each week, g/m2/day.

    Args:
        fish_per_week: Taken, 0 to 1e8.
        weight_g: Their mean weight, g, 0.0001 to 50,000.
        area_m2: Pond, m2, 0.1 to 1e7.

    Returns:
        g wet/m2/day.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("fish taken", fish_per_week, 0, 1e8, "a week")
    within("weight", weight_g, 1e-4, 50_000, "g")
    within("pond", area_m2, 0.1, 1e7, "m2")
    return fish_per_week * weight_g / area_m2 / 7


def pond_area_needed_m2(
    wet_kg_day: float, yield_g_m2_day: float, safety: float = CROP_SAFETY
) -> float:
    """Return the pond that a daily need takes, m2.

    Args:
        wet_kg_day: Forage needed, kg wet/day, 0 to 1e5.
        yield_g_m2_day: Yield, 0.0001 to 100 g/m2/day.
        safety: Part of the yield taken, 0.05 to 1.

    Returns:
        m2.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("forage needed", wet_kg_day, 0, 1e5, "kg/day")
    within("yield", yield_g_m2_day, 1e-4, 100, "g/m2/day")
    within("part of the yield", safety, 0.05, 1)
    return wet_kg_day * 1000 / (yield_g_m2_day * safety)


def killifish_eggs_per_day(eggs_per_g_day: float, females_g: float) -> float:
    """Return the eggs of a group of killifish females a day.

    Args:
        eggs_per_g_day: Eggs per gram of female and day, 0 to 20.
        females_g: Weight of the females, g, 0 to 1e7.

    Returns:
        Eggs a day.

    Raises:
        ValueError: An argument is out of range.

    Source: Gulf killifish broodstock study, 0.90, 0.72 and 0.76 at 15, 30 and 45 fish/m3 in April.
    """
    within("eggs", eggs_per_g_day, 0, 20, "per g and day")
    within("females", females_g, 0, 1e7, "g")
    return eggs_per_g_day * females_g


def _check_pond(r_per_yr: float, k_kg: float) -> None:
    within("growth rate of the stock", r_per_yr, 0.01, 20, "1/yr")
    within("carrying capacity", k_kg, 1e-3, 1e7, "kg")


def msy_kg_yr(r_per_yr: float, k_kg: float) -> float:
    """Return the largest crop a stock can bear for ever, kg/yr.

    Args:
        r_per_yr: Growth rate of the stock, 0.01 to 20 1/yr.
        k_kg: What the pond carries uncropped, kg, 0.001 to 1e7.

    Returns:
        kg/yr, at half the carrying capacity.

    Raises:
        ValueError: An argument is out of range.

    Source: Schaefer surplus production, r K / 4.
    """
    _check_pond(r_per_yr, k_kg)
    return r_per_yr * k_kg / 4


def surplus_kg_yr(r_per_yr: float, k_kg: float, biomass_kg: float) -> float:
    """Return what a stock grows beyond itself, kg/yr; r and K as `msy_kg_yr`.

    Args:
        r_per_yr: 1/yr.
        k_kg: kg.
        biomass_kg: Stock, kg, 0 to 2 K; above K it shrinks.

    Returns:
        kg/yr.

    Raises:
        ValueError: An argument is out of range.

    Source: Schaefer surplus production, r B (1 - B / K).
    """
    _check_pond(r_per_yr, k_kg)
    within("stock", biomass_kg, 0, 2 * k_kg, "kg")
    return r_per_yr * biomass_kg * (1 - biomass_kg / k_kg)


def equilibrium_kg(r_per_yr: float, k_kg: float, crop_kg_yr: float) -> float | None:
    """Return the stock at which a crop and the growth balance, kg; None: not sustainable.

    Args:
        r_per_yr: 0.01 to 20 1/yr.
        k_kg: 0.001 to 1e7 kg.
        crop_kg_yr: Taken, kg/yr, 0 to 1e8.

    Returns:
        The upper balance, or None for a crop above r K / 4.

    Raises:
        ValueError: An argument is out of range.

    Source: Schaefer surplus production.
    """
    _check_pond(r_per_yr, k_kg)
    within("crop", crop_kg_yr, 0, 1e8, "kg/yr")
    root = 1 - 4 * crop_kg_yr / (r_per_yr * k_kg)
    return k_kg / 2 * (1 + math.sqrt(root)) if root >= 0 else None


class Crop(Struct, frozen=True):
    """What may be taken a day by each model, kg wet; None where the stock is not known."""

    by_yield_kg_day: float | None
    by_surplus_kg_day: float | None
    reasons: Reasons


def crop_allowed(
    measured_kg_day: float | None,
    r_per_yr: float | None,
    k_kg: float | None,
    stock_kg: float,
    estimate_age_days: float,
    temperature_c: float,
    breeding_c: float,
) -> Crop:
    """Return the daily crop a pond bears, by its measured yield and by surplus production.

    Args:
        measured_kg_day: Measured net production, kg/day, to 1e5; counted as 0 if negative, None
            where it was not measured.
        r_per_yr: 0.01 to 20 1/yr; None where it is not known.
        k_kg: 0.001 to 1e7 kg; None where it is not known.
        stock_kg: Last estimate, kg, 0 to 2 K.
        estimate_age_days: Its age, 0 to 10,000.
        temperature_c: Pond, degC, -2 to 40.
        breeding_c: Below it the fish do not breed, degC, 0 to 35.

    Returns:
        Both crops, None for one that lacks its figures; 0 below the breeding temperature; None
        when the estimate is over six weeks old; halved by surplus production when the stock is
        under a third of K.

    Raises:
        ValueError: An argument is out of range.

    Source: Schaefer surplus production; the rest is common practice.
    """
    if measured_kg_day is not None:
        within("measured production", measured_kg_day, -1e5, 1e5, "kg/day")
    within("age of the estimate", estimate_age_days, 0, 10_000, "days")
    within("pond temperature", temperature_c, -2, 40, "degC")
    within("breeding temperature", breeding_c, 0, 35, "degC")
    surplus = None
    if r_per_yr is not None and k_kg is not None:
        surplus = max(0.0, surplus_kg_yr(r_per_yr, k_kg, stock_kg)) / 365.25
    if temperature_c < breeding_c:
        return Crop(0.0, 0.0, (Reason("too cold to breed: take nothing", {}, "common practice"),))
    if estimate_age_days > STALE_AFTER_DAYS:
        old = Reason(
            "stock estimate is over six weeks old: seine or mark again", {}, "common practice"
        )
        return Crop(None, None, (old,))
    reasons = []
    by_yield = None
    if measured_kg_day is not None:
        by_yield = max(0.0, measured_kg_day) * CROP_SAFETY
        reasons.append(Reason("0.7 of the measured production", {}, "common practice"))
    if surplus is not None and k_kg is not None:
        model = "growth of the stock by r B (1 - B / K)"
        reasons.append(Reason(model, {}, "Schaefer surplus production"))
        if stock_kg < k_kg / 3:
            surplus /= 2
            says = "stock under a third of what the pond carries: half"
            reasons.append(Reason(says, {}, "common practice"))
    return Crop(by_yield, surplus, tuple(reasons))


class StockEstimate(Struct, frozen=True):
    """Fish in a pond by mark and recapture, with standard error and 95 % interval."""

    fish: float
    se: float
    low: float
    high: float


def mark_recapture(marked: int, caught: int, recaptured: int) -> StockEstimate:
    """Return the fish in a pond from marks found again.

    Args:
        marked: Marked and let go, 1 to 1e7.
        caught: Caught later, 1 to 1e7.
        recaptured: Of those, marked; 0 to the smaller of both.

    Returns:
        Estimate, error, and interval; never fewer than were handled.

    Raises:
        ValueError: An argument is out of range.

    Source: Chapman 1951; variance Seber 1970 (both from memory).
    """
    within("marked", marked, 1, 1e7, "fish")
    within("caught", caught, 1, 1e7, "fish")
    within("recaptured", recaptured, 0, min(marked, caught), "fish")
    m, c, r = marked, caught, recaptured
    fish = (m + 1) * (c + 1) / (r + 1) - 1
    se = math.sqrt((m + 1) * (c + 1) * (m - r) * (c - r) / ((r + 1) ** 2 * (r + 2)))
    return StockEstimate(fish, se, max(float(m + c - r), fish - 1.96 * se), fish + 1.96 * se)


MOST_HAULS: Final = 10


def falls(hauls: Sequence[int]) -> bool:
    """Return whether hauls fall beyond chance, as those that deplete a stock do.

    Args:
        hauls: Fish of each haul, in order, two or more, 0 to 1e6.

    Source: score test of a falling trend in Poisson counts, one-sided, 5 %.
    """
    middle, mean = (len(hauls) - 1) / 2, sum(hauls) / len(hauls)
    trend = sum(haul * (n - middle) for n, haul in enumerate(hauls))
    return trend < -1.645 * math.sqrt(mean * sum((n - middle) ** 2 for n in range(len(hauls))))


def removal(hauls: Sequence[int]) -> StockEstimate:
    """Return the fish that were in a pond from seine hauls that take fewer and fewer out of it.

    Args:
        hauls: Fish of each haul, in order, kept out until the last; 2 to 10 hauls of 0 to 1e6,
            the last below the first.

    Returns:
        Estimate before the first haul, error, and interval; never fewer than were caught.

    Raises:
        ValueError: Too few hauls, one out of range, or no fall from the first to the last.

    Source: Carle and Strub 1978, equation 7 with even weights; error Zippin 1956 (both from
        memory).
    """
    k, total = len(hauls), sum(hauls)
    within("number of hauls", k, 2, MOST_HAULS)
    for haul in hauls:
        within("haul", haul, 0, 1e6, "fish")
    if hauls[-1] >= hauls[0]:
        raise ValueError(
            f"the last haul, {hauls[-1]} fish, must be below the first, {hauls[0]}: "
            "seine again without putting any back, or mark fish"
        )
    weighted = sum((k - i) * haul for i, haul in enumerate(hauls, 1))

    def enough(fish: int) -> bool:
        ratio = (fish + 1) / (fish - total + 1)
        for i in range(1, k + 1):
            left = k * fish - weighted + k - i
            ratio *= (left - total + 1) / (left + 2)
        return ratio <= 1

    low, high = total, total + 1
    while not enough(high):
        low, high = high, 2 * high
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle + 1, high)
    caught = total / (k * low - weighted)
    missed = (1 - caught) ** k
    spread = (1 - missed) ** 2 - (caught * k) ** 2 * (1 - caught) ** (k - 1)
    se = math.sqrt(low * (1 - missed) * missed / spread) if spread > 0 else 0.0
    return StockEstimate(float(low), se, max(float(total), low - 1.96 * se), low + 1.96 * se)
