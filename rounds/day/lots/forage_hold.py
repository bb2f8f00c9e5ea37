"""The health hold of a crop of forage: how long it waits, what begins it anew, what may be fed.

A crop is a lot of its own, kept apart for the pond's days of hold before a fish of the farm eats
of it. Fish that join it, or that look odd, begin the hold anew; many deaths are for the
veterinarian first.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.lots.crops import cropped, ponds
from rounds.day.lots.deaths import LOOK_STEP, UNSEEN
from rounds.day.when import local_day, short_day
from rounds.records.entry import Moved, Stocked
from rounds.site.model import Product, Site

LOST: Final = 0.10
"""A crop that lost more than this part in its hold is not fed unseen (common practice)."""


class Held(Struct, frozen=True, kw_only=True):
    """A crop with fish left, and where it stands in its hold."""

    lot: str
    pond: str
    place: str
    count: int
    mass_kg: float
    mean_weight_g: float
    cropped_at: datetime
    until: datetime
    days_left: int
    """0 where the days are over."""
    anew: str
    """What began the hold anew; empty where nothing did."""
    dead: int
    lost_part: float
    ready: bool
    """May be fed."""
    says: str


def held(site: Site, farm: Farm, now: datetime) -> tuple[Held, ...]:
    """Return every crop with fish left, the oldest first.

    Args:
        site: The site, with the days of hold of each pond.
        farm: The farm.
        now: The present.
    """
    came: dict[str, list[Stocked]] = {}
    for entry in cropped(farm, now):
        came.setdefault(entry.lot or "", []).append(entry)
    found = [
        _held(site, farm, stock, came[stock.lot], now)
        for here in farm.stocks.values()
        for stock in here
        if stock.lot in came
    ]
    return tuple(sorted(found, key=lambda one: (one.cropped_at, one.lot, one.place)))


def no_forage(site: Site, farm: Farm, product: Product | None, now: datetime) -> str:
    """Return why forage cannot be fed now, in one sentence; empty where it can, or is not forage.

    Args:
        site: The site; where it has no pond, forage comes frozen and has no hold.
        farm: The farm.
        product: What is to be fed.
        now: The present.
    """
    if product is None or product.kind != "forage" or not ponds(site):
        return ""
    crops = held(site, farm, now)
    if any(one.ready for one in crops):
        return ""
    if not crops:
        return "No crop of the pond is on record: K, crop of forage, then its hold."
    return f"No crop is out of its hold: {crops[0].says}."


def to_feed(site: Site, farm: Farm, now: datetime, lot: str = "") -> Held | None:
    """Return the crop to feed from: the lot named, else the oldest out of its hold, else None.

    Raises:
        ValueError: The lot named is no crop with fish left.
    """
    crops = held(site, farm, now)
    if not lot:
        return next((one for one in crops if one.ready), None)
    found = next((one for one in crops if one.lot.casefold() == lot.casefold()), None)
    if found is None:
        known = ", ".join(dict.fromkeys(one.lot for one in crops)) or "none has fish left"
        raise ValueError(f"There is no crop {lot}: {known}.")
    return found


def _held(site: Site, farm: Farm, stock: Stock, came: list[Stocked], now: datetime) -> Held:
    last = max(came, key=lambda entry: entry.at)
    pond = last.source
    place = site.places.get(pond)
    days = place.forage.hold_days if place is not None else 28.0
    since, anew = _since(farm, stock, last.at, now)
    until = since + timedelta(days=days)
    left = max(0, math.ceil((until - now) / timedelta(days=1)))
    stocked = sum(entry.count for entry in came)
    dead = sum(
        one.count
        for code in site.places
        for one in farm.dead(code, min(entry.at for entry in came))
        if one.lot == stock.lot and one.at <= now
    )
    lost = dead / stocked if stocked > 0 else 0.0
    sick = lost > LOST
    says = f"{stock.lot} in {stock.place}, {stock.count} fish, {stock.biomass_kg:.2f} kg: "
    if left:
        day = local_day(until, site.timezone)
        says += f"hold {left} day{'s' * (left > 1)} more, to {short_day(day)}"
        says += f", begun anew: {anew}" if anew else ""
    else:
        says += "call the veterinarian before any is fed" if sick else "hold is over, may be fed"
    if dead:
        says += f"; {dead} dead ({100 * lost:.1f} %)"
    return Held(
        lot=stock.lot,
        pond=pond,
        place=stock.place,
        count=stock.count,
        mass_kg=stock.biomass_kg,
        mean_weight_g=stock.weight_g,
        cropped_at=last.at,
        until=until,
        days_left=left,
        anew=anew,
        dead=dead,
        lost_part=lost,
        ready=not left and not sick,
        says=says,
    )


def _since(farm: Farm, stock: Stock, at: datetime, now: datetime) -> tuple[datetime, str]:
    """Return when the hold began, and what began it anew after the crop was taken."""
    arrivals = [
        (entry.at, lot)
        for lot, done in farm.lots.items()
        for entry in done
        if isinstance(entry, Stocked | Moved) and entry.at <= now
        and (entry.target if isinstance(entry, Moved) else entry.place) == stock.place
    ]  # fmt: skip
    own = max((came for came, lot in arrivals if lot == stock.lot), default=at)
    shared = any(lot != stock.lot and came <= own for came, lot in arrivals) and (
        len(farm.stocks.get(stock.place, ())) > 1
    )
    events = [(at, "")]
    events += [(came, f"{lot} joined it") for came, lot in arrivals if came > own]
    if shared and own > at:
        events.append((own, "it joined others"))
    events += [
        (look.at, f"fish {look.value}")
        for look in farm.answers(stock.place, LOOK_STEP, own)
        if own <= look.at <= now and look.verdict in ("watch", "act") and look.value != UNSEEN
    ]
    return max(events, key=lambda event: event[0])
