"""Live food of larvae: what swims in the tank, what to add, what the culture can give, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from rounds.day.farm import Farm
from rounds.day.inputs import fresh
from rounds.day.state import Read
from rounds.day.when import local_day, spoken
from rounds.fish.counting import clumping, density, dispersion
from rounds.fish.larvae import (
    ROTIFERS_A_LARVA_DAY,
    culture_to_add_l,
    culture_to_sieve_l,
    needed_until_next,
)
from rounds.reason import Reason, Reasons
from rounds.records.entry import Moved, Removed, Stocked
from rounds.site.model import Place, Site, Weaning

FOODS: Final = {"rotifers": "rotifer_density", "nauplii": "nauplii_density"}
SOON_DAYS: Final = 10
"""A change of food within so many days is told (common practice)."""
UNTIL_NEXT_H: Final = 8.0
"""Hours of light until the next top-up where nobody says (common practice)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is typed beside the records; None is not typed. `counts` are of `volume_ml` each."""

    food: str = ""
    counts: Sequence[int] = ()
    volume_ml: float = 1.0
    dilution: float = 1.0
    target_per_ml: float | None = None
    culture_per_ml: float | None = None
    hours: float = UNTIL_NEXT_H
    day: int | None = None
    """Days after hatch."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A larval tank: density with its interval, what to add, who is left, what is due by age."""

    place: str
    food: str
    larvae: int
    larvae_estimated: bool
    days_after_hatch: int | None
    per_ml: float | None = None
    low_per_ml: float | None = None
    high_per_ml: float | None = None
    target_per_ml: float | None = None
    culture_per_ml: float | None = None
    add_culture_l: float | None = None
    add_rinsed_l: float | None = None
    eaten_until_next: float | None = None
    need_until_next: float | None = None
    add_culture_until_next_l: float | None = None
    add_rinsed_until_next_l: float | None = None
    survival: float | None = None
    weight_start_g: float | None = None
    weight_now_g: float | None = None
    weaning: tuple[Weaning, ...] = ()
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reasons: Reasons = ()


@dataclass(frozen=True, slots=True)
class Culture:
    """A culture of live food: its counts, what may be taken, and what its eggs say."""

    place: str
    food: str
    per_ml: float | None
    growth_per_day: float | None
    harvest_fraction: float | None
    harvest_l: float | None
    egg_state: str
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


def sheet(site: Site, farm: Farm, place: Place, now: datetime, asked: Asked) -> Sheet:
    """Work out the live food of a larval tank.

    Args:
        site: The site.
        farm: The farm.
        place: A larval tank.
        now: The present.
        asked: What was typed: a count under the microscope, a target.

    Returns:
        The sheet; what is missing is named, and no default stands in for a count.

    Raises:
        ValueError: A number is out of range.
    """
    stocks = farm.stocks.get(place.code, ())
    food = asked.food or _food(farm, place, now)
    found = Sheet(
        place.code, food, sum(s.count for s in stocks), any(s.estimated for s in stocks),
        _age(site, farm, place, now, asked),
    )  # fmt: skip
    if asked.day is None and found.days_after_hatch is not None:
        since = "Age is counted from the day they were stocked: say the days after hatch."
        found = replace(found, cautions=(since,))
    found = _density(found, farm, place, now, asked)
    limits = site.limits_for(FOODS[food], place, now.astimezone(site.timezone).time())
    target = asked.target_per_ml
    if target is None and limits is not None:
        target = limits.target_low
    found = _top_up(replace(found, target_per_ml=target), site, farm, place, now, asked)
    return _age_and_growth(found, site, farm, place)


def _food(farm: Farm, place: Place, now: datetime) -> str:
    reads = {food: farm.latest(place.code, measure, now) for food, measure in FOODS.items()}
    counted = {food: read for food, read in reads.items() if read is not None and read.value > 0}
    return max(counted, key=lambda food: counted[food].value, default="rotifers")


def _density(found: Sheet, farm: Farm, place: Place, now: datetime, asked: Asked) -> Sheet:
    cautions, missing = list(found.cautions), list(found.missing)
    if asked.counts:
        total = density(sum(asked.counts), asked.volume_ml * len(asked.counts), asked.dilution)
        reasons = [*found.reasons, *total.reasons]
        if len(asked.counts) < 3:
            cautions.append("Fewer than three samples: take three to five, at different depths.")
        elif sum(asked.counts) > 0:
            index = dispersion(asked.counts)
            state = clumping(index)
            reasons.append(
                Reason(
                    "variance over mean of {n} counts {index:.1f}: {state}",
                    {"n": len(asked.counts), "index": index, "state": state},
                    "clumped above 3, common practice",
                )
            )
            if state != "even":
                cautions.append(
                    "The counts differ more than chance: mix and count again; the interval is "
                    "too narrow."
                )
        return replace(
            found, per_ml=total.per_ml, low_per_ml=total.low_per_ml, high_per_ml=total.high_per_ml,
            cautions=tuple(cautions), reasons=tuple(reasons),
        )  # fmt: skip
    read = farm.latest(place.code, FOODS[found.food], now)
    if read is None or not fresh(read, now):
        missing.append(f"Count the {found.food} left in {place.code} today.")
        return replace(found, missing=tuple(missing))
    when = spoken(read.at, now, farm.site.timezone)
    said = Reason("{n:g} per mL counted {when}", {"n": read.value, "when": when})
    return replace(found, per_ml=read.value, reasons=(*found.reasons, said))


