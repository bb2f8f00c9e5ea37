"""The account of feed in dry matter: wet feed stands as the pellets that match it."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import PELLET_DRY_MATTER, pellet_equivalent_g
from rounds.day.fold.state import FedAt
from rounds.site.model import Product, Site


def fed_on(site: Site, farm: Farm, place: str, day: str) -> list[FedAt]:
    """Return the meals of a day, forage as the pellets with its dry matter, no live food."""
    return [
        _as_pellets(meal, product) if (product := site.products.get(meal.product)) else meal
        for meal in farm.fed_on(place, day)
    ]


def _as_pellets(meal: FedAt, product: Product) -> FedAt:
    if product.kind == "feed":
        return meal
    amount, left, advised = (
        None if grams is None else pellet_equivalent_g(product, grams, None)
        for grams in (meal.amount_g, meal.left_g, meal.advised_g)
    )
    return replace(meal, amount_g=amount or 0.0, left_g=left, advised_g=advised)


def dry_g(site: Site, meals: Sequence[FedAt]) -> float:
    """Return the dry matter of meals, g; live food counts as none.

    Args:
        site: The site's products.
        meals: As they were given.
    """
    return sum(
        pellet_equivalent_g(product, meal.amount_g, None)
        * (
            PELLET_DRY_MATTER
            if product.kind == "forage"
            else product.dry_matter or PELLET_DRY_MATTER
        )
        for meal in meals
        if (product := site.products.get(meal.product)) is not None
    )
