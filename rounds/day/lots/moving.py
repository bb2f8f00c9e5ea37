"""When the fish of a tank are split, graded or harvested, why, and which tanks could take them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, datetime
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.fold.waters import water_m3
from rounds.day.lots.growth import Growth, of_stock
from rounds.day.lots.health import ASK, held_in, sick
from rounds.day.lots.projection import WARN_SHARE, Projection, project
from rounds.day.lots.room_limits import NAMES, Limits
from rounds.day.when import local_day, long_day
from rounds.fish import capacity as of_fish
from rounds.fish.forage import grade_now
from rounds.fish.sampling import fraction_above_lognormal, fraction_above_normal
from rounds.reason import Reason, Reasons
from rounds.site.model import Place, Site, Species

HARVEST_PART: Final = 0.10
"""From this part of the fish above market size it is worth to sort them out (common practice)."""


class Free(Struct, frozen=True):
    """What another tank can still take of fish of a weight; `at_most` where a limit is unknown."""

    place: str
    fish: int
    kg: float
    governs: str
    at_most: bool
    same_loop: bool
    holds: tuple[str, ...]
    missing: tuple[str, ...]


class Plan(Struct, frozen=True, kw_only=True):
    """What is next for a lot in a tank. Each line says the day and why, or why there is no day.

    `stay` is the number that may grow to market size here; None where that is not known.
    """

    place: str
    lot: str
    split: str
    split_by: date | None
    grade: str
    harvest: str
    above_market: Mapping[str, float]
    stay: int | None
    free: tuple[Free, ...]
    free_says: str
    reasons: Reasons


def plans(site: Site, farm: Farm, place: Place, now: datetime) -> tuple[Plan, ...]:
    """Return the plan of every lot in a tank; see `plan`."""
    found = []
    for stock in farm.stocks.get(place.code, ()):
        growth = of_stock(site, farm, place, stock, now)
        found.append(plan(site, farm, growth, project(site, farm, growth, now), now))
    return tuple(found)


def plan(site: Site, farm: Farm, growth: Growth, ahead: Projection, now: datetime) -> Plan:
    """Say when a lot in a tank is split, graded or harvested, and where there is room for it.

    Args:
        site: The site: density limits, market weights.
        farm: The farm.
        growth: What the lot did so far in this place.
        ahead: What it becomes.
        now: The present.

    Returns:
        The three lines and the tanks of the same stage and species that have room today.
    """
    place = site.places[growth.place]
    stay, by, split = _split(site, farm, place, growth, ahead, local_day(now, site.timezone))
    above, harvest = _harvest(site, place, growth, ahead)
    held = held_in(farm, place, now)
    free = () if held else rooms(site, farm, place, growth.weight_g, now)
    kept = f"other {place.stage or ''} tank of this species".replace("  ", " ")
    says = "; ".join(map(free_words, free)) or f"no {kept} has room"
    if held:
        says = f"none sought. {held}: they stay, {ASK}"
    reasons = (
        Reason(
            "Planned from {share:.0%} of the density limit, split by the first day of its band",
            {"share": WARN_SHARE}, "common practice",
        ),
        *(Reason("{way}: {part:.1%} above market size today", {"way": way, "part": part},
                 "mean of today, last spread of single weights") for way, part in above.items()),
    )  # fmt: skip
    return Plan(
        place=place.code,
        lot=growth.lot,
        split=split,
        split_by=by,
        grade=f"Grade: {ahead.grading.says}",
        harvest=harvest,
        above_market=above,
        stay=stay,
        free=free,
        free_says=says,
        reasons=reasons,
    )


def _split(
    site: Site, farm: Farm, place: Place, growth: Growth, ahead: Projection, today: date
) -> tuple[int | None, date | None, str]:
    most, _ = site.density_for(place)
    volume_m3, species = water_m3(place, farm.now.states), site.species_of(place)
    limit, market = ahead.density_limit, ahead.market
    if most is None or volume_m3 is None:
        lacks = "density limit" if most is None else "water volume"
        return None, None, f"Split: no {lacks} is set for {place.code}: put it into site.toml"
    here = farm.stocks.get(place.code, ())
    others_kg = math.fsum(stock.biomass_kg for stock in here if stock.lot != growth.lot)
    room_kg = of_fish.biomass_at_density_kg(volume_m3, most) - others_kg
    stay, leave = None, ""
    if species is not None and place.stage == "grow-out":
        stay = max(0, math.floor(room_kg * 1000 / species.market_weight_g + 1e-9))
        if stay < growth.count:
            leave = f"; {stay} can stay until {species.market_weight_g:g} g"
    if growth.biomass_kg >= room_kg:
        density = (growth.biomass_kg + others_kg) / volume_m3
        return stay, today, f"Split now: {density:.1f} kg/m3 here, the limit is {most:g}{leave}"
    if limit.day is None or limit.earliest is None:
        return stay, None, f"Split: {limit.says}{leave}"
    if market.day is not None and market.day <= limit.earliest:
        return stay, None, f"Split: not before market size; {limit.says}"
    says = f"{growth.count} of these fish reach {limit.says}{leave}"
    return stay, limit.earliest, f"Split by {long_day(limit.earliest)}: {says}"


def _harvest(
    site: Site, place: Place, growth: Growth, ahead: Projection
) -> tuple[dict[str, float], str]:
    species = site.species_of(place)
    spread = [p.cv_percent for p in growth.points if p.cv_percent is not None and p.cv_percent > 0]
    if species is None or not spread or growth.weight_g <= 0:
        return {}, f"Harvest: {ahead.market.says}"
    market_g, cv = species.market_weight_g, spread[-1]
    try:
        above = {
            "normal": fraction_above_normal(growth.weight_g, cv, market_g),
            "log-normal": fraction_above_lognormal(growth.weight_g, cv, market_g),
        }
    except ValueError:  # a spread no lot has
        return {}, f"Harvest: {ahead.market.says}"
    low, high = sorted(round(part * growth.count) for part in above.values())
    if high < HARVEST_PART * growth.count:
        return above, f"Harvest: {ahead.market.says}"
    many = f"{low}" if low == high else f"{low} to {high}"
    return above, f"Harvest: {many} of {growth.count} are above {market_g:g} g: sorting them out " \
        "makes room"  # fmt: skip


def rooms(site: Site, farm: Farm, place: Place, weight_g: float, now: datetime) -> tuple[Free, ...]:
    """Return the other tanks of a tank's stage and species with room, its own loop first.

    One with sick fish is not among them, nor one whose fish these would eat, or be eaten by.

    Args:
        site: The site.
        farm: The farm.
        place: Where the fish are.
        weight_g: Their mean weight, g.
        now: The present.
    """
    found = [
        free(site, farm, other, place, weight_g, now)
        for other in site.places.values()
        if other.kind == "tank" and other.code != place.code
        and (other.stage, other.species) == (place.stage, place.species)
        and farm.state_of(other.code) != "drained" and sick(farm, other, now) is None
        and prey(site, farm, other, weight_g) is None
    ]  # fmt: skip
    known = [one for one in found if one is not None and one.fish > 0]
    return tuple(sorted(known, key=lambda one: (not one.same_loop, bool(one.holds), -one.fish)))


def prey(site: Site, farm: Farm, target: Place, weight_g: float) -> Stock | None:
    """Return the fish of a tank that could not be kept with some of a weight, the most unlike.

    Args:
        site: The site.
        farm: The farm.
        target: The tank.
        weight_g: Mean weight of the fish that would come, g; 0 where it is not known.

    Returns:
        By mean lengths, the smaller could be eaten by the larger; None where there is none.
    """
    species = site.species_of(target)
    if species is None or weight_g <= 0:
        return None
    own_cm, found = _length_cm(species, weight_g), dict[float, Stock]()
    for stock in farm.stocks.get(target.code, ()):
        if stock.weight_g > 0:
            small, large = sorted((own_cm, _length_cm(species, stock.weight_g)))
            if grade_now(small, large):
                found[small / large] = stock
    return found[min(found)] if found else None


def _length_cm(species: Species, weight_g: float) -> float:
    """Return a length; outside what fish measure, the nearer end."""
    return min(max(species.length_cm(weight_g), 0.1), 250.0)


def free(
    site: Site, farm: Farm, target: Place, source: Place, weight_g: float, now: datetime
) -> Free | None:
    """Return what a tank can take in addition to the fish there; None where no limit is known.

    Args:
        site: The site.
        farm: The farm.
        target: The tank that would take them.
        source: Where they are.
        weight_g: Their mean weight, g.
        now: The present.
    """
    if weight_g <= 0:
        return None
    stocks = farm.stocks.get(target.code, ())
    told = Limits(site, farm, target, stocks, now)
    try:
        found = [told.limit(name, weight_g) for name in NAMES]
    except ValueError:  # a weight no feeding table holds
        return None
    known = {one.name: one.kg for one in found if one.kg is not None}
    if not known:
        return None
    least = of_fish.least(known)
    kg = max(0.0, least.kg - math.fsum(stock.biomass_kg for stock in stocks))
    return Free(
        target.code, math.floor(kg * 1000 / weight_g + 1e-9), kg, least.governs,
        len(known) < len(found), bool(target.loop) and target.loop == source.loop,
        tuple(stock.lot for stock in stocks),
        tuple(dict.fromkeys(one.missing for one in found if one.missing)),
    )  # fmt: skip


def free_words(one: Free) -> str:
    """Return the room of a tank in words: "G4 at most 342 fish, 171 kg (space); empty"."""
    most = "at most " if one.at_most else ""
    holds = f"holds {', '.join(one.holds)}" if one.holds else "empty"
    loop = "same loop" if one.same_loop else "other water"
    return f"{one.place} {most}{one.fish} fish, {one.kg:.0f} kg by {one.governs} ({holds}, {loop})"


def plan_lines(one: Plan) -> tuple[str, ...]:
    """Return a plan in words, a line each."""
    return one.split, one.grade, one.harvest, f"Room: {one.free_says}"
