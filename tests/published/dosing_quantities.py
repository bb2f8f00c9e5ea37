"""Which function of `rounds.dosing` and `rounds.fish` answers each quantity of water_checks.csv."""

from __future__ import annotations

import re
from collections.abc import Callable

from water_quantities import Inputs, f, s, t

from rounds.dosing import alkalis, chlorine, exchange, prediction, salt
from rounds.fish import respiration
from rounds.water import carbonate


def after_dose(i: Inputs) -> carbonate.Carbonate:
    return prediction.after_dose(
        f(i, "TA_mgL_CaCO3"),
        f(i, "pH_NBS"),
        t(i),
        s(i),
        i["chemical"],
        f(i, "dose_g_m3"),
        f(i, "purity", 1),
    )


def salt_to_add(i: Inputs) -> float:
    return salt.salt_to_add_kg(
        f(i, "V_m3"), t(i), f(i, "S1_gkg"), f(i, "S2_gkg"), f(i, "salt_fraction")
    )


def fresh_to_add(i: Inputs) -> float:
    return salt.fresh_water_to_add_kg(
        f(i, "V_m3"), t(i), f(i, "S1_gkg"), f(i, "S2_gkg"), f(i, "S_fresh_gkg")
    )


def after_evaporation(i: Inputs) -> float:
    return salt.salinity_after_evaporation(
        f(i, "M_kg"),
        f(i, "S_gkg"),
        f(i, "evap_kg"),
        f(i, "topup_kg", 0),
        f(i, "S_topup_gkg", 0),
    )


def creep(i: Inputs) -> float:
    return salt.salinity_creep(
        f(i, "M_kg"), f(i, "S0_gkg"), f(i, "evap_kg_day"), f(i, "S_topup_gkg"), f(i, "days")
    )


def after_flow(i: Inputs) -> float:
    return exchange.after_flow(
        f(i, "C0"),
        f(i, "C_in"),
        f(i, "Q_m3_h"),
        f(i, "V_m3"),
        f(i, "t_h"),
        f(i, "P_gN_day", 0) / 24,
    )


def time_to_reach(i: Inputs) -> float:
    return exchange.hours_to_reach(
        f(i, "C0"), f(i, "C_target"), f(i, "C_in"), f(i, "Q_m3_h"), f(i, "V_m3")
    )


def mixed_temperature(i: Inputs) -> float:
    return exchange.mixed_temperature_c(
        *(f(i, k) for k in ["m1_kg", "t1_C", "S1", "m2_kg", "t2_C", "S2"])
    )


def mixed_salinity(i: Inputs) -> float:
    return exchange.mixed_salinity(*(f(i, k) for k in ["m1_kg", "S1", "m2_kg", "S2"]))


def thiosulfate_ratio(i: Inputs) -> float:
    if i["reaction"] == "practice":
        return chlorine.PRACTICE_G_PER_G
    found = re.search(r"([\d.]*)Cl2_per", i["reaction"])
    assert found, i["reaction"]
    return chlorine.pentahydrate_g_per_g(float(found[1] or 1))


def resting(i: Inputs, temperature_c: float) -> float:
    return respiration.resting_mg_kg_h(f(i, "W_g", 50), temperature_c)


def time_to_critical(i: Inputs) -> float:
    return respiration.time_to_critical_min(
        f(i, "V_m3"),
        f(i, "biomass_kg"),
        f(i, "mo2_mg_kg_h"),
        f(i, "do0_mgL"),
        f(i, "do_crit_mgL"),
        f(i, "biofilter_gO2_h", 0),
        f(i, "kla_per_h", 0),
        f(i, "do_sat_mgL") if "do_sat_mgL" in i else None,
    )


