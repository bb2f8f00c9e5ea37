"""Where the fish of a place lived before they came there, tank by tank."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.lots.series import changes
from rounds.records.entry import Moved

_MOST: Final = 20
"""Moves followed back."""


class Home(Struct, frozen=True):
    """A place, and the time the fish were in it."""

    place: str
    since: datetime
    until: datetime


def homes(farm: Farm, place: str, until: datetime) -> tuple[Home, ...]:
    """Return where the fish of a place lived, first home first; empty where there are none.

    Of several lots the one with the most fish counts. A home begins when the first fish of the lot
    came into the empty place; those that joined later bring no other home.

    Args:
        farm: The farm.
        place: Code of the place they are in now.
        until: Nothing after this counts.
    """
    stock = max(farm.stocks.get(place, ()), key=lambda one: one.count, default=None)
    if stock is None:
        return ()
    done, found, here, end = farm.lots.get(stock.lot, []), list[Home](), place, until
    while len(found) < _MOST:
        came = [
            one.at
            for one in changes(done, here)
            if one.kind == "in" and one.before == 0 and one.at < end
        ]
        if not came:
            break
        found.append(Home(here, came[-1], end))
        moves = [e for e in done if isinstance(e, Moved) and (e.target, e.at) == (here, came[-1])]
        if not moves:
            break
        here, end = moves[0].source, came[-1]
    return tuple(reversed(found))
