"""Larvae by their age: what changes when, and what survival and growth say side by side."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock, amount
from rounds.day.lots.series import LOST
from rounds.day.when import local_day
from rounds.fish.growth import sgr_percent_day
from rounds.reason import Reason, Reasons, Value
from rounds.records.entry import Counted, Moved, Removed, Stocked
from rounds.site.model import Place, Screen, Site, Weaning

SOON_DAYS: Final = 10
"""A change of food, screen or skimmer within so many days is told (common practice)."""
_LEAST_G: Final = 1e-5
_HATCHED: Final = "K, the day a lot hatched, or rounds record hatched lot={lot} hatched=YYYY-MM-DD"


class Rearing(Struct, frozen=True):
    """What is due by age: foods, screens, the skimmer, what changes soon; and how it went.

    `survival` is None where fish were mixed, moved or never counted; `growth_percent_day` where
    none was weighed.
    """

    days_after_hatch: int | None
    weaning: tuple[Weaning, ...] = ()
    screens: tuple[Screen, ...] = ()
    skimmer: str = ""
    coming: tuple[str, ...] = ()
    at_risk: int | None = None
    """Larvae that came less those taken out, where all came at once and none was moved."""
    survival: float | None = None
    weight_start_g: float | None = None
    weight_now_g: float | None = None
    growth_percent_day: float | None = None
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reasons: Reasons = ()


def age_of(site: Site, farm: Farm, place: Place, at: datetime) -> int | None:
    """Return the days after hatch of a tank's larvae, the youngest; None where nobody recorded."""
    hatched = [stock.hatched for stock in farm.stocks.get(place.code, ())]
    known = [day for day in hatched if day is not None]
    if not known or len(known) < len(hatched):
        return None
    return max(0, (local_day(at, site.timezone) - max(known)).days)


def since_stocking(site: Site, farm: Farm, place: Place, at: datetime) -> int | None:
    """Return the days since a tank's youngest fish were stocked, the least they can be old."""
    began = [local_day(s.stocked_at, site.timezone) for s in farm.stocks.get(place.code, ())]
    return max(0, (local_day(at, site.timezone) - max(began)).days) if began else None


def first_food(site: Site, place: Place) -> int | None:
    """Return the day after hatch of the first food, None where no schedule is known."""
    species = site.species_of(place)
    return min((one.from_day for one in species.weaning), default=None) if species else None


def rearing(site: Site, farm: Farm, place: Place, now: datetime, day: int | None = None) -> Rearing:
    """Gather what a larval tank's age calls for, and its survival and growth.

    Args:
        site: The site.
        farm: The farm.
        place: A larval tank.
        now: The present.
        day: Days after hatch as typed; else from the hatch date on record, else since stocking.

    Returns:
        The rearing; what is missing is named.
    """
    stocks = farm.stocks.get(place.code, ())
    age, missing, cautions, reasons = day, [], [], []
    if age is None:
        age = age_of(site, farm, place, now)
        if age is not None:
            hatched = max(stock.hatched for stock in stocks if stock.hatched)
            values: dict[str, Value] = {"age": age, "hatched": hatched.isoformat()}
            reasons.append(Reason("day {age}, hatched {hatched}", values))
            if len({stock.hatched for stock in stocks}) > 1:
                cautions.append("Lots of different age are in here: the youngest counts.")
        elif stocks:
            age = since_stocking(site, farm, place, now)
            cautions.append("Age is counted from the day they were stocked: they are older.")
            missing += [
                f"Record the day {stock.lot} hatched: {_HATCHED.format(lot=stock.lot)}"
                for stock in stocks
                if stock.hatched is None
            ]
    found = _how_it_went(farm, place, stocks, now)
    species = site.species_of(place)
    if species is not None and not species.weaning:
        cautions.append(
            f"No weaning schedule is known for {species.name.lower()}: put your own into "
            "site.toml, [[species.weaning]]."
        )
    foods, screens = (species.weaning, species.screens) if species else ((), ())
    if age is not None:
        foods = tuple(one for one in foods if one.to_day >= age)
        screens = tuple(one for one in screens if one.to_day >= age)
        if any(0 <= one.from_day - age <= SOON_DAYS for one in foods):
            cautions.append(
                "A change of food comes: offered earlier, dry food makes larvae grow faster and "
                "fewer survive; look at both."
            )
    return Rearing(
        days_after_hatch=age,
        weaning=foods,
        screens=screens,
        skimmer=_skimmer(site, place, age),
        coming=tuple(_coming(site, place, age)) if age is not None else (),
        at_risk=found.at_risk,
        survival=found.survival,
        weight_start_g=found.weight_start_g,
        weight_now_g=found.weight_now_g,
        growth_percent_day=found.growth_percent_day,
        missing=(*missing, *found.missing),
        cautions=tuple(cautions),
        reasons=(*reasons, *found.reasons),
    )


