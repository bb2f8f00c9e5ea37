"""Live food of larvae: what swims in the tank, what to add, what the culture can give, and when."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from msgspec.structs import replace

from rounds.day.feeding.conditions import FOODS, conditions
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.larvae.look import look
from rounds.day.larvae.rearing import rearing
from rounds.day.larvae.sheet import Asked, Sheet
from rounds.day.larvae.topping_up import MOST_PER_ML, in_millions, top_up
from rounds.day.readings.inputs import fresh
from rounds.day.when import local_day, spoken
from rounds.fish.counting import clumping, density, dispersion
from rounds.fish.larvae import LarvalNumber, number_in_tank
from rounds.reason import Reason
from rounds.records.entry import Counted
from rounds.site.model import Place, Site, Weaning

__all__ = ["GIVEN", "Asked", "Sheet", "counted", "in_millions", "sheet"]

FEWEST_COLUMNS: Final = 5
"""Column samples of a tank (common practice)."""
GIVEN: Final = {"rotifers": "rotifers_given", "nauplii": "nauplii_given"}
"""The measure of animals given to a larval tank."""
_NAMED: Final = {"rotifers": "rotifer", "nauplii": "brine shrimp"}
"""How a schedule of foods by age names them."""
_DAY: Final = timedelta(days=1)


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
    reared = rearing(site, farm, place, now, asked.day)
    age = reared.days_after_hatch
    due = [one for one in reared.weaning if age is not None and one.from_day <= age]
    food = asked.food or _food(farm, place, now, due)
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
    found = _by_age(_looked(found, stocks), due)
    found = _density(found, farm, place, now, asked)
    limits = site.limits_at(FOODS[food], place, now)
    target = asked.target_per_ml
    if target is None and limits is not None:
        target = limits.target_low
    if stocks and (stop := conditions(site, farm, place, now).stop):
        no_feed = f"NO FEED: {stop}. Mend it, read again, then ask again what goes in."
        cautions = (no_feed, *found.cautions)
        return replace(found, target_per_ml=target, no_feed=True, cautions=cautions)
    found = replace(found, target_per_ml=target, given_today=_given(site, farm, found, now))
    most = MOST_PER_ML[food] if limits is None else limits.target_high
    return top_up(found, site, farm, place, now, asked, most or MOST_PER_ML[food])


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


def _food(farm: Farm, place: Place, now: datetime, due: Sequence[Weaning]) -> str:
    """Return the food a tank is on: what was counted and is due by age, the later one of two."""
    by_age = [food for one in due for food, word in _NAMED.items() if word in one.food.lower()]
    reads = {food: farm.latest(place.code, measure, now) for food, measure in FOODS.items()}
    counted = {food: r.value for food, r in reads.items() if r is not None and r.value > 0}
    both = [food for food in by_age if food in counted]
    if both or not counted:
        return next(reversed(both or by_age), "rotifers")
    return max(counted, key=lambda food: counted[food])


def _by_age(found: Sheet, due: Sequence[Weaning]) -> Sheet:
    """Tell where a tank is on a food that its age has done with, or not come to."""
    if not due or any(_NAMED[found.food] in one.food.lower() for one in due):
        return found
    foods = " and ".join(dict.fromkeys(one.food for one in due))
    says = (
        f"On {found.food} at day {found.days_after_hatch}: by age it is {foods}. Change over "
        "gradually, both together for a week or more."
    )
    return replace(found, cautions=(*found.cautions, says))


def _given(site: Site, farm: Farm, found: Sheet, now: datetime) -> float:
    """Return the animals on record as given to a tank today."""
    today = local_day(now, site.timezone)
    reads = farm.between(found.place, GIVEN[found.food], now - _DAY, now)
    return sum(read.value for read in reads if local_day(read.at, site.timezone) == today)


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
