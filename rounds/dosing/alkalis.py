"""The alkalis: what a gram of each brings, how it is added, what it does to a person."""

from __future__ import annotations

from typing import Final, Literal

from msgspec import Struct

from rounds.water.forms import CACO3_MG_MEQ
from rounds.water.ranges import within

Kind = Literal["bicarbonate", "carbonate", "hydroxide"]


class Alkali(Struct, frozen=True):
    """A product: per mole, its mass in g, equivalents of alkalinity and moles of carbon."""

    formula: str
    name: str
    molar_mass: float
    equivalents: int
    carbon: int
    kind: Kind


# Molar masses from IUPAC abridged atomic weights.
ALKALIS: Final[dict[str, Alkali]] = {
    product.formula: product
    for product in (
        Alkali("NaHCO3", "sodium bicarbonate", 84.006, 1, 1, "bicarbonate"),
        Alkali("KHCO3", "potassium bicarbonate", 100.114, 1, 1, "bicarbonate"),
        Alkali("Na2CO3", "soda ash", 105.988, 2, 1, "carbonate"),
        Alkali("Na2CO3.H2O", "soda ash monohydrate", 124.003, 2, 1, "carbonate"),
        Alkali("Na2CO3.10H2O", "washing soda crystals", 286.138, 2, 1, "carbonate"),
        Alkali("NaOH", "sodium hydroxide", 39.997, 1, 0, "hydroxide"),
        Alkali("Ca(OH)2", "hydrated lime", 74.092, 2, 0, "hydroxide"),
        Alkali("CaO", "quicklime", 56.077, 2, 0, "hydroxide"),
        Alkali("Mg(OH)2", "magnesium hydroxide", 58.319, 2, 0, "hydroxide"),
    )
}

HOW: Final[dict[Kind, tuple[str, ...]]] = {
    "bicarbonate": (
        "Goggles on: the dust stings.",
        "Dissolve each portion in a bucket of fresh water, about 20 L for a kilogram.",
        "Pour it slowly into fast flow after the filter, never onto mats, never into one tank.",
    ),
    "carbonate": (
        "Goggles and gloves on: it burns the eyes and warms the water.",
        "Dissolve each portion in fresh water, about 20 L for a kilogram, powder into water.",
        "Pour it over ten minutes or more into fast flow after the filter, never onto mats.",
    ),
    "hydroxide": (
        "Empty loop only. Face shield, long gloves, apron; a second person and running water near.",
        "Base into cold fresh water, a little at a time, never water onto base; no aluminium.",
        "Pour it over an hour into fast flow, away from mats; stop if the water clouds.",
    ),
}
KEEP_APART: Final = "Keep away from acid and from bleach; never two chemicals in one bucket."


def alkali(formula: str) -> Alkali:
    """Return the product of a formula.

    Raises:
        ValueError: Not in the table.
    """
    if formula not in ALKALIS:
        raise ValueError(f"product {formula!r} is not one of {', '.join(ALKALIS)}")
    return ALKALIS[formula]


def dose_g_m3_per_mg_l(formula: str, purity: float = 1.0) -> float:
    """Return the grams that raise one cubic metre by 1 mg/L alkalinity as CaCO3.

    Args:
        formula: A key of `ALKALIS`.
        purity: Mass fraction of the product, 0.05 to 1 (a 50 % solution is 0.5).

    Returns:
        g per m3 and mg/L.

    Raises:
        ValueError: Outside the range, or an unknown product.

    Source: molar mass / equivalents / 50.043.
    """
    product = alkali(formula)
    within("purity", purity, 0.05, 1)
    return product.molar_mass / product.equivalents / CACO3_MG_MEQ / purity


def dose_mass_g(formula: str, volume_m3: float, rise_mg_l: float, purity: float = 1.0) -> float:
    """Return the grams that raise a body of water by `rise_mg_l` alkalinity as CaCO3.

    Args:
        formula: A key of `ALKALIS`.
        volume_m3: 0 to 100,000 m3.
        rise_mg_l: 0 to 600 mg/L as CaCO3.
        purity: Mass fraction of the product, 0.05 to 1.

    Returns:
        Grams of the product as it is.

    Raises:
        ValueError: Outside the range, or an unknown product.

    Source: volume x rise x `dose_g_m3_per_mg_l`.
    """
    within("volume", volume_m3, 0, 100_000, "m3")
    within("alkalinity rise", rise_mg_l, 0, 600, "mg/L CaCO3")
    return volume_m3 * rise_mg_l * dose_g_m3_per_mg_l(formula, purity)
