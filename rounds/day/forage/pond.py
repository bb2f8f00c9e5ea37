"""The forage pond against what is needed of it: stock, yield, allowed crop, and forage given.

The stock is what was last estimated, with its date; an old one, or a cold pond, allows nothing.
What is allowed a day adds up from the estimate on; crops since are taken off it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import chain

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.feeding.rations import Ration
from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import pellet_equivalent_g
from rounds.day.fold.state import amount
from rounds.day.forage.need import BREEDING_C, Asked, forage
from rounds.day.forage.pond_estimate import interval_of
from rounds.day.lots.crops import Crop, crops, permit
from rounds.day.lots.forage_hold import no_forage, to_feed
from rounds.day.lots.raw_eating import would_lose
from rounds.day.lots.series import warmth
from rounds.day.readings.inputs import fresh
from rounds.day.when import local_day, long_day, spoken
from rounds.fish.pond import (
    STALE_AFTER_DAYS,
    StockEstimate,
    crop_allowed,
    msy_kg_yr,
    pond_area_needed_m2,
)
from rounds.reason import Reason, Reasons, Value, lines
from rounds.records.entry import Counted, Entry, Fed, Stocked, Weighed
from rounds.site.model import Place, Site
from rounds.text import plain
from rounds.units import Amount

_WEEK, _YEAR = timedelta(days=7), timedelta(days=366)


class Pond(Struct, frozen=True, kw_only=True):
    """The pond: its stock with interval and date, what it made, what may be taken."""

    place: str
    fish: float | None
    low_fish: float | None
    high_fish: float | None
    estimated_at: datetime | None
    age_days: float | None
    stock_kg: float | None
    temperature_c: float | None
    made_kg_day: float | None
    made_g_m2_day: float | None
    by_yield_kg_day: float | None
    by_surplus_kg_day: float | None
    allowed_kg_day: float | None
    bears_kg_day: float | None
    warm_days: int
    """The larger of the two in the warm, from an estimate that is not too old."""
    taken_kg: float
    """Since the estimate."""
    free_kg: float | None
    """May be taken now: what was allowed since the estimate, less what was taken."""
    crops_this_year: int
    taken_this_year_kg: float
    most_a_year_kg: float | None
    """By surplus production, r K / 4."""
    need_kg_day: float
    area_needed_m2: float | None
    line: str
    """Need against yield, in one line."""
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


# -- the pond --------------------------------------------------------------------------------------


def of_pond(farm: Farm, place: Place, now: datetime, asked: Asked) -> Asked:
    """Return what was typed, the rest from the pond's place and its records.

    Args:
        farm: The farm.
        place: The pond.
        now: The present.
        asked: What was typed; it goes before what the site says.
    """
    own = place.forage
    return replace(
        asked,
        prey_g=asked.prey_g or _weight_g(_entries(farm, place.code, now), now),
        r_per_yr=own.r_per_yr if asked.r_per_yr is None else asked.r_per_yr,
        k_kg=own.k_kg if asked.k_kg is None else asked.k_kg,
        breeding_c=own.breeding_c if asked.breeding_c is None else asked.breeding_c,
    )


def pond(
    site: Site, farm: Farm, place: Place, now: datetime, asked: Asked, need_kg_day: float
) -> Pond:
    """Return how a pond stands against what is needed of it.

    Args:
        site: The site.
        farm: The farm.
        place: The pond.
        now: The present.
        asked: What was typed.
        need_kg_day: Forage needed by the tanks, kg wet a day.

    Raises:
        ValueError: A number is out of range.
    """
    typed, asked = asked, of_pond(farm, place, now, asked)
    entries = _entries(farm, place.code, now)
    counts = [e for e in entries if isinstance(e, Counted)]
    missing, cautions, reasons = [], [permit(place, local_day(now, site.timezone))], []
    last = counts[-1] if counts else None
    prey_g = typed.prey_g or _weight_g(entries, last.at if last else now)
    stock_kg = age = None
    interval: StockEstimate | None = None
    if last is None:
        missing.append(f"Estimate the stock of {place.code}: rounds forage --marked, or --hauls.")
    else:
        age = (now - last.at) / timedelta(days=1)
        interval = interval_of(last)
        when = spoken(last.at, now, site.timezone)
        says = "{count} fish in {place}, {method}, {when}"
        method = last.method or "counted"
        reasons.append(
            Reason(says, {"count": last.count, "place": place.code, "method": method, "when": when})
        )
        if prey_g is None:
            missing.append(_to_weigh(farm, place.code))
        else:
            stock_kg = last.count * prey_g / 1000
    read = farm.latest(place.code, "temperature", now)
    if read is None or not fresh(read, now):
        missing.append(f"Read the temperature of {place.code}.")
        read = None
    taken = crops(site, farm, place.code, now)
    made, since = _made_kg_day(taken, entries, typed.prey_g)
    area = place.area_m2
    if asked.yield_g_m2_day is not None and area is not None:
        made = asked.yield_g_m2_day * area / 1000
        reasons.append(Reason("yield as given: {y:g} g/m2 a day", {"y": asked.yield_g_m2_day}))
    elif made is None:
        missing.append("Two estimates of the stock a week or more apart, for its yield.")
    else:
        says = "made {made:.4f} a day since {since}, crops counted in"
        at = long_day(local_day(since, site.timezone)) if since else ""
        reasons.append(Reason(says, {"made": Amount(made, "kg"), "since": at}, "measured here"))
    breeding_c = BREEDING_C if asked.breeding_c is None else asked.breeding_c
    most = None
    if asked.r_per_yr is None or asked.k_kg is None:
        missing.append("Growth rate and carrying capacity of the stock, for surplus production.")
    else:
        most = msy_kg_yr(asked.r_per_yr, asked.k_kg)
        values: dict[str, Value] = {"r": asked.r_per_yr, "k": Amount(asked.k_kg, "kg")}
        says = "growth rate {r:g} a year, the pond carries {k:.1f}"
        typed_both = typed.r_per_yr is not None and typed.k_kg is not None
        source = "as typed" if typed_both else f"site.toml: {place.forage.source}"
        reasons.append(Reason(says, values, source))
    by_yield = by_surplus = bears = None
    if last is not None and age is not None and stock_kg is not None:
        most_kg = 2 * asked.k_kg if asked.k_kg is not None else math.inf
        figures = (made, asked.r_per_yr, asked.k_kg, min(stock_kg, most_kg), age)
        warm = crop_allowed(*figures, breeding_c, breeding_c)
        both = (warm.by_yield_kg_day, warm.by_surplus_kg_day)
        bears = max((one for one in both if one is not None), default=None)
        if read is not None:
            crop = crop_allowed(*figures, read.value, breeding_c)
            by_yield, by_surplus = crop.by_yield_kg_day, crop.by_surplus_kg_day
            reasons += crop.reasons
    elif read is not None and read.value < breeding_c:
        by_yield = by_surplus = 0.0
        reasons.append(Reason("too cold to breed: take nothing", {}, "common practice"))
    allowed = _least(by_yield, by_surplus)
    if age is not None and age > STALE_AFTER_DAYS:
        allowed = 0.0
    since_kg = sum(one.kg for one in taken if last is not None and one.at > last.at)
    warm_days = 0 if last is None else _warm_days(farm, place, last.at, now)
    free = None if allowed is None or age is None else max(0.0, allowed * warm_days - since_kg)
    year = f"{now.astimezone(site.timezone):%Y}"
    this_year = [one for one in taken if one.day.startswith(year)]
    per_m2 = None if made is None or area is None else made * 1000 / area
    area_needed = None
    if per_m2 is not None and per_m2 >= 1e-4 and need_kg_day > 0:
        area_needed = pond_area_needed_m2(need_kg_day, per_m2)
    return Pond(
        place=place.code,
        fish=None if last is None else float(last.count),
        low_fish=interval.low if interval else None,
        high_fish=interval.high if interval else None,
        estimated_at=last.at if last else None,
        age_days=age,
        stock_kg=stock_kg,
        temperature_c=read.value if read else None,
        made_kg_day=made,
        made_g_m2_day=per_m2,
        by_yield_kg_day=by_yield,
        by_surplus_kg_day=by_surplus,
        allowed_kg_day=allowed,
        bears_kg_day=bears,
        warm_days=warm_days,
        taken_kg=since_kg,
        free_kg=free,
        crops_this_year=len(this_year),
        taken_this_year_kg=sum(one.kg for one in this_year),
        most_a_year_kg=most,
        need_kg_day=need_kg_day,
        area_needed_m2=area_needed,
        line=_line(need_kg_day, allowed, area_needed, area),
        missing=tuple(missing),
        cautions=tuple(cautions),
        reasons=tuple(reasons),
    )


def _to_weigh(farm: Farm, place: str) -> str:
    if farm.stocks.get(place):
        return f"Weigh thirty fish of {place}: rounds weigh {place} --nets."
    return f"Record the fish in {place} with their weight: rounds record stocked place={place}."


def _warm_days(farm: Farm, place: Place, since: datetime, now: datetime) -> int:
    """Return how many days since an instant were warm enough to breed; one unread is as before."""
    warm = warmth(farm, (place.code,), since, now + timedelta(days=1))
    low = place.forage.breeding_c
    return sum(value >= low for value in warm.daily_c) if warm is not None else 0


def _least(*figures: float | None) -> float | None:
    return min((one for one in figures if one is not None), default=None)


def _line(
    need_kg: float, allowed_kg: float | None, area_needed_m2: float | None, area_m2: float | None
) -> str:
    may = "not known" if allowed_kg is None else f"{allowed_kg * 1000:.0f} g"
    needed = f"Needed {need_kg * 1000:.0f} g a day" if need_kg > 0 else "No tank is fed forage"
    line = f"{needed}, allowed {may}"
    if allowed_kg is not None and need_kg > allowed_kg:
        line += ", pellets for the rest"
    if area_needed_m2 is not None and area_m2 is not None:
        line += (
            f"; it would take {area_needed_m2:.0f} m2 of such a pond, this one has {area_m2:.0f}"
        )
    return line


def _entries(farm: Farm, place: str, now: datetime) -> list[Entry]:
    kinds = (Stocked, Counted, Weighed)
    done = chain.from_iterable(farm.lots.values())
    here = [e for e in done if isinstance(e, kinds) and e.place == place and e.at <= now]
    return sorted(here, key=lambda e: (e.at, e.id))


def _weight_g(entries: list[Entry], at: datetime) -> float | None:
    """Return the mean weight nearest before an instant, or within a day after it."""
    found = None
    for entry in entries:
        if entry.at > at + timedelta(days=1):
            break
        if isinstance(entry, Weighed) and entry.count > 0:
            mass_g = amount(entry.mass, entry.unit, "g")
            found = mass_g / entry.count if mass_g else found
        elif isinstance(entry, Stocked):
            found = amount(entry.mean_weight, entry.unit, "g") or found
    return found


def _made_kg_day(
    taken: Sequence[Crop], entries: list[Entry], prey_g: float | None
) -> tuple[float | None, datetime | None]:
    """Return the net production up to the last estimate, kg a day, and since when.

    It is taken over as much of a year as is known since the last stocking: between two estimates
    near each other their errors would hide it.
    """
    known = [e for e in entries if isinstance(e, Counted | Stocked)]
    if len(known) < 2 or not isinstance(known[-1], Counted):
        return None, None
    last = known[-1]
    stocked = max((n for n, e in enumerate(known) if isinstance(e, Stocked)), default=0)
    span = (e for e in known[stocked:-1] if _WEEK <= last.at - e.at <= _YEAR)
    first = next(span, None)
    if first is None:
        return None, None
    start_g = _weight_g([e for e in entries if e.at <= first.at], first.at)
    end_g = prey_g or _weight_g(entries, last.at)
    if start_g is None or end_g is None:
        return None, None
    crops_g = 1000 * sum(one.kg for one in taken if first.at < one.at <= last.at)
    days = (last.at - first.at) / timedelta(days=1)
    made_g = last.count * end_g - first.count * start_g + crops_g
    return made_g / 1000 / days, first.at


# -- what is written -------------------------------------------------------------------------------


def give(
    site: Site,
    farm: Farm,
    now: datetime,
    ration: Ration,
    grams: Decimal,
    found: Pond,
    why: str = "",
    lot: str = "",
) -> Fed:
    """Draft the entry of forage given to a tank, from a crop that is out of its hold.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        ration: The tank's ration, for its meal and whether it may be fed.
        grams: Wet forage, g.
        found: The pond it comes from.
        why: The person's reason.
        lot: The crop; left out, the oldest that may be fed.

    Returns:
        The draft.

    Raises:
        ValueError: No forage product, a tank that is not to be fed, more than the crop has left,
            or, without a reason, a crop in its hold or straight from the pond, a lot that would
            lose its exemption, more than is left of the day's ration, or a meal too soon.
    """
    product = forage(site)
    if product is None:
        raise ValueError(
            "No [[product]] of kind forage stands in site.toml: add it, with dry_matter."
        )
    if not grams.is_finite() or grams <= 0:
        raise ValueError(f"{grams} g is not an amount of forage.")
    if not ration.ready:
        raise ValueError(f"{ration.place} is not to be fed now ({ration.held_back}).")
    crop, told = to_feed(site, farm, now, lot), list[str]()
    if crop is not None and crop.place == ration.place:
        raise ValueError(f"{crop.lot} swims in {crop.place} itself.")
    if crop is not None:
        if float(grams) > 1000 * crop.mass_kg + 1:
            left_g = f"{crop.mass_kg * 1000:.0f} g"
            raise ValueError(f"{crop.lot} has {left_g} left: if there is more, count it first.")
        if not crop.ready:
            told.append(f"{crop.says}.")
    else:
        told.append(
            f"{no_forage(site, farm, product, now)} From the pond itself it has had no hold at "
            "all; a crop still in its hold is named with --lot."
        )
        free_g = None if found.free_kg is None else found.free_kg * 1000
        if free_g is None or float(grams) > free_g:
            may = "not known" if free_g is None else f"{free_g:.0f} g"
            told.append(f"{plain(grams)} g is above what {found.place} bears now, {may}.")
    told += would_lose(farm.stocks.get(ration.place, ()))
    pellets_g = pellet_equivalent_g(product, float(grams), None)
    if ration.meals and pellets_g > ration.left_g + 1:
        told.append(
            f"{plain(grams)} g stand for {pellets_g:.0f} g of pellets, {ration.left_g:.0f} g are "
            f"left of today's ration of {ration.place}."
        )
    if ration.too_soon:
        told.append(ration.too_soon)
    if told and not why.strip():
        raise ValueError(f"{' '.join(told)} Say why it is given.")
    meal = ration.next_meal
    return Fed(
        place=ration.place,
        lot=ration.lots[0] if len(ration.lots) == 1 else None,
        product=product.code,
        amount=plain(grams),
        unit="g",
        meal=meal.number if meal else 1,
        reasons=lines(found.reasons, site.display_units),
        why=why.strip(),
        feed_lot="" if crop is None else crop.lot,
    )
