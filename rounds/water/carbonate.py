"""The carbonate system: CO2, inorganic carbon and pH from alkalinity and one other figure.

From salinity 5 the equilibria of sea water are solved. Below, where a meter's pH cannot be put on
their scale, `co2` gives the fresh-water value, as an upper bound from salinity 0.5.
"""

from __future__ import annotations

from math import pow
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.water.ammonia import FRESH_BELOW
from rounds.water.constants import Constants, constants, pure_water_pk1
from rounds.water.equilibrium import dic_from_ph, ph_from_co2, ph_from_dic
from rounds.water.forms import CACO3_MG_MEQ, alkalinity_umol_kg
from rounds.water.ph_scale import (
    LEAST_SALINITY,
    Buffers,
    check_ph,
    nbs_above_total,
    total_from_nbs,
)
from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3

CO2_G_MOL: Final = 44.009
PHOSPHORUS_G_MOL: Final = 30.974
BAND: Final = 0.25  # of CO2, from 0.05 to 0.1 in pH and 5 % in alkalinity
DOUBTFUL_CO2_MG_L: Final = 60.0


class Carbonate(Struct, frozen=True):
    """The carbonate system of a water.

    `ph_total` is None below salinity 5. `at_most` says that CO2 is an upper bound; `doubtful`
    that CO2 above 60 mg/L points to a wrong pH or alkalinity.
    """

    alkalinity_mg_l: float
    ph_nbs: float
    ph_total: float | None
    co2_mg_l: float
    low_mg_l: float
    high_mg_l: float
    dic_mmol_kg: float
    bicarbonate_mmol_kg: float
    carbonate_mmol_kg: float
    pco2_uatm: float
    at_most: bool
    doubtful: bool
    reasons: Reasons

    def ph(self, ph_buffers: Buffers) -> float:
        """Return the pH a meter set with these buffers would show."""
        return self.ph_nbs if ph_buffers == "nbs" or self.ph_total is None else self.ph_total


def co2(
    alkalinity_mg_l: float,
    ph: float,
    temperature_c: float,
    practical_salinity: float,
    ph_buffers: Buffers = "nbs",
    phosphate_mg_l: float | None = None,
) -> Carbonate:
    """Return CO2 with its band, and the rest of the carbonate system, from alkalinity and pH.

    Args:
        alkalinity_mg_l: 0 to 600 mg/L as CaCO3.
        ph: The meter's reading, 4 to 11.
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 42.
        ph_buffers: "nbs" for 4/7/10 buffers, "total" for sea-water TRIS buffers.
        phosphate_mg_l: Phosphate as mg P/L, 0 to 100; None when not measured.

    Returns:
        CO2 in mg/L with 25 % either way, and reasons. Below salinity 5 all alkalinity is taken as
        bicarbonate with the constant of fresh water: CO2 is then `at_most` from salinity 0.5, and
        with sea-water buffers.

    Raises:
        ImpossiblePair: The pH is too high for this alkalinity.
        ValueError: Outside the range.

    Source: Waters, Millero & Woosley 2014 with the constants of `constants.constants`.
    """
    check_ph(ph)
    if practical_salinity < LEAST_SALINITY:
        return _fresh(alkalinity_mg_l, ph, temperature_c, practical_salinity, ph_buffers)
    ta, phosphate, k = _water(alkalinity_mg_l, temperature_c, practical_salinity, phosphate_mg_l)
    total = ph if ph_buffers == "total" else total_from_nbs(ph, temperature_c, practical_salinity)
    dic = dic_from_ph(ta, total, k, phosphate)
    start = Reason(
        "Alkalinity {alkalinity:.0f} mg/L CaCO3, pH {ph:.2f} ({buffers} buffers), {t:.1f} degC, "
        "salinity {s:.1f}",
        {
            "alkalinity": alkalinity_mg_l,
            "ph": ph,
            "buffers": ph_buffers,
            "t": temperature_c,
            "s": practical_salinity,
        },
    )
    scale = Reason("pH on the total scale {ph:.2f}", {"ph": total}, "Takahashi et al. 1982")
    return _solved(
        alkalinity_mg_l,
        total,
        dic,
        k,
        temperature_c,
        practical_salinity,
        (start, scale, *_phosphate_reason(phosphate_mg_l)),
    )


