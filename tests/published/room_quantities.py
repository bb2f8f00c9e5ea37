"""Which function answers density, water, pond, filter bed and food safety in the checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from husbandry_inputs import Inputs, Result, known_or

from rounds.dosing import exchange
from rounds.fish import (
    biofilter,
    capacity,
    drymatter,
    food_safety,
    forage,
    pond,
    respiration,
)
from rounds.units import convert


def _prey(i: Inputs) -> forage.PreyWindow:
    return forage.prey_window(i["predator_tl_mm"])


def _expansion(i: Inputs) -> float:
    return biofilter.expansion_percent(i["settled_m"], i["running_m"])


def _bed(i: Inputs) -> str:
    verdict = biofilter.expansion_verdict(_expansion(i))
    return "flag" if verdict == "act" else verdict


def _equilibrium(i: Inputs) -> float | None:
    return pond.equilibrium_kg(i["r_per_yr"], i["k_kg"], i["crop_kg_yr"])


def _freeze(i: Inputs) -> tuple[float, float, float]:
    return i["freeze_t_C"], i["hold_t_C"], i["hold_h"]


def _meets(met: bool) -> str:
    return "meets" if met else "not_met"


def _exemption(i: Inputs) -> str:
    live = {"yes": True, "no": False}[i.words["ever_fed_live_or_raw"]]
    return "may_apply" if food_safety.us_exemption_may_apply(i.words["raised"], live) else "flag"


def _harvest(i: Inputs) -> str:
    feeds = [datetime.fromisoformat(word) for word in i.words["feeds"].split("|")]
    return food_safety.earliest_harvest(feeds, i["fast_h"]).isoformat(timespec="minutes")


ROOM: Mapping[str, Callable[[Inputs], Result]] = {
    "density_kg_m3": lambda i: capacity.density_kg_m3(i["biomass_kg"], i["volume_m3"]),
    "density_from_count_kg_m3": lambda i: capacity.density_kg_m3(
        i["N"] * i["W_g"] / 1000, convert(i["volume_us_gal"], "gal", "m^3")
    ),
    "volume_from_us_gal_m3": lambda i: convert(i["volume_us_gal"], "gal", "m^3"),
    "volume_round_tank_m3": lambda i: capacity.round_tank_m3(i["diameter_m"], i["depth_m"]),
    "biomass_from_density_kg": lambda i: capacity.biomass_at_density_kg(
        i["volume_m3"], i["density_kg_m3"]
    ),
    "days_to_density_limit": lambda i: capacity.days_to_density(
        i["N"], i["W_g"], i["volume_m3"], i["limit_kg_m3"], i["tgc_x1000"], i["t_C"]
    ),
    "capacity_by_oxygen_kg": lambda i: capacity.by_oxygen_kg(
        i["volume_l"] * i["turnovers_per_h"],
        i["do_in_mgL"],
        i["do_min_mgL"],
        capacity.oxygen_need_mg_kg_h(i["o2_kg_per_kg_feed"], i["ration_percent_day"]),
    ),
    "capacity_by_oxygen_resting_kg": lambda i: capacity.by_oxygen_kg(
        i["flow_l_h"], i["do_in_mgL"], i["do_min_mgL"], i["o2_mg_kg_h"]
    ),
    "tan_production_kg_day": lambda i: (
        respiration.tan_production_g_day(i["feed_kg_day"], i["protein_fraction"], i["factor"])
        / 1000
    ),
    "water_exchange_batch_percent": lambda i: exchange.after_batches(
        0, 100, i["fraction"], int(i["n"])
    ),
    "water_exchange_continuous_percent": lambda i: exchange.after_flow(
        0, 100, i["tank_volumes"], 1, 1
    ),
    "water_exchange_time_h": lambda i: exchange.hours_to_reach(
        0, i["new_percent"], 100, i["flow_l_h"] / 1000, i["volume_l"] / 1000
    ),
    "safe_ammonia_mg_l": lambda i: capacity.safe_level_mg_l(i["lc50_mgL"]),
    "safe_nitrite_mg_l": lambda i: capacity.safe_level_mg_l(i["lc50_mgL"]),
    "prey_attack_success": lambda i: forage.attack_success(i["prey_predator_ratio"]),
    "prey_handling_time": lambda i: forage.handling_time(i["prey_predator_ratio"]),
    "prey_length_median_low_mm": lambda i: _prey(i).median_mm[0],
    "prey_length_median_high_mm": lambda i: _prey(i).median_mm[1],
    "prey_length_max_low_mm": lambda i: _prey(i).largest_mm[0],
    "prey_length_max_high_mm": lambda i: _prey(i).largest_mm[1],
    "forage_pond_net_kg_ha_day": lambda i: pond.pond_net_kg_ha_day(
        i["fish_per_ha"], i["W1_g"], i["W2_g"], i.part("survival_percent"), i["days"]
    ),
    "forage_pond_yield_g_m2_day": lambda i: pond.pond_yield_g_m2_day(
        i["fish_per_week"], i["W_g"], i["area_m2"]
    ),
    "pond_area_needed_m2": lambda i: pond.pond_area_needed_m2(
        i["wet_kg_day"], i["yield_g_m2_day"], i["safety"]
    ),
    "msy_kg_yr": lambda i: pond.msy_kg_yr(i["r_per_yr"], i["k_kg"]),
    "surplus_production_kg_yr": lambda i: pond.surplus_kg_yr(
        i["r_per_yr"], i["k_kg"], i["biomass_kg"]
    ),
    "equilibrium_biomass_kg": lambda i: known_or(_equilibrium(i), "not_sustainable"),
    "crop_status": lambda i: "not_sustainable" if _equilibrium(i) is None else "ok",
    "forage_for_ration_kg_day": lambda i: drymatter.wet_equivalent_kg(
        i["ration_kg_day"] * i["share"], i["dm_pellet_percent"], i["dm_forage_percent"]
    ),
    "killifish_eggs_per_day": lambda i: pond.killifish_eggs_per_day(
        i["eggs_per_g_day"], i["females_g"]
    ),
    "bed_expansion_percent": _expansion,
    "bed_expansion_status": _bed,
    "parasite_freeze_us": lambda i: _meets(food_safety.meets_us_freezing(*_freeze(i))),
    "parasite_freeze_eu": lambda i: _meets(food_safety.meets_eu_freezing(*_freeze(i))),
    "parasite_exemption_us": _exemption,
    "earliest_harvest": _harvest,
}
