"""Larvae and the live food in their tank: what is eaten, what to add, who is left."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist, fmean, stdev
from typing import Final

from msgspec import Struct

from rounds.fish.counting import EVEN_BELOW, dispersion
from rounds.fish.distributions import binomial_interval, poisson_interval, t_quantile
from rounds.fish.sampling import sample_size
from rounds.reason import Reason, Reasons
from rounds.water.ranges import within

ROTIFERS_A_LARVA_DAY: Final = 1900.0  # eaten at most; public extension text on live feeds


def _check_top_up(
    tank_l: float, target_per_ml: float, residual_per_ml: float, culture_per_ml: float
) -> float:
    """Return the missing density, per mL, 0 when there is enough."""
    within("tank", tank_l, 0.1, 1e7, "L")
    within("target", target_per_ml, 0, 1e5, "per mL")
    within("residual", residual_per_ml, 0, 1e5, "per mL")
    within("culture", culture_per_ml, 0, 1e6, "per mL")
    return max(0.0, target_per_ml - residual_per_ml)


def culture_to_add_l(
    tank_l: float, target_per_ml: float, residual_per_ml: float, culture_per_ml: float
) -> float:
    """Return the culture to pour in, its own water counted, L.

    Args:
        tank_l: Water in the larval tank, L, 0.1 to 1e7.
        target_per_ml: Wanted density, per mL, 0 to 100,000.
        residual_per_ml: Density left in the tank, per mL, 0 to 100,000.
        culture_per_ml: Density of the culture, per mL, 0 to 1e6.

    Returns:
        L; 0 when the tank has enough.

    Raises:
        ValueError: An argument is out of range, or the culture is no denser than the target.

    Source: balance of animals and water.
    """
    missing = _check_top_up(tank_l, target_per_ml, residual_per_ml, culture_per_ml)
    if missing == 0:
        return 0.0
    if culture_per_ml <= target_per_ml:
        raise ValueError(
            f"culture {culture_per_ml:g} per mL is no denser than the target "
            f"{target_per_ml:g} per mL: sieve and rinse it instead"
        )
    return tank_l * missing / (culture_per_ml - target_per_ml)


def culture_to_sieve_l(
    tank_l: float, target_per_ml: float, residual_per_ml: float, culture_per_ml: float
) -> float:
    """Return the culture to sieve and rinse, no water added to the tank, L; args as to add.

    Raises:
        ValueError: An argument is out of range, or the culture is empty.

    Source: balance of animals.
    """
    missing = _check_top_up(tank_l, target_per_ml, residual_per_ml, culture_per_ml)
    if missing == 0:
        return 0.0
    within("culture", culture_per_ml, 1e-3, 1e6, "per mL")
    return tank_l * missing / culture_per_ml


def eaten_per_day(larvae: float, per_larva_day: float = ROTIFERS_A_LARVA_DAY) -> float:
    """Return the live food that larvae eat in a day.

    Args:
        larvae: Fish, 0 to 1e9.
        per_larva_day: Eaten by one, 0 to 100,000.

    Returns:
        Animals a day.

    Raises:
        ValueError: An argument is out of range.

    Source: public extension text on live feeds, up to 1,900 rotifers a larva and day.
    """
    within("larvae", larvae, 0, 1e9, "fish")
    within("eaten by a larva", per_larva_day, 0, 1e5, "a day")
    return larvae * per_larva_day


def supplied_per_larva(per_larva_day: float, supply_factor: float, days: float) -> float:
    """Return the live food to grow for one larva over some days.

    Args:
        per_larva_day: Eaten by one, 0 to 100,000 a day.
        supply_factor: Supplied over eaten, 1 to 20; 3 in the printed example.
        days: 0 to 200.

    Returns:
        Animals a larva.

    Raises:
        ValueError: An argument is out of range.

    Source: public extension text on live feeds.
    """
    within("supply factor", supply_factor, 1, 20)
    within("time", days, 0, 200, "days")
    return eaten_per_day(1, per_larva_day) * supply_factor * days


def needed_until_next(
    tank_l: float,
    target_per_ml: float,
    residual_per_ml: float,
    larvae: float,
    per_larva_day: float,
    hours: float,
) -> float:
    """Return the animals to add now: what is missing, and what is eaten until the next top-up.

    Args:
        tank_l: Water in the larval tank, L, 0.1 to 1e7.
        target_per_ml: Wanted density, per mL, 0 to 100,000.
        residual_per_ml: Density left in the tank, per mL, 0 to 100,000.
        larvae: Fish, from the ledger, 0 to 1e9.
        per_larva_day: Eaten by one, 0 to 100,000 a day.
        hours: Of light until the next top-up, 0 to 24.

    Returns:
        Animals; what the tank has above target counts towards the eating.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    _check_top_up(tank_l, target_per_ml, residual_per_ml, 0)
    within("time to the next top-up", hours, 0, 24, "h")
    missing = (target_per_ml - residual_per_ml) * tank_l * 1000
    return max(0.0, missing + eaten_per_day(larvae, per_larva_day) * hours / 24)


