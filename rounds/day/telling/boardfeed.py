"""What the board says of feed: the ration of the day and the next meal, in the cells of a table."""

from __future__ import annotations

from datetime import datetime

from rounds.day.feeding.meals import FINE_BELOW_G
from rounds.day.feeding.rations import Ration, today
from rounds.day.fold.farm import Farm
from rounds.day.telling.board import ACT_FIRST, NO_FEED, READ_FIRST
from rounds.day.when import clock
from rounds.site.model import Site


def feed_cells(site: Site, farm: Farm, now: datetime) -> dict[str, tuple[str, str]]:
    """Return the ration of the day and the next meal of every place with fish, as cells.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
    """
    return {
        ration.place: (_total(ration), _meal(site, ration)) for ration in today(site, farm, now)
    }


def _total(ration: Ration) -> str:
    if ration.no_feed:
        return NO_FEED
    if not ration.ready and (ration.next_meal is not None or not ration.meals):
        return READ_FIRST
    return f"{ration.total_g:,.0f} g".replace(",", " ") if ration.total_g > 0 else "-"


def _meal(site: Site, ration: Ration) -> str:
    """Return the next meal in the few cells of a table."""
    if (stopped := _total(ration)) in (NO_FEED, READ_FIRST):
        return stopped
    if ration.next_meal is None:
        return "given" if ration.meals else "-"
    if ration.next_at is not None:
        return f"at {clock(ration.next_at, site.timezone)}"
    if ration.doubt and ration.next_meal_g > 0:
        return ACT_FIRST
    decimals = 0 if ration.next_meal_g >= FINE_BELOW_G else 1
    told = f"{ration.next_meal_g:,.{decimals}f} g".replace(",", " ")
    return told if ration.next_meal_g > 0 else "-"
