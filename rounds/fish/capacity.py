"""Room to grow: density, when it is reached, and how much fish a tank's supply can carry."""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct

from rounds.fish.growth import days_to_weight_tgc
from rounds.fish.respiration import co2_per_oxygen
from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within


def density_kg_m3(biomass_kg: float, volume_m3: float) -> float:
    """Return the stocking density, kg/m3.

    Args:
        biomass_kg: Fish, kg, 0 to 1e6.
        volume_m3: Water, m3, 0.0001 to 1e6.

    Returns:
        kg/m3.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("biomass", biomass_kg, 0, 1e6, "kg")
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    return biomass_kg / volume_m3


def biomass_at_density_kg(volume_m3: float, density_kg_m3: float) -> float:
    """Return the fish that a density allows, kg; volume as `density_kg_m3`, 0 to 300 kg/m3.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    within("density", density_kg_m3, 0, 300, "kg/m3")
    return volume_m3 * density_kg_m3


def round_tank_m3(diameter_m: float, depth_m: float) -> float:
    """Return the water in a round, flat-bottomed tank, m3.

    Args:
        diameter_m: Inside, m, 0.05 to 100.
        depth_m: Of the water, m, 0 to 20.

    Returns:
        m3.

    Raises:
        ValueError: An argument is out of range.

    Source: cylinder.
    """
    within("diameter", diameter_m, 0.05, 100, "m")
    within("depth", depth_m, 0, 20, "m")
    return math.pi * diameter_m**2 / 4 * depth_m


def days_to_density(
    count: float,
    weight_g: float,
    volume_m3: float,
    limit_kg_m3: float,
    tgc_x1000: float,
    temperature_c: float,
) -> float:
    """Return the days until a tank reaches its density limit, weight by TGC; 0 when over it.

    Args:
        count: Fish, 1 to 1e9.
        weight_g: Mean weight now, g, 0.00001 to 50,000.
        volume_m3: Water, m3, 0.0001 to 1e6.
        limit_kg_m3: Greatest density wanted, 0.01 to 300 kg/m3.
        tgc_x1000: Thermal growth coefficient on the x1000 scale, 0.001 to 10.
        temperature_c: Water temperature, degC, 0.1 to 40.

    Returns:
        Days; warn at 80 % of the limit.

    Raises:
        ValueError: An argument is out of range.

    Source: Iwama & Tautz 1981 (TGC).
    """
    within("count", count, 1, 1e9, "fish")
    within("density limit", limit_kg_m3, 0.01, 300, "kg/m3")
    target_g = biomass_at_density_kg(volume_m3, limit_kg_m3) / count * 1000
    if target_g <= weight_g:
        return 0.0
    return days_to_weight_tgc(weight_g, target_g, tgc_x1000, temperature_c)


def oxygen_need_mg_kg_h(oxygen_per_feed: float, ration_percent_day: float) -> float:
    """Return the oxygen that fed fish use, from their feed, mg/kg/h.

    Args:
        oxygen_per_feed: kg O2 per kg feed, 0.05 to 2; 0.4 is a design figure from memory.
        ration_percent_day: % of body weight a day, 0.01 to 100.

    Returns:
        mg O2 per kg of fish and hour.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("oxygen per feed", oxygen_per_feed, 0.05, 2, "kg/kg")
    within("ration", ration_percent_day, 0.01, 100, "% a day")
    return oxygen_per_feed * ration_percent_day / 100 * 1e6 / 24


def by_oxygen_kg(
    flow_l_h: float, inflow_mg_l: float, least_mg_l: float, need_mg_kg_h: float
) -> float:
    """Return the fish that a flow supplies with oxygen, kg.

    A resting need gives too many: it does not hold after a meal.

    Args:
        flow_l_h: Through the tank, L/h, 0 to 1e8.
        inflow_mg_l: Oxygen coming in, 0 to 40 mg/L.
        least_mg_l: Least oxygen wanted in the tank, 0 to 40 mg/L.
        need_mg_kg_h: What the fish use, 1 to 10,000 mg/kg/h.

    Returns:
        kg; 0 where the inflow brings no more than the least wanted.

    Raises:
        ValueError: An argument is out of range.

    Source: oxygen balance.
    """
    within("flow", flow_l_h, 0, 1e8, "L/h")
    within("oxygen coming in", inflow_mg_l, 0, 40, "mg/L")
    within("least oxygen", least_mg_l, 0, 40, "mg/L")
    within("oxygen need", need_mg_kg_h, 1, 10_000, "mg/kg/h")
    return flow_l_h * max(0.0, inflow_mg_l - least_mg_l) / need_mg_kg_h


def by_carbon_dioxide_kg(
    flow_l_h: float, inflow_mg_l: float, most_mg_l: float, need_mg_kg_h: float
) -> float:
    """Return the fish whose carbon dioxide a flow carries off, kg, at a quotient of 1.

    Args:
        flow_l_h: Through the tank, L/h, 0 to 1e8.
        inflow_mg_l: CO2 coming in, 0 to 100 mg/L.
        most_mg_l: Most CO2 wanted in the tank, 0 to 100 mg/L.
        need_mg_kg_h: Oxygen the fish use, 1 to 10,000 mg/kg/h.

    Returns:
        kg; no stripping in the tank is counted.

    Raises:
        ValueError: An argument is out of range.

    Source: balance.
    """
    within("flow", flow_l_h, 0, 1e8, "L/h")
    within("CO2 coming in", inflow_mg_l, 0, 100, "mg/L")
    within("most CO2", most_mg_l, 0, 100, "mg/L")
    within("oxygen need", need_mg_kg_h, 1, 10_000, "mg/kg/h")
    return flow_l_h * max(0.0, most_mg_l - inflow_mg_l) / (need_mg_kg_h * co2_per_oxygen())


class Capacity(Struct, frozen=True):
    """The fish a tank carries, what limits it, and what each limit alone would allow, kg."""

    kg: float
    governs: str
    by: Mapping[str, float]
    reasons: Reasons


def least(by: Mapping[str, float]) -> Capacity:
    """Return the smallest of several limits of a tank and which it is.

    Args:
        by: Name of each limit and the fish it allows, kg, 0 to 1e7; at least one.

    Returns:
        The capacity, with every limit as a reason, smallest first.

    Raises:
        ValueError: No limit, or a figure out of range.

    Source: law of the minimum.
    """
    within("number of limits", len(by), 1, 100)
    for name, kg in by.items():
        within(f"capacity by {name}", kg, 0, 1e7, "kg")
    ranked = sorted(by.items(), key=lambda item: item[1])
    reasons = tuple(
        Reason("by {name}: {kg:.1f}", {"name": name, "kg": Amount(kg, "kg")}) for name, kg in ranked
    )
    return Capacity(ranked[0][1], ranked[0][0], dict(ranked), reasons)


def safe_level_mg_l(lc50_mg_l: float) -> float:
    """Return a safe level as a tenth of the LC50, mg/L in the form the source gives.

    Args:
        lc50_mg_l: 0.0001 to 100,000 mg/L.

    Returns:
        mg/L.

    Raises:
        ValueError: Out of range.

    Source: Parra & Yúfera 1999, Aquac. Res. (10 % rule).
    """
    within("LC50", lc50_mg_l, 1e-4, 1e5, "mg/L")
    return lc50_mg_l / 10
