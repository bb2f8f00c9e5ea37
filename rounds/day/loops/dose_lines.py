"""One line of a dose sheet: what to add to a loop, in portions, and what it will do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final, Literal

from msgspec import Struct, field

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import DosedAt, ExchangedAt, LoopWater
from rounds.day.readings.loop_readings import LoopReadings
from rounds.day.when import local_day
from rounds.reason import Reasons
from rounds.site.model import Loop, Site

Kind = Literal["alkalinity", "salt", "fresh water", "top-up", "exchange", "chlorine"]
GIVEN_LASTS: Final = timedelta(days=90)
"""How far back what was given still counts (common practice)."""
_PRODUCTS: Final = {"alkalinity": "alkali", "salt": "salt"}


class DoseLine(Struct, frozen=True):
    """What may be given to a loop today. `amount` is the sum of the portions still to give.

    `unit` is "g" of a product or "L" of water; `new_salinity` is that of water let in.
    """

    kind: Kind
    product: str | None = None
    name: str = ""
    amount: float = 0.0
    unit: str = "g"
    portions: tuple[float, ...] = ()
    hours_between: float = 0.0
    expected: tuple[str, ...] = ()
    how: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    measure_after: tuple[str, ...] = ()
    reasons: Reasons = ()
    given: tuple[DosedAt | ExchangedAt, ...] = ()
    new_salinity: float | None = None
    after: Mapping[str, float] = field(default_factory=dict)
    """What the meters should show after all of it, by name with the unit."""
    next_at: datetime | None = None
    """Not before: while the last portion of its kind was given too short a time ago."""
    too_soon: str = ""
    """The same as a sentence."""


def given_of(
    site: Site, farm: Farm, loop: str, kind: str, now: datetime
) -> tuple[DosedAt | ExchangedAt, ...]:
    """Return what was given of a kind lately, whichever product, oldest first."""
    if kind in _PRODUCTS:
        codes = {p.code for p in site.products.values() if p.kind == _PRODUCTS[kind]}
        doses = farm.dosed(loop, now - GIVEN_LASTS)
        return tuple(d for d in doses if d.at <= now and d.product in codes)
    topped = kind == "top-up"
    changes = farm.exchanged(loop, now - GIVEN_LASTS)
    return tuple(c for c in changes if c.at <= now and (c.volume_out_m3 == 0) == topped)


def last_today(
    site: Site, farm: Farm, loop: str, now: datetime, kinds: Sequence[str] = ()
) -> DosedAt | ExchangedAt | None:
    """Return what was given last to a loop on this site-local day, of some kinds or of any."""
    since, day = now - timedelta(days=2), local_day(now, site.timezone).isoformat()
    given: list[DosedAt | ExchangedAt] = [
        one for kind in kinds for one in given_of(site, farm, loop, kind, now)
    ]
    if not kinds:
        given = [*farm.dosed(loop, since), *farm.exchanged(loop, since)]
    today = (one for one in given if one.day == day)
    return max(today, key=lambda one: (one.at, one.id), default=None)


class Case(Struct):
    """A loop at one instant: its water, what was read and given, what is asked for."""

    site: Site
    farm: Farm
    loop: Loop
    now: datetime
    water: LoopWater
    volume_m3: float
    targets: Mapping[str, float]
    readings: LoopReadings
    dosed: tuple[DosedAt, ...]
    exchanged: tuple[ExchangedAt, ...]
    missing: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    first: list[str] = field(default_factory=list)
    """What to know before anything is given."""

    @property
    def stocked(self) -> bool:
        """Fish live in this water."""
        return any(
            self.farm.stocks.get(place.code)
            for place in self.site.places_of(self.loop.code)
            if self.farm.state_of(place.code) == "in service"
        )

    @property
    def living_filter(self) -> bool:
        """A filter or mat tray shares this water."""
        return any(
            place.kind in ("filter", "tray") and self.farm.state_of(place.code) == "in service"
            for place in self.site.places_of(self.loop.code)
        )

    def today(self, at: datetime) -> bool:
        """Tell whether an instant lies on the site's today."""
        return local_day(at, self.site.timezone) == local_day(self.now, self.site.timezone)

    def changed_since(self, at: datetime, share: float) -> bool:
        """Tell whether more than a share of the water was let out or in since an instant."""
        moved = sum(max(e.volume_out_m3, e.volume_in_m3) for e in self.exchanged if e.at > at)
        return moved > share * self.volume_m3