def from_dic(
    alkalinity_mg_l: float,
    dic_mmol_kg: float,
    temperature_c: float,
    practical_salinity: float,
    phosphate_mg_l: float | None = None,
) -> Carbonate:
    """Return the carbonate system from alkalinity and inorganic carbon, as after a dose.

    Args:
        alkalinity_mg_l: 0 to 600 mg/L as CaCO3.
        dic_mmol_kg: Inorganic carbon, 0 to 50 mmol/kg.
        temperature_c: 0 to 40 degC.
        practical_salinity: 5 to 42.
        phosphate_mg_l: Phosphate as mg P/L, 0 to 100; None when not measured.

    Returns:
        pH, CO2 and the rest.

    Raises:
        ValueError: Outside the range.

    Source: as `co2`.
    """
    within("inorganic carbon", dic_mmol_kg, 0, 50, "mmol/kg")
    within("salinity", practical_salinity, LEAST_SALINITY, 42)
    ta, phosphate, k = _water(alkalinity_mg_l, temperature_c, practical_salinity, phosphate_mg_l)
    dic = dic_mmol_kg / 1000
    total = ph_from_dic(ta, dic, k, phosphate)
    start = Reason(
        "Alkalinity {alkalinity:.0f} mg/L CaCO3 and inorganic carbon {dic:.2f} mmol/kg, {t:.1f} "
        "degC, salinity {s:.1f}: pH {ph:.2f} on the total scale",
        {
            "alkalinity": alkalinity_mg_l,
            "dic": dic_mmol_kg,
            "t": temperature_c,
            "s": practical_salinity,
            "ph": total,
        },
    )
    return _solved(alkalinity_mg_l, total, dic, k, temperature_c, practical_salinity, (start,))


def from_co2(
    alkalinity_mg_l: float,
    co2_mg_l: float,
    temperature_c: float,
    practical_salinity: float,
    phosphate_mg_l: float | None = None,
) -> Carbonate:
    """Return the carbonate system from alkalinity and CO2, as after stripping to that CO2.

    Args:
        alkalinity_mg_l: 0 to 600 mg/L as CaCO3.
        co2_mg_l: 0.001 to 1000 mg/L.
        temperature_c: 0 to 40 degC.
        practical_salinity: 5 to 42.
        phosphate_mg_l: Phosphate as mg P/L, 0 to 100; None when not measured.

    Returns:
        pH, inorganic carbon and the rest.

    Raises:
        ValueError: Outside the range.

    Source: as `co2`; gas exchange leaves alkalinity as it is.
    """
    within("CO2", co2_mg_l, 1e-3, 1000, "mg/L")
    within("salinity", practical_salinity, LEAST_SALINITY, 42)
    ta, phosphate, k = _water(alkalinity_mg_l, temperature_c, practical_salinity, phosphate_mg_l)
    gas = co2_mg_l / CO2_G_MOL / density_kg_m3(temperature_c, practical_salinity)
    total = ph_from_co2(ta, gas, k, phosphate)
    start = Reason(
        "Alkalinity {alkalinity:.0f} mg/L CaCO3 with CO2 at {co2:.1f} mg/L, {t:.1f} degC, salinity "
        "{s:.1f}: pH {ph:.2f} on the total scale",
        {
            "alkalinity": alkalinity_mg_l,
            "co2": co2_mg_l,
            "t": temperature_c,
            "s": practical_salinity,
            "ph": total,
        },
    )
    dic = gas * (1 + k.k1 * pow(10, total) + k.k1 * k.k2 * pow(10, 2 * total))
    return _solved(alkalinity_mg_l, total, dic, k, temperature_c, practical_salinity, (start,))


def _water(
    alkalinity_mg_l: float, temperature_c: float, s: float, phosphate_mg_l: float | None
) -> tuple[float, float, Constants]:
    """Check the ranges; return alkalinity and phosphate in mol/kg and the constants."""
    within("alkalinity", alkalinity_mg_l, 0, 600, "mg/L CaCO3")
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", s, 0, 42)
    within("phosphate", phosphate_mg_l or 0.0, 0, 100, "mg P/L")
    phosphate = (phosphate_mg_l or 0.0) / PHOSPHORUS_G_MOL / density_kg_m3(temperature_c, s)
    ta = alkalinity_umol_kg(alkalinity_mg_l, temperature_c, s) * 1e-6
    return ta, phosphate, constants(temperature_c, s)


def _phosphate_reason(phosphate_mg_l: float | None) -> Reasons:
    if phosphate_mg_l is None:
        return (
            Reason("Phosphate not known: at 5 mg P/L it would make CO2 read about 9 % too high"),
        )
    return (
        Reason(
            "Phosphate {p:.1f} mg P/L counted in the alkalinity",
            {"p": phosphate_mg_l},
            "Yao & Millero 1995",
        ),
    )


