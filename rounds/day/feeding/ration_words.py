"""A ration in words: its meals, what holds it back, which opinion to choose, what to mind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from rounds.day.feeding.held_back import Conditions
from rounds.day.feeding.meals import Meal
from rounds.day.feeding.opinions import Opinions
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import FedAt, Stock
from rounds.day.lots.raw_eating import fed_live, says
from rounds.day.when import clock
from rounds.fish.meals import pellets
from rounds.fish.ration import RationTable
from rounds.reason import Reason, Value
from rounds.site.model import Place, Product, Site
from rounds.units import Amount

if TYPE_CHECKING:
    from rounds.day.feeding.rations import Ration

SAME_ENERGY: Final = 0.05
"""Feeds whose energy differs by no more are one feed to a table (common practice)."""


def meal_reasons(
    site: Site, fixed_g: float, meals: tuple[Meal, ...], first: FedAt | None
) -> list[Reason]:
    """Return the lines that tell the meals and what fixed them."""
    each = " + ".join(f"{meal.advised_g:g}" for meal in meals)
    total = Amount(sum(meal.advised_g for meal in meals), "g")
    reasons = [
        Reason(
            "{count} meals: {each} g, together {total:.10g}",
            {"count": len(meals), "each": each, "total": total},
            "largest remainder, earlier meals first",
        )
    ]
    if first is not None:
        says = "Fixed at {total:.0f} with the first meal at {at}: later meals are only reduced"
        values: dict[str, Value] = {"total": Amount(fixed_g, "g")}
        values["at"] = clock(first.at, site.timezone)
        reasons.append(Reason(says, values))
    return reasons


def held_back(held: Conditions, besides: str) -> str:
    """Say why less than the opinion that governs is shown; empty when nothing holds it."""
    if held.stop:
        return held.stop
    smallest = held.smallest
    less = f"{smallest.name}: x{smallest.factor:.2f}" if smallest.factor < 1 else ""
    unread = "" if held.oxygen_read else "read oxygen first"
    asked = "see to ACT NOW first" if held.doubt else ""
    return "; ".join(filter(None, (asked, unread, less, besides)))


def to_choose(said: Opinions) -> str:
    """Say in a line what there is to choose from; the reasons tell why and what stands."""
    *told, last = (
        f"{o.name} {o.g_day:.0f} g" for o in said.all if o.decides and o.g_day is not None
    )
    return f"Look at the fish and choose: {', '.join(told)} or {last}"


def _pellet(product: Product, weight_g: float) -> list[str]:
    """Say when the pellet is not of the size these fish take, or when two sizes are mixed."""
    if product.pellet_mm is None or weight_g < 0.3:
        return []
    size = pellets(min(weight_g, 50_000))
    if not size.low_mm <= product.pellet_mm <= size.high_mm:
        return [
            f"{product.name} is {product.pellet_mm:g} mm; fish of {weight_g:.3g} g take "
            f"{size.low_mm:g} to {size.high_mm:g} mm: change over, both mixed for 3 to 7 days"
        ]
    return []


def _of_another_feed(table: RationTable, product: Product) -> list[str]:
    """Say when the table is another feed's, or one of other energy: percents do not carry over."""
    if table.feed and table.feed != product.code:
        return [f"the feed table is that of {table.feed}, {product.code} is fed: take its own"]
    theirs, own = table.energy_kj_g, product.energy_kj_g
    if theirs and own and abs(own / theirs - 1) > SAME_ENERGY:
        return [
            f"the feed table is for feed of {theirs:g} kJ/g, {product.name} has {own:g}: "
            f"{theirs / own:.2f} g of it hold as much as 1 g"
        ]
    return []


def cautions(
    farm: Farm,
    place: Place,
    stocks: tuple[Stock, ...],
    product: Product,
    weight_g: float,
    table: RationTable,
) -> list[str]:
    """Say what to mind beside the number: state of the tank, size and caution of the feed."""
    found = []
    state = farm.state_of(place.code)
    if state != "in service":
        found.append(f"{place.code} is {state}: oxygen falls faster after a meal")
    if product.for_weights_g is not None:
        low, high = product.for_weights_g
        if not low <= weight_g <= high:
            found.append(
                f"{product.name} is for fish of {low:g} to {high:g} g, these weigh "
                f"{weight_g:.3g} g: check the feed"
            )
    found += _of_another_feed(table, product)
    found += _pellet(product, weight_g)
    if product.caution:
        found.append(product.caution)
    return [*found, *map(says, fed_live(stocks))]


def unverified(site: Site, feeding: Sequence[Ration]) -> list[str]:
    """Name each feed table in use that nobody has verified, once a species.

    Args:
        site: The site.
        feeding: The rations of today.
    """
    found = {}
    for ration in feeding:
        species = site.species_of(site.places[ration.place])
        if ration.unverified and species is not None:
            found[species.name.lower()] = ration.unverified
    return [f"Feed table of {name}: {source}" for name, source in found.items()]
