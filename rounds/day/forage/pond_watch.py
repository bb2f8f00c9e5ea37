"""What the hand-off tells of ponds in use, and of the crops held from them.

Told at the next hand-off: a crop above what the pond bears, in the cold or on an old estimate, a
stock under a third of what the pond carries. An estimate is told when it is over six weeks old. A
pond that was never estimated nor cropped, or is cold and left alone, is not told of.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.forage.need import Asked
from rounds.day.forage.pond import Pond, pond
from rounds.day.lots.crops import PERMIT_ENDS, Crop, crops, permit, ponds
from rounds.day.lots.forage_hold import held
from rounds.day.when import local_day, spoken
from rounds.fish.pond import STALE_AFTER_DAYS
from rounds.site.model import Place, Site

LATELY: Final = timedelta(days=STALE_AFTER_DAYS)
COLD_STANDS: Final = timedelta(days=7)
"""So long a crop in the cold is told (common practice)."""
_ROUNDING_KG: Final = 0.001


def forage_watch(site: Site, farm: Farm, now: datetime) -> tuple[str, ...]:
    """Return what the next shift must know of ponds and crops, one sentence each.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
    """
    found = []
    for place in ponds(site):
        taken = crops(site, farm, place.code, now)
        stands = pond(site, farm, place, now, Asked(), 0.0)
        if taken or stands.estimated_at is not None:
            found += [f"{place.code}: {told}" for told in _pond(site, farm, stands, taken, now)]
    return (*found, *(f"{one.says}." for one in held(site, farm, now) if not one.ready))


def _pond(
    site: Site, farm: Farm, stands: Pond, taken: tuple[Crop, ...], now: datetime
) -> Iterator[str]:
    place = site.places[stands.place]
    k_kg = place.forage.k_kg
    cropped = bool(taken) and now - taken[-1].at <= LATELY
    if stands.age_days is None or stands.age_days > STALE_AFTER_DAYS:
        cold = stands.temperature_c is not None and stands.temperature_c < place.forage.breeding_c
        if cropped or not cold:
            age = "was never estimated"
            if stands.age_days is not None:
                age = f"was last estimated {stands.age_days:.0f} days ago"
            yield f"the stock {age}: take none, seine or mark again (rounds forage --hauls)."
    elif stands.bears_kg_day is not None:
        bears_kg = stands.bears_kg_day * stands.warm_days
        if stands.taken_kg > bears_kg + _ROUNDING_KG:
            yield (
                f"{stands.taken_kg:.2f} kg taken since the estimate, it bears {bears_kg:.2f} kg: "
                "take none, estimate the stock anew."
            )
    if stands.stock_kg is not None and k_kg is not None and stands.stock_kg < k_kg / 3:
        yield (
            f"the stock was {stands.stock_kg:.1f} kg, under a third of the {k_kg:.1f} kg the pond "
            "carries: halve the crop, look for birds, thieves and a torn screen."
        )
    most = stands.most_a_year_kg
    if most is not None and stands.taken_this_year_kg > most + _ROUNDING_KG:
        yield (
            f"{stands.taken_this_year_kg:.1f} kg taken this year, it bears {most:.1f} kg at most: "
            "take none, call the supervisor."
        )
    yield from _cold(site, farm, place, taken, now)
    until = place.forage.permit_until
    today = local_day(now, site.timezone)
    if until is not None and cropped and until - today <= PERMIT_ENDS:
        yield permit(place, today)


def _cold(
    site: Site, farm: Farm, place: Place, taken: tuple[Crop, ...], now: datetime
) -> Iterator[str]:
    for crop in taken:
        read = farm.latest(place.code, "temperature", crop.at)
        if read is None or now - crop.at > COLD_STANDS or read.value >= place.forage.breeding_c:
            continue
        when = spoken(crop.at, now, site.timezone)
        yield (
            f"{crop.kg:.2f} kg taken {when} at {read.value:.1f} degC, below "
            f"{place.forage.breeding_c:g}: take none before the water is warm."
        )