def _solved(
    alkalinity_mg_l: float,
    total: float,
    dic: float,
    k: Constants,
    temperature_c: float,
    s: float,
    reasons: Reasons,
) -> Carbonate:
    h = pow(10, -total)
    d = h**2 + k.k1 * h + k.k1 * k.k2
    gas = dic * h**2 / d
    mg_l = gas * CO2_G_MOL * density_kg_m3(temperature_c, s)
    found = Reason(
        "CO2 {co2:.2g} mg/L, between {low:.2g} and {high:.2g} with readings as a farm takes them",
        {"co2": mg_l, "low": mg_l * (1 - BAND), "high": mg_l * (1 + BAND)},
        "Waters, Millero & Woosley 2014",
    )
    return Carbonate(
        alkalinity_mg_l=alkalinity_mg_l,
        ph_nbs=total + nbs_above_total(temperature_c, s),
        ph_total=total,
        co2_mg_l=mg_l,
        low_mg_l=mg_l * (1 - BAND),
        high_mg_l=mg_l * (1 + BAND),
        dic_mmol_kg=dic * 1000,
        bicarbonate_mmol_kg=dic * k.k1 * h / d * 1000,
        carbonate_mmol_kg=dic * k.k1 * k.k2 / d * 1000,
        pco2_uatm=gas / k.k0 / k.fugacity * 1e6,
        at_most=False,
        doubtful=mg_l > DOUBTFUL_CO2_MG_L,
        reasons=(*reasons, found, *_doubt(mg_l)),
    )


def _fresh(
    alkalinity_mg_l: float, ph: float, temperature_c: float, s: float, ph_buffers: Buffers
) -> Carbonate:
    _water(alkalinity_mg_l, temperature_c, max(s, 1.0), None)
    within("salinity", s, 0, 42)
    mg_l = fresh_co2_mg_l(alkalinity_mg_l, ph, temperature_c)
    at_most = s >= FRESH_BELOW or ph_buffers == "total"  # a sea-water calibration reads low here
    rho = density_kg_m3(temperature_c, s)
    gas, bicarbonate = mg_l / CO2_G_MOL / rho, alkalinity_mg_l / CACO3_MG_MEQ / rho
    k = constants(temperature_c, max(s, 1.0))
    found = Reason(
        "CO2 {most}{co2:.2g} mg/L, alkalinity {alkalinity:.0f} mg/L CaCO3 taken as bicarbonate, "
        "pH {ph:.2f}, {t:.1f} degC, salinity {s:.1f}",
        {
            "most": "at most " if at_most else "",
            "co2": mg_l,
            "alkalinity": alkalinity_mg_l,
            "ph": ph,
            "t": temperature_c,
            "s": s,
        },
        "fresh-water constant of Millero 2010",
    )
    return Carbonate(
        alkalinity_mg_l=alkalinity_mg_l,
        ph_nbs=ph,
        ph_total=None,
        co2_mg_l=mg_l,
        low_mg_l=0.0 if at_most else mg_l * (1 - BAND),
        high_mg_l=mg_l * (1 + BAND),
        dic_mmol_kg=(gas + bicarbonate) * 1000,
        bicarbonate_mmol_kg=bicarbonate * 1000,
        carbonate_mmol_kg=0.0,
        pco2_uatm=gas / k.k0 / k.fugacity * 1e6,
        at_most=at_most,
        doubtful=mg_l > DOUBTFUL_CO2_MG_L,
        reasons=(found, *_doubt(mg_l)),
    )


def fresh_co2_mg_l(alkalinity_mg_l: float, ph: float, temperature_c: float) -> float:
    """Return CO2 of fresh water, mg/L, all alkalinity taken as bicarbonate.

    Args:
        alkalinity_mg_l: 0 to 600 mg/L as CaCO3.
        ph: 4 to 11; above about 8.5 the assumption fails, and CO2 is next to nothing.
        temperature_c: 0 to 40 degC.

    Returns:
        CO2 in mg/L.

    Raises:
        ValueError: Outside the range.

    Source: the model behind the fresh-water charts (Tucker 1984), pK1 of Millero 2010 at S = 0.
    """
    within("alkalinity", alkalinity_mg_l, 0, 600, "mg/L CaCO3")
    within("temperature", temperature_c, 0, 40, "degC")
    check_ph(ph)
    exponent = pure_water_pk1(temperature_c) - ph
    return alkalinity_mg_l / CACO3_MG_MEQ * CO2_G_MOL * pow(10, exponent)


def _doubt(co2_mg_l: float) -> Reasons:
    if co2_mg_l <= DOUBTFUL_CO2_MG_L:
        return ()
    return (Reason("CO2 above 60 mg/L: measure pH and alkalinity again, check the pH meter"),)
