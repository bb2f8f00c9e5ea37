"""What cannot be recorded of fish, and what looks like a slip of the pen."""

from __future__ import annotations

from itertools import chain
from typing import Final

from msgspec import structs

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.lots.crowding import part_of_limit
from rounds.day.recording.asking import Asked, stocks
from rounds.day.when import clock, local_day
from rounds.records.entry import Died, Entry, Moved, Removed, Stocked

TEN: Final = 8.0
"""A weight this many times off is taken for a decimal point that slipped (common practice)."""
EACH: Final = (1 / 4, 2.0)
"""Fish that leave are asked about where their mean is below or above these parts of the lot's:
the small die first, nothing is twice the mean of many (common practice)."""
_FRESH: Final = ("id", "t", "off", "day", "mono", "by", "walk", "read_at", "h")


def some(asked: Asked) -> int:
    """Return the number of fish; none is nothing to record."""
    count = int(asked.text("count"))
    if count == 0:
        raise ValueError("0 fish: there is nothing to record")
    return count


def stock_of(farm: Farm, lot: str, place: str) -> Stock:
    """Return a lot in a place that holds it."""
    return next(stock for stock in farm.stocks[place] if stock.lot == lot)


def leaving(asked: Asked, lot: str, place: str) -> tuple[int, str, str, float]:
    """Return count, mass as typed and its unit, and the mass in kg, weighed or carried."""
    stock, count = stock_of(asked.farm, lot, place), some(asked)
    if count > stock.count:
        said = f"{place} holds {stock.count} of {lot}, {count} cannot leave"
        raise ValueError(f"{said}: if there are more, record them as counted first")
    digits, unit, mass_kg = asked.amount("mass", "kg")
    carried_kg = count * stock.weight_g / 1000
    if mass_kg is not None and carried_kg > 0 and not EACH[0] < mass_kg / carried_kg < EACH[1]:
        mean = f"{digits} {unit} for {count} fish are {mass_kg / count * 1000:.4g} g each"
        asked.doubts.append(f"{mean}, {stock.weight_g:.4g} g are carried: number and unit right?")
    return count, digits, unit, carried_kg if mass_kg is None else mass_kg


def filled(farm: Farm, place: str, then: str) -> None:
    """Refuse a place without water."""
    if farm.state_of(place) == "drained":
        raise ValueError(f"{place} is drained: fill it, record it in service, then {then}")


def odd_weight(asked: Asked, lot: str, place: str, mean_g: float) -> None:
    """Doubt a weight ten times off what the lot has now, or far above market size."""
    farm = asked.farm
    species = farm.site.species_of(farm.site.places[place])
    kin = [stock for stock in stocks(farm) if stock.lot == lot and stock.weight_g > 0]
    if kin:
        usual = max(kin, key=lambda stock: stock.weight_at).weight_g
        says, odd = f"what {lot} weighs now", not 1 / TEN < mean_g / usual < TEN
    elif species is not None:
        usual = species.market_weight_g
        says, odd = f"the market weight of {species.name}", mean_g >= TEN * usual
    else:
        return
    if odd:
        said = f"a mean of {mean_g:g} g is {mean_g / usual:.2g} times {says}, {usual:.4g} g"
        asked.doubts.append(f"{said}: a decimal point, or the unit?")


def crowded(asked: Asked, code: str, mass_kg: float) -> None:
    """Doubt more fish in a place than its density allows."""
    site, place = asked.farm.site, asked.farm.site.places[code]
    part = part_of_limit(site, asked.farm, place, mass_kg)
    if asked.doubts or part is None or part <= 1:
        return
    wanted, _ = site.density_for(place)
    said = f"{code} would hold {part * (wanted or 0.0):.0f} kg/m3, {wanted:g} are wanted"
    asked.doubts.append(f"{said}: are number and weight right?")


def again(asked: Asked, entry: Entry) -> None:
    """Doubt fish that came, left or moved just like others today."""
    zone = asked.farm.site.timezone
    today = local_day(asked.now, zone).isoformat()
    fresh = dict.fromkeys(_FRESH)
    for now in chain.from_iterable(asked.farm.lots.values()):
        if (
            now.day == today
            and type(now) is type(entry)
            and isinstance(entry, Stocked | Moved | Removed | Died)
            and structs.replace(now, **fresh) == structs.replace(entry, **fresh)
        ):
            asked.doubts.append(f"the same was kept at {clock(now.at, zone)}: once more?")
            return
