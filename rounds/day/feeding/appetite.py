"""What the meals of the last days say of appetite: refused, or gone at once day after day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from rounds.day.feeding.conditions import conditions
from rounds.day.feeding.meals import meals_a_day
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import FedAt, Stock
from rounds.day.fold.stock import pellet_equivalent_g
from rounds.day.when import local_day
from rounds.fish import conditions as rules
from rounds.fish.conditions import CLEARED_DAYS, CLEARED_MINUTES, Multiplier
from rounds.fish.ration import CHOOSE_ABOVE
from rounds.site.model import Place, Site, Species

_LOOKED_BACK = CLEARED_DAYS + 1
"""A raise is at its most after so many days: older ones add nothing."""


def held_back(site: Site, farm: Farm, place: Place, meals: Sequence[FedAt]) -> bool:
    """Tell whether a condition held the first or the last meal of a day back."""
    before = timedelta(microseconds=1)
    return any(
        held.stop or held.smallest.factor < 1
        for held in (
            conditions(site, farm, place, at - before)
            for at in dict.fromkeys((meals[0].at, meals[-1].at))
        )
    )


def eager(
    site: Site,
    farm: Farm,
    place: Place,
    species: Species,
    stocks: Sequence[Stock],
    table_g: float,
    now: datetime,
) -> Multiplier:
    """Return the raise of a ration that fish cleared at once on the last days, 1 for none.

    A day counts where every planned meal was timed and left nothing, none was held back, and about
    the table's ration was given: a small meal gone fast says nothing.

    Args:
        site: The site.
        farm: The farm.
        place: Where.
        species: The fish's profile.
        stocks: The fish as the day began.
        table_g: By the feed table, g a day.
        now: The present.
    """
    count = sum(stock.count for stock in stocks)
    weight_g = sum(stock.biomass_kg for stock in stocks) * 1000 / count if count else 0.0
    planned = meals_a_day(species, weight_g)
    return rules.eager(_days_cleared(site, farm, place, planned, table_g, now))


def _days_cleared(
    site: Site, farm: Farm, place: Place, planned: int, table_g: float, now: datetime
) -> int:
    today = local_day(now, site.timezone)
    for back in range(1, _LOOKED_BACK + 1):
        day = (today - timedelta(days=back)).isoformat()
        meals = [fed for fed in farm.fed_on(place.code, day) if fed.at <= now]
        given_g = sum(
            pellet_equivalent_g(site.products.get(fed.product), fed.amount_g, None) for fed in meals
        )
        if (
            len({fed.meal for fed in meals if fed.amount_g > 0}) < planned
            or not all(_gone_at_once(fed) for fed in meals)
            or given_g * CHOOSE_ABOVE < table_g
            or held_back(site, farm, place, meals)
        ):
            return back - 1
    return _LOOKED_BACK


def _gone_at_once(fed: FedAt) -> bool:
    return not fed.left_g and fed.minutes is not None and fed.minutes < CLEARED_MINUTES
