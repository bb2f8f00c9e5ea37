"""Which function of `rounds.fish` answers growth, length, stock and sample in the checks."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from husbandry_inputs import Inputs, Result, flag, known_or

from rounds.fish import (
    distributions,
    growth,
    lengths,
    mortality,
    sampling,
    seabream,
    stock,
)
from rounds.units import convert


def _sample(i: Inputs) -> sampling.Sample:
    return sampling.describe(i.numbers("weights_g"))


def _run(i: Inputs) -> stock.Run:
    return stock.run(
        i["stock_fish_m3"],
        i["volume_m3"],
        i["W1_g"],
        i["W2_g"],
        i["fcr"],
        i.part("survival_percent"),
    )


def _carried(i: Inputs) -> stock.Carried:
    eaten_kg = i["ration_kg_day"] * i["days"]
    return stock.carry_forward(i["N"], i["W_g"], eaten_kg, i["fcr"], i.get("dead_first", 0))


def _reconciled(i: Inputs) -> sampling.Reconciled:
    return sampling.reconcile(i["carried_g"], i["carried_se_g"], i["sample_g"], i["sample_se_g"])


def _factorial(i: Inputs) -> seabream.Factorial:
    return seabream.factorial_ration(i["W_g"], i["t_C"], i["de_diet_kj_g"], i["k_growth"])


def _ledger(i: Inputs) -> float:
    return stock.count_ledger(i["start"], i["dead"], i["sold"], i["moved_out"], i["moved_in"])


def _length_cm(i: Inputs) -> float:
    return i["L_cm"] if "L_cm" in i.words else convert(i["L_mm"], "mm", "cm")


def _death_tail(i: Inputs) -> float:
    return distributions.poisson_at_least(int(i["deaths"]), i["baseline_per_day"])


GROWTH: Mapping[str, Callable[[Inputs], Result]] = {
    "sgr_percent_day": lambda i: growth.sgr_percent_day(i["W1_g"], i["W2_g"], i["days"]),
    "weight_from_sgr_g": lambda i: growth.weight_from_sgr_g(
        i["W1_g"], i["sgr_percent_day"], i["days"]
    ),
    "tgc_x1000": lambda i: growth.tgc_x1000(i["W1_g"], i["W2_g"], i["t_C"] * i["days"]),
    "tgc_x1000_daily": lambda i: growth.tgc_x1000(
        i["W1_g"],
        i["W2_g"],
        growth.degree_days_c(growth.filled(i.daily("daily_t_C")).temperatures_c),
    ),
    "tgc_missing_days": lambda i: growth.filled(i.daily("daily_t_C")).missing_days,
    "weight_from_tgc_g": lambda i: growth.weight_from_tgc_g(
        i["W1_g"], i["tgc_x1000"], i["t_C"] * i["days"]
    ),
    "days_to_weight_tgc": lambda i: growth.days_to_weight_tgc(
        i["W1_g"], i["W2_g"], i["tgc_x1000"], i["t_C"]
    ),
    "degree_days": lambda i: growth.degree_days_c(i.numbers("temps_C"), i["base_C"]),
    "daily_gain_seabream_g_day": lambda i: seabream.seabream_gain_g_day(i["W_g"], i["t_C"]),
    "days_to_weight_seabream": lambda i: seabream.days_to_weight_seabream(
        i["W1_g"], i["W2_g"], i["t_C"]
    ),
    "de_maintenance_seabream_kj_day": lambda i: seabream.maintenance_kj_day(i["W_g"], i["t_C"]),
    "de_maintenance_seabream_1998_kj_day": lambda i: seabream.maintenance_1998_kj_day(i["W_g"]),
    "body_energy_seabream_kj_g": lambda i: seabream.body_energy_kj_g(i["W_g"]),
    "factorial_ration_percent_day": lambda i: _factorial(i).percent_day,
    "factorial_fcr": lambda i: _factorial(i).fcr,
    "weight_from_length_black_sea_bass_g": lambda i: lengths.BLACK_SEA_BASS.weight_g(i["L_cm"]),
    "mean_weight_from_length_black_sea_bass_g": lambda i: lengths.lognormal_mean(
        lengths.BLACK_SEA_BASS.weight_g(i["L_cm"]), i["sigma_ln"]
    ),
    "length_from_weight_black_sea_bass_cm": lambda i: lengths.BLACK_SEA_BASS.length_cm(i["W_g"]),
    "weight_from_length_striped_bass_g": lambda i: lengths.STRIPED_BASS.weight_g(i["L_cm"]),
    "lw_a_to_g_cm": lambda i: lengths.a_to_g_cm(
        i["a"], i["b"], i.words["length_unit"], i.words["weight_unit"]
    ),
    "lw_a_from_ln_a_kg_cm": lambda i: lengths.a_from_ln_kg_cm(i["ln_a"]),
    "condition_k": lambda i: lengths.condition_k(i["W_g"], _length_cm(i)),
    "condition_k_from_curve": lambda i: lengths.condition_from_curve(i["a"], i["b"], i["L_cm"]),
    "fcr_biological": lambda i: known_or(
        stock.fcr_biological(
            i["feed_eaten_kg"], i["start_kg"], i["end_kg"], i["removed_kg"], i["dead_kg"]
        )
    ),
    "fcr_economic": lambda i: known_or(
        stock.fcr_economic(
            i["feed_given_kg"], i["start_kg"], i["end_kg"], i["removed_kg"], i["moved_in_kg"]
        )
    ),
    "fcr_from_efficiency": lambda i: stock.fcr_from_efficiency(i["efficiency"]),
    "run_fish_stocked": lambda i: _run(i).stocked,
    "run_start_biomass_kg": lambda i: _run(i).start_kg,
    "run_survivors_fish": lambda i: _run(i).survivors,
    "run_end_biomass_kg": lambda i: _run(i).end_kg,
    "run_net_gain_kg": lambda i: _run(i).gain_kg,
    "run_end_density_kg_m3": lambda i: _run(i).end_density_kg_m3,
    "run_feed_kg": lambda i: _run(i).feed_kg,
    "mortality_z_per_day": lambda i: stock.mortality_z_per_day(
        i.part("survival_percent"), i["days"]
    ),
    "count_ledger_fish": _ledger,
    "survival_at_risk_fraction": lambda i: stock.survival([(i["start"], i["dead"])]),
    "mortality_tail_probability": lambda i: _death_tail(i),
    "mortality_alarm": lambda i: flag(_death_tail(i) < mortality.WATCH_BELOW),
    "sample_size_mean_fish": lambda i: sampling.sample_size(
        i["cv_percent"],
        i["half_width_percent"],
        i["confidence"],
        int(i["population"]) if "population" in i.words else None,
    ),
    "sample_mean_g": lambda i: _sample(i).mean_g,
    "sample_sd_g": lambda i: known_or(_sample(i).sd_g),
    "sample_cv_percent": lambda i: known_or(_sample(i).cv_percent),
    "sample_mean_low_g": lambda i: known_or(_sample(i).low_g),
    "sample_mean_high_g": lambda i: known_or(_sample(i).high_g),
    "batch_mean_weight_g": lambda i: sampling.batch_mean_g(
        list(zip(i.whole("fish"), i.numbers("kg"), strict=True))
    ),
    "fraction_above_size_normal": lambda i: sampling.fraction_above_normal(
        i["mean_g"], i["cv_percent"], i["limit_g"]
    ),
    "fraction_above_size_lognormal": lambda i: sampling.fraction_above_lognormal(
        i["mean_g"], i["cv_percent"], i["limit_g"]
    ),
    "carry_forward_weight_g": lambda i: _carried(i).weight_g,
    "carry_forward_biomass_kg": lambda i: _carried(i).biomass_kg,
    "reconcile_weight_g": lambda i: _reconciled(i).weight_g,
    "reconcile_z": lambda i: _reconciled(i).z,
    "reconcile_status": lambda i: flag(_reconciled(i).recount),
}
