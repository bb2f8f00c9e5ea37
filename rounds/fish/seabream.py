"""Gilthead seabream by the energy budget: gain, upkeep, and the feed that covers both.

A second opinion on a ration. For another species it gives the shape, not the number. The papers of
1998 and 2003 are kept apart: their coefficients do not mix.
"""

from __future__ import annotations

import math
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within

_SOURCE: Final = "Lupatsch, Kissil & Sklan 2003, Isr. J. Aquac.-Bamidgeh 55"
_A, _B, _C = 0.024, 0.514, 0.060  # gain = A W^B e^(C T)
SEABREAM_WEIGHTS_G: Final = (1.0, 470.0)
SEABREAM_TEMPERATURES_C: Final = (12.0, 30.0)  # from memory: where the fish feed at all
GROWTH_EFFICIENCY: Final = 0.67  # of digestible energy above upkeep


def seabream_gain_g_day(weight_g: float, temperature_c: float) -> float:
    """Return the daily gain of gilthead seabream, g/fish/day.

    Args:
        weight_g: Mean weight, g, 1 to 470.
        temperature_c: Water temperature, degC, 12 to 30.

    Returns:
        g/fish/day.

    Raises:
        ValueError: An argument is out of range.

    Source: Lupatsch, Kissil & Sklan 2003, Isr. J. Aquac.-Bamidgeh 55,
    y = 0.024 W^0.514 e^(0.060 T); the temperature range is from memory.
    """
    within("weight", weight_g, *SEABREAM_WEIGHTS_G, "g")
    within("temperature", temperature_c, *SEABREAM_TEMPERATURES_C, "degC")
    return _A * math.pow(weight_g, _B) * math.exp(_C * temperature_c)


def days_to_weight_seabream(weight_g: float, target_g: float, temperature_c: float) -> float:
    """Return the days gilthead seabream take to a weight at one temperature; 0 when there.

    Args:
        weight_g: Mean weight now, g, 1 to 470.
        target_g: Weight wanted, g, 1 to 470.
        temperature_c: Water temperature, degC, 12 to 30.

    Returns:
        Days.

    Raises:
        ValueError: An argument is out of range.

    Source: closed-form integral of `seabream_gain_g_day`.
    """
    within("target weight", target_g, *SEABREAM_WEIGHTS_G, "g")
    rate = seabream_gain_g_day(weight_g, temperature_c) / math.pow(weight_g, _B)
    grown = math.pow(target_g, 1 - _B) - math.pow(weight_g, 1 - _B)
    return max(0.0, grown / ((1 - _B) * rate))


def maintenance_kj_day(weight_g: float, temperature_c: float) -> float:
    """Return the digestible energy that upkeep takes, kJ/fish/day.

    Args:
        weight_g: Mean weight, g, 1 to 470.
        temperature_c: Water temperature, degC, 12 to 30.

    Returns:
        kJ/fish/day.

    Raises:
        ValueError: An argument is out of range.

    Source: Lupatsch, Kissil & Sklan 2003, Isr. J. Aquac.-Bamidgeh 55, 16.6 e^(0.055 T) kg^0.82.
    """
    within("weight", weight_g, *SEABREAM_WEIGHTS_G, "g")
    within("temperature", temperature_c, *SEABREAM_TEMPERATURES_C, "degC")
    return 16.6 * math.exp(0.055 * temperature_c) * math.pow(weight_g / 1000, 0.82)


def maintenance_1998_kj_day(weight_g: float) -> float:
    """Return the digestible energy of upkeep at 23 to 24 degC by the older paper, kJ/fish/day.

    Args:
        weight_g: Mean weight, g, 1 to 470.

    Returns:
        kJ/fish/day; never mixed with the coefficients of 2003.

    Raises:
        ValueError: The weight is out of range.

    Source: Lupatsch et al. 1998, Aquac. Nutr. 4, 55.8 kg^0.83.
    """
    within("weight", weight_g, *SEABREAM_WEIGHTS_G, "g")
    return 55.8 * math.pow(weight_g / 1000, 0.83)


def body_energy_kj_g(weight_g: float) -> float:
    """Return the energy in a gram of seabream, kJ/g.

    Args:
        weight_g: Mean weight, g, 1 to 470.

    Returns:
        kJ/g; 4.7 at 1 g and 11.0 at 470 g, as printed.

    Raises:
        ValueError: The weight is out of range.

    Source: 4.66 W^0.139 (from memory), through both printed ends of Lupatsch et al. 2003.
    """
    within("weight", weight_g, *SEABREAM_WEIGHTS_G, "g")
    return 4.66 * math.pow(weight_g, 0.139)


class Factorial(Struct, frozen=True):
    """Feed by the energy budget: g/fish/day, as % of body weight, and its FCR."""

    feed_g_day: float
    percent_day: float
    fcr: float
    reasons: Reasons


def factorial_ration(
    weight_g: float,
    temperature_c: float,
    diet_kj_g: float,
    growth_efficiency: float = GROWTH_EFFICIENCY,
) -> Factorial:
    """Return the feed that covers upkeep and expected gain of one seabream.

    Args:
        weight_g: Mean weight, g, 1 to 470.
        temperature_c: Water temperature, degC, 12 to 30.
        diet_kj_g: Digestible energy of the feed, kJ/g, 2 to 30.
        growth_efficiency: Gain of energy per energy above upkeep, 0.2 to 1.

    Returns:
        Feed a day, percent of body weight a day, and feed per gain.

    Raises:
        ValueError: An argument is out of range.

    Source: Lupatsch, Kissil & Sklan 2003, Isr. J. Aquac.-Bamidgeh 55; body energy from memory.
    """
    within("feed energy", diet_kj_g, 2, 30, "kJ/g")
    within("growth efficiency", growth_efficiency, 0.2, 1)
    gain_g = seabream_gain_g_day(weight_g, temperature_c)
    upkeep_kj = maintenance_kj_day(weight_g, temperature_c)
    growth_kj = gain_g * body_energy_kj_g(weight_g) / growth_efficiency
    feed_g = (upkeep_kj + growth_kj) / diet_kj_g
    percent_day = 100 * feed_g / weight_g
    reasons = (
        Reason(
            "upkeep {upkeep:.2f} kJ and growth of {gain:.2f} taking {growth:.2f} kJ a day",
            {"upkeep": upkeep_kj, "gain": Amount(gain_g, "g"), "growth": growth_kj},
            f"{_SOURCE}; body energy from memory",
        ),
        Reason(
            "from feed of {energy:.1f}: {percent:.2f} % of body weight a day",
            {"energy": Amount(diet_kj_g, "kJ/g"), "percent": percent_day},
        ),
    )
    return Factorial(feed_g, percent_day, feed_g / gain_g, reasons)
