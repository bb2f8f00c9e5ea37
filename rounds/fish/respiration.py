"""What fish breathe and what a kilogram of feed leaves in the water.

Nitrogen, alkalinity, carbon dioxide and solids from the feed; oxygen uptake from weight and
temperature; the time until oxygen reaches a level when supply stops.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from rounds.water.carbonate import CO2_G_MOL
from rounds.water.forms import CACO3_MG_MEQ, NITROGEN_G_MOL
from rounds.water.oxygen import OXYGEN_G_MOL
from rounds.water.ranges import within

BICARBONATE_G_MOL: Final = 84.006  # NaHCO3

TAN_PER_PROTEIN: Final = 0.092  # kg N per kg protein fed (Timmons & Ebeling; from memory)
NITRIFICATION_OXYGEN: Final = 2 * OXYGEN_G_MOL / NITROGEN_G_MOL  # g per g N, no cells built
NITRIFICATION_ALKALINITY: Final = 2 * CACO3_MG_MEQ / NITROGEN_G_MOL  # g CaCO3 per g N
WEIGHTS_G: Final = (1e-4, 50_000.0)  # a first-feeding larva to a large brood fish
# mg/kg^0.8/h = slope * degC + intercept (Pirozzi & Booth 2009)
_ROUTINE: Final = {"sedentary": (5.78, -29.0), "active": (12.11, -39.40)}

Kind = Literal["sedentary", "active"]


def tan_coefficient(
    nitrogen_in_protein: float = 0.16,
    assimilated: float = 0.80,
    excreted: float = 0.80,
    as_tan: float = 0.90,
) -> float:
    """Return the ammonia nitrogen made from a kilogram of protein fed, kg per kg.

    Args:
        nitrogen_in_protein: Fraction, 0 to 1.
        assimilated: Part of that nitrogen taken up, 0 to 1.
        excreted: Part of the assimilated nitrogen given off, 0 to 1.
        as_tan: Part of the excreted nitrogen that is ammonia, 0 to 1.

    Returns:
        kg N per kg protein; 0.09216 with the usual parts.

    Raises:
        ValueError: A part is outside 0 to 1.

    Source: Timmons & Ebeling, Recirculating Aquaculture (decomposition from memory).
    """
    within("nitrogen in protein", nitrogen_in_protein, 0, 1)
    within("assimilated part", assimilated, 0, 1)
    within("excreted part", excreted, 0, 1)
    within("part as ammonia", as_tan, 0, 1)
    return nitrogen_in_protein * assimilated * excreted * as_tan


def tan_production_g_day(
    feed_kg_day: float, protein_fraction: float, coefficient: float = TAN_PER_PROTEIN
) -> float:
    """Return the ammonia nitrogen that the feed of a day makes, g N/day.

    Args:
        feed_kg_day: Feed eaten, kg/day, 0 or more.
        protein_fraction: Protein in the feed, 0 to 1.
        coefficient: kg N per kg protein, 0 to 0.16.

    Returns:
        g N/day, as though all feed were eaten.

    Raises:
        ValueError: An argument is out of range.

    Source: Timmons & Ebeling, Recirculating Aquaculture, P = F * PC * 0.092 (from memory).
    """
    within("feed", feed_kg_day, 0, 100_000, "kg/day")
    within("protein fraction", protein_fraction, 0, 1)
    within("nitrogen per protein", coefficient, 0, 0.16, "kg/kg")
    return feed_kg_day * protein_fraction * coefficient * 1000


def nitrification_oxygen_g(tan_g: float, g_per_g: float = NITRIFICATION_OXYGEN) -> float:
    """Return the oxygen that turning ammonia into nitrate takes, g.

    Args:
        tan_g: Ammonia nitrogen turned over, g N, 0 or more.
        g_per_g: g O2 per g N: 4.569 without cells built, 4.18 with.

    Returns:
        g O2.

    Raises:
        ValueError: An argument is out of range.

    Source: stoichiometry; with cells Ebeling, Timmons & Bisogni 2006 (from memory).
    """
    within("ammonia nitrogen", tan_g, 0, 1e7, "g")
    within("oxygen per nitrogen", g_per_g, 0, 5, "g/g")
    return tan_g * g_per_g


def nitrification_alkalinity_g(tan_g: float, g_per_g: float = NITRIFICATION_ALKALINITY) -> float:
    """Return the alkalinity that turning ammonia into nitrate takes, g as CaCO3.

    Args:
        tan_g: Ammonia nitrogen turned over, g N, 0 or more.
        g_per_g: g CaCO3 per g N: 7.145 without cells built, 7.05 with.

    Returns:
        g as CaCO3.

    Raises:
        ValueError: An argument is out of range.

    Source: stoichiometry; with cells Ebeling, Timmons & Bisogni 2006 (from memory).
    """
    within("ammonia nitrogen", tan_g, 0, 1e7, "g")
    within("alkalinity per nitrogen", g_per_g, 0, 8, "g/g")
    return tan_g * g_per_g


def bicarbonate_for_feed_g_day(
    feed_kg_day: float,
    protein_fraction: float,
    alkalinity_g_per_g: float = NITRIFICATION_ALKALINITY,
    purity: float = 1.0,
) -> float:
    """Return the most sodium bicarbonate that a day's feed can call for, g/day.

    An upper bound: practice needs 150 to 250 g per kg of feed (from memory). Measure, and do not
    dose the bound blindly.

    Args:
        feed_kg_day: Feed, kg/day, 0 or more.
        protein_fraction: Protein in the feed, 0 to 1.
        alkalinity_g_per_g: g CaCO3 per g N nitrified.
        purity: Of the bicarbonate, 0.5 to 1.

    Returns:
        g NaHCO3/day.

    Raises:
        ValueError: An argument is out of range.

    Source: Timmons & Ebeling (TAN, from memory) and stoichiometry.
    """
    tan_g = tan_production_g_day(feed_kg_day, protein_fraction)
    lost = nitrification_alkalinity_g(tan_g, alkalinity_g_per_g)
    within("purity", purity, 0.5, 1)
    return lost * BICARBONATE_G_MOL / CACO3_MG_MEQ / purity


def fish_oxygen_from_feed_g_day(feed_kg_day: float, kg_per_kg: float = 0.4) -> float:
    """Return the oxygen that fish use to burn a day's feed, g/day.

    Args:
        feed_kg_day: Feed eaten, kg/day, 0 or more.
        kg_per_kg: kg O2 per kg feed, 0 to 2: 0.4 to 0.5 the fish, about 1.0 the whole loop.

    Returns:
        g O2/day.

    Raises:
        ValueError: An argument is out of range.

    Source: common design figures (from memory).
    """
    within("feed", feed_kg_day, 0, 100_000, "kg/day")
    within("oxygen per feed", kg_per_kg, 0, 2, "kg/kg")
    return feed_kg_day * kg_per_kg * 1000


def co2_from_oxygen_g_day(oxygen_g_day: float, respiratory_quotient: float = 1.0) -> float:
    """Return the carbon dioxide given off for the oxygen used, g/day.

    Args:
        oxygen_g_day: Oxygen used, g/day, 0 or more.
        respiratory_quotient: mol CO2 per mol O2, 0.6 to 1.2.

    Returns:
        g CO2/day; 1.375 g per g at a quotient of 1.

    Raises:
        ValueError: An argument is out of range.

    Source: molar masses.
    """
    within("oxygen used", oxygen_g_day, 0, 1e8, "g/day")
    return oxygen_g_day * co2_per_oxygen(respiratory_quotient)


def co2_per_oxygen(respiratory_quotient: float = 1.0) -> float:
    """Return the carbon dioxide given off for the oxygen used, mass for mass.

    Args:
        respiratory_quotient: mol CO2 per mol O2, 0.6 to 1.2.

    Returns:
        g/g; 1.375 at a quotient of 1.

    Raises:
        ValueError: The quotient is out of range.

    Source: molar masses.
    """
    within("respiratory quotient", respiratory_quotient, 0.6, 1.2)
    return respiratory_quotient * CO2_G_MOL / OXYGEN_G_MOL


def solids_kg_day(feed_kg_day: float, kg_per_kg: float = 0.25) -> float:
    """Return the suspended solids that a day's feed leaves, kg/day.

    Args:
        feed_kg_day: Feed, kg/day, 0 or more.
        kg_per_kg: kg solids per kg feed, 0 to 1; 0.25 to 0.30 is usual.

    Returns:
        kg/day, dry.

    Raises:
        ValueError: An argument is out of range.

    Source: Timmons & Ebeling, common design figure (from memory).
    """
    within("feed", feed_kg_day, 0, 100_000, "kg/day")
    within("solids per feed", kg_per_kg, 0, 1, "kg/kg")
    return feed_kg_day * kg_per_kg


def resting_mg_kg_h(weight_g: float, temperature_c: float) -> float:
    """Return the oxygen uptake of a resting, unfed bony fish, mg/kg/h.

    Args:
        weight_g: Weight of one fish, g, 0.0001 to 50,000.
        temperature_c: Water temperature, degC, 0 to 35; fitted over about 0 to 30.

    Returns:
        mg O2/kg/h. A fed or active fish takes 2 to 5 times as much.

    Raises:
        ValueError: An argument is out of range.

    Source: Clarke & Johnston 1999, J. Anim. Ecol. 68:893-905, ln R = 15.7 - 5.02 (1000/T) mmol/h
    at 50 g, mass exponent 0.80.
    """
    within("weight", weight_g, *WEIGHTS_G, "g")
    within("temperature", temperature_c, 0, 35, "degC")
    mmol_h = math.exp(15.7 - 5020 / (temperature_c + 273.15)) * math.pow(weight_g / 50, 0.80)
    return mmol_h * OXYGEN_G_MOL * 1000 / weight_g


def resting_all_mmol_h(weight_g: float) -> float:
    """Return the resting oxygen uptake of a bony fish whatever the temperature, mmol/h.

    Args:
        weight_g: Weight of one fish, g, 0.0001 to 50,000.

    Returns:
        mmol O2/h and fish.

    Raises:
        ValueError: The weight is out of range.

    Source: Clarke & Johnston 1999, J. Anim. Ecol. 68:893-905, ln R = 0.80 ln M - 5.43.
    """
    within("weight", weight_g, *WEIGHTS_G, "g")
    return math.exp(0.80 * math.log(weight_g) - 5.43)


def routine_mg_kg_h(weight_g: float, temperature_c: float, kind: Kind = "sedentary") -> float:
    """Return the routine oxygen uptake of an unfed marine fish, mg/kg/h.

    Args:
        weight_g: Weight of one fish, g, 0.0001 to 50,000.
        temperature_c: Water temperature, degC, 10 to 35.
        kind: "sedentary" (mulloway) or "active" (yellowtail kingfish).

    Returns:
        mg O2/kg/h.

    Raises:
        ValueError: An argument is out of range.

    Source: Pirozzi & Booth 2009, Comp. Biochem. Physiol. A 152:586-592.
    """
    within("weight", weight_g, *WEIGHTS_G, "g")
    within("temperature", temperature_c, 10, 35, "degC")
    if kind not in _ROUTINE:
        raise ValueError(f"kind {kind!r}: allowed is {' or '.join(_ROUTINE)}")
    slope, intercept = _ROUTINE[kind]
    return (slope * temperature_c + intercept) * math.pow(weight_g / 1000, -0.2)


def time_to_critical_min(
    volume_m3: float,
    biomass_kg: float,
    uptake_mg_kg_h: float,
    oxygen_mg_l: float,
    critical_mg_l: float,
    biofilter_g_h: float = 0.0,
    reaeration_per_h: float = 0.0,
    saturation_mg_l: float | None = None,
) -> float:
    """Return the minutes until oxygen falls to a level, with supply stopped.

    Args:
        volume_m3: Water that the fish share, m3, 0.0001 to 1e6.
        biomass_kg: Fish in it, kg, 0 or more.
        uptake_mg_kg_h: Their oxygen uptake, mg/kg/h, 0 or more.
        oxygen_mg_l: Oxygen now, mg/L, 0 to 40.
        critical_mg_l: The level waited for, mg/L, 0 to 40.
        biofilter_g_h: Oxygen the filter goes on using, g/h, 0 or more.
        reaeration_per_h: What supply is left, 1/h (surface: KLa; flow: flow over volume).
        saturation_mg_l: Oxygen that supply tends to, mg/L; needed when there is some.

    Returns:
        Minutes, 0 when already there, infinite when the level is never reached.

    Raises:
        ValueError: An argument is out of range, or supply without the level it tends to.

    Source: oxygen balance of a mixed tank, V dC/dt = V KLa (Cs - C) - uptake.
    """
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    within("biomass", biomass_kg, 0, 1e6, "kg")
    within("oxygen uptake", uptake_mg_kg_h, 0, 10_000, "mg/kg/h")
    within("oxygen", oxygen_mg_l, 0, 40, "mg/L")
    within("critical oxygen", critical_mg_l, 0, 40, "mg/L")
    within("biofilter", biofilter_g_h, 0, 1e5, "g/h")
    within("re-aeration", reaeration_per_h, 0, 1000, "1/h")
    if oxygen_mg_l <= critical_mg_l:
        return 0.0
    used_mg_l_h = (biomass_kg * uptake_mg_kg_h / 1000 + biofilter_g_h) / volume_m3
    if reaeration_per_h == 0:
        return (oxygen_mg_l - critical_mg_l) / used_mg_l_h * 60 if used_mg_l_h else math.inf
    if saturation_mg_l is None:
        raise ValueError("saturation_mg_l is missing: needed when reaeration_per_h is above 0")
    within("saturation", saturation_mg_l, 0, 40, "mg/L")
    steady_mg_l = saturation_mg_l - used_mg_l_h / reaeration_per_h
    if steady_mg_l >= critical_mg_l:
        return math.inf
    ratio = (oxygen_mg_l - steady_mg_l) / (critical_mg_l - steady_mg_l)
    return math.log(ratio) / reaeration_per_h * 60
