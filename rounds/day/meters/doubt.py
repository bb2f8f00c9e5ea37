"""What speaks against a meter, and the readings of one round laid side by side."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final, Literal

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.reason import Reasons
from rounds.site.measures import MEASURES
from rounds.site.model import Place

Kind = Literal[
    "pair", "salinity setting", "neighbour", "frozen", "all together", "crosswise", "check",
    "drift", "due",
]  # fmt: skip
FIRST: Final = "Act on every ACT NOW first, then check the meter."


class MeterDoubt(Struct, frozen=True):
    """A reason to check a meter. It is never a verdict on the fish, and lowers none.

    `says` is the whole of it, with what to do; `delay` after how many rounds such a thing can be
    told at the earliest.
    """

    kind: Kind
    measure: str
    places: tuple[str, ...]
    says: str
    since: datetime
    delay: str
    reasons: Reasons


def newest(
    farm: Farm, places: Iterable[Place], measure: str, now: datetime, within: timedelta
) -> dict[str, Read]:
    """Return the last reading of each place that was taken within a span of the newest of all.

    Nothing is returned where the newest is too old to be worth a second look.
    """
    reads = {
        place.code: read
        for place in places
        if farm.state_of(place.code) == "in service"
        and (read := farm.latest(place.code, measure, now)) is not None
    }
    last = max((read.at for read in reads.values()), default=None)
    stands = timedelta(hours=max(24.0, MEASURES[measure].stale_h))
    if last is None or now - last > stands:
        return {}
    return {code: read for code, read in reads.items() if last - read.at <= within}


def listed(names: Iterable[str]) -> str:
    """Return "G1, G2 and G3"."""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last
