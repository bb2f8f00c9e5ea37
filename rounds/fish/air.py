"""Minutes of air: how long a tank lasts when air or flow stops. Minutes, not hours."""

from __future__ import annotations

import math
from typing import Final, Literal

from msgspec import Struct

from rounds.fish.respiration import routine_mg_kg_h, time_to_critical_min
from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.ranges import within

ACT_PERCENT: Final = 60.0  # of saturation: must have acted by; common practice
LOSS_PERCENT: Final = 40.0  # of saturation: losses begin; common practice
FED_WITHIN_H: Final = 6.0  # from memory
FED_FACTOR: Final = 1.5  # from memory

Off = Literal["air", "flow", "both"]


def alarm_uptake_mg_kg_h(
    weight_g: float, temperature_c: float, hours_since_fed: float | None = None
) -> float:
    """Return the oxygen uptake to reckon with in an alarm, mg/kg/h.

    Args:
        weight_g: Mean weight, g, 0.0001 to 50,000.
        temperature_c: Water temperature, degC, 10 to 35.
        hours_since_fed: 0 to 10,000; None when not known, which counts as just fed.

    Returns:
        The active routine rate, half as much again within six hours of a meal.

    Raises:
        ValueError: An argument is out of range.

    Source: Pirozzi & Booth 2009, Comp. Biochem. Physiol. A 152:586-592; the factor is from memory.
    """
    within("time since feeding", hours_since_fed or 0, 0, 10_000, "h")
    fed = hours_since_fed is None or hours_since_fed < FED_WITHIN_H
    return routine_mg_kg_h(weight_g, temperature_c, "active") * (FED_FACTOR if fed else 1.0)


class Air(Struct, frozen=True):
    """Minutes from now to 60 % (must have acted by) and to 40 % of saturation (losses begin)."""

    to_act_min: float
    to_loss_min: float
    reasons: Reasons


def minutes_of_air(
    volume_m3: float,
    biomass_kg: float,
    uptake_mg_kg_h: float,
    oxygen_mg_l: float,
    saturation_mg_l: float,
    off: Off,
    *,
    flow_m3_h: float = 0.0,
    inflow_mg_l: float | None = None,
    air_per_h: float = 0.0,
    biofilter_g_h: float = 0.0,
    reading_age_min: float = 0.0,
) -> Air:
    """Return how long a tank's oxygen lasts from now when air, flow or both have stopped.

    Supply that goes on is counted only as far as it is known; an unknown one counts as nothing.

    Args:
        volume_m3: Water the fish share, m3, 0.0001 to 1e6.
        biomass_kg: Fish, kg, 0 to 1e6.
        uptake_mg_kg_h: Their oxygen uptake, 0 to 10,000 mg/kg/h; see `alarm_uptake_mg_kg_h`.
        oxygen_mg_l: Last reading, 0 to 40 mg/L.
        saturation_mg_l: Oxygen of air-saturated water here, 3 to 20 mg/L.
        off: "air", "flow" or "both".
        flow_m3_h: Flow through the tank, 0 to 100,000 m3/h.
        inflow_mg_l: Oxygen of that flow, 0 to 40 mg/L; None when not known.
        air_per_h: What the aeration transfers (KLa), 0 to 100 1/h; 0 when not known.
        biofilter_g_h: Oxygen a filter on the same water goes on using, 0 to 100,000 g/h.
        reading_age_min: Age of the reading, 0 to 10,000 min: the tank is taken to have been
            without that supply since, so an old reading leaves less time.

    Returns:
        Both times, infinite where the level is not reached.

    Raises:
        ValueError: An argument is out of range.

    Source: oxygen balance of a mixed tank; the levels are common practice, inside what common
    dentex stands (comfortable above 70 %, dangerous below 35 %).
    """
    within("saturation", saturation_mg_l, 3, 20, "mg/L")
    within("flow", flow_m3_h, 0, 1e5, "m3/h")
    within("air transfer", air_per_h, 0, 100, "1/h")
    within("age of the reading", reading_age_min, 0, 10_000, "min")
    within("volume", volume_m3, 1e-4, 1e6, "m3")
    if off not in ("air", "flow", "both"):
        raise ValueError(f"off {off!r}: allowed is air, flow or both")
    supply_per_h, tends_to_mg_l = 0.0, saturation_mg_l
    if off == "air" and inflow_mg_l is not None:
        supply_per_h, tends_to_mg_l = flow_m3_h / volume_m3, inflow_mg_l
    elif off == "flow":
        supply_per_h = air_per_h

    def left_min(percent: float) -> float:
        reached = time_to_critical_min(
            volume_m3,
            biomass_kg,
            uptake_mg_kg_h,
            oxygen_mg_l,
            percent / 100 * saturation_mg_l,
            biofilter_g_h,
            supply_per_h,
            tends_to_mg_l,
        )
        return max(0.0, reached - reading_age_min)

    to_act, to_loss = left_min(ACT_PERCENT), left_min(LOSS_PERCENT)
    what = {"air": "air", "flow": "flow", "both": "air and flow"}[off]
    reasons = [
        Reason(
            "{biomass:.1f} of fish using {uptake:.0f} mg/kg/h in {volume:.2f}, {what} off",
            {
                "biomass": Amount(biomass_kg, "kg"),
                "uptake": uptake_mg_kg_h,
                "volume": Amount(volume_m3, "m^3"),
                "what": what,
            },
        ),
        Reason(
            "from {oxygen:.1f} to 60 % in {act}, to 40 % in {loss}",
            {
                "oxygen": Amount(oxygen_mg_l, "mg/L"),
                "act": _minutes(to_act),
                "loss": _minutes(to_loss),
            },
            "oxygen balance of a mixed tank",
        ),
    ]
    if reading_age_min:
        age = "the reading is {age:.0f} min old: taken off"
        reasons.insert(1, Reason(age, {"age": reading_age_min}))
    if supply_per_h:
        going_on = "the {other} goes on and is counted"
        reasons.insert(1, Reason(going_on, {"other": "flow" if off == "air" else "air"}))
    return Air(to_act, to_loss, tuple(reasons))


def _minutes(value: float) -> str:
    return "no time foreseen" if math.isinf(value) else f"{math.floor(value)} min"