def _top_up(
    found: Sheet, site: Site, farm: Farm, place: Place, now: datetime, asked: Asked
) -> Sheet:
    missing, cautions, reasons = list(found.missing), list(found.cautions), list(found.reasons)
    culture = asked.culture_per_ml
    if culture is None:
        read = _culture_today(site, farm, FOODS[found.food], now)
        culture = read.value if read else None
        if read is not None:
            says = "culture {place} counted today: {n:g} per mL"
            reasons.append(Reason(says, {"place": read.place, "n": read.value}))
    if culture is None:
        missing.append(f"Count the culture of {found.food} today.")
    if place.volume_m3 is None:
        missing.append(f"Put the volume of {place.code} into site.toml.")
    target, left = found.target_per_ml, found.per_ml
    if target is None:
        missing.append(f"Give a target for {found.food}, per mL: none is set for {place.code}.")
    found = replace(found, culture_per_ml=culture)
    if target is not None and left is not None and place.volume_m3 is not None:
        tank_l = place.volume_m3 * 1000
        each = ROTIFERS_A_LARVA_DAY if found.food == "rotifers" else 0.0
        eaten = found.larvae * each * asked.hours / 24
        need = needed_until_next(tank_l, target, left, found.larvae, each, asked.hours)
        found = replace(found, eaten_until_next=eaten if each else None, need_until_next=need)
        if each:
            reasons.append(
                Reason(
                    "{larvae} larvae x {each:.0f} a day x {hours:g} h = {eaten:.3g} eaten at most",
                    {"larvae": found.larvae, "each": each, "hours": asked.hours, "eaten": eaten},
                    "public extension text on live feeds",
                )
            )
        else:
            cautions.append(
                "What a larva eats of nauplii is not printed: count again at each meal."
            )
        if culture is not None:
            with_eaten = left + need / (tank_l * 1000)
            try:
                found = replace(
                    found,
                    add_rinsed_l=culture_to_sieve_l(tank_l, target, left, culture),
                    add_rinsed_until_next_l=culture_to_sieve_l(tank_l, with_eaten, left, culture),
                )
                found = replace(
                    found,
                    add_culture_l=culture_to_add_l(tank_l, target, left, culture),
                )
                found = replace(
                    found,
                    add_culture_until_next_l=culture_to_add_l(tank_l, with_eaten, left, culture),
                )
            except ValueError as error:
                cautions.append(f"{str(error)[0].upper()}{str(error)[1:]}.")
            reasons.append(
                Reason(
                    "{tank:g} L from {left:.3g} to {target:.3g} per mL, culture {culture:.4g}: "
                    "poured in, its own water counts; rinsed, it does not",
                    {"tank": tank_l, "left": left, "target": target, "culture": culture},
                    "balance of animals and water",
                )
            )
    return replace(found, missing=tuple(missing), cautions=tuple(cautions), reasons=tuple(reasons))


def _culture_today(site: Site, farm: Farm, measure: str, now: datetime) -> Read | None:
    today = local_day(now, site.timezone)
    reads = [
        read
        for place in site.places.values()
        if place.kind == "culture"
        and (read := farm.latest(place.code, measure, now)) is not None
        and local_day(read.at, site.timezone) == today
        and read.value > 0
    ]
    return max(reads, key=lambda read: (read.at, read.id), default=None)


# -- age, survival, growth -------------------------------------------------------------------------


def _age(site: Site, farm: Farm, place: Place, now: datetime, asked: Asked) -> int | None:
    if asked.day is not None:
        return asked.day
    began = [s.stocked_at for s in farm.stocks.get(place.code, ())]
    return (
        (local_day(now, site.timezone) - local_day(min(began), site.timezone)).days
        if began
        else None
    )


def _age_and_growth(found: Sheet, site: Site, farm: Farm, place: Place) -> Sheet:
    stocks, cautions = farm.stocks.get(place.code, ()), list(found.cautions)
    entries = [e for key in farm.entries if (e := farm.entry(key)) is not None]
    came = [e for e in entries if isinstance(e, Stocked) and e.place == place.code]
    moved = any(
        (isinstance(e, Moved) and place.code in (e.source, e.target))
        or (isinstance(e, Removed) and e.place == place.code)
        for e in entries
    )
    if len(stocks) == 1 and len(came) == 1 and came[0].count > 0 and not moved:
        stock = stocks[0]
        found = replace(
            found,
            survival=stock.count / came[0].count,
            weight_start_g=stock.weighings[0].mean_weight_g if stock.weighings else None,
            weight_now_g=stock.weight_g,
        )
        if stock.estimated:
            cautions.append("The number of larvae is an estimate: survival is no better than it.")
    species = site.species_of(place)
    weaning = species.weaning if species else ()
    age = found.days_after_hatch
    if weaning and age is not None:
        weaning = tuple(one for one in weaning if one.to_day >= age)
    if species is not None and not species.weaning:
        cautions.append(f"No weaning schedule is known for {species.name.lower()}.")
    elif any(0 <= one.from_day - (age or 0) <= SOON_DAYS for one in weaning):
        cautions.append(
            "A change of food comes: offered earlier, dry food makes larvae grow faster and fewer "
            "survive; look at both."
        )
    return replace(found, weaning=weaning, cautions=tuple(cautions))