def larvae_left(larvae_per_l: float, tank_l: float, survival_fraction: float) -> float:
    """Return the larvae alive in a tank.

    Args:
        larvae_per_l: Stocked, per L, 0 to 10,000.
        tank_l: Water, L, 0.1 to 1e7.
        survival_fraction: 0 to 1.

    Returns:
        Fish.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("larvae", larvae_per_l, 0, 10_000, "per L")
    within("tank", tank_l, 0.1, 1e7, "L")
    within("survival", survival_fraction, 0, 1)
    return larvae_per_l * tank_l * survival_fraction


class LarvalNumber(Struct, frozen=True):
    """The larvae in a tank by column samples, with the ends of the interval.

    `more_columns` are still to take for the wanted precision; None where nothing was counted.
    """

    fish: float
    low: float
    high: float
    clumped: bool
    more_columns: int | None
    reasons: Reasons


def number_in_tank(
    counts: Sequence[int],
    column_l: float,
    tank_l: float,
    half_width_percent: float = 10.0,
    confidence: float = 0.95,
) -> LarvalNumber:
    """Return how many larvae a tank holds, from columns of its water counted out.

    Args:
        counts: Larvae in each column, 0 to 1e6, one or more columns.
        column_l: Volume of one column, L, 0.001 to 1000; all of them no more than the tank.
        tank_l: Water in the tank, L, 0.1 to 1e7.
        half_width_percent: Wanted half-width of the interval, % of the number, 1 to 100.
        confidence: Of the interval, 0.5 to 0.999.

    Returns:
        The number. Where the counts differ as chance does, the exact Poisson interval; where the
        larvae are clumped (variance over mean 2 or more), the spread between the columns too, and
        the wider governs.

    Raises:
        ValueError: An argument is out of range.

    Source: Garwood 1936 (Poisson); Student's t of the column means; 2 is common practice.
    """
    within("number of columns", len(counts), 1, 1000)
    for count in counts:
        within("larvae in a column", count, 0, 1e6)
    within("tank", tank_l, 0.1, 1e7, "L")
    within("column", column_l, 1e-3, 1000, "L")
    within("water in all columns", column_l * len(counts), 1e-3, tank_l, "L")
    within("wanted precision", half_width_percent, 1, 100, "%")
    n, total = len(counts), sum(counts)
    each = tank_l / column_l
    low, high = (end / n for end in poisson_interval(total, confidence))
    mean, upper = total / n, (1 + confidence) / 2
    wanted = (NormalDist().inv_cdf(upper) * 100 / half_width_percent) ** 2 / mean if total else 0
    values = {"total": total, "n": n, "column": column_l, "tank": tank_l, "fish": mean * each}
    says = "{total} larvae in {n} columns of {column:g} L, in {tank:g} L: {fish:.0f}"
    reasons = [Reason(says, values, "share of the water")]
    index = dispersion(counts) if n > 1 and total else 0.0
    clumped = index >= EVEN_BELOW
    if clumped:
        reach = t_quantile(upper, n - 1) * stdev(counts) / math.sqrt(n)
        low, high = min(low, max(0.0, mean - reach)), max(high, mean + reach)
        cv = min(300.0, 100 * stdev(counts) / fmean(counts))
        wanted = max(wanted, sample_size(cv, half_width_percent, confidence))
    how = "the spread between columns" if clumped else "chance alone"
    says = "variance over mean {index:.1f}: {how}, {low:.0f} to {high:.0f}"
    reasons.append(
        Reason(
            says if n > 1 and total else "{how}: {low:.0f} to {high:.0f}",
            {"index": index, "how": how, "low": low * each, "high": high * each},
            "Student's t" if clumped else "exact Poisson interval, Garwood 1936",
        )
    )
    more = max(0, math.ceil(wanted) - n) if total else None
    return LarvalNumber(mean * each, low * each, high * each, clumped, more, tuple(reasons))


class Share(Struct, frozen=True):
    """A share of larvae looked at, 0 to 1, with the ends of its exact interval."""

    share: float
    low: float
    high: float


def share_of(found: int, looked_at: int, confidence: float = 0.95) -> Share:
    """Return the share of larvae that had something, with its exact interval.

    Args:
        found: Larvae that had it, 0 to `looked_at`.
        looked_at: Larvae looked at, 1 to 100,000; 20 in the daily look.
        confidence: Of the interval, 0.5 to 0.999.

    Returns:
        The share.

    Raises:
        ValueError: An argument is out of range, or more were found than looked at.

    Source: Clopper & Pearson 1934, Biometrika 26:404-413.
    """
    return Share(found / max(1, looked_at), *binomial_interval(found, looked_at, confidence))
