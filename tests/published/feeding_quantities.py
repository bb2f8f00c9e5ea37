"""Which function of `rounds.fish` answers ration, meals, larvae and live food in the checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from husbandry_inputs import Inputs, Result, flag

from rounds.fish import (
    counting,
    drymatter,
    growth,
    larvae,
    livefood,
    meals,
    ration,
)
from rounds.fish.conditions import appetite


def _grid(i: Inputs) -> ration.TableRate:
    table = ration.RationTable.from_points(i.points("grid"), "the row's own grid")
    return ration.rate(table, i["W_g"], i["t_C"])


def _split(i: Inputs) -> tuple[float, ...]:
    if "fractions" in i.words:
        parts = i.numbers("fractions")
        return meals.split_meals(i["total_g"], fractions=parts, step_g=i["step_g"])
    return meals.split_meals(i["total_g"], meals=int(i["meals"]), step_g=i["step_g"])


def _appetite(i: Inputs) -> float:
    return appetite(i["given_g"], i["left_g"], int(i["refusals_in_row"])).factor


def _top_up(i: Inputs) -> tuple[float, float, float, float]:
    return i["tank_l"], i["target_per_ml"], i["residual_per_ml"], i["culture_per_ml"]


def _count(i: Inputs) -> counting.Density:
    return counting.density(int(i["counted"]), i["volume_ml"])


FEEDING: Mapping[str, Callable[[Inputs], Result]] = {
    "ration_loglog_percent_day": lambda i: (
        ration.between_points(i.points("points"), i["W_g"]).percent_day
    ),
    "ration_grid_percent_day": lambda i: _grid(i).percent_day,
    "ration_grid_status": lambda i: flag(bool(_grid(i).clamped)),
    "ration_growth_gain_kg_day": lambda i: (
        ration.growth_ration_g_day(i["N"], i["gain_g_day"], i["fcr"]) / 1000
    ),
    "ration_growth_tgc_kg_day": lambda i: (
        ration.growth_ration_g_day(
            i["N"], growth.tgc_gain_g_day(i["W_g"], i["tgc_x1000"], i["t_C"]), i["fcr"]
        )
        / 1000
    ),
    "ration_growth_sgr_kg_day": lambda i: (
        ration.growth_ration_g_day(
            i["N"], growth.sgr_gain_g_day(i["W_g"], i["sgr_percent_day"]), i["fcr"]
        )
        / 1000
    ),
    "daily_ration_kg_day": lambda i: (
        ration.ration_g_day(i["N"] * i["W_g"] / 1000, i["ration_percent_day"]) / 1000
    ),
    "feed_from_biomass_kg_day": lambda i: (
        ration.ration_g_day(i["biomass_kg"], i["ration_percent_day"]) / 1000
    ),
    "split_feedings_g": _split,
    "next_meal_factor": _appetite,
    "appetite_status": lambda i: {1.0: "ok", 0.0: "stop"}.get(_appetite(i), "flag"),
    "wet_equivalent_dm_kg": lambda i: drymatter.wet_equivalent_kg(
        i["pellet_kg"], i["dm_pellet_percent"], i["dm_forage_percent"]
    ),
    "fcr_wet": lambda i: drymatter.fcr_wet(
        i["fcr_dry"], i["dm_pellet_percent"], i["dm_forage_percent"]
    ),
    "wet_dry_fcr_ratio": lambda i: drymatter.wet_dry_ratio(i.ends("fcr_wet"), i.ends("fcr_dry")),
    "bay_anchovy_energy_j_g_wet": lambda i: drymatter.bay_anchovy_j_g(i["dm_percent"]),
    "wet_equivalent_energy_kg": lambda i: drymatter.wet_equivalent_by_energy_kg(
        i["pellet_kg"], i["de_pellet_kj_g"], i["energy_forage_kj_g"], i["digestibility"]
    ),
    "pellet_size_low_mm": lambda i: meals.pellets(i["W_g"]).low_mm,
    "pellet_size_high_mm": lambda i: meals.pellets(i["W_g"]).high_mm,
    "pellet_size_band_count": lambda i: len(meals.pellets(i["W_g"]).bands),
    "culture_to_add_l": lambda i: larvae.culture_to_add_l(*_top_up(i)),
    "culture_to_sieve_l": lambda i: larvae.culture_to_sieve_l(*_top_up(i)),
    "rotifers_eaten_per_day": lambda i: larvae.eaten_per_day(i["larvae"], i["eaten_per_larva_day"]),
    "rotifers_supplied_per_larva": lambda i: larvae.supplied_per_larva(
        i["eaten_per_larva_day"], i["supply_factor"], i["days"]
    ),
    "larvae_survivors_fish": lambda i: larvae.larvae_left(
        i["larvae_per_l"], i["tank_l"], i.part("survival_percent")
    ),
    "harvest_daily_increase_percent": lambda i: livefood.daily_increase_percent(
        i["harvest_fraction"]
    ),
    "harvest_hourly_increase_percent": lambda i: livefood.hourly_increase_percent(
        i["harvest_fraction"]
    ),
    "culture_growth_r_per_day": lambda i: livefood.growth_r_per_day(i["harvest_fraction"]),
    "max_harvest_fraction": lambda i: livefood.max_harvest_fraction(i["r_per_day"]),
    "culture_density_from_output_per_ml": lambda i: livefood.density_from_output_per_ml(
        i["output_per_day"], i["volume_l"], i["dilution_per_day"]
    ),
    "artemia_cysts_g": lambda i: livefood.cysts_g(i["nauplii"], i["nauplii_per_g"]),
    "artemia_cysts_topup_g": lambda i: livefood.cysts_for_tank_g(
        i["tank_l"], i["target_per_ml"], i["residual_per_ml"], i["nauplii_per_g"]
    ),
    "artemia_cysts_per_g": lambda i: livefood.cysts_per_g(
        i["nauplii_per_g"], i.part("hatch_percent")
    ),
    "artemia_nauplius_dry_mass_ug": lambda i: livefood.nauplius_dry_mass_ug(
        i["output_mg_per_g"], i["nauplii_per_g"]
    ),
    "count_density_per_ml": lambda i: _count(i).per_ml,
    "count_density_low_per_ml": lambda i: _count(i).low_per_ml,
    "count_density_high_per_ml": lambda i: _count(i).high_per_ml,
    "count_dispersion": lambda i: counting.dispersion(i.whole("counts")),
    "count_dispersion_status": lambda i: {"even": "ok", "clumped": "flag"}.get(
        counting.clumping(counting.dispersion(i.whole("counts"))), "site's choice"
    ),
}
