"""Cultures of live food: how fast they grow, what may be taken, cysts and when to start them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import fmean
from typing import Final, Literal

from msgspec import Struct

from rounds.water.ranges import within

POOR_LOT: Final = 0.8  # of the lot's own mean yield; common practice
CRASH_EGG_RATIO: Final = 0.15  # common practice
GOOD_EGG_RATIO: Final = 0.25  # live-feed practice note


def _harvest(harvest_fraction: float) -> None:
    within("harvest", harvest_fraction, 0, 0.99, "of the culture")


def daily_increase_percent(harvest_fraction: float) -> float:
    """Return the increase a day that makes a daily harvest good, %.

    Args:
        harvest_fraction: Taken each day, 0 to 0.99.

    Returns:
        % a day of what was left.

    Raises:
        ValueError: Out of range.

    Source: balance of a steady culture, 100 h / (1 - h).
    """
    _harvest(harvest_fraction)
    return 100 * harvest_fraction / (1 - harvest_fraction)


def hourly_increase_percent(harvest_fraction: float) -> float:
    """Return the increase an hour that makes a daily harvest (0 to 0.99) good, %.

    Raises:
        ValueError: Out of range.

    Source: balance of a steady culture, 100 ((1 - h)^(-1/24) - 1).
    """
    _harvest(harvest_fraction)
    return 100 * math.expm1(growth_r_per_day(harvest_fraction) / 24)


def growth_r_per_day(harvest_fraction: float) -> float:
    """Return the growth rate of a culture that a daily harvest (0 to 0.99) keeps level, 1/day.

    Raises:
        ValueError: Out of range.

    Source: balance of a steady culture, -ln(1 - h).
    """
    _harvest(harvest_fraction)
    return -math.log1p(-harvest_fraction)


def max_harvest_fraction(r_per_day: float) -> float:
    """Return the largest daily harvest that a growth rate makes good.

    Args:
        r_per_day: Growth rate, -2 to 4 1/day.

    Returns:
        Fraction of the culture; 0 where it does not grow.

    Raises:
        ValueError: Out of range.

    Source: balance of a steady culture, 1 - exp(-r).
    """
    within("growth rate", r_per_day, -2, 4, "1/day")
    return max(0.0, -math.expm1(-r_per_day))


def growth_from_counts_per_day(left_per_ml: float, now_per_ml: float, hours: float = 24.0) -> float:
    """Return the growth rate between what was left after a harvest and a later count, 1/day.

    Args:
        left_per_ml: Just after the last harvest and fill, per mL, 0.01 to 1e6.
        now_per_ml: Before the next harvest, per mL, same range.
        hours: Between, 1 to 240.

    Returns:
        1/day; give it to `max_harvest_fraction`.

    Raises:
        ValueError: An argument is out of range.

    Source: exponential growth.
    """
    within("count after the harvest", left_per_ml, 0.01, 1e6, "per mL")
    within("count now", now_per_ml, 0.01, 1e6, "per mL")
    within("time", hours, 1, 240, "h")
    return math.log(now_per_ml / left_per_ml) * 24 / hours


def density_from_output_per_ml(
    output_per_day: float, volume_l: float, dilution_per_day: float
) -> float:
    """Return the density that a culture's output implies, per mL.

    Args:
        output_per_day: Animals taken a day, 0 to 1e14.
        volume_l: Culture, L, 0.01 to 1e7.
        dilution_per_day: Part of the volume taken a day, 0.001 to 5.

    Returns:
        Animals per mL.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("output", output_per_day, 0, 1e14, "a day")
    within("culture", volume_l, 0.01, 1e7, "L")
    within("dilution", dilution_per_day, 1e-3, 5, "1/day")
    return output_per_day / (volume_l * 1000 * dilution_per_day)


def egg_state(eggs: int, rotifers: int) -> Literal["good", "low", "crash"]:
    """Return what the eggs per rotifer say: crash ahead below 15 %, good from 25 %.

    Args:
        eggs: Eggs counted, 0 to 1e6.
        rotifers: Rotifers counted, 1 to 1e6.

    Returns:
        "good", "low" or "crash".

    Raises:
        ValueError: An argument is out of range.

    Source: live-feed practice note (25 to 40 % good); 15 % is common practice.
    """
    within("eggs", eggs, 0, 1e6)
    within("rotifers", rotifers, 1, 1e6)
    ratio = eggs / rotifers
    return "crash" if ratio < CRASH_EGG_RATIO else "low" if ratio < GOOD_EGG_RATIO else "good"


def cysts_g(nauplii: float, nauplii_per_g: float) -> float:
    """Return the brine-shrimp cysts to hatch for some nauplii, g.

    Args:
        nauplii: Wanted, 0 to 1e13.
        nauplii_per_g: Yield of this cyst lot, 1,000 to 400,000 per g.

    Returns:
        g of cysts.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("nauplii", nauplii, 0, 1e13)
    within("yield", nauplii_per_g, 1000, 400_000, "nauplii/g")
    return nauplii / nauplii_per_g


def cysts_for_tank_g(
    tank_l: float, target_per_ml: float, residual_per_ml: float, nauplii_per_g: float
) -> float:
    """Return the cysts that bring a tank from its residual to its target, g.

    Args:
        tank_l: Water, L, 0.1 to 1e7.
        target_per_ml: Wanted nauplii, per mL, 0 to 1000.
        residual_per_ml: Left, per mL, 0 to 1000.
        nauplii_per_g: Yield of this cyst lot, 1,000 to 400,000 per g.

    Returns:
        g of cysts; 0 when the tank has enough.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("tank", tank_l, 0.1, 1e7, "L")
    within("target", target_per_ml, 0, 1000, "per mL")
    within("residual", residual_per_ml, 0, 1000, "per mL")
    return cysts_g(max(0.0, target_per_ml - residual_per_ml) * tank_l * 1000, nauplii_per_g)


