"""Larval tanks and live food in words: number, food and age; cultures, cysts, hatches, hours."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from rounds.day.larvae.cultures import Culture, Upkeep
from rounds.day.larvae.hatching import CystLot, Enrichment, Expiry, Hatch
from rounds.day.larvae.tanks import Sheet, in_millions
from rounds.day.when import spoken
from rounds.reports.told import Told, measured
from rounds.site.model import Site

Food = Upkeep | CystLot | Expiry | Hatch | Enrichment
NOTHING: Final = "No larvae and no counted culture on record."


def larval(one: Sheet, *, kept: bool = False) -> Told:
    """Tell a larval tank.

    Args:
        one: Its sheet.
        kept: Whether the number of its columns was just kept.
    """
    age = "" if one.days_after_hatch is None else f", day {one.days_after_hatch}"
    about = "about " if one.larvae_estimated else ""
    stop = "  NO FEED" if one.no_feed else ""
    title = f"{one.place}  {about}{one.larvae} larvae{age}, {one.food}{stop}"
    says = (*_larval(one, kept), *measured(one.missing, one.cautions))
    return Told(title, says, one.reasons)


def _larval(one: Sheet, kept: bool) -> Iterator[str]:
    if one.number is not None:
        ends = f"{one.number.low:.0f} to {one.number.high:.0f}, 95 %"
        told = "Kept" if kept else "not kept: --keep"
        yield f"by columns {one.number.fish:.0f} ({ends}); {told}"
    if one.per_ml is not None:
        span = "" if one.low_per_ml is None else f" ({one.low_per_ml:.2f} to {one.high_per_ml:.2f})"
        yield f"in the tank {one.per_ml:.2f} per mL{span}, target {one.target_per_ml or '-'}"
    often = f", {one.portions} times, spread over the hours" if one.portions > 1 else ""
    for what, poured, rinsed, times in (
        ("to the target", one.add_culture_l, one.add_rinsed_l, ""),
        ("until the next", one.add_culture_until_next_l, one.add_rinsed_until_next_l, often),
    ):
        if rinsed is not None:
            pour = "-" if poured is None else f"{poured:.1f} L"
            yield f"{what}: pour in {pour} of culture, or {rinsed:.1f} L rinsed{times}"
    if one.given_today:
        yield f"given today: {in_millions(one.given_today)}"
    if one.eaten_until_next is not None:
        yield f"eaten until the next top-up, at most: {in_millions(one.eaten_until_next)}"
    if one.survival is not None:
        yield f"{_survival(one, one.survival)}, {_growth(one)}"
    elif one.weight_now_g is not None:
        yield f"survival not known, {_growth(one)}"
    yield from one.look.says if one.look else ()
    for food in one.weaning:
        yield f"day {food.from_day} to {food.to_day}: {food.food} ({food.source})"
    for screen in one.screens:
        days = f"day {screen.from_day} to {screen.to_day}"
        yield f"{days}: outlet screen {screen.mesh_um:g} um ({screen.source})"
    yield one.skimmer
    yield from (f"soon, {text}" for text in one.coming)


def _survival(one: Sheet, share: float) -> str:
    if one.survival_low is None or one.survival_high is None:
        return f"survival {100 * share:.0f} %"
    ends = (min(100 * end, 100) for end in (one.survival_low, one.survival_high))
    between = " to ".join(f"{end:.0f}" for end in ends)
    return f"survival {100 * share:.0f} % ({between} %)"


def _growth(one: Sheet) -> str:
    if one.weight_now_g is None:
        return "growth not known: none weighed since stocking"
    each = "" if one.growth_percent_day is None else f", {one.growth_percent_day:.1f} % a day"
    return f"growth {one.weight_start_g:.3g} to {one.weight_now_g:.3g} g{each}"


def culture(one: Culture) -> Told:
    """Tell a culture: how dense it is, what may be harvested, and who asks for it."""
    says = []
    if one.harvest_l is not None or one.harvest_fraction is not None:
        share = "" if one.harvest_fraction is None else f"{one.harvest_fraction * 100:.0f} %"
        litres = "" if one.harvest_l is None else f"{one.harvest_l:.0f} L"
        says.append(f"may be harvested: {', '.join(filter(None, (share, litres)))}")
    if one.taken_l and one.free_l is not None:
        says.append(f"taken today: {one.taken_l:.0f} L, {one.free_l:.0f} L left to take")
    if one.asked:
        tanks = ", ".join(f"{place} {litres:.1f} L" for place, litres in one.asked)
        says.append(f"asked of it: {tanks}")
    if one.egg_state:
        says.append(f"eggs: {one.egg_state}")
    count = "not counted" if one.per_ml is None else f"{one.per_ml:.4g} per mL"
    title = f"{one.place}  {one.food} {count}"
    return Told(title, (*says, *measured(one.missing, one.cautions)), one.reasons)


def food(site: Site, one: Food, now: datetime) -> Told:
    """Tell what is kept of live food, or a hatch or enrichment planned."""
    says = [_times(site, one, now)] if isinstance(one, Hatch | Enrichment) else []
    cautions = () if isinstance(one, Expiry) else one.cautions
    return Told(
        _headline(site, one, now), (*filter(None, says), *measured((), cautions)), one.reasons
    )


def _headline(site: Site, one: Food, now: datetime) -> str:
    match one:
        case Upkeep():
            alive = ", ".join(one.alive) or "none"
            return f"{one.food.capitalize()}: alive {alive}, back-up {one.backup}"
        case CystLot():
            tin = "" if one.nominal_per_g is None else f", the tin says {one.nominal_per_g:.0f}"
            hatched = f"{one.hatches} hatch{'es' * (one.hatches > 1)}"
            return f"Cysts {one.cysts}: {one.nauplii_per_g:.0f} nauplii a gram ({hatched}){tin}"
        case Expiry():
            return f"{'! ' if one.expired else ''}{one.place}  {one.says}"
        case Hatch():
            start = spoken(one.start, now, site.timezone)
            return f"Hatch {one.cysts_g:.2f} g of cysts, start {start}"
        case Enrichment():
            return f"Enrich {one.food}, in {spoken(one.start, now, site.timezone)}"


def _times(site: Site, one: Hatch | Enrichment, now: datetime) -> str:
    """Return when it comes out of the enrichment, and until when it is fed."""
    if one.out is None or one.use_by_warm is None or one.use_by_cold is None:
        return ""
    out, warm, cold = (
        spoken(at, now, site.timezone) for at in (one.out, one.use_by_warm, one.use_by_cold)
    )
    return f"out {out}, fed by {warm}; held cold by {cold}"
