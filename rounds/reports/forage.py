"""The pond, its crops and what tanks would take of them, in words."""

from __future__ import annotations

from collections.abc import Iterator

from rounds.day.forage.need import Need
from rounds.day.forage.pond import Pond
from rounds.day.lots.forage_hold import Held
from rounds.reports.told import Told, measured


def pond(one: Pond) -> Told:
    """Tell what a pond bears, holds and may give now."""
    says = (*_pond(one), *measured(one.missing, one.cautions))
    return Told(f"{one.place}  {one.line}", says, one.reasons)


def _pond(one: Pond) -> Iterator[str]:
    for name, kg in (
        ("by measured yield", one.by_yield_kg_day),
        ("by surplus production", one.by_surplus_kg_day),
    ):
        yield f"{name}: {'not known' if kg is None else f'{kg * 1000:.0f} g a day'}"
    if one.fish is not None:
        span = "" if one.low_fish is None else f" ({one.low_fish:.0f} to {one.high_fish:.0f})"
        mass = "" if one.stock_kg is None else f", {one.stock_kg:.1f} kg"
        yield f"stock {one.fish:.0f}{span}{mass}, {one.age_days:.0f} days ago"
    free = "not known" if one.free_kg is None else _mass(one.free_kg)
    yield f"may be taken now: {free}; {_mass(one.taken_kg)} taken since the estimate"
    most = "" if one.most_a_year_kg is None else f" of {_mass(one.most_a_year_kg)} at most"
    count = f"{one.crops_this_year} crop{'s' * (one.crops_this_year != 1)}"
    yield f"this year: {count}, {_mass(one.taken_this_year_kg)}{most}"


def crop(one: Held) -> Told:
    """Tell a crop with fish left, and where it stands in its hold."""
    return Told(f"crop {one.says}", (), ())


def need(one: Need) -> Told:
    """Tell what a tank would take a day."""
    wet = "need not known"
    if one.wet_kg_day is not None:
        wet = f"would take {one.wet_kg_day * 1000:.0f} g of forage a day, wet"
    number = "" if one.prey_a_day is None else f", {one.prey_a_day:.0f} fish"
    size = ""
    if one.window is not None:
        low, high = one.window.offer_mm
        size = f", prey of {low:.0f} to {high:.0f} mm"
    title = f"{one.place}  {wet}{number}{size}"
    return Told(title, measured(one.missing, one.cautions), one.reasons)


def _mass(kg: float) -> str:
    return f"{kg:.1f} kg" if kg >= 10 else f"{kg * 1000:.0f} g"