def _skimmer(site: Site, place: Place, age: int | None) -> str:
    species = site.species_of(place)
    days = species.swim_bladder if species else None
    if days is None:
        return "skimmer: in until 90 % of twenty larvae have filled the swim bladder"
    if age is not None and age > days.to_day:
        return (
            f"skimmer: out, if 90 % of twenty larvae have filled the swim bladder "
            f"(day {days.to_day} is past; {days.source})"
        )
    return (
        f"skimmer: in from day {days.from_day} to {days.to_day}, until 90 % have filled the swim "
        f"bladder ({days.source})"
    )


def _coming(site: Site, place: Place, age: int) -> Iterator[str]:
    """Tell what begins or ends within the next days, soonest first."""
    species = site.species_of(place)
    if species is None:
        return
    changes = [(one.from_day, f"{one.food} begins") for one in species.weaning]
    changes += [(one.to_day + 1, f"{one.food} ends") for one in species.weaning]
    changes += [
        (one.from_day, f"outlet screen {one.mesh_um:g} um; hold a few larvae against it first")
        for one in species.screens
    ]
    if (days := species.swim_bladder) is not None:
        changes.append((days.from_day, "skimmer in: the swim bladder fills"))
        changes.append((days.to_day + 1, "skimmer out, if 90 % have filled it"))
    for day, says in sorted(changes):
        if 0 < day - age <= SOON_DAYS:
            left = day - age
            yield f"day {day}, in {left} day{'s' * (left > 1)}: {says}"


def _how_it_went(farm: Farm, place: Place, stocks: tuple[Stock, ...], now: datetime) -> Rearing:
    """Return survival and growth since stocking, for one lot that came once and was not moved."""
    entries = [one for stock in stocks[:1] for one in farm.lots.get(stock.lot, ()) if one.at <= now]
    came = [one for one in entries if isinstance(one, Stocked) and one.place == place.code]
    moved = any(
        isinstance(one, Moved) and place.code in (one.source, one.target) for one in entries
    )
    taken = sum(
        one.count
        for one in entries
        if isinstance(one, Removed) and one.place == place.code and one.cause != LOST
    )
    if not stocks:
        return Rearing(None)
    if len(stocks) > 1 or len(came) != 1 or came[0].count <= taken or moved:
        says = "Survival is not told here: fish joined or were moved. See rounds growth."
        return Rearing(None, missing=(says,))
    stock, start = stocks[0], amount(came[0].mean_weight, came[0].unit, "g")
    missing, reasons, survival, growth = [], [], None, None
    at_risk = came[0].count - taken  # those under the microscope are no deaths
    if any(isinstance(one, Counted) and one.place == place.code for one in entries):
        survival = stock.count / at_risk
        counts: dict[str, Value] = {"now": stock.count, "came": came[0].count, "taken": taken}
        says = "{now} of {came} stocked are left" + ", {taken} were taken out" * bool(taken)
        reasons.append(Reason(says, counts, "the ledger"))
    else:
        missing.append(f"Survival is not known: {place.code} was not counted since stocking.")
    weight = stock.sampled.mean_weight_g if stock.sampled else None
    if stock.sampled is None or weight is None or not start:
        missing.append(f"Weigh larvae of {place.code} for their growth: rounds weigh {place.code}")
    else:
        days = (stock.sampled.at - came[0].at).total_seconds() / 86400
        growth = sgr_percent_day(start, weight, days) if days >= 1 and start >= _LEAST_G else None
        if growth is not None:
            grew: dict[str, Value] = {"a": start, "b": weight, "days": days, "sgr": growth}
            says = "{a:.3g} to {b:.3g} g in {days:.0f} days: {sgr:.1f} % a day"
            reasons.append(Reason(says, grew, "specific growth rate"))
    return Rearing(
        None, at_risk=at_risk, survival=survival, weight_start_g=start or None,
        weight_now_g=weight, growth_percent_day=growth, missing=tuple(missing),
        reasons=tuple(reasons),
    )  # fmt: skip
