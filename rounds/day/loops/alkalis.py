"""The alkalis of a site: what the labels say, what can be offered to a loop, what was given."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from msgspec import Struct

from rounds.day.fold.state import DosedAt, Read
from rounds.day.loops.dose_lines import Case
from rounds.day.readings.like_hour import under_the_sun
from rounds.day.when import clock
from rounds.dosing.alkalis import ALKALIS, dose_g_m3_per_mg_l
from rounds.site.model import Product

HIGH_PH: Final = 8.0
"""From which a pH of the afternoon is put down to the light (common practice)."""
LIFTED_FROM: Final = 11
LIFTED_UNTIL: Final = 21
"""Hours of the site's clock in which light has lifted pH."""


class Alkali(Struct, frozen=True):
    """A product that can be dosed: what its label must say is there."""

    product: Product
    formula: str
    purity: float

    def rise_mg_l(self, grams: float, volume_m3: float) -> float:
        """Return what so many grams bring, mg/L as CaCO3."""
        return grams / dose_g_m3_per_mg_l(self.formula, self.purity) / volume_m3


def known(case: Case) -> dict[str, Alkali]:
    """Return every product whose label says what it brings, by code: what was given counts."""
    return {
        p.code: Alkali(p, p.formula or "", p.purity)
        for p in case.site.products.values()
        if p.kind == "alkali" and p.formula in ALKALIS and p.purity is not None
    }


def offered(case: Case) -> list[Alkali]:
    """Return the alkalis that can be dosed, the loop's own first; note what a label must say."""
    products = [p for p in case.site.products.values() if p.kind == "alkali"]
    products.sort(key=lambda product: product.code != case.loop.alkali)
    found = []
    for product in products:
        own = product.code == case.loop.alkali
        formula = product.formula or ""
        if formula not in ALKALIS:
            if own or not formula:
                case.missing.append(
                    f"formula of {product.name}: read the label, set it in site.toml"
                )
        elif product.purity is None:
            case.missing.append(f"purity of {product.name}: read the label, set it in site.toml")
        elif own or ALKALIS[formula].kind != "hydroxide":
            found.append(Alkali(product, formula, product.purity))
    if not products:
        case.missing.append("an alkali to dose with: set a product of kind alkali in site.toml")
    return found


def mild(case: Case, alkalis: list[Alkali], ph: Read) -> list[Alkali]:
    """Return bicarbonate alone where the sun has lifted pH, with the caution why; else all.

    Mats and a pond take up carbon dioxide in the light: a pH of the afternoon asks for no stronger
    base, and at dawn the same water stands lower.
    """
    zone = case.site.timezone
    hour = ph.at.astimezone(zone).hour
    shared = case.site.places_of(case.loop.code)
    if ph.value < HIGH_PH or not LIFTED_FROM <= hour < LIFTED_UNTIL:
        return alkalis
    if not any(under_the_sun(case.site, place) for place in shared):
        return alkalis
    case.cautions.append(
        f"pH {ph.typed} in {ph.place} was read at {clock(ph.at, zone)}, when light and mats lift "
        "it: bicarbonate only, no stronger base; read pH at first light."
    )
    return [alkali for alkali in alkalis if alkali.formula == "NaHCO3"] or alkalis


def brought_mg_l(case: Case, doses: Iterable[DosedAt]) -> float:
    """Return what these doses brought, mg/L as CaCO3; those of no known strength are left out."""
    labels = known(case)
    return sum(
        labels[dose.product].rise_mg_l(dose.amount_g, case.volume_m3)
        for dose in doses
        if dose.product in labels
    )


def untold(case: Case, doses: Iterable[DosedAt]) -> list[str]:
    """Return the products among these doses that may have brought nobody knows how much."""
    labels, products = known(case), case.site.products
    return [
        dose.product
        for dose in doses
        if dose.product not in labels
        and dose.amount_g > 0
        and (dose.product not in products or products[dose.product].kind == "alkali")
    ]
