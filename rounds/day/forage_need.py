"""What tanks would take from the forage pond, and which prey fits them.

The need of a tank is its ration as the same dry matter of forage.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from rounds.day import rations
from rounds.day.farm import Farm
from rounds.day.rations import Ration
from rounds.day.stock import PELLET_DRY_MATTER
from rounds.fish.drymatter import wet_equivalent_kg
from rounds.fish.forage import PreyWindow, prey_window
from rounds.reason import Reason, Reasons
from rounds.site.model import Place, Product, Site
from rounds.units import Amount

BREEDING_C: Final = 20.0
"""Below it a pond fish does not breed, where nobody says another (common practice)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is typed beside the records; None is not typed."""

    share: float = 1.0
    """Part of a tank's ration that is to come from the pond."""
    predator_mm: float | None = None
    prey_g: float | None = None
    yield_g_m2_day: float | None = None
    r_per_yr: float | None = None
    k_kg: float | None = None
    breeding_c: float | None = None


@dataclass(frozen=True, slots=True)
class Need:
    """What a tank would take from the pond a day, and which prey fits it."""

    place: str
    wet_kg_day: float | None
    prey_a_day: float | None
    window: PreyWindow | None
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


def forage(site: Site) -> Product | None:
    """Return the site's forage product, the first one that says its dry matter."""
    found = [p for p in site.products.values() if p.kind == "forage"]
    return next((p for p in found if p.dry_matter), found[0] if found else None)


def needs(
    site: Site, farm: Farm, now: datetime, asked: Asked, place: str | None = None
) -> tuple[Need, ...]:
    """Return what each tank with a ration in grams would take, or the one named.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        asked: What was typed.
        place: One place only.

    Raises:
        ValueError: A number is out of range.
    """
    return tuple(
        _need(site, ration, asked)
        for ration in rations.today(site, farm, now)
        if (ration.place == place if place else ration.total_g > 0)
    )


def _need(site: Site, ration: Ration, asked: Asked) -> Need:
    product, place = forage(site), site.places[ration.place]
    missing, cautions, reasons = [], [], []
    wet_kg: float | None = None
    feed = site.products.get(ration.product)
    pellet = (feed.dry_matter if feed is not None else None) or PELLET_DRY_MATTER
    if product is None or product.dry_matter is None:
        missing.append("Dry 50 g of forage at 105 degC overnight, put dry_matter into site.toml.")
    elif feed is None or feed.kind != "feed":
        missing.append(f"No ration in grams is worked out for {ration.place}.")
    else:
        part_kg = ration.total_g / 1000 * asked.share
        wet_kg = wet_equivalent_kg(part_kg, pellet * 100, product.dry_matter * 100)
        reasons.append(
            Reason(
                "{part:.3f} of pellets, {dry:.0f} % dry = {wet:.3f} of forage, {own:.0f} % dry",
                {
                    "part": Amount(part_kg, "kg"), "dry": pellet * 100,
                    "wet": Amount(wet_kg, "kg"), "own": product.dry_matter * 100,
                },
                "dry-matter balance",
            )
        )  # fmt: skip
    length_mm = asked.predator_mm or _length_mm(site, place, ration.mean_weight_g)
    window = None if length_mm is None else prey_window(length_mm)
    if window is None:
        missing.append(f"Measure ten fish of {ration.place}: no length is known for their weight.")
    else:
        reasons += window.reasons
        cautions.append(
            f"Refuse prey above {window.refuse_above_mm:.0f} mm; deep-bodied or spiny prey no "
            f"longer than {window.deep_at_most_mm:.0f} mm."
        )
    number = wet_kg * 1000 / asked.prey_g if wet_kg is not None and asked.prey_g else None
    return Need(
        ration.place, wet_kg, number, window, tuple(missing), tuple(cautions), tuple(reasons)
    )


def _length_mm(site: Site, place: Place, weight_g: float) -> float | None:
    species = site.species_of(place)
    if species is None or species.length_weight is None or weight_g <= 0:
        return None
    a, b = species.length_weight
    return float(10 * (weight_g / a) ** (1 / b))
