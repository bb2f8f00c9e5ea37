"""Feed of any kind as the pellets it stands for, by dry matter."""

from __future__ import annotations

from typing import Final

from rounds.site.model import Product

PELLET_DRY_MATTER: Final = 0.92
"""Dry matter of a pellet where its product does not say (from memory: 0.90 to 0.92)."""


def pellet_equivalent_g(product: Product | None, given_g: float, left_g: float | None) -> float:
    """Return what was eaten as grams of pellets: forage by its dry matter, live food as none."""
    if product is None or product.kind not in ("feed", "forage"):
        return 0.0
    eaten = max(0.0, given_g - (left_g or 0.0))
    if product.kind == "forage":
        return eaten * (product.dry_matter or 0.0) / PELLET_DRY_MATTER
    return eaten
