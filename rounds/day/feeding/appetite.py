"""What the meals of the last days say of appetite: refused, or gone at once day after day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from msgspec import Struct, field

from rounds.day.feeding.conditions import conditions
from rounds.day.feeding.meals import meals_a_day
from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import pellet_equivalent_g
from rounds.day.fold.state import FedAt, Stock
from rounds.day.when import local_day
from rounds.fish import conditions as rules
from rounds.fish.conditions import CLEARED_DAYS, CLEARED_MINUTES, Multiplier
from rounds.fish.ration import CHOOSE_ABOVE
from rounds.site.model import Place, Site, Species

_LOOKED_BACK = CLEARED_DAYS + 1
"""A raise is at its most after so many days: older ones add nothing."""


class PastMeals(Struct):
    """What stood against the meals of a place on past days; each is judged once."""

    site: Site
    farm: Farm
    place: Place
    _held: dict[datetime, bool] = field(default_factory=dict)

    def held_back(self, meals: Sequence[FedAt]) -> bool:
        """Tell whether a condition held the first or the last meal of a day back."""
        return any(self._held_at(at) for at in (meals[0].at, meals[-1].at))

    def _held_at(self, at: datetime) -> bool:
        if at not in self._held:
            before = at - timedelta(microseconds=1)
            found = conditions(self.site, self.farm, self.place, before, over=True)
            self._held[at] = bool(found.stop) or found.smallest.factor < 1
        return self._held[at]


def eager(
    past: PastMeals,
    species: Species,
    stocks: Sequence[Stock],
    table_g: float,
    now: datetime,
) -> Multiplier:
    """Return the raise of a ration that fish cleared at once on the last days, 1 for none.

    A day counts where every planned meal was timed and left nothing, none was held back, and about
    the table's ration was given: a small meal gone fast says nothing.

    Args:
        past: The meals of the place.
        species: The fish's profile.
        stocks: The fish as the day began.
        table_g: By the feed table, g a day.
        now: The present.
    """
    count = sum(stock.count for stock in stocks)
    weight_g = sum(stock.biomass_kg for stock in stocks) * 1000 / count if count else 0.0
    planned = meals_a_day(species, weight_g)
    return rules.eager(_days_cleared(past, planned, table_g, now))


def _days_cleared(past: PastMeals, planned: int, table_g: float, now: datetime) -> int:
    today = local_day(now, past.site.timezone)
    for back in range(1, _LOOKED_BACK + 1):
        day = (today - timedelta(days=back)).isoformat()
        meals = [fed for fed in past.farm.fed_on(past.place.code, day) if fed.at <= now]
        given_g = sum(
            pellet_equivalent_g(past.site.products.get(fed.product), fed.amount_g, None)
            for fed in meals
        )
        if (
            len({fed.meal for fed in meals if fed.amount_g > 0}) < planned
            or not all(_gone_at_once(fed) for fed in meals)
            or given_g * CHOOSE_ABOVE < table_g
            or past.held_back(meals)
        ):
            return back - 1
    return _LOOKED_BACK


def _gone_at_once(fed: FedAt) -> bool:
    return not fed.left_g and fed.minutes is not None and fed.minutes < CLEARED_MINUTES
