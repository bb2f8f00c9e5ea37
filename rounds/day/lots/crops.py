"""The ledger of crops: what was taken from a pond of forage, when, and as which lot."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import amount
from rounds.day.when import long_day
from rounds.records.entry import Stocked
from rounds.site.model import Place, Site

PERMIT_ENDS: Final = timedelta(days=30)
"""So long before its end a permit is told (common practice)."""


class Crop(Struct, frozen=True):
    """Forage taken from a pond; `lot` is empty where it was fed at once, with no lot of its own."""

    pond: str
    lot: str
    at: datetime
    day: str
    kg: float


def ponds(site: Site) -> tuple[Place, ...]:
    """Return the ponds of a site, in walking order."""
    return tuple(place for place in site.places.values() if place.kind == "pond")


def cropped(farm: Farm, now: datetime) -> Iterator[Stocked]:
    """Return what was stocked as a crop of a pond, up to now.

    Args:
        farm: The farm.
        now: The present.
    """
    return (
        entry
        for done in farm.lots.values()
        for entry in done
        if isinstance(entry, Stocked) and entry.source and entry.at <= now
    )


def forage_lot(farm: Farm, lot: str, place: str, now: datetime) -> bool:
    """Tell whether a lot in a place is forage: in a pond, or a crop of one."""
    return farm.site.places[place].kind == "pond" or any(
        one.lot == lot for one in cropped(farm, now)
    )


def crops(site: Site, farm: Farm, pond: str, now: datetime) -> tuple[Crop, ...]:
    """Return the crops of a pond, oldest first.

    Forage that was fed without saying its lot was taken straight from the first pond.

    Args:
        site: The site.
        farm: The farm.
        pond: Code of the pond.
        now: The present.
    """
    found = [
        Crop(pond, entry.lot or "", entry.at, entry.day, entry.count * mean_kg)
        for entry in cropped(farm, now)
        if entry.source == pond and (mean_kg := amount(entry.mean_weight, entry.unit, "kg"))
    ]
    if pond == next((place.code for place in ponds(site)), None):
        found += [
            Crop(pond, "", fed.at, fed.day, kg)
            for fed in farm.now.forage
            if fed.at <= now and (kg := amount(fed.amount, fed.unit, "kg")) is not None
        ]
    return tuple(sorted(found, key=lambda crop: (crop.at, crop.lot)))


def permit(place: Place, today: date) -> str:
    """Return the reminder of a pond's permit, in one sentence."""
    own = place.forage
    name = f"Permit ({own.permit})" if own.permit else "Permit"
    rest = "no pond fish leaves the site, and no wild ones come in."
    if own.permit_until is None:
        return f"{name}: look that it names this species and has not run out; {rest}"
    day = long_day(own.permit_until)
    if own.permit_until < today:
        return f"{name} ran out on {day}: take nothing, call the supervisor; {rest}"
    if own.permit_until - today <= PERMIT_ENDS:
        return f"{name} runs out on {day}: ask for the next one now; {rest}"
    return f"{name}: look that it names this species, good until {day}; {rest}"
