"""The account of a lot: counts, survival, feed per gain, weight carried between samples."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from rounds.water.ranges import within

CARRIED_ERROR_A_DAY: Final = 0.005  # of the weight, added to its standard error; common practice


def count_ledger(
    start: float,
    dead: float = 0,
    sold: float = 0,
    moved_out: float = 0,
    moved_in: float = 0,
    corrected: float = 0,
) -> float:
    """Return the fish left; a counted difference is its own dated entry, never an edit.

    Args:
        start: Fish at the start, 0 to 1e9.
        dead: Dead since, 0 to 1e9.
        sold: Sold since, 0 to 1e9.
        moved_out: Moved out since, 0 to 1e9.
        moved_in: Moved in since, 0 to 1e9.
        corrected: Sum of counted corrections, -1e9 to 1e9.

    Returns:
        Fish.

    Raises:
        ValueError: An argument is out of range, or more fish left than there were.

    Source: balance.
    """
    for name, value in (
        ("start count", start),
        ("dead", dead),
        ("sold", sold),
        ("moved out", moved_out),
        ("moved in", moved_in),
    ):
        within(name, value, 0, 1e9, "fish")
    within("corrected", corrected, -1e9, 1e9, "fish")
    left = start - dead - sold - moved_out + moved_in + corrected
    within("fish left", left, 0, 1e10, "fish")
    return left


def survival(spans: Sequence[tuple[float, float]]) -> float:
    """Return the survival over spans of time, each with its own fish at risk, 0 to 1.

    Fish moved or sold are no deaths: start a new span where they leave or join.

    Args:
        spans: Fish at risk at the start of the span, and dead in it.

    Returns:
        Product of 1 - dead / at risk.

    Raises:
        ValueError: A span without fish, or more dead than fish.

    Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481.
    """
    alive = 1.0
    for at_risk, dead in spans:
        within("fish at risk", at_risk, 1e-9, 1e9, "fish")
        within("dead", dead, 0, at_risk, "fish")
        alive *= 1 - dead / at_risk
    return alive


def mortality_z_per_day(survival_fraction: float, days: float) -> float:
    """Return the instantaneous mortality, 1/day.

    Args:
        survival_fraction: 0.000001 to 1.
        days: 0.001 to 10,000.

    Returns:
        -ln(S) / days.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("survival", survival_fraction, 1e-6, 1)
    within("time", days, 1e-3, 10_000, "days")
    return -math.log(survival_fraction) / days + 0.0


def fcr_biological(
    feed_eaten_kg: float,
    start_kg: float,
    end_kg: float,
    removed_kg: float = 0,
    dead_kg: float = 0,
    moved_in_kg: float = 0,
) -> float | None:
    """Return feed eaten per gain, the dead counted as grown; None where gain is not positive.

    Args:
        feed_eaten_kg: kg, 0 to 1e8.
        start_kg: Biomass at the start, kg, 0 to 1e8.
        end_kg: Biomass at the end, kg, 0 to 1e8.
        removed_kg: Harvested, sold and moved out, kg, 0 to 1e8.
        dead_kg: Dead fish, kg, 0 to 1e8.
        moved_in_kg: kg, 0 to 1e8.

    Returns:
        FCR, or None: not meaningful, to be told in words.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    return _feed_per_gain(feed_eaten_kg, start_kg, end_kg, removed_kg + dead_kg, moved_in_kg)


def fcr_economic(
    feed_given_kg: float,
    start_kg: float,
    end_kg: float,
    removed_kg: float = 0,
    moved_in_kg: float = 0,
) -> float | None:
    """Return feed given per kilogram that lived to count; args and None as `fcr_biological`.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    return _feed_per_gain(feed_given_kg, start_kg, end_kg, removed_kg, moved_in_kg)


def _feed_per_gain(
    feed_kg: float, start_kg: float, end_kg: float, out_kg: float, in_kg: float
) -> float | None:
    for name, value in (
        ("feed", feed_kg),
        ("biomass at the start", start_kg),
        ("biomass at the end", end_kg),
        ("biomass out", out_kg),
        ("biomass moved in", in_kg),
    ):
        within(name, value, 0, 1e8, "kg")
    gain_kg = end_kg - start_kg + out_kg - in_kg
    return feed_kg / gain_kg if gain_kg > 0 else None


