"""Which function of `rounds.water` answers each quantity of water_checks.csv."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from rounds.water import (
    ammonia,
    carbonate,
    conductivity,
    equilibrium,
    forms,
    oxygen,
    ph_scale,
    seawater,
    sulphide,
)
from rounds.water.constants import constants

Inputs = dict[str, str]


def f(i: Inputs, key: str, default: float | None = None) -> float:
    return float(i[key]) if key in i or default is None else default


def t(i: Inputs) -> float:
    return f(i, "t68_C") / seawater.T68_PER_T90 if "t68_C" in i else f(i, "t_C")


def s(i: Inputs) -> float:
    return f(i, "SP") if "SP" in i else f(i, "S")


def hpa(i: Inputs) -> float:
    return f(i, "P_atm", 1.0) * oxygen.ATMOSPHERE_HPA


def reference(i: Inputs) -> float:
    if "ref_t_C" in i:
        return f(i, "ref_t_C")
    degrees = float(i["ref"][:-1])
    return (degrees - 32) / 1.8 if i["ref"].endswith("F") else degrees


def saturation(i: Inputs) -> float:
    return oxygen.saturation_mg_l(t(i), s(i), hpa(i))


def saturation_umol(i: Inputs) -> float:
    if i.get("method", "").startswith("GG92"):
        return oxygen.garcia_gordon(t(i), s(i))
    return oxygen.umol_kg(saturation(i), t(i), s(i))


def cw95_per_kg_water(i: Inputs) -> float:
    if i["scale"] == "free":
        return ammonia.fraction(ammonia.pka_sea_free(t(i), s(i)), f(i, "pH"))
    return ammonia.fraction(ammonia.pka_sea(t(i), s(i), per_kg_water=True), f(i, "pH"))


def fresh_fraction(i: Inputs) -> float:
    return ammonia.fraction(ammonia.pka_fresh(t(i)), f(i, "pH"))


def un_ionised(i: Inputs) -> ammonia.Ammonia:
    if "pH_total" in i:
        return ammonia.un_ionised(f(i, "TAN_mgN_L", 1), t(i), s(i), f(i, "pH_total"), "total")
    ph = f(i, "pH_NBS") if "pH_NBS" in i else f(i, "pH")
    return ammonia.un_ionised(f(i, "TAN_mgN_L", 1), t(i), s(i), ph)


def nitrogen_form(name: str) -> str:
    found = re.search(r"mg(N[HO][234])|^(N[HO][234])_mg", name)
    return (found[1] or found[2]) if found else "N"


def alkalinity_form(name: str) -> str:
    return {
        "mgL_CaCO3": "mg/L CaCO3",
        "meq_L": "meq/L",
        "mgL_HCO3": "mg/L HCO3",
    }.get(name, name)


def co2(i: Inputs) -> carbonate.Carbonate:
    phosphate = f(i, "PO4P_mgL") if "PO4P_mgL" in i else None
    total = "pH_total" in i
    ph = f(i, "pH_total") if total else f(i, "pH_NBS")
    buffers: ph_scale.Buffers = "total" if total else "nbs"
    return carbonate.co2(f(i, "TA_mgL_CaCO3"), ph, t(i), s(i), buffers, phosphate)


def ph_total_from_dic(i: Inputs) -> float:
    k = constants(t(i), s(i))
    return equilibrium.ph_from_dic(f(i, "TA_umolkg") * 1e-6, f(i, "DIC_umolkg") * 1e-6, k)


def dic_lueker(i: Inputs) -> float:
    k = constants(t(i), s(i), "lueker")
    return 1e6 * equilibrium.dic_from_ph(f(i, "TA_umolkg") * 1e-6, f(i, "pH_total"), k)


def stripped(i: Inputs) -> carbonate.Carbonate:
    return carbonate.from_co2(f(i, "TA_mgL_CaCO3"), f(i, "co2_target_mgL"), t(i), s(i))


def constant_rows() -> dict[str, Callable[[Inputs], float]]:
    """`pK1_total_WMW14`, `lnKS_free_Dickson1990` and the like."""

    def row(sign: str, attribute: str, carbonic: str) -> Callable[[Inputs], float]:
        def value(i: Inputs) -> float:
            k = getattr(constants(t(i), s(i), carbonic), attribute)  # type: ignore[arg-type]
            return math.log(k) if sign == "ln" else -math.log10(k)

        return value

    sources = {
        ("K1_total", "k1"): {"WMW14": "waters", "Lueker2000": "lueker", "Millero2010": "millero"},
        ("K2_total", "k2"): {"WMW14": "waters", "Lueker2000": "lueker", "Millero2010": "millero"},
        ("KB_total", "kb"): {"Dickson1990": "waters"},
        ("KW_total", "kw"): {"Millero1995": "waters"},
        ("K0", "k0"): {"Weiss1974": "waters"},
        ("KS_free", "ks"): {"Dickson1990": "waters"},
        ("KF_free", "kf"): {"DicksonRiley1979": "waters"},
    }
    return {
        f"{sign}{name}_{source}": row(sign, attribute, carbonic)
        for (name, attribute), by_source in sources.items()
        for source, carbonic in by_source.items()
        for sign in ("p", "ln")
    }


WATER: dict[str, Callable[[Inputs], float]] = {
    **constant_rows(),
    # oxygen
    **dict.fromkeys(
        ("do_saturation_mgL", "do_saturation_mgL_pressure", "do_saturation_mgL_EN25814_linear"),
        saturation,
    ),
    "do_saturation_umolkg": saturation_umol,
    "do_saturation_mlL": lambda i: oxygen.garcia_gordon(t(i), s(i), "mL/L"),
    "water_vapour_pressure_atm": lambda i: oxygen.vapour_pressure_atm(t(i), s(i)),
    "pressure_at_altitude_atm": lambda i: (
        oxygen.pressure_at_elevation_hpa(f(i, "h_m")) / oxygen.ATMOSPHERE_HPA
    ),
    **dict.fromkeys(
        ("do_percent_saturation", "e2e_round_do_percent"),
        lambda i: oxygen.percent(f(i, "do_mgL"), t(i), s(i), hpa(i)),
    ),
    "do_from_percent_mgL": lambda i: oxygen.from_percent_mg_l(
        f(i, "do_percent"), t(i), s(i), hpa(i)
    ),
    "do_crit_mgL_from_percent": lambda i: oxygen.from_percent_mg_l(
        f(i, "percent"), t(i), s(i), hpa(i)
    ),
    "do_percent_after_heating": lambda i: oxygen.percent_after_heating(
        f(i, "start_percent"), f(i, "t_from_C"), f(i, "t_to_C"), s(i), hpa(i)
    ),
    "po2_mmHg": lambda i: oxygen.partial_pressure_mmhg(f(i, "do_percent"), t(i), s(i), hpa(i)),
    # density, salinity
    **dict.fromkeys(
        ("density_eos80_kgm3", "density_teos10_kgm3", "e2e_round_density"),
        lambda i: seawater.density_kg_m3(t(i), s(i)),
    ),
    "absolute_salinity_gkg": lambda i: seawater.reference_salinity_g_kg(s(i)),
    "gkg_to_gL": lambda i: seawater.g_l_from_g_kg(f(i, "S_gkg"), t(i)),
    "gL_to_gkg": lambda i: seawater.g_kg_from_g_l(f(i, "c_gL"), t(i)),
    "specific_gravity": lambda i: seawater.specific_gravity(t(i), s(i), reference(i)),
    "salinity_from_true_specific_gravity": lambda i: seawater.salinity_from_specific_gravity(
        f(i, "sg"), t(i), reference(i)
    ),
    "salinity_from_hydrometer_reading": lambda i: seawater.salinity_from_hydrometer(
        f(i, "reading"), t(i), reference(i), f(i, "glass_expansion_per_C", 2.5e-5)
    ),
    "practical_salinity_from_ratio": lambda i: conductivity.salinity_from_ratio(
        f(i, "R"), t(i), f(i, "p_dbar", 0)
    ),
    "conductivity_ratio_from_salinity": lambda i: (
        conductivity.conductivity_ms_cm(t(i), s(i), f(i, "p_dbar", 0)) / conductivity.STANDARD_MS_CM
    ),
    "practical_salinity_from_conductivity_insitu": lambda i: (
        conductivity.salinity_from_conductivity(f(i, "C_mScm"), t(i))
    ),
    **dict.fromkeys(
        ("practical_salinity_from_conductivity25", "practical_salinity_from_conductivity25_usgs"),
        lambda i: conductivity.salinity_from_conductivity_25(f(i, "SC25_mScm")),
    ),
    "conductivity25_mScm": lambda i: conductivity.conductivity_ms_cm(25, s(i)),
    "salinity_error_linear_temp_comp": lambda i: conductivity.compensation_error(
        t(i), f(i, "S_true"), f(i, "alpha_perC")
    ),
    "heat_capacity_J_kgK": lambda i: seawater.heat_capacity_j_kg_k(t(i), s(i)),
    "chloride_mg_kg_from_salinity": lambda i: seawater.chloride_mg_kg(s(i)),
    "calcium_mg_kg_from_salinity": lambda i: seawater.calcium_mg_kg(s(i)),
    "magnesium_mg_kg_from_salinity": lambda i: seawater.magnesium_mg_kg(s(i)),
    "total_hardness_mgkg_CaCO3": lambda i: seawater.hardness_mg_kg_caco3(s(i)),
    # ammonia, sulphide
    "pKa_ammonium_fresh": lambda i: ammonia.pka_fresh(t(i)),
    "pKa_ammonium_total_molkgsw": lambda i: ammonia.pka_sea(t(i), s(i)),
    "pKa_ammonium_bell": lambda i: ammonia.pka_bell(t(i), s(i)),
    "pKa_ammonium_epa1989": lambda i: ammonia.pka_epa(t(i), s(i)),
    "uia_fraction_fresh": fresh_fraction,
    "uia_percent_fresh_trussell": lambda i: 100 * fresh_fraction(i),
    "uia_percent_seawater_published_table": lambda i: 100 * un_ionised(i).fraction,
    "uia_fraction_CW95_molkgH2O": cw95_per_kg_water,
    **dict.fromkeys(
        ("uia_fraction_recommended_NBS_input", "uia_fraction_recommended_total_input"),
        lambda i: un_ionised(i).fraction,
    ),
    **dict.fromkeys(
        ("uia_mgL_NH3N", "uia_mgL_NH3N_fresh_worked_example", "e2e_round_nh3n_mgL"),
        lambda i: un_ionised(i).value_mg_l,
    ),
    "epa1989_saltwater_total_ammonia_mgN_L": lambda i: ammonia.epa_total_limit_mg_l(
        f(i, "nh3_limit_mgL_as_NH3"), t(i), s(i), f(i, "pH")
    ),
    "nitrogen_unit_conversion": lambda i: forms.nitrogen(
        f(i, "value"), nitrogen_form(i["from"]), nitrogen_form(i["to"])
    ),
    "h2s_fraction_of_total_sulfide": lambda i: sulphide.hydrogen_sulphide_fraction(
        t(i), s(i), f(i, "pH_total")
    ),
    # carbonate
    **dict.fromkeys(
        ("pH_NBS_to_total", "e2e_round_pH_total"),
        lambda i: ph_scale.total_from_nbs(f(i, "pH_NBS"), t(i), s(i)),
    ),
    **dict.fromkeys(
        ("co2_mgL", "co2_mgL_total_scale_input", "co2_mgL_with_phosphate", "e2e_round_co2_mgL"),
        lambda i: co2(i).co2_mg_l,
    ),
    "pco2_uatm": lambda i: co2(i).pco2_uatm,
    "dic_mmol_per_kg": lambda i: co2(i).dic_mmol_kg,
    "dic_umolkg_Lueker": dic_lueker,
    "pH_total_from_TA_DIC": ph_total_from_dic,
    "pH_NBS_from_TA_DIC": lambda i: ph_scale.nbs_from_total(ph_total_from_dic(i), t(i), s(i)),
    "pH_NBS_after_co2_stripping": lambda i: stripped(i).ph_nbs,
    "co2_factor_freshwater_Tucker": lambda i: carbonate.fresh_co2_mg_l(1, f(i, "pH"), t(i)),
    "co2_freshwater_worked_example": lambda i: (
        carbonate.co2(f(i, "TA_mgL_CaCO3"), f(i, "pH"), t(i), s(i)).co2_mg_l
    ),
    "alkalinity_unit_conversion": lambda i: forms.alkalinity(
        f(i, "value"), alkalinity_form(i["from"]), alkalinity_form(i["to"])
    ),
    "alkalinity_mgL_to_umolkg": lambda i: forms.alkalinity_umol_kg(
        f(i, "TA_mgL_CaCO3"), t(i), s(i)
    ),
}
