"""Room to grow: how many fish of what size a tank can take, and what sets the limit.

Each limit rests on the tank as it was measured: what its fish use now plus what its flow still
carries before the water leaves its target band. No default stands in for a measurement: a limit
that cannot be worked out says what to measure, and the answer is then "at most".
"""

from __future__ import annotations

import math
from datetime import datetime

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.fold.waters import water_m3
from rounds.day.lots.growth import of_stock
from rounds.day.lots.health import ASK, kept_out
from rounds.day.lots.moving import Plan, plans
from rounds.day.lots.projection import WARN_SHARE, project, when_weighs
from rounds.day.lots.room_limits import DAY, NAMES, Limit, Limits
from rounds.day.readings.outages import outage
from rounds.day.when import spoken
from rounds.fish import capacity as of_fish
from rounds.reason import Reasons
from rounds.site.model import Place, Site
from rounds.water.ranges import root, within


class Room(Struct, frozen=True, kw_only=True):
    """How much fish a tank can take at a mean weight, and which limit governs.

    `at_most` says that a limit is not known. `fits` answers for a number asked about, `grow_to_g`
    is the mean weight to which that number may grow.
    """

    place: str
    weight_g: float
    temperature_c: float | None
    ration_percent: float | None
    now_kg: float
    density_kg_m3: float | None
    limits: tuple[Limit, ...]
    kg: float | None
    fish: int | None
    governs: str
    at_most: bool
    count: int | None
    fits: bool | None
    grow_to_g: float | None
    dates: tuple[str, ...]
    plans: tuple[Plan, ...]
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


def room(
    site: Site,
    farm: Farm,
    place: Place,
    now: datetime,
    weight_g: float | None = None,
    count: int | None = None,
) -> Room:
    """Work out how much fish a tank can take.

    Args:
        site: The site: limits, density, feed, filters.
        farm: The farm.
        place: A tank.
        now: The present.
        weight_g: Mean weight asked about, g, 0.1 to 50,000; that of the fish there when left out.
        count: Number asked about, 1 to 1e7; the number there when left out.

    Returns:
        Every limit opened, the least of them, and what is missing.

    Raises:
        ValueError: A value out of range, or no weight given for an empty tank.
    """
    stocks = farm.stocks.get(place.code, ())
    there = sum(stock.count for stock in stocks)
    now_kg = math.fsum(stock.biomass_kg for stock in stocks)
    if weight_g is None:
        if not now_kg:
            raise ValueError(f"{place.code} has no weighed fish: say which weight, with --weight")
        weight_g = now_kg * 1000 / there
    within("weight", weight_g, 0.1, 50_000, "g")
    count = (there or None) if count is None else count
    if count is not None:
        within("number of fish", count, 1, 1e7)
    told = Limits(site, farm, place, stocks, now)
    found = tuple(told.limit(name, weight_g) for name in NAMES)
    known = {one.name: one.kg for one in found if one.kg is not None}
    least = of_fish.least(known) if known else None
    most_g = None
    if least is not None and count is not None:
        most_g = _grow_to(told, tuple(known), count)
    dates = _dates(site, farm, place, stocks, now)
    if least is not None and least.governs != "space" and most_g and count == there:
        dates += _by_limit(site, farm, place, stocks, now, most_g, least.governs)
    volume_m3 = water_m3(place, farm.now.states)
    fish = None if least is None else math.floor(least.kg * 1000 / weight_g + 1e-9)
    return Room(
        place=place.code,
        weight_g=weight_g,
        temperature_c=told.temperature_c,
        ration_percent=told.percent(weight_g),
        now_kg=now_kg,
        density_kg_m3=now_kg / volume_m3 if volume_m3 else None,
        limits=found,
        kg=least.kg if least else None,
        fish=fish,
        governs=least.governs if least else "",
        at_most=len(known) < len(found),
        count=count,
        fits=None
        if fish is None or count is None
        else count <= fish and not outage(farm, place, now),
        grow_to_g=most_g,
        dates=dates,
        plans=plans(site, farm, place, now),
        missing=tuple(dict.fromkeys(one.missing for one in found if one.missing)),
        cautions=tuple(_cautions(site, farm, place, now_kg, volume_m3, told, now)),
        reasons=least.reasons if least else (),
    )


def _grow_to(told: Limits, names: tuple[str, ...], count: int) -> float | None:
    """Return the mean weight to which a number of fish may grow; None if there is no room."""

    def over(weight_g: float) -> float:
        return count * weight_g / 1000 - min(told.by[name](weight_g) for name in names)

    low, high = 0.1, 50_000.0
    if over(low) > 0:
        return None
    return high if over(high) <= 0 else root(over, low, high)


# -- when, and what to mind ------------------------------------------------------------------------


def _dates(
    site: Site, farm: Farm, place: Place, stocks: tuple[Stock, ...], now: datetime
) -> tuple[str, ...]:
    """Return when each lot brings the tank to its density limit, and to its warning."""
    found = []
    for stock in stocks:
        ahead = project(site, farm, of_stock(site, farm, place, stock, now), now)
        texts = dict.fromkeys((ahead.density_warn.says, ahead.density_limit.says))
        found += [f"{stock.lot}: {says}" for says in texts]
    return tuple(found)


def _by_limit(
    site: Site, farm: Farm, place: Place, stocks: tuple[Stock, ...], now: datetime, most_g: float,
    governs: str,
) -> tuple[str, ...]:  # fmt: skip
    """Return when the only lot of a tank has grown to what another limit than space allows."""
    if len(stocks) != 1:
        return ()
    growth = of_stock(site, farm, place, stocks[0], now)
    found = when_weighs(site, farm, growth, now, most_g, f"{most_g:.4g} g (what {governs} carries)")
    return (f"{stocks[0].lot}: {found.says}",)


def _cautions(
    site: Site, farm: Farm, place: Place, now_kg: float, volume_m3: float | None, told: Limits,
    now: datetime,
) -> list[str]:  # fmt: skip
    found = []
    if told.moved_since is not None:
        when = spoken(told.moved_since, now, site.timezone)
        found.append(f"Fish came or went since the water was read ({when}): read it again")
    most, _ = site.density_for(place)
    if most and volume_m3 and now_kg >= WARN_SHARE * most * volume_m3:
        share = now_kg / (most * volume_m3)
        found.append(f"At {share:.0%} of its density limit: plan the move, grading or split now")
    meals = [f for f in farm.fed(place.code, now - DAY) if f.at <= now and f.amount_g > 0]
    if why := kept_out(farm, place, now):
        found.insert(0, f"{why}: no fish in or out, {ASK}")
    if out := outage(farm, place, now):
        found.insert(0, f"{out[0].upper()}{out[1:]}: no fish go in until it runs")
    if now_kg and not meals:
        found.append("Not fed within 24 h: the readings show resting fish, fed ones use far more")
    species = site.species_of(place)
    if species is not None and not species.table.verified:
        found.append("The feeding table is unverified: replace it with the feed maker's")
    return found