def cysts_per_g(nauplii_per_g: float, hatched_fraction: float) -> float:
    """Return the cysts in a gram that yield and hatching rate imply.

    Args:
        nauplii_per_g: 1,000 to 400,000 per g.
        hatched_fraction: 0.01 to 1.

    Returns:
        Cysts per g.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("yield", nauplii_per_g, 1000, 400_000, "nauplii/g")
    within("hatched part", hatched_fraction, 0.01, 1)
    return nauplii_per_g / hatched_fraction


def nauplius_dry_mass_ug(output_mg_per_g: float, nauplii_per_g: float) -> float:
    """Return the dry mass of one nauplius, ug.

    Args:
        output_mg_per_g: Dry nauplii from a gram of cysts, 1 to 1000 mg/g.
        nauplii_per_g: 1,000 to 400,000 per g.

    Returns:
        ug.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("hatching output", output_mg_per_g, 1, 1000, "mg/g")
    within("yield", nauplii_per_g, 1000, 400_000, "nauplii/g")
    return 1000 * output_mg_per_g / nauplii_per_g


def hatch_yield_per_g(nauplii: float, grams: float) -> float:
    """Return the nauplii that a gram of cysts gave.

    Args:
        nauplii: Counted in the whole hatch, 0 to 1e13.
        grams: Cysts set up, 0.001 to 1e6 g.

    Returns:
        Nauplii per g.

    Raises:
        ValueError: An argument is out of range, or more hatched than a gram holds cysts.

    Source: definition; at most 400,000 a gram.
    """
    within("nauplii", nauplii, 0, 1e13)
    within("cysts", grams, 1e-3, 1e6, "g")
    within("yield", nauplii / grams, 0, 400_000, "nauplii/g")
    return nauplii / grams


def poor_hatch(nauplii_per_g: float, earlier_per_g: Sequence[float]) -> bool:
    """Return whether a hatch lies 20 % or more under the lot's own mean.

    Args:
        nauplii_per_g: This hatch, 0 to 400,000 per g.
        earlier_per_g: Earlier hatches of the lot; none means nothing to compare with.

    Returns:
        True to warn.

    Raises:
        ValueError: The yield is out of range.

    Source: common practice.
    """
    within("yield", nauplii_per_g, 0, 400_000, "nauplii/g")
    return bool(earlier_per_g) and nauplii_per_g <= POOR_LOT * fmean(earlier_per_g)


WARM_H: Final = 4.0
"""Enriched food left warm is used within so many hours: it eats up what it was given. From memory.
"""
COLD_H: Final = 24.0
"""And below 10 degC, lightly aerated, at most 8 million a litre. Artemia Reference Center, Ghent
University, course text on cold storage: up to 24 h, of freshly hatched nauplii."""


class EnrichmentClock(Struct, frozen=True):
    """When live food goes into its enrichment, comes out, and until when it may be fed."""

    start: datetime
    out: datetime
    use_by_warm: datetime
    use_by_cold: datetime


def enrichment_clock(ready: datetime, enrich_h: float, rinse_h: float = 0.5) -> EnrichmentClock:
    """Return the hours of an enrichment, counted backwards from the feeding.

    Args:
        ready: When the food goes into the tank.
        enrich_h: In the enrichment, 1 to 36 h.
        rinse_h: Rinsing before the tank, 0 to 4 h.

    Returns:
        The times; what it was given is used up at the last of them.

    Raises:
        ValueError: A duration is out of range.

    Source: cold storage, Ghent University; `WARM_H` from memory.
    """
    within("enrichment", enrich_h, 1, 36, "h")
    within("rinsing", rinse_h, 0, 4, "h")
    out = ready - timedelta(hours=rinse_h)
    warm, cold = use_by(out, cold=False), use_by(out, cold=True)
    return EnrichmentClock(out - timedelta(hours=enrich_h), out, warm, cold)


def use_by(out: datetime, *, cold: bool) -> datetime:
    """Return until when enriched food may be fed after it came out; source as of the clock."""
    return out + timedelta(hours=COLD_H if cold else WARM_H)


class HatchPlan(Struct, frozen=True):
    """When to set cysts up, harvest the hatch, start the enrichment, and feed."""

    start: datetime
    harvest: datetime
    enrich: datetime | None
    ready: datetime


def hatch_plan(
    ready: datetime,
    hatch_h: float = 24.0,
    mouth_h: float = 8.0,
    enrich_h: float = 0.0,
    rinse_h: float = 0.5,
) -> HatchPlan:
    """Return the hours of a hatch, counted backwards from when the nauplii are wanted.

    Args:
        ready: When they go into the tank.
        hatch_h: From set-up to harvest, 12 to 48 h.
        mouth_h: From harvest until they can take enrichment, 0 to 24 h.
        enrich_h: In the enrichment, 0 to 36 h; 0 for plain nauplii, which need no `mouth_h`.
        rinse_h: Rinsing before the tank, 0 to 4 h.

    Returns:
        The times, earliest first.

    Raises:
        ValueError: A duration is out of range.

    Source: hatching hours and mouth opening from memory; else common practice.
    """
    within("hatching", hatch_h, 12, 48, "h")
    within("mouth opening", mouth_h, 0, 24, "h")
    within("enrichment", enrich_h, 0, 36, "h")
    within("rinsing", rinse_h, 0, 4, "h")
    enrich = ready - timedelta(hours=rinse_h + enrich_h) if enrich_h else None
    harvest = enrich - timedelta(hours=mouth_h) if enrich else ready - timedelta(hours=rinse_h)
    return HatchPlan(harvest - timedelta(hours=hatch_h), harvest, enrich, ready)
