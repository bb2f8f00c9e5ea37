"""Which lots ate live or raw fish once: for them the rule on freezing before raw eating holds.

Nothing here calls a fish fit to eat raw; the local food authority decides.
"""

from __future__ import annotations

from collections.abc import Iterable

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.fish.food_safety import us_exemption_may_apply


def raw_eating(farm: Farm) -> tuple[str, ...]:
    """Return a line a lot that has lost the exemption from freezing, with where it swims.

    Args:
        farm: The farm.
    """
    where: dict[str, list[str]] = {}
    for place, stocks in farm.stocks.items():
        for lot in fed_live(stocks):
            where.setdefault(lot, []).append(place)
    return tuple(f"{', '.join(places)}: {says(lot)}" for lot, places in where.items())


def fed_live(stocks: Iterable[Stock]) -> tuple[str, ...]:
    """Return the lots among these for which the exemption can no longer be claimed."""
    return tuple(s.lot for s in stocks if not us_exemption_may_apply("tank", s.ever_fed_live))


def would_lose(stocks: Iterable[Stock]) -> tuple[str, ...]:
    """Return a sentence a lot that would lose the exemption by a meal of live or raw fish."""
    return tuple(
        f"{stock.lot} would lose the exemption from freezing for raw eating, for good; the local "
        "food authority decides."
        for stock in stocks
        if not fed_live([stock])
    )


def says(lot: str) -> str:
    """Return what a lot that was given live or raw fish means, in one sentence."""
    return (
        f"{lot} was given live or raw fish, or was mixed with such a lot: claim no exemption from "
        "freezing for raw eating, for good; the local food authority decides."
    )
