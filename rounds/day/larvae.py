"""Live food of larvae: what swims in the tank, what to add, what the culture can give, and when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from rounds.day.conditions import FOODS, conditions
from rounds.day.farm import Farm
from rounds.day.inputs import fresh
from rounds.day.larval_look import Look, look
from rounds.day.rearing import rearing
from rounds.day.state import Read, Stock
from rounds.day.when import local_day, spoken
from rounds.fish.counting import clumping, density, dispersion
from rounds.fish.larvae import (
    ROTIFERS_A_LARVA_DAY,
    LarvalNumber,
    culture_to_add_l,
    culture_to_sieve_l,
    needed_until_next,
    number_in_tank,
)
from rounds.reason import Reason, Reasons
from rounds.records.entry import Counted
from rounds.site.model import Place, Screen, Site, Weaning

FEWEST_COLUMNS: Final = 5
"""Column samples of a tank (common practice)."""
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
    columns: Sequence[int] = ()
    """Larvae in each column sample of `column_l`."""
    column_l: float = 1.0
    precision_percent: float = 10.0


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
    no_feed: bool = False
    """Something stops feeding: nothing is worked out to go in, the cautions say why."""
    culture_per_ml: float | None = None
    add_culture_l: float | None = None
    add_rinsed_l: float | None = None
    eaten_until_next: float | None = None
    need_until_next: float | None = None
    add_culture_until_next_l: float | None = None
    add_rinsed_until_next_l: float | None = None
    survival: float | None = None
    """By the columns typed, with its ends, else by the ledger."""
    survival_low: float | None = None
    survival_high: float | None = None
    weight_start_g: float | None = None
    weight_now_g: float | None = None
    growth_percent_day: float | None = None
    weaning: tuple[Weaning, ...] = ()
    screens: tuple[Screen, ...] = ()
    skimmer: str = ""
    coming: tuple[str, ...] = ()
    """What changes within the next days, soonest first."""
    look: Look | None = None
    number: LarvalNumber | None = None
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reasons: Reasons = ()


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
    reared = rearing(site, farm, place, now, asked.day)
    found = Sheet(
        place.code, food, sum(s.count for s in stocks), any(s.estimated for s in stocks),
        reared.days_after_hatch, survival=reared.survival, weight_start_g=reared.weight_start_g,
        weight_now_g=reared.weight_now_g, growth_percent_day=reared.growth_percent_day,
        weaning=reared.weaning, screens=reared.screens, skimmer=reared.skimmer,
        coming=reared.coming, look=look(site, farm, place, now, asked.day),
        missing=reared.missing, cautions=reared.cautions, reasons=reared.reasons,
    )  # fmt: skip
    found = _columns(found, place, reared.at_risk, asked)
    if found.survival is not None and found.survival > 1:
        more = "More larvae than were stocked: the number stocked was too low, survival means less."
        found = replace(found, cautions=(*found.cautions, more))
    found = _looked(found, stocks)
    found = _density(found, farm, place, now, asked)
    limits = site.limits_for(FOODS[food], place, now.astimezone(site.timezone).time())
    target = asked.target_per_ml
    if target is None and limits is not None:
        target = limits.target_low
    if stocks and (stop := conditions(site, farm, place, now).stop):
        no_feed = f"NO FEED: {stop}. Mend it, read again, then ask again what goes in."
        cautions = (no_feed, *found.cautions)
        return replace(found, target_per_ml=target, no_feed=True, cautions=cautions)
    return _top_up(replace(found, target_per_ml=target), site, farm, place, now, asked)


def counted(found: Sheet, stock: Stock, asked: Asked) -> Counted:
    """Draft the number of a tank's larvae by column samples as a count, an estimate.

    Args:
        found: The sheet with its number.
        stock: The lot in the tank.
        asked: The columns as typed.

    Returns:
        The draft: its method says columns, volume and interval.

    Raises:
        ValueError: No columns were typed.
    """
    if found.number is None:
        raise ValueError("give the larvae of each column, --columns '12 9 14'")
    columns = " ".join(map(str, asked.columns))
    method = f"column samples: {columns} of {asked.column_l:g} L, {_ends(found.number)} (95 %)"
    count = round(found.number.fish)
    return Counted(place=found.place, lot=stock.lot, count=count, method=method, estimated=True)


def _ends(number: LarvalNumber) -> str:
    return f"{number.low:.0f} to {number.high:.0f}"


def _columns(found: Sheet, place: Place, at_risk: int | None, asked: Asked) -> Sheet:
    """Put in the number of larvae that column samples give, against the one on record."""
    missing, cautions = list(found.missing), list(found.cautions)
    if not asked.columns:
        if found.larvae_estimated:
            if found.survival is not None:
                cautions.append("The number of larvae is an estimate: survival is no better.")
            missing.append(
                f"Count {place.code} by column samples, five or more: --columns '12 9 14 ...'"
            )
        return replace(found, missing=tuple(missing), cautions=tuple(cautions))
    if place.volume_m3 is None:
        missing.append(f"Put the volume of {place.code} into site.toml.")
        return replace(found, missing=tuple(missing))
    number = number_in_tank(
        asked.columns, asked.column_l, place.volume_m3 * 1000, asked.precision_percent
    )
    if len(asked.columns) < FEWEST_COLUMNS:
        cautions.append(
            f"{len(asked.columns)} columns do not show whether they clump: take "
            f"{FEWEST_COLUMNS}, over the whole tank."
        )
    if number.clumped:
        cautions.append("The larvae are clumped: more columns, fewer larvae in each.")
    if number.more_columns:
        cautions.append(
            f"For {asked.precision_percent:g} % take {number.more_columns} columns more."
        )
    elif number.more_columns is None:
        cautions.append("No larva in any column: take larger columns, or more.")
    if found.larvae and not number.low <= found.larvae <= number.high:
        cautions.append(f"On record are {found.larvae}, outside {_ends(number)}.")
    found = replace(found, number=number, cautions=tuple(cautions), missing=tuple(missing),
                    reasons=(*found.reasons, *number.reasons))  # fmt: skip
    if not at_risk:
        return found
    low, share, high = (end / at_risk for end in (number.low, number.fish, number.high))
    return replace(found, survival=share, survival_low=low, survival_high=high)


def _looked(found: Sheet, stocks: Sequence[Stock]) -> Sheet:
    """Put in what twenty larvae under the microscope say, or ask for them."""
    if found.look is None:
        ask = f"Look at twenty larvae of {found.place}, gut and swim bladder: rounds walk larvae"
        return replace(found, missing=(*found.missing, *([ask] if stocks else [])))
    return replace(
        found,
        cautions=(*found.cautions, *found.look.cautions),
        reasons=(*found.reasons, *found.look.reasons),
    )


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
                    "{larvae} larvae x {each:.0f} a day x {hours:g} h = {eaten} eaten at most",
                    {
                        "larvae": found.larvae,
                        "each": each,
                        "hours": asked.hours,
                        "eaten": in_millions(eaten),
                    },
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


def in_millions(animals: float) -> str:
    """Return a number of animals as people say it: "3.8 million", "85000"."""
    return f"{animals / 1e6:.3g} million" if animals >= 1e5 else f"{animals:.0f}"


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
