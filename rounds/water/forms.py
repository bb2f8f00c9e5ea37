"""The same nitrogen or alkalinity in the forms that test kits and meters print."""

from __future__ import annotations

from typing import Final

from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3

CACO3_MG_MEQ: Final = 50.043  # 100.086 / 2
NITROGEN_G_MOL: Final = 14.007
NITROGEN: Final[dict[str, float]] = {  # mg of the form that hold 1 mg of nitrogen
    "N": 1.0,
    "NH3": 17.031 / NITROGEN_G_MOL,
    "NH4": 18.039 / NITROGEN_G_MOL,
    "NO2": 46.005 / NITROGEN_G_MOL,
    "NO3": 62.004 / NITROGEN_G_MOL,
}
ALKALINITY: Final[dict[str, float]] = {  # amount of the form in 1 meq/L
    "mg/L CaCO3": CACO3_MG_MEQ,
    "meq/L": 1.0,
    "mmol/L": 1.0,
    "dKH": CACO3_MG_MEQ / (1000.86 / 56.077),
    "mg/L HCO3": 61.016,
}


def nitrogen(value: float, form: str, to: str = "N") -> float:
    """Return mg/L of one nitrogen form as another: "N", "NH3", "NH4", "NO2", "NO3".

    Raises:
        ValueError: Below zero, or a form that is not listed.

    Source: IUPAC abridged atomic weights N 14.007, H 1.008, O 15.999.
    """
    return _convert(value, form, to, NITROGEN)


def alkalinity(value: float, form: str, to: str = "mg/L CaCO3") -> float:
    """Return alkalinity in another form: "mg/L CaCO3", "meq/L", "mmol/L", "dKH", "mg/L HCO3".

    Raises:
        ValueError: Below zero, or a form that is not listed.

    Source: CaCO3 100.086 g/mol for two equivalents, CaO 56.077 (1 dKH = 10 mg CaO/L), HCO3 61.016.
    """
    return _convert(value, form, to, ALKALINITY)


def _convert(value: float, form: str, to: str, forms: dict[str, float]) -> float:
    for name in (form, to):
        if name not in forms:
            raise ValueError(f"form {name!r} is not one of {', '.join(forms)}")
    within("value", value, 0, 1e9)
    return value * forms[to] / forms[form]


def alkalinity_umol_kg(
    alkalinity_mg_l: float, temperature_c: float, practical_salinity: float
) -> float:
    """Return alkalinity (0 to 1000 mg/L as CaCO3) in micro-equivalents per kg of water.

    Raises:
        ValueError: Outside the range, or that of `seawater.density_kg_m3`.

    Source: TA * 1e6 / (50.043 rho).
    """
    within("alkalinity", alkalinity_mg_l, 0, 1000, "mg/L CaCO3")
    return alkalinity_mg_l / CACO3_MG_MEQ / density_kg_m3(temperature_c, practical_salinity) * 1e6
