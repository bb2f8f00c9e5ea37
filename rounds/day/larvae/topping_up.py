"""Live food to put into a larval tank: no more than its aim holds or the culture may give."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Final

from msgspec.structs import replace

from rounds.day.feeding.conditions import FOODS
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.larvae import cultures
from rounds.day.larvae.sheet import Asked, Sheet
from rounds.day.when import local_day
from rounds.fish.larvae import (
    ROTIFERS_A_LARVA_DAY,
    culture_to_add_l,
    culture_to_sieve_l,
    needed_until_next,
)
from rounds.reason import Reason, Value
from rounds.site.model import Place, Site

MOST_PER_ML: Final = {"rotifers": 20.0, "nauplii": 5.0}
"""Live food in a larval tank at most, where no limits say (from memory)."""
UNCOUNTED_SHARE: Final = 0.25
"""Of a culture whose growth is not known, taken in a day at most."""
_A_QUARTER: Final = "25 % a day for 41 days, Kostopoulou et al. 2012"
_EATEN: Final = "public extension text on live feeds: up to so many; no figure by age is known"


def in_millions(animals: float) -> str:
    """Return a number of animals as people say it: "3.8 million", "85000"."""
    return f"{animals / 1e6:.3g} million" if animals >= 1e5 else f"{animals:.0f}"


def top_up(
    found: Sheet, site: Site, farm: Farm, place: Place, now: datetime, asked: Asked, most: float
) -> Sheet:
    """Put in what goes into a tank now, to its target and until the next top-up.

    Args:
        found: The sheet with its count, its number and its target.
        site: The site.
        farm: The farm.
        place: The larval tank.
        now: The present.
        asked: What was typed.
        most: Animals of this food in a mL of the tank at most.

    Returns:
        The sheet; what is missing is named.

    Raises:
        ValueError: A number is out of range.
    """
    missing, reasons = list(found.missing), list(found.reasons)
    density, read = asked.culture_per_ml, None
    if density is None and (read := _culture_today(site, farm, found.food, now)) is not None:
        density = read.value
        says = "culture {place} counted today: {n:g} per mL"
        reasons.append(Reason(says, {"place": read.place, "n": read.value}))
    if density is None:
        missing.append(f"Count the culture of {found.food} today.")
    if place.volume_m3 is None:
        missing.append(f"Put the volume of {place.code} into site.toml.")
    target, left = found.target_per_ml, found.per_ml
    if target is None:
        missing.append(f"Give a target for {found.food}, per mL: none is set for {place.code}.")
    found = replace(
        found, culture_per_ml=density, missing=tuple(missing), reasons=tuple(reasons),
        culture_place=read.place if read else _only_culture(farm, found.food, now),
    )  # fmt: skip
    if target is None or left is None or place.volume_m3 is None:
        return found
    tank_l = place.volume_m3 * 1000
    found = _portioned(found, tank_l, target, left, max(most, target), asked.hours)
    if density is None:
        return found
    found = _litres(found, tank_l, target, left, density)
    return _bounded(found, site, farm, now)


def _portioned(
    found: Sheet, tank_l: float, target: float, left: float, most: float, hours: float
) -> Sheet:
    """Put in what is eaten and needed until the next, in parts that stay below the most."""
    cautions, reasons = list(found.cautions), list(found.reasons)
    each = ROTIFERS_A_LARVA_DAY if found.food == "rotifers" else 0.0
    larvae = found.number.fish if found.number else float(found.larvae)
    eaten = larvae * each * hours / 24
    need = needed_until_next(tank_l, target, left, larvae, each, hours)
    if each:
        values: dict[str, Value] = {
            "larvae": larvae, "each": each, "hours": hours, "eaten": in_millions(eaten),
        }  # fmt: skip
        says = "{larvae:.0f} larvae x {each:.0f} a day x {hours:g} h = {eaten} eaten at most"
        reasons.append(Reason(says, values, _EATEN))
    else:
        cautions.append("What a larva eats of nauplii is not printed: count again at each meal.")
    room = max(0.0, most - left) * tank_l * 1000
    portions = 1
    if need > room:
        often = max(1, math.floor(hours))  # no oftener than hourly
        portions = min(often, math.ceil(need / room)) if room else 1
        values = {"most": most, "n": portions, "room": in_millions(room)}
        says = "no more than {most:g} per mL in the tank: {n} portions, of {room} at most"
        reasons.append(Reason(says, values, "the limits here, or from memory"))
        if portions * room < need:
            cautions.append(
                f"They could eat more than {most:g} per mL hold: {in_millions(portions * room)} of "
                f"{in_millions(need)} go in. Count before each portion."
            )
    return replace(
        found, eaten_until_next=eaten if each else None, need_until_next=need, portions=portions,
        part_animals=min(need / portions, room), cautions=tuple(cautions), reasons=tuple(reasons),
    )  # fmt: skip


def _litres(found: Sheet, tank_l: float, target: float, left: float, density: float) -> Sheet:
    """Put in the litres of culture, poured or rinsed, to the target and for one portion."""
    part = left + found.part_animals / (tank_l * 1000)
    cautions = list(found.cautions)
    found = replace(
        found,
        add_rinsed_l=culture_to_sieve_l(tank_l, target, left, density),
        add_rinsed_until_next_l=culture_to_sieve_l(tank_l, part, left, density),
    )
    try:
        found = replace(found, add_culture_l=culture_to_add_l(tank_l, target, left, density))
        poured = culture_to_add_l(tank_l, part, left, density)
        found = replace(found, add_culture_until_next_l=poured)
    except ValueError as error:
        cautions.append(f"{str(error)[0].upper()}{str(error)[1:]}.")
    one = found.add_culture_until_next_l
    one = found.add_rinsed_until_next_l if one is None else one
    reason = Reason(
        "{tank:g} L from {left:.3g} to {target:.3g} per mL, culture {culture:.4g}: poured in, its "
        "own water counts; rinsed, it does not",
        {"tank": tank_l, "left": left, "target": target, "culture": density},
        "balance of animals and water",
    )
    return replace(
        found, asks_l=found.portions * (one or 0.0), cautions=tuple(cautions),
        reasons=(*found.reasons, reason),
    )  # fmt: skip


def _bounded(found: Sheet, site: Site, farm: Farm, now: datetime) -> Sheet:
    """Hold what is poured in to what the culture may give today."""
    source = site.places.get(found.culture_place or "")
    if source is None or found.add_rinsed_l is None:
        return found
    stands = cultures.culture(site, farm, source, now)
    if stands is None or (stands.free_l is None and source.volume_m3 is None):
        return replace(
            found, missing=(*found.missing, f"Put the volume of {source.code} into site.toml.")
        )
    reasons, may = found.reasons, stands.free_l
    if may is None:
        may = max(0.0, UNCOUNTED_SHARE * (source.volume_m3 or 0.0) * 1000 - stands.taken_l)
        says = "the growth of {place} is not known: a quarter of it a day at most"
        reasons = (*reasons, Reason(says, {"place": source.code}, _A_QUARTER))
    says = "{place} may give {may:.1f} L today, {taken:.1f} L were taken"
    values: dict[str, Value] = {"place": source.code, "may": may, "taken": stands.taken_l}
    reasons = (*reasons, Reason(says, values, "its growth and harvests"))
    cautions = found.cautions
    if found.asks_l > may:
        says = (
            f"{source.code} may give {may:.1f} L today, {found.asks_l:.1f} L would be wanted: no "
            "more is worked out. Take the rest from another culture, or give other food."
        )
        cautions = (*cautions, says)
    part = may / found.portions
    return replace(
        found, cautions=cautions, reasons=reasons,
        add_culture_l=_least(found.add_culture_l, may),
        add_rinsed_l=_least(found.add_rinsed_l, may),
        add_culture_until_next_l=_least(found.add_culture_until_next_l, part),
        add_rinsed_until_next_l=_least(found.add_rinsed_until_next_l, part),
    )  # fmt: skip


def _least(litres: float | None, may: float) -> float | None:
    return None if litres is None else min(litres, may)


def _culture_today(site: Site, farm: Farm, food: str, now: datetime) -> Read | None:
    today = local_day(now, site.timezone)
    reads = [
        read
        for place in site.places.values()
        if place.kind == "culture"
        and (read := farm.latest(place.code, FOODS[food], now)) is not None
        and local_day(read.at, site.timezone) == today
        and read.value > 0
    ]
    return max(reads, key=lambda read: (read.at, read.id), default=None)


def _only_culture(farm: Farm, food: str, now: datetime) -> str | None:
    """Return the culture of a food where there is one only, for a density that was typed."""
    found = [
        place.code
        for place in farm.site.places.values()
        if place.kind == "culture" and cultures.food_of(farm, place, now) == food
    ]
    return found[0] if len(found) == 1 else None
