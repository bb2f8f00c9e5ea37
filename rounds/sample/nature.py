"""The hidden water of an invented farm: what the meters of the sample would find.

Feed becomes ammonia, nitrite and nitrate, fish take oxygen and give carbon dioxide, pH follows
from alkalinity and carbon dioxide. Simple balances with the equations of `rounds.water`.
"""

from __future__ import annotations

from math import cos, exp, pi
from typing import Final

from msgspec import Struct, field

from rounds.fish.respiration import (
    co2_from_oxygen_g_day,
    nitrification_alkalinity_g,
    routine_mg_kg_h,
    tan_production_g_day,
)
from rounds.water.carbonate import from_co2
from rounds.water.oxygen import saturation_mg_l

CO2_IN_AIR_MG_L: Final = 0.6
WARMEST_HOUR: Final = 15.5
OXYGEN_COEFFICIENT: Final = 1.3  # fed fish against unfed ones, mean of a day


def swing(hour: float) -> float:
    """Return the sun's part of a daily swing at an hour: 1 in mid-afternoon, -1 at night."""
    return cos(2 * pi * (hour - WARMEST_HOUR) / 24)


class LoopWater(Struct):
    """One loop's water, moved on hour by hour. Concentrations in mg/L, nitrogen as N."""

    volume_m3: float
    temperature_c: float
    swing_c: float
    salinity: float
    alkalinity_mg_l: float
    clearance_m3_h: float
    """Water freed of ammonia by the filters."""
    stripping_m3_h: float
    """Water freed of carbon dioxide."""
    evaporation_m3_h: float
    returned: float
    """Part of the alkalinity taken by nitrification that mats and make-up water give back."""
    tan_mg_l: float = 0.3
    nitrite_mg_l: float = 0.12
    nitrate_mg_l: float = 38.0
    pending_tan_g: float = 0.0
    """Ammonia of feed eaten that has still to come out."""
    filter_power: float = 1.0
    """1 when the filters are ripe; less after a stop."""
    biomass: dict[str, tuple[float, float]] = field(default_factory=dict)
    """By place: kg and mean g."""

    def temperature_at(self, hour: float) -> float:
        """Return the water's temperature at an hour of the day, degC."""
        return self.temperature_c + self.swing_c * swing(hour)

    def feed(self, amount_g: float, protein: float) -> None:
        """Let the fish of the loop eat an amount, g, with this fraction of protein."""
        self.pending_tan_g += tan_production_g_day(amount_g / 1000, protein)

    def dose(self, alkalinity_g: float) -> None:
        """Add alkali that holds this much alkalinity, g as CaCO3."""
        self.alkalinity_mg_l += alkalinity_g / self.volume_m3

    def top_up(self, volume_m3: float) -> None:
        """Replace water lost to the air with fresh water."""
        self.salinity *= 1 - volume_m3 / self.volume_m3

    def advance(self, hours: float, filters_run: bool = True) -> None:
        """Move the water on by a step of at most an hour."""
        excreted = self.pending_tan_g * (1 - exp(-hours / 7))
        self.pending_tan_g -= excreted
        if filters_run:
            self.filter_power += (1 - self.filter_power) * hours / 40
        else:
            self.filter_power = max(0.35, self.filter_power - 0.12 * hours)
        rate = self.clearance_m3_h / self.volume_m3 * self.filter_power * (1 if filters_run else 0)
        nitrified = self.tan_mg_l * (1 - exp(-rate * hours))
        self.tan_mg_l += excreted / self.volume_m3 - nitrified
        oxidised = self.nitrite_mg_l * (1 - exp(-2.2 * rate * self.filter_power * hours))
        self.nitrite_mg_l += nitrified - oxidised
        self.nitrate_mg_l += oxidised * (1 - self.returned)
        taken = nitrification_alkalinity_g(nitrified)
        self.alkalinity_mg_l -= taken * (1 - self.returned)
        self.salinity *= 1 + self.evaporation_m3_h * hours / self.volume_m3

    def uptake_g_h(self, place: str, hours_since_meal: float) -> float:
        """Return the oxygen the fish of a place take, g/h, highest two hours after a meal."""
        mass_kg, weight_g = self.biomass.get(place, (0.0, 1.0))
        if mass_kg <= 0:
            return 0.0
        meal = 1 + 0.35 * exp(-(((hours_since_meal - 2) / 2.5) ** 2))
        resting = routine_mg_kg_h(max(weight_g, 0.01), max(self.temperature_c, 10.0))
        return mass_kg * resting * OXYGEN_COEFFICIENT * meal / 1000

    def oxygen_mg_l(
        self,
        place: str,
        hour: float,
        hours_since_meal: float,
        flow_m3_h: float,
        aeration_m3_h: float,
        pressure_hpa: float,
    ) -> float:
        """Return a tank's oxygen: inflow and air bring it to saturation, its fish take from it."""
        full = saturation_mg_l(self.temperature_at(hour), self.salinity, pressure_hpa)
        supply = flow_m3_h + aeration_m3_h
        inflow = full * (0.97 + 0.02 * swing(hour))
        uptake = self.uptake_g_h(place, hours_since_meal)
        steady = (flow_m3_h * inflow + aeration_m3_h * full * 0.99 - uptake) / supply
        return max(0.5, steady)

    def co2_mg_l(self, place: str, hours_since_meal: float, flow_m3_h: float) -> float:
        """Return a tank's carbon dioxide: the loop's, and what its own fish add on the way."""
        all_fish = sum(self.uptake_g_h(code, 5.0) for code in self.biomass)
        loop = CO2_IN_AIR_MG_L + co2_from_oxygen_g_day(all_fish * 24) / 24 / self.stripping_m3_h
        own = co2_from_oxygen_g_day(self.uptake_g_h(place, hours_since_meal) * 24) / 24
        return loop + 0.15 * own / flow_m3_h

    def ph(self, place: str, hour: float, hours_since_meal: float, flow_m3_h: float) -> float:
        """Return the pH an NBS meter would show in a tank."""
        co2 = self.co2_mg_l(place, hours_since_meal, flow_m3_h)
        water = from_co2(self.alkalinity_mg_l, co2, self.temperature_at(hour), self.salinity)
        return water.ph_nbs
