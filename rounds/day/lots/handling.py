"""What comes before fish are moved: a fast, rest, water that matches, and room in the target."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.lots import raw_eating
from rounds.day.lots.health import ASK, QUARANTINE_DAYS, of_treatment, quarantined_days, sick
from rounds.day.lots.moving import free, prey
from rounds.day.lots.raw_eating import fed_live
from rounds.day.readings.derived import figure
from rounds.day.readings.inputs import Inputs
from rounds.day.readings.judgement import Word
from rounds.day.when import spoken
from rounds.fish.food_safety import earliest_harvest
from rounds.fish.forage import GRADE_BELOW
from rounds.fish.transfer import (
    LEAST_OXYGEN_PERCENT,
    MOST_APART,
    REST_H,
    WARMEST_C,
    bridged,
    fast_h,
    mixing_min,
)
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site

_MEASURED_FIRST: Final = {
    "fast": "last feed", "temperature": "temperature", "salinity": "salinity", "oxygen": "oxygen"
}  # fmt: skip
"""What must be known before fish are moved."""
_MATCHED: Final = ("temperature", "salinity", "ph")
_NEARER: Final = {"salinity": "bring it nearer by at most 2 a day first"}
_FEEDS_LAST: Final = timedelta(days=3)
"""Without feed on record for longer it is not known whether it was written down."""
_MIXED: Final = "mixed, the other loses the exemption from freezing for good"
_APART: Final = ("quarantine", "larval")
"""Stages of tanks that new fish may come into at once."""


SICK: Final = "sick fish"
QUARANTINE: Final = "quarantine"
PERMITTED: Final = (SICK, QUARANTINE)
"""What a supervisor or a vet may permit all the same."""


class Check(Struct, frozen=True):
    """One thing looked at before a move: `says` what is found, `do` what comes first."""

    what: str
    place: str
    verdict: Word
    says: str
    do: str = ""

    @property
    def line(self) -> str:
        """Return it in one sentence."""
        return f"{self.says}: {self.do}" if self.do else self.says


def checks(
    site: Site, farm: Farm, stock: Stock, target: Place, count: int, now: datetime
) -> tuple[Check, ...]:
    """Look at everything that comes before some fish of a lot are moved into a tank.

    Args:
        site: The site.
        farm: The farm.
        stock: The lot where it is.
        target: Where the fish go.
        count: How many.
        now: The present.

    Returns:
        The checks in the order they are done; a reading that is missing says what to measure.
    """
    source = site.places[stock.place]
    return (
        *_health(farm, source, target, now),
        *_fish(site, farm, stock, now),
        *_water(site, farm, source, target, now),
        _room(site, farm, stock, target, count, now),
        *_company(site, farm, stock, target),
    )


def before_moving(first: tuple[Check, ...]) -> Iterator[str]:
    """Return what a move waits for, a sentence each; what needs leave is asked by itself."""
    for check in first:
        if check.verdict == "act" and check.what not in PERMITTED:
            yield f"{check.line}."
    unknown: dict[str, dict[str, None]] = {}
    for check in first:
        if check.verdict == "unknown" and check.what in _MEASURED_FIRST:
            unknown.setdefault(_MEASURED_FIRST[check.what], {})[check.place] = None
    if unknown:
        lacks = ", ".join(f"{what} of {' and '.join(codes)}" for what, codes in unknown.items())
        yield f"Not known: {lacks}: find out first."


def before_sale(site: Site, farm: Farm, stock: Stock, now: datetime) -> Iterator[str]:
    """Return what a sale of some fish waits for, a sentence each.

    Args:
        site: The site.
        farm: The farm.
        stock: The lot where it is.
        now: The present.
    """
    for check in _fish(site, farm, stock, now):
        if check.what == "fast" and check.verdict != "ok":
            yield f"{check.line.removesuffix(', then move')}. Fish are sold with empty guts."
    for matter in farm.matters:
        if matter.at <= now and matter.place == stock.place and of_treatment(matter.text):
            ask = "ask the veterinarian whether they may be sold, and from when"
            yield f"{stock.place}: open matter: {matter.text}: {ask}."
    if fed_live([stock]):
        yield raw_eating.says(stock.lot)


def before_stocking(
    site: Site, farm: Farm, target: Place, weight_g: float, now: datetime, *, own: bool
) -> Iterator[str]:
    """Return what speaks against putting fish into a tank, a sentence each.

    Args:
        site: The site.
        farm: The farm.
        target: The tank.
        weight_g: Their mean weight, g.
        now: The present.
        own: They are of a lot, or of parents, that swim on this site already.
    """
    if found := unlike(site, farm, target, weight_g):
        yield f"F{found[1:]}: the large ones eat them. Put them elsewhere."
    if eaten := fed_live(farm.stocks.get(target.code, ())):
        yield f"{', '.join(eaten)} once had live or raw fish: {_MIXED}."
    days = quarantined_days(farm, target, now)
    if days is not None:
        spent = f"{target.code} is through {days} of {QUARANTINE_DAYS} days of quarantine"
        yield f"{spent}: for all of them it begins anew."
    apart = [place.code for place in site.places.values() if place.stage == "quarantine"]
    if apart and not own and target.kind == "tank" and target.stage not in _APART:
        yield f"New fish stay apart for {QUARANTINE_DAYS} days first: {' or '.join(apart)}."


def too_many(
    site: Site, farm: Farm, target: Place, weight_g: float, count: int, now: datetime
) -> Iterator[str]:
    """Return why a tank has no room for so many fish of a weight; nothing where it has."""
    room = free(site, farm, target, target, weight_g, now)
    if room is not None and count > room.fish:
        most = "at most " if room.at_most else ""
        yield (
            f"{target.code} has room for {most}{room.fish} fish of {weight_g:.4g} g "
            f"({room.governs}): {count} are too many."
        )


def unlike(site: Site, farm: Farm, target: Place, weight_g: float) -> str:
    """Return which fish of a tank could not be kept with some of a weight; empty for none."""
    other = prey(site, farm, target, weight_g)
    if other is None:
        return ""
    return (
        f"fish of {weight_g:.3g} g with {other.lot} of {other.weight_g:.3g} g in {target.code}: "
        f"the small are below {GRADE_BELOW:.0%} of the length"
    )


def _health(farm: Farm, source: Place, target: Place, now: datetime) -> list[Check]:
    found = []
    for place, do in ((source, f"they stay, {ASK}"), (target, f"none go in, {ASK}")):
        judged = sick(farm, place, now)
        if judged is not None:
            found.append(Check(SICK, place.code, "act", f"{place.code}: {judged.says}", do))
    days = quarantined_days(farm, source, now)
    if days is not None:
        says = f"{source.code}: {days} of {QUARANTINE_DAYS} days of quarantine"
        do = "out only when the supervisor or the vet ends it"
        found.append(Check(QUARANTINE, source.code, "act", says, do))
    return found


def _fish(site: Site, farm: Farm, stock: Stock, now: datetime) -> list[Check]:
    code, zone = stock.place, site.timezone
    found: list[Check]
    meals = farm.fed(code, now - _FEEDS_LAST)
    fed = [one.at for one in meals if one.amount_g > 0 and one.at <= now]
    if site.places[code].stage == "larval":
        found = []  # larvae are never fasted
    elif not fed or now - fed[-1] > _FEEDS_LAST:
        says, do = f"{code}: no feed on record for three days", "say when they were fed last"
        found = [Check("fast", code, "unknown", says, do)]
    else:
        fast = fast_h(stock.weight_g)
        over, last = earliest_harvest(fed, fast), spoken(fed[-1], now, zone)
        says = f"{code} fed {last}"
        done = over <= now
        hours = (now - fed[-1]) / timedelta(hours=1)
        do = "" if done else f"no feed until {spoken(over, now, zone)} ({fast:g} h), then move"
        says += f", fasted {hours:.0f} h" if done else ""
        found = [Check("fast", code, "ok" if done else "act", says, do)]
    handled = stock.handled_at
    if handled is not None and timedelta(0) <= now - handled < timedelta(hours=REST_H):
        again = spoken(handled + timedelta(hours=REST_H), now, zone)
        says = f"{code}: fish were handled {spoken(handled, now, zone)}"
        found.append(Check("rest", code, "watch", says, f"let them rest until {again}"))
    return found


def _water(site: Site, farm: Farm, source: Place, target: Place, now: datetime) -> list[Check]:
    here, there = Inputs(farm, source, now), Inputs(farm, target, now)
    found, apart = [], dict[str, float]()
    for measure in _MATCHED:
        info = MEASURES[measure]
        a, b = here.take(measure), there.take(measure)
        if a is None or b is None:
            for inputs in (here, there):
                found += [
                    Check(measure, inputs.place.code, "unknown", f"{inputs.place.code}: {says}")
                    for says in inputs.missing
                ]
                inputs.missing.clear()
            continue
        apart[measure] = b - a
        unit = "" if measure == "ph" else f" {info.unit}"
        digits = info.decimals
        says = (
            f"{info.name} {a:.{digits}f} in {source.code}, {b:.{digits}f} in {target.code}: "
            f"{abs(b - a):.{digits}f}{unit} apart, {MOST_APART[measure]:g} allowed"
        )
        fits = bridged(measure, a, b)
        do = "" if fits else _NEARER.get(measure, "bring the two waters nearer first")
        found.append(Check(measure, target.code, "ok" if fits else "act", says, do))
        if measure == "temperature" and max(a, b) > WARMEST_C:
            says = f"{max(a, b):.1f} degC is above {WARMEST_C:g}"
            found.append(Check("heat", source.code, "watch", says, "move at a cooler hour"))
    found += _oxygen(site, farm, source, target, now)
    if len(apart) == len(_MATCHED) and not any(one.verdict == "act" for one in found):
        minutes = mixing_min(apart)
        says = f"Mix water of {target.code} in over {minutes} min before they are let go"
        found.append(Check("mixing", target.code, "ok", says if minutes else "Waters are alike"))
    return found


def _oxygen(site: Site, farm: Farm, source: Place, target: Place, now: datetime) -> list[Check]:
    found, shares = [], list[float]()
    for place in (source, target):
        code, inputs = place.code, Inputs(farm, place, now)
        read = inputs.find("oxygen_percent")
        share = read.value if read is not None else None
        if share is None:
            worked = figure(site, inputs, "oxygen_percent")
            share = worked.value
            if share is None:
                lacks = worked.doubtful or "; ".join(worked.missing)
                found.append(Check("oxygen", code, "unknown", f"{code}: {lacks}"))
                continue
        shares.append(share)
        low = share < LEAST_OXYGEN_PERCENT
        says = f"Oxygen {share:.0f} % in {code}, {LEAST_OXYGEN_PERCENT:g} wanted"
        do = "aerate first" if low else ""
        found.append(Check("oxygen", code, "watch" if low else "ok", says, do))
    if len(shares) == 2 and not bridged("oxygen_percent", *shares):
        says = f"Oxygen {abs(shares[1] - shares[0]):.0f} % apart"
        do = f"at most {MOST_APART['oxygen_percent']:g}: aerate the lower one first"
        found.append(Check("oxygen apart", target.code, "act", says, do))
    return found


def _room(
    site: Site, farm: Farm, stock: Stock, target: Place, count: int, now: datetime
) -> Check:  # fmt: skip
    code = target.code
    room = free(site, farm, target, site.places[stock.place], stock.weight_g, now)
    if room is None:
        return Check("room", code, "unknown", f"{code}: how many it can take is not known",
                     f"rounds capacity {code} says what to measure")  # fmt: skip
    most = "at most " if room.at_most else ""
    says = f"{code} has room for {most}{room.fish} fish of {stock.weight_g:.4g} g ({room.governs})"
    if count > room.fish:
        return Check("room", code, "act", says, f"{count} are too many: send fewer, or elsewhere")
    if room.at_most:
        return Check("room", code, "unknown", says, "; ".join(room.missing))
    return Check("room", code, "ok", says)


def _sizes(site: Site, stock: Stock, target: Place, farm: Farm) -> list[Check]:
    """Warn where the large ones could eat the small ones, by their mean lengths."""
    found = unlike(site, farm, target, stock.weight_g)
    do = "the large ones eat them: send them elsewhere"
    return [Check("size", target.code, "act", found, do)] if found else []


def _company(site: Site, farm: Farm, stock: Stock, target: Place) -> list[Check]:
    found = []
    source, code = site.places[stock.place], target.code
    if source.species != target.species:
        kept = target.species or "no species"
        says = f"{code} is set for {kept}, {source.code} for {source.species or 'no species'}"
        found.append(Check("species", code, "watch", says, "its limits would be wrong"))
    others = [one for one in farm.stocks.get(code, ()) if one.lot != stock.lot]
    if others:
        lots = ", ".join(one.lot for one in others)
        says = f"{code} holds {lots}"
        found.append(Check("lots", code, "watch", says, "nobody can tell them apart afterwards"))
    found += _sizes(site, stock, target, farm)
    if {bool(fed_live([one])) for one in (stock, *others)} == {True, False}:
        lots = ", ".join(fed_live([stock, *others]))
        says = f"{lots} once had live or raw fish"
        found.append(Check("live food", code, "act", says, _MIXED))
    return found
