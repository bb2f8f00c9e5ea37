"""The forage pond against what is needed of it: stock, yield, allowed crop, and the crop given.

The stock is what was last estimated, with its date; an old one, or a cold pond, allows nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final

from rounds.day.farm import Farm
from rounds.day.forage_need import Asked, forage
from rounds.day.inputs import fresh
from rounds.day.rations import Ration
from rounds.day.state import amount
from rounds.day.when import local_day, spoken
from rounds.fish.pond import (
    STALE_AFTER_DAYS,
    StockEstimate,
    crop_allowed,
    mark_recapture,
    pond_area_needed_m2,
)
from rounds.reason import Reason, Reasons, lines
from rounds.records.entry import Counted, Entry, Fed, Stocked, Weighed
from rounds.site.model import Place, Site
from rounds.text import plain
from rounds.units import Amount

PERMIT: Final = (
    "Permit: look that it names this species and has not run out; no pond fish leaves the site, "
    "and no wild ones come in."
)
_METHOD: Final = re.compile(r"mark-recapture: (\d+) marked, (\d+) caught, (\d+) recaptured")


@dataclass(frozen=True, slots=True)
class Pond:
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
    need_kg_day: float
    area_needed_m2: float | None
    line: str
    """Need against yield, in one line."""
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


def ponds(site: Site) -> tuple[Place, ...]:
    """Return the ponds of a site, in walking order."""
    return tuple(place for place in site.places.values() if place.kind == "pond")


# -- the pond --------------------------------------------------------------------------------------


def estimate(place: str, lot: str, marked: int, caught: int, recaptured: int) -> Counted:
    """Draft the entry of a stock estimate by mark and recapture.

    Raises:
        ValueError: A number is out of range.
    """
    found = mark_recapture(marked, caught, recaptured)
    method = f"mark-recapture: {marked} marked, {caught} caught, {recaptured} recaptured"
    return Counted(place=place, lot=lot, count=round(found.fish), method=method)


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
    entries = _entries(farm, place.code, now)
    counts = [e for e in entries if isinstance(e, Counted)]
    missing, cautions, reasons = [], [PERMIT], []
    last = counts[-1] if counts else None
    prey_g = asked.prey_g or _weight_g(entries, last.at if last else now)
    stock_kg = age = None
    interval: StockEstimate | None = None
    if last is None:
        missing.append(f"Estimate the stock of {place.code}: mark fish, let them go, catch again.")
    else:
        age = (now - last.at) / timedelta(days=1)
        interval = _interval(last)
        when = spoken(last.at, now, site.timezone)
        says = "{count} fish in {place}, {method}, {when}"
        method = last.method or "counted"
        reasons.append(
            Reason(says, {"count": last.count, "place": place.code, "method": method, "when": when})
        )
        if prey_g is None:
            missing.append(f"Weigh thirty fish of {place.code}.")
        else:
            stock_kg = last.count * prey_g / 1000
    read = farm.latest(place.code, "temperature", now)
    if read is None or not fresh(read, now):
        missing.append(f"Read the temperature of {place.code}.")
        read = None
    made, since = _made_kg_day(site, farm, entries, asked)
    area = place.area_m2
    if asked.yield_g_m2_day is not None and area is not None:
        made = asked.yield_g_m2_day * area / 1000
        reasons.append(Reason("yield as given: {y:g} g/m2 a day", {"y": asked.yield_g_m2_day}))
    elif made is None:
        missing.append("Two estimates of the stock a week or more apart, for its yield.")
    else:
        says = "made {made:.4f} a day since {since}, crops counted in"
        at = f"{since:%d %b %Y}" if since else ""
        reasons.append(Reason(says, {"made": Amount(made, "kg"), "since": at}, "measured here"))
    if asked.r_per_yr is None or asked.k_kg is None:
        missing.append("Growth rate and carrying capacity of the stock, for surplus production.")
    by_yield = by_surplus = None
    if last is not None and age is not None and stock_kg is not None and read is not None:
        crop = crop_allowed(
            made, asked.r_per_yr, asked.k_kg, stock_kg, age, read.value, asked.breeding_c
        )
        by_yield, by_surplus = crop.by_yield_kg_day, crop.by_surplus_kg_day
        reasons += crop.reasons
    elif read is not None and read.value < asked.breeding_c:
        by_yield = by_surplus = 0.0
        reasons.append(Reason("too cold to breed: take nothing", {}, "common practice"))
    known = [crop_kg for crop_kg in (by_yield, by_surplus) if crop_kg is not None]
    allowed = min(known, default=None)
    if age is not None and age > STALE_AFTER_DAYS:
        allowed = 0.0
    per_m2 = None if made is None or area is None else made * 1000 / area
    area_needed = None
    if per_m2 is not None and per_m2 >= 1e-4 and need_kg_day > 0:
        area_needed = pond_area_needed_m2(need_kg_day, per_m2)
    return Pond(
        place.code, None if last is None else float(last.count),
        interval.low if interval else None, interval.high if interval else None,
        last.at if last else None, age, stock_kg, read.value if read else None, made, per_m2,
        by_yield, by_surplus, allowed, need_kg_day, area_needed,
        _line(need_kg_day, allowed, area_needed, area), tuple(missing), tuple(cautions),
        tuple(reasons),
    )  # fmt: skip


def _line(
    need_kg: float, allowed_kg: float | None, area_needed_m2: float | None, area_m2: float | None
) -> str:
    may = "not known" if allowed_kg is None else f"{allowed_kg * 1000:.0f} g"
    line = f"Needed {need_kg * 1000:.0f} g a day, allowed {may}"
    if area_needed_m2 is not None and area_m2 is not None:
        line += (
            f"; it would take {area_needed_m2:.0f} m2 of such a pond, this one has {area_m2:.0f}"
        )
    return line


def _entries(farm: Farm, place: str, now: datetime) -> list[Entry]:
    found = (farm.entry(key) for key in farm.entries)
    kinds = (Stocked, Counted, Weighed)
    here = [e for e in found if isinstance(e, kinds) and e.place == place and e.at <= now]
    return sorted(here, key=lambda e: (e.at, e.id))


def _interval(counted: Counted) -> StockEstimate | None:
    found = _METHOD.search(counted.method)
    try:
        return mark_recapture(*(int(part) for part in found.groups())) if found else None
    except ValueError:
        return None


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
    site: Site, farm: Farm, entries: list[Entry], asked: Asked
) -> tuple[float | None, datetime | None]:
    """Return the net production between the last two estimates, or since stocking, kg a day."""
    known = [e for e in entries if isinstance(e, Counted | Stocked)]
    if len(known) < 2 or not isinstance(known[-1], Counted):
        return None, None
    last = known[-1]
    first = next((e for e in reversed(known[:-1]) if last.at - e.at >= timedelta(days=7)), None)
    if first is None or any(isinstance(e, Stocked) and e.at > first.at for e in known):
        return None, None
    start_g = _weight_g([e for e in entries if e.at <= first.at], first.at)
    end_g = asked.prey_g or _weight_g(entries, last.at)
    if start_g is None or end_g is None:
        return None, None
    crops_g = sum(
        fed.amount_g
        for place in site.places
        for fed in farm.fed(place)
        if first.at < fed.at <= last.at
        and (product := site.products.get(fed.product)) is not None
        and product.kind == "forage"
    )
    days = (last.at - first.at) / timedelta(days=1)
    made_g = last.count * end_g - first.count * start_g + crops_g
    return made_g / 1000 / days, first.at


# -- what is written -------------------------------------------------------------------------------


def crop(
    site: Site,
    farm: Farm,
    now: datetime,
    ration: Ration,
    grams: Decimal,
    found: Pond,
    why: str = "",
) -> Fed:
    """Draft the entry of forage given to a tank.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        ration: The tank's ration, for its meal and whether it may be fed.
        grams: Wet forage, g.
        found: The pond it comes from.
        why: The person's reason.

    Returns:
        The draft.

    Raises:
        ValueError: No forage product, a tank that is not to be fed, a crop above what is allowed
            or a lot that would lose its exemption, without a reason.
    """
    product = forage(site)
    if product is None:
        raise ValueError("No product of kind forage stands in site.toml.")
    if not grams.is_finite() or grams <= 0:
        raise ValueError(f"{grams} g is not an amount of forage.")
    if not ration.ready:
        raise ValueError(f"{ration.place} is not to be fed now ({ration.held_back}).")
    allowed_g = None if found.allowed_kg_day is None else found.allowed_kg_day * 1000
    told = []
    taken_g = sum(
        fed.amount_g
        for place in site.places
        for fed in farm.fed(place)
        if fed.product == product.code and fed.day == f"{local_day(now, site.timezone)}"
    )
    if allowed_g is None or float(grams) + taken_g > allowed_g:
        may = "not known" if allowed_g is None else f"{allowed_g:.0f} g"
        told.append(
            f"{plain(grams)} g, {taken_g:.0f} g taken already, is above the day's crop, {may}."
        )
    told += [
        f"{stock.lot} would lose the exemption from freezing for raw eating, for good; the local "
        "food authority decides."
        for stock in farm.stocks.get(ration.place, ())
        if not stock.ever_fed_live
    ]
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
    )