def fcr_from_efficiency(gain_per_feed: float) -> float:
    """Return the FCR of a feed efficiency.

    Args:
        gain_per_feed: Gain over feed, a fraction, 0.01 to 5.

    Returns:
        1 / efficiency.

    Raises:
        ValueError: Out of range.

    Source: definition.
    """
    within("feed efficiency", gain_per_feed, 0.01, 5)
    return 1 / gain_per_feed


class Carried(Struct, frozen=True):
    """A lot carried forward: fish, mean weight and biomass."""

    count: float
    weight_g: float
    biomass_kg: float


def carry_forward(
    count: float, weight_g: float, eaten_kg: float, fcr: float, dead: float = 0
) -> Carried:
    """Return a lot after some feeding: deaths first, then the gain of what was eaten.

    Args:
        count: Fish, 0 to 1e9.
        weight_g: Mean weight, g, 0.00001 to 50,000.
        eaten_kg: Eaten since, kg, 0 to 1e7; nothing eaten, nothing gained.
        fcr: Feed per gain, 0.1 to 20.
        dead: Dead, taken off before the gain, 0 to `count`.

    Returns:
        Count, mean weight and biomass; a lot with no fish left keeps its weight.

    Raises:
        ValueError: An argument is out of range.

    Source: definition of FCR.
    """
    within("count", count, 0, 1e9, "fish")
    within("weight", weight_g, 1e-5, 50_000, "g")
    within("feed eaten", eaten_kg, 0, 1e7, "kg")
    within("FCR", fcr, 0.1, 20)
    within("dead", dead, 0, count, "fish")
    left = count - dead
    if left == 0:
        return Carried(0, weight_g, 0.0)
    gained_g = weight_g + eaten_kg * 1000 / (fcr * left)
    return Carried(left, gained_g, left * gained_g / 1000)


def carried_se_g(weight_se_g: float, weight_g: float, days: float) -> float:
    """Return the standard error of a carried weight, g: 0.5 % of the weight more each day.

    Args:
        weight_se_g: At the last sample, g, 0 to 50,000.
        weight_g: Mean weight, g, 0.00001 to 50,000.
        days: Since, 0 to 10,000.

    Returns:
        g.

    Raises:
        ValueError: An argument is out of range.

    Source: common practice.
    """
    within("weight error", weight_se_g, 0, 50_000, "g")
    within("weight", weight_g, 1e-5, 50_000, "g")
    within("time", days, 0, 10_000, "days")
    return weight_se_g + CARRIED_ERROR_A_DAY * weight_g * days


class Run(Struct, frozen=True):
    """A whole run from stocking to harvest, in sums."""

    stocked: float
    survivors: float
    start_kg: float
    end_kg: float
    gain_kg: float
    end_density_kg_m3: float
    feed_kg: float


def run(
    stock_fish_m3: float,
    volume_m3: float,
    start_g: float,
    end_g: float,
    fcr: float,
    survival_fraction: float,
) -> Run:
    """Return the sums of a run planned or printed.

    Args:
        stock_fish_m3: Fish stocked, 1/m3, 0 to 1e6.
        volume_m3: Water, m3, 0.0001 to 1e6.
        start_g: Mean weight at the start, g, 0.00001 to 50,000.
        end_g: Mean weight at the end, g, same range.
        fcr: Economic feed per gain, 0.1 to 20.
        survival_fraction: 0 to 1.

    Returns:
        Counts, biomass, net gain, density at the end and feed; no feed where nothing was gained.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("stocking", stock_fish_m3, 0, 1e6, "fish/m3")
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    within("start weight", start_g, 1e-5, 50_000, "g")
    within("end weight", end_g, 1e-5, 50_000, "g")
    within("FCR", fcr, 0.1, 20)
    within("survival", survival_fraction, 0, 1)
    stocked = stock_fish_m3 * volume_m3
    survivors = stocked * survival_fraction
    start_kg, end_kg = stocked * start_g / 1000, survivors * end_g / 1000
    gain_kg = end_kg - start_kg
    return Run(
        stocked,
        survivors,
        start_kg,
        end_kg,
        gain_kg,
        end_kg / volume_m3,
        max(0.0, gain_kg) * fcr,
    )
