"""The forage pond against the tanks it feeds: prey size, need, stock, allowed crop, in one place.

The need of a tank is its ration as the same dry matter of forage. The stock is what was last
estimated, with its date; an old one, or a cold pond, allows nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final

from rounds.day import rations
from rounds.day.farm import Farm
from rounds.day.inputs import fresh
from rounds.day.rations import Ration
from rounds.day.state import amount
from rounds.day.stock import PELLET_DRY_MATTER
from rounds.day.when import local_day, spoken
from rounds.fish.drymatter import wet_equivalent_kg
from rounds.fish.forage import PreyWindow, prey_window
from rounds.fish.pond import (
    STALE_AFTER_DAYS,
    StockEstimate,
    crop_allowed,
    mark_recapture,
    pond_area_needed_m2,
)
from rounds.reason import Reason, Reasons, lines
from rounds.records.entry import Counted, Entry, Fed, Stocked, Weighed
from rounds.site.model import Place, Product, Site
from rounds.text import plain
from rounds.units import Amount

BREEDING_C: Final = 20.0
"""Below it a pond fish does not breed, where nobody says another (common practice)."""
PERMIT: Final = (
    "Permit: look that it names this species and has not run out; no pond fish leaves the site, "
    "and no wild ones come in."
)
_METHOD: Final = re.compile(r"mark-recapture: (\d+) marked, (\d+) caught, (\d+) recaptured")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is typed beside the records; None is not typed."""

    share: float = 1.0
    """Part of a tank's ration that is to come from the pond."""
    predator_mm: float | None = None
    prey_g: float | None = None
    yield_g_m2_day: float | None = None
    r_per_yr: float | None = None
    k_kg: float | None = None
    breeding_c: float = BREEDING_C


@dataclass(frozen=True, slots=True)
class Need:
    """What a tank would take from the pond a day, and which prey fits it."""

    place: str
    wet_kg_day: float | None
    prey_a_day: float | None
    window: PreyWindow | None
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


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


def forage(site: Site) -> Product | None:
    """Return the site's forage product, the first one that says its dry matter."""
    found = [p for p in site.products.values() if p.kind == "forage"]
    return next((p for p in found if p.dry_matter), found[0] if found else None)


# -- the tanks -------------------------------------------------------------------------------------


def needs(
    site: Site, farm: Farm, now: datetime, asked: Asked, place: str | None = None
) -> tuple[Need, ...]:
    """Return what each tank with a ration in grams would take, or the one named.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        asked: What was typed.
        place: One place only.

    Raises:
        ValueError: A number is out of range.
    """
    return tuple(
        _need(site, ration, asked)
        for ration in rations.today(site, farm, now)
        if (ration.place == place if place else ration.total_g > 0)
    )


def _need(site: Site, ration: Ration, asked: Asked) -> Need:
    product, place = forage(site), site.places[ration.place]
    missing, cautions, reasons = [], [], []
    wet_kg: float | None = None
    feed = site.products.get(ration.product)
    pellet = (feed.dry_matter if feed is not None else None) or PELLET_DRY_MATTER
    if product is None or product.dry_matter is None:
        missing.append("Dry 50 g of forage at 105 degC overnight, put dry_matter into site.toml.")
    elif feed is None or feed.kind != "feed":
        missing.append(f"No ration in grams is worked out for {ration.place}.")
    else:
        part_kg = ration.total_g / 1000 * asked.share
        wet_kg = wet_equivalent_kg(part_kg, pellet * 100, product.dry_matter * 100)
        reasons.append(
            Reason(
                "{part:.3f} of pellets, {dry:.0f} % dry = {wet:.3f} of forage, {own:.0f} % dry",
                {
                    "part": Amount(part_kg, "kg"), "dry": pellet * 100,
                    "wet": Amount(wet_kg, "kg"), "own": product.dry_matter * 100,
                },
                "dry-matter balance",
            )
        )  # fmt: skip
    length_mm = asked.predator_mm or _length_mm(site, place, ration.mean_weight_g)
    window = None if length_mm is None else prey_window(length_mm)
    if window is None:
        missing.append(f"Measure ten fish of {ration.place}: no length is known for their weight.")
    else:
        reasons += window.reasons
        cautions.append(
            f"Refuse prey above {window.refuse_above_mm:.0f} mm; deep-bodied or spiny prey no "
            f"longer than {0.15 * window.offer_mm[1] / 0.20:.0f} mm."
        )
    number = wet_kg * 1000 / asked.prey_g if wet_kg is not None and asked.prey_g else None
    return Need(
        ration.place, wet_kg, number, window, tuple(missing), tuple(cautions), tuple(reasons)
    )


def _length_mm(site: Site, place: Place, weight_g: float) -> float | None:
    species = site.species_of(place)
    if species is None or species.length_weight is None or weight_g <= 0:
        return None
    a, b = species.length_weight
    return float(10 * (weight_g / a) ** (1 / b))


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
