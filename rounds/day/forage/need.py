"""What tanks would take from the forage pond, and which prey fits them.

The need of a tank is its ration as the same dry matter of forage.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.feeding import rations
from rounds.day.feeding.rations import Ration
from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import PELLET_DRY_MATTER
from rounds.day.fold.state import FedAt
from rounds.fish.drymatter import wet_equivalent_kg
from rounds.fish.forage import PreyWindow, prey_window
from rounds.reason import Reason, Reasons, Value
from rounds.site.model import Place, Product, Site
from rounds.units import Amount

FED_DAYS: Final = 14
"""A tank that was fed forage within these days is one that takes it (common practice)."""
BREEDING_C: Final = 20.0
"""Below it a pond fish does not breed, where nobody says another (common practice)."""


class Asked(Struct, frozen=True):
    """What is typed beside the records; None is not typed."""

    share: float | None = None
    """Part of every tank's ration that is to come from the pond; all of it where none is said."""
    predator_mm: float | None = None
    prey_g: float | None = None
    yield_g_m2_day: float | None = None
    r_per_yr: float | None = None
    k_kg: float | None = None
    breeding_c: float | None = None


class Need(Struct, frozen=True):
    """What a tank would take from the pond a day, and which prey fits it."""

    place: str
    wet_kg_day: float | None
    prey_a_day: float | None
    window: PreyWindow | None
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons
    fed: bool = False
    """It is fed forage: its need is one of the pond, not only a possibility."""


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

    Returns:
        The needs; of a tank that is fed forage what it was fed a day, where no share is typed.

    Raises:
        ValueError: A number is out of range.
    """
    found = []
    for ration in rations.today(site, farm, now):
        fed = _fed(site, farm, ration.place, now)
        eats = bool(fed) or _is_forage(site, site.places[ration.place].feed)
        if ration.place == place if place else ration.total_g > 0 or eats:
            usual = fed if asked.share is None else ()
            found.append(replace(_need(site, ration, asked, usual), fed=eats))
    return tuple(found)


def needed_kg_day(found: Iterable[Need], asked: Asked, place: str | None = None) -> float:
    """Return the forage needed of the pond, kg wet a day: of tanks that are fed it.

    Args:
        found: The needs.
        asked: What was typed; with a share every tank counts.
        place: The tank named, which counts too.
    """
    every = asked.share is not None or place is not None
    return sum((need.wet_kg_day or 0.0 for need in found if every or need.fed), 0.0)


def _is_forage(site: Site, product: str | None) -> bool:
    known = site.products.get(product or "")
    return known is not None and known.kind == "forage"


def _fed(site: Site, farm: Farm, place: str, now: datetime) -> tuple[FedAt, ...]:
    """Return the meals of forage of the last days."""
    meals = farm.fed(place, now - timedelta(days=FED_DAYS))
    found = (m for m in meals if m.amount_g > 0 and m.at <= now)
    return tuple(meal for meal in found if _is_forage(site, meal.product))


def _need(site: Site, ration: Ration, asked: Asked, fed: tuple[FedAt, ...]) -> Need:
    product, place = forage(site), site.places[ration.place]
    missing, cautions, reasons = [], [], []
    wet_kg: float | None = None
    feed = site.products.get(ration.product)
    pellet = (feed.dry_matter if feed is not None else None) or PELLET_DRY_MATTER
    if fed:
        days = max(1, (fed[-1].at - fed[0].at) / timedelta(days=1) + 1)
        total_kg = sum(meal.amount_g for meal in fed) / 1000
        wet_kg = total_kg / days
        values: dict[str, Value] = {"total": Amount(total_kg, "kg"), "days": days}
        reasons.append(Reason("{total:.3f} of forage fed in {days:.0f} days", values))
    elif product is None or product.dry_matter is None:
        missing.append("Dry 50 g of forage at 105 degC overnight, put dry_matter into site.toml.")
    elif feed is None or feed.kind != "feed":
        missing.append(f"No ration in grams is worked out for {ration.place}.")
    else:
        part_kg = ration.total_g / 1000 * (asked.share or 1.0)
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
