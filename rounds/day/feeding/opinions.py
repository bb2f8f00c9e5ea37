"""Opinions of a day's ration side by side: table, growth learnt here, intake, energy budget.

The first three decide: within a quarter of each other the table governs, else the smallest stands
until a person chooses. A choice is a note, and holds for three days.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from statistics import median_high
from typing import Final

from msgspec import Struct

from rounds.day.feeding.appetite import PastMeals
from rounds.day.feeding.meals import meals_a_day
from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import pellet_equivalent_g
from rounds.day.fold.state import NoteAt, Stock
from rounds.day.laptops.unheard import named
from rounds.day.lots.growth import BAND_C, of_stock
from rounds.day.when import local_day, short_day, spoken
from rounds.fish.conditions import REFUSED_PART
from rounds.fish.growth import sgr_gain_g_day
from rounds.fish.ration import (
    CHOOSE_ABOVE,
    bounded_fcr,
    compare,
    growth_ration_g_day,
)
from rounds.fish.seabream import factorial_ration
from rounds.reason import Reason, Reasons, render
from rounds.records.entry import Note
from rounds.site.model import Place, Product, Site, Species

CHOICE_WHYS: Final = ("fish are hungry", "fish are off feed", "they were weighed", "supervisor")
"""Reasons, one digit away, for a choice."""
RECENT_DAYS: Final = 3
"""Days before today whose intake is looked at, and for which a choice holds."""
LEARN_DAYS: Final = (7, 28)
"""Between the weighings that a growth is learnt from, fewest and most (common practice)."""
LEARNT_LASTS: Final = timedelta(days=30)
"""After the last weighing (common practice)."""
CHOICES: Final = {"table": "table", "growth": "growth", "accepted": "last accepted"}
_ABOUT: Final = "ration: "


class Opinion(Struct, frozen=True):
    """One opinion of the day's ration, g of pellets; None with the reason why there is none."""

    name: str
    g_day: float | None
    says: str
    decides: bool = True


class Opinions(Struct, frozen=True):
    """All opinions, which one governs and why, and whether a person is asked to choose."""

    all: tuple[Opinion, ...]
    governs: str
    governs_g: float
    choose: bool
    reasons: Reasons
    why: str = ""
    apart: bool = False
    """They lie more than a quarter apart: a person may choose, or has."""


def opinions(
    past: PastMeals,
    species: Species,
    stocks: Sequence[Stock],
    table_g: float,
    temperature_c: float,
    now: datetime,
) -> Opinions:
    """Return the opinions of the ration of a place and which one governs.

    Args:
        past: The meals of the place.
        species: The fish's profile.
        stocks: The fish as the day began.
        table_g: By the feed table, g a day.
        temperature_c: The ration's temperature, degC.
        now: The present.
    """
    site, farm, place = past.site, past.farm, past.place
    found = [
        Opinion("table", table_g, "biomass by the table's rate"),
        _growth(site, farm, place, species, stocks, temperature_c, now),
        _accepted(past, species, stocks, table_g, now),
    ]
    by_name = {one.name: one.g_day for one in found}
    compared = compare(table_g, by_name["growth"], by_name["last accepted"])
    reasons = [
        *compared.reasons,
        *(Reason("{name}: {says}", {"name": o.name, "says": o.says}) for o in found[1:]),
    ]
    governs, choose, why = compared.governs, compared.choose, compared.why
    choice = _choice(farm, place, now)
    if choose and choice is not None:
        name = choice.about.removeprefix(_ABOUT)
        if by_name.get(name) is not None:
            governs, choose = name, False
            values = {
                "by": named(farm, choice.by), "name": name, "why": choice.text,
                "when": spoken(choice.at, now, site.timezone),
            }  # fmt: skip
            chosen = Reason("{by} chose {name}, {when}: {why}", values)
            why = render(chosen)
            reasons.append(chosen)
    budget = _budget(site, place, species, stocks, temperature_c)
    if budget is not None:
        found.append(budget)
        reasons.append(
            Reason("{name}: {says}", {"name": budget.name, "says": budget.says}, "does not decide")
        )
    grams = by_name[governs]
    return Opinions(
        tuple(found),
        governs,
        table_g if grams is None else grams,
        choose,
        tuple(reasons),
        why,
        compared.choose,
    )


def choose(place: str, opinion: str, why: str) -> Note:
    """Draft the note by which a person chooses the opinion that governs for three days.

    Args:
        place: Where.
        opinion: "table", "growth" or "accepted".
        why: The reason.

    Returns:
        The draft.

    Raises:
        ValueError: No such opinion, or no reason.
    """
    if opinion not in CHOICES:
        raise ValueError(f"{opinion} is no opinion of a ration: {', '.join(CHOICES)}.")
    if not why.strip():
        raise ValueError("Say why this opinion of the ration is to govern.")
    return Note(place=place, about=f"{_ABOUT}{CHOICES[opinion]}", text=why.strip())


def _choice(farm: Farm, place: Place, now: datetime) -> NoteAt | None:
    zone = farm.site.timezone
    first = local_day(now, zone) - timedelta(days=RECENT_DAYS - 1)
    chosen = [
        note
        for note in farm.notes(now - timedelta(days=RECENT_DAYS + 1))
        if note.place == place.code
        and note.about.startswith(_ABOUT)
        and note.at <= now
        and local_day(note.at, zone) >= first
    ]
    return chosen[-1] if chosen else None