DOSING: dict[str, Callable[[Inputs], float]] = {
    # doses
    "dose_g_per_m3_per_mgL_CaCO3": lambda i: alkalis.dose_g_m3_per_mg_l(
        i["chemical"], f(i, "purity", 1)
    ),
    "dose_mass_g": lambda i: alkalis.dose_mass_g(
        i["chemical"], f(i, "V_m3"), f(i, "dTA_mgL_CaCO3"), f(i, "purity", 1)
    ),
    "co2_mgL_after_dose": lambda i: after_dose(i).co2_mg_l,
    "pH_NBS_after_dose": lambda i: after_dose(i).ph_nbs,
    "salt_to_add_kg": salt_to_add,
    "fresh_water_to_add_kg": fresh_to_add,
    "replace_fraction_to_lower": lambda i: salt.fraction_to_replace(
        f(i, "S1_gkg"), f(i, "S2_gkg"), f(i, "S_fresh_gkg")
    ),
    **dict.fromkeys(
        ("salinity_after_evaporation", "salinity_after_evaporation_and_topup"), after_evaporation
    ),
    "salinity_creep_after_days": creep,
    "salt_fraction_of_hydrated_artificial_sea_salt": lambda i: salt.dissolved_fraction(
        {"Kester_et_al_1967": salt.KESTER_1967}[i["recipe"]]
    ),
    "concentration_after_batch_exchange": lambda i: exchange.after_batches(
        f(i, "C0"), f(i, "C_in"), f(i, "fraction"), int(i["n"])
    ),
    **dict.fromkeys(
        ("concentration_after_continuous_exchange", "nitrate_with_production_mgNL"), after_flow
    ),
    "time_to_reach_by_exchange_h": time_to_reach,
    "mixed_temperature_C": mixed_temperature,
    "mixed_salinity_gkg": mixed_salinity,
    "thiosulfate_pentahydrate_g_per_g_Cl2": thiosulfate_ratio,
    "thiosulfate_dose_g": lambda i: chlorine.thiosulfate_g(
        f(i, "V_m3"), f(i, "cl2_mgL"), f(i, "ratio", 7)
    ),
    "thiosulfate_anhydrous_to_pentahydrate": lambda i: chlorine.ANHYDROUS_PER_PENTAHYDRATE,
    # feed, fish
    "tan_production_gN_day": lambda i: respiration.tan_production_g_day(
        f(i, "feed_kg_day"), f(i, "protein_fraction")
    ),
    "tan_coefficient": lambda i: respiration.tan_coefficient(
        f(i, "N_in_protein"), f(i, "assimilated"), f(i, "excreted"), f(i, "as_TAN")
    ),
    "nitrification_o2_g": lambda i: respiration.nitrification_oxygen_g(f(i, "TAN_g"), f(i, "coef")),
    "nitrification_alkalinity_g_CaCO3": lambda i: respiration.nitrification_alkalinity_g(
        f(i, "TAN_g"), f(i, "coef")
    ),
    "nitrification_o2_coef_theory": lambda i: respiration.nitrification_oxygen_g(1),
    "nitritation_o2_coef_theory": lambda i: respiration.nitrification_oxygen_g(1) * 1.5 / 2,
    "nitratation_o2_coef_theory": lambda i: respiration.nitrification_oxygen_g(1) * 0.5 / 2,
    "nitrification_alk_coef_theory": lambda i: respiration.nitrification_alkalinity_g(1),
    "bicarbonate_for_feed_g_day_upper_bound": lambda i: respiration.bicarbonate_for_feed_g_day(
        f(i, "feed_kg_day"), f(i, "protein_fraction"), f(i, "coef_alk"), f(i, "purity", 1)
    ),
    "fish_o2_from_feed_g_day": lambda i: respiration.fish_oxygen_from_feed_g_day(
        f(i, "feed_kg_day"), f(i, "kgO2_per_kg_feed")
    ),
    "co2_from_o2_g_day": lambda i: respiration.co2_from_oxygen_g_day(
        f(i, "o2_g_day"), f(i, "RQ", 1)
    ),
    "solids_tss_kg_day": lambda i: respiration.solids_kg_day(
        f(i, "feed_kg_day"), f(i, "kg_per_kg")
    ),
    "resting_mo2_mg_kg_h_general": lambda i: resting(i, t(i)),
    "resting_mo2_ratio_30C_vs_0C": lambda i: resting(i, 30) / resting(i, 0),
    "resting_mo2_Q10_0_30": lambda i: (resting(i, 30) / resting(i, 0)) ** (1 / 3),
    "resting_mo2_mmol_h_all_teleosts": lambda i: respiration.resting_all_mmol_h(f(i, "W_g")),
    "routine_mo2_mg_kg_h_sedentary_marine": lambda i: respiration.routine_mg_kg_h(
        f(i, "W_g"), t(i), "sedentary"
    ),
    "routine_mo2_mg_kg_h_active_marine": lambda i: respiration.routine_mg_kg_h(
        f(i, "W_g"), t(i), "active"
    ),
    "routine_mo2_ratio_active_to_sedentary": lambda i: (
        respiration.routine_mg_kg_h(f(i, "W_g", 100), t(i), "active")
        / respiration.routine_mg_kg_h(f(i, "W_g", 100), t(i), "sedentary")
    ),
    "time_to_critical_do_min": time_to_critical,
}