# -- growth ----------------------------------------------------------------------------------------


def _growth(
    site: Site,
    farm: Farm,
    place: Place,
    species: Species,
    stocks: Sequence[Stock],
    temperature_c: float,
    now: datetime,
) -> Opinion:
    few, many = LEARN_DAYS
    unknown = f"not known: weigh {{}} twice, {few} to {many} days apart"
    zone, total_g, told = site.timezone, 0.0, []
    for stock in stocks:
        seen = [one for one in stock.weighings if one.at <= now]
        same = seen[-1].at - seen[0].at if seen else timedelta()
        if same < timedelta(days=few) or now - seen[-1].at > LEARNT_LASTS:
            return Opinion("growth", None, unknown.format(stock.lot))
        within = min(same, timedelta(days=many))
        grown = of_stock(site, farm, place, stock, now, within)
        spans, fcr = grown.spans, grown.fcr_biological
        days = sum(span.days for span in spans)
        if days < few:
            return Opinion("growth", None, unknown.format(stock.lot))
        if temperature_c > species.optimum_high_c:
            return Opinion("growth", None, "not used above the best temperature")
        for span in spans:
            if span.says or span.temperature_c is None:
                return Opinion("growth", None, f"not used: {span.says}")
            if abs(temperature_c - span.temperature_c) > BAND_C:
                says = f"not used: learnt at {span.temperature_c:.1f} degC"
                return Opinion("growth", None, says)
        sgr = sum(span.sgr_percent_day * span.days for span in spans) / days
        if sgr <= 0 or fcr is None or not 0.1 <= fcr <= 20:
            says = grown.fcr_says or f"{stock.lot} taught nothing to go by"
            return Opinion("growth", None, f"not known: {says}")
        fcr = bounded_fcr(fcr)
        total_g += growth_ration_g_day(stock.count, sgr_gain_g_day(stock.weight_g, sgr), fcr)
        told.append(
            f"{stock.lot} grew {sgr:.2f} % a day on {fcr:.2f} g of feed a g, "
            f"{short_day(local_day(spans[0].since, zone))} to "
            f"{short_day(local_day(spans[-1].until, zone))}"
        )
    return Opinion("growth", total_g, "; ".join(told))


# -- intake ----------------------------------------------------------------------------------------


def _accepted(
    past: PastMeals,
    species: Species,
    stocks: Sequence[Stock],
    table_g: float,
    now: datetime,
) -> Opinion:
    """Return what was eaten on the middle one of the last days that show appetite.

    A day shows it where a tenth was left, or where nothing held the feed back; a meal of the day
    nobody gave counts as the others. Neither poor water nor a missed meal
    teaches a small ration.
    """
    count = sum(stock.count for stock in stocks)
    weight_g = sum(stock.count * stock.weight_g for stock in stocks) / count if count else 0.0
    planned = meals_a_day(species, weight_g)
    site, zone = past.site, past.site.timezone
    today = local_day(now, zone)
    began = [at for s in stocks for at in (s.stocked_at, s.handled_at) if at is not None]
    since = max((local_day(at, zone) for at in began), default=today)
    days = []
    for back in range(RECENT_DAYS, 0, -1):
        day = today - timedelta(days=back)
        every = past.farm.fed_on(past.place.code, day.isoformat())
        meals = [fed for fed in every if fed.amount_g > 0]
        if not meals or day <= since:
            continue
        eaten_g = sum(
            pellet_equivalent_g(site.products.get(fed.product), fed.amount_g, fed.left_g)
            for fed in meals
        )
        given = len({fed.meal for fed in meals})
        if any(fed.advised_g is not None for fed in meals) and given < planned:
            eaten_g *= planned / given
        left_g = sum(fed.left_g or 0.0 for fed in meals)
        refused = left_g * REFUSED_PART >= sum(fed.amount_g for fed in meals)
        if eaten_g * CHOOSE_ABOVE >= table_g or refused or not past.held_back(meals):
            days.append(eaten_g)
    if not days:
        return Opinion("last accepted", None, "not known: no whole day to go by")
    says = f"offered less left, the middle of {len(days)} days"
    return Opinion("last accepted", median_high(days), says)


# -- energy ----------------------------------------------------------------------------------------


def _budget(
    site: Site, place: Place, species: Species, stocks: Sequence[Stock], temperature_c: float
) -> Opinion | None:
    if not species.energy_budget:
        return None
    product: Product | None = site.products.get(place.feed or "")
    if product is None or product.energy_kj_g is None:
        says = "not known: put the feed's energy, kJ/g, into site.toml"
        return Opinion("energy budget", None, says, decides=False)
    total_g = 0.0
    try:
        for stock in stocks:
            found = factorial_ration(stock.weight_g, temperature_c, product.energy_kj_g)
            total_g += stock.count * found.feed_g_day
    except ValueError as error:
        return Opinion("energy budget", None, f"not known: {error}", decides=False)
    says = f"upkeep and growth from feed of {product.energy_kj_g:g} kJ/g, a second opinion"
    return Opinion("energy budget", total_g, says, decides=False)
