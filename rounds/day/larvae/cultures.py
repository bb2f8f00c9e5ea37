"""Cultures of live food: what may be harvested, what the eggs say, and whether one is spare."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.feeding.conditions import FOODS
from rounds.day.fold.farm import LOOKS_BACK, Farm
from rounds.day.fold.state import Read
from rounds.day.readings.inputs import fresh
from rounds.day.readings.judgement import word_of
from rounds.day.when import local_day, spoken
from rounds.fish import livefood
from rounds.fish.counting import density
from rounds.reason import Reason, Reasons, Value
from rounds.records.entry import Reading
from rounds.site.model import Place, Site

HARVEST: Final = "harvest"
"""The measure of litres taken out of a culture."""
_COUNTS: Final = timedelta(hours=60)
"""So far back counts of a culture are looked at."""
BACKUP: Final = "backup_culture"
"""Code of the step that asks whether the back-up is renewed."""
COUNTED_WITHIN: Final = timedelta(hours=36)
"""A culture is counted daily; later it is told. So is a fall of its eggs (common practice)."""
ALIVE: Final = timedelta(days=7)
RENEWED_WITHIN: Final = timedelta(days=9)
"""A back-up is renewed weekly; two days later it is told (common practice)."""


class Culture(Struct, frozen=True, kw_only=True):
    """A culture of live food: its counts, what may be taken, and what its eggs say.

    `harvest_l` is for the day, `free_l` what is left of it; None where the growth is not known.
    """

    place: str
    food: str
    per_ml: float | None
    growth_per_day: float | None
    harvest_fraction: float | None
    harvest_l: float | None
    taken_l: float
    """Today, since its count."""
    free_l: float | None
    egg_state: str
    asked: tuple[tuple[str, float], ...]
    """Larval tanks, and the litres each asks of it."""
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


class Upkeep(Struct, frozen=True):
    """Whether a live food outlives a crash: the cultures of it that are alive, and the back-up."""

    food: str
    alive: tuple[str, ...]
    backup: str
    cautions: tuple[str, ...]
    reasons: Reasons


def upkeep(site: Site, farm: Farm, now: datetime) -> Upkeep | None:
    """Return whether rotifers have two cultures, apart, counted and renewed.

    Brine shrimp need none: their back-up is the tin of cysts.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        The upkeep; None where rotifers were never counted in a culture.
    """
    zone, measure = site.timezone, FOODS["rotifers"]
    lasts = {
        place.code: read
        for place in site.places.values()
        if place.kind == "culture" and (read := farm.latest(place.code, measure, now)) is not None
    }
    if not lasts:
        return None
    alive = [c for c, read in lasts.items() if read.value > 0 and now - read.at <= ALIVE]
    cautions = [
        f"{code} not counted since {spoken(lasts[code].at, now, zone)}: count it today."
        for code in alive
        if now - lasts[code].at > COUNTED_WITHIN
    ]
    renewed = _renewed(farm, tuple(lasts), now)
    fresh_vial = renewed is not None and now - renewed <= RENEWED_WITHIN
    backup = f"renewed {spoken(renewed, now, zone)}" if renewed is not None else "none on record"
    if not alive:
        cautions.append("No culture of rotifers was counted alive within a week: start one.")
    if len(alive) < 2 and not fresh_vial:
        only = f"only {alive[0]} is alive" if alive else "no culture is alive"
        cautions.append(
            f"Rotifers: {only}, back-up {backup}. Start a closed vial in another room, today."
        )
    elif not fresh_vial and renewed is not None:
        cautions.append(f"The back-up of the rotifers was {backup}: renew it.")
    values: dict[str, Value] = {"alive": ", ".join(alive) or "none", "backup": backup}
    says = "rotifers alive: {alive}; back-up {backup}; two are wanted, in two rooms"
    rule = "counted alive within 7 days, each within 36 h, back-up renewed within 9 days"
    reasons = (Reason(says, values, "common practice"), Reason(rule, {}, "common practice"))
    return Upkeep("rotifers", tuple(alive), backup, tuple(cautions), reasons)


def _renewed(farm: Farm, places: tuple[str, ...], now: datetime) -> datetime | None:
    """Return when a back-up was last renewed; None since somebody said there is none."""
    since = now - LOOKS_BACK
    answers = [a for place in places for a in farm.answers(place, BACKUP, since) if a.at <= now]
    answers.sort(key=lambda answer: (answer.at, answer.id))
    if not answers or answers[-1].value == "there is none":
        return None
    return max((a.at for a in answers if a.value == "renewed today"), default=None)


def food_of(farm: Farm, place: Place, now: datetime) -> str | None:
    """Return the live food a culture holds, as its site says, else what was counted in it."""
    if place.holds is not None:
        return place.holds if place.holds in FOODS else None
    since = now - _COUNTS
    reads = {food: farm.between(place.code, of, since, now) for food, of in FOODS.items()}
    food = max(reads, key=lambda name: len(reads[name]))
    return food if reads[food] else None


def count(farm: Farm, place: Place, counts: Sequence[int], volume_ml: float, dilution: float,
          now: datetime) -> Reading:  # fmt: skip
    """Draft the reading that counts of a culture under the glass make.

    Args:
        farm: The farm.
        place: A culture.
        counts: Animals in each sample.
        volume_ml: Of one sample, mL, 0.001 to 1e6.
        dilution: How many times they were thinned before counting, 1 to 10,000.
        now: The present.

    Raises:
        ValueError: It holds no live food that is counted, or a number is out of range.
    """
    food = food_of(farm, place, now)
    if food is None:
        raise ValueError(f"{place.code} holds nothing that is counted per mL")
    found = density(sum(counts), volume_ml * len(counts), dilution)
    measure = FOODS[food]
    return Reading(
        place=place.code, measure=measure, value=f"{found.per_ml:.10g}", unit="1/mL",
        verdict=word_of(farm.site, place, measure, found.per_ml, now),
    )  # fmt: skip


def culture(
    site: Site, farm: Farm, place: Place, now: datetime, left_per_ml: float | None = None,
    counted_per_ml: float | None = None,
) -> Culture | None:  # fmt: skip
    """Return what a culture can give today, from two counts about a day apart.

    Args:
        site: The site.
        farm: The farm.
        place: A culture.
        now: The present.
        left_per_ml: What was left after yesterday's harvest and fill; where it is not given, the
            count of yesterday less the litres harvested since.
        counted_per_ml: What was counted just now and is not on record.

    Returns:
        The culture; None where its site does not say what it holds and none was counted there.

    Raises:
        ValueError: A number is out of range.
    """
    food = food_of(farm, place, now)
    if food is None:
        return None
    reads = list(farm.between(place.code, FOODS[food], now - _COUNTS, now))
    if counted_per_ml is not None:
        reads.append(_typed(place, FOODS[food], counted_per_ml, now))
    found = Culture(
        place=place.code,
        food=food,
        per_ml=None,
        growth_per_day=None,
        harvest_fraction=None,
        harvest_l=None,
        taken_l=0.0,
        free_l=None,
        egg_state="",
        asked=(),
        missing=(),
        cautions=(),
        reasons=(),
    )
    if not reads:
        ask = f"Count {place.code}: rounds walk live-food"
        return replace(found, missing=(ask,))
    last = reads[-1]
    today = local_day(now, site.timezone)
    out = _harvests(farm, place, last.at, now)
    taken = sum(read.value for read in out if local_day(read.at, site.timezone) == today)
    found = replace(found, per_ml=last.value, taken_l=taken)
    if local_day(last.at, site.timezone) != today:
        found = replace(found, missing=(f"Count {place.code} today before the harvest.",))
    elif food == "rotifers":
        found = _growth(found, farm, place, reads, left_per_ml)
    elif place.volume_m3 is not None:
        whole = Reason("a hatch is harvested whole", {}, "common practice")
        found = replace(found, harvest_l=place.volume_m3 * 1000, reasons=(whole,))
    if found.harvest_l is not None:
        found = replace(found, free_l=max(0.0, found.harvest_l - taken))
    return _eggs(found, farm, place, now)


def _typed(place: Place, measure: str, value: float, now: datetime) -> Read:
    """Return a count that is not on record as if it were."""
    typed = f"{value:g}"
    return Read(
        id="",
        place=place.code,
        measure=measure,
        value=value,
        typed=typed,
        unit="1/mL",
        at=now,
        day="",
        by="",
        walk=None,
        step="",
        verdict="unknown",
        confirmed=False,
        writer="",
    )


def _harvests(farm: Farm, place: Place, since: datetime, until: datetime) -> Sequence[Read]:
    """Return what was taken out of a culture after an instant."""
    reads = farm.between(place.code, HARVEST, since, until)
    return [read for read in reads if read.at > since]


def _growth(
    found: Culture, farm: Farm, place: Place, reads: Sequence[Read], left_per_ml: float | None
) -> Culture:
    """Put in how fast rotifers grow, and the share that growth makes good."""
    last, day = reads[-1], timedelta(hours=24)
    before = [r for r in reads[:-1] if timedelta(hours=12) <= last.at - r.at <= 2 * day]
    if not before:
        return replace(found, missing=(f"Count {place.code} on two days running.",))
    litres = None if place.volume_m3 is None else place.volume_m3 * 1000
    out = _harvests(farm, place, before[-1].at, last.at)
    cautions, reasons = [], []
    left = before[-1].value
    if left_per_ml is not None:
        left = left_per_ml
    elif out and litres:
        for read in out:
            left *= max(0.0, 1 - read.value / litres)
        says = "{before:.4g} per mL less {out:g} L of {litres:g}, topped up: {left:.4g} per mL left"
        values: dict[str, Value] = {"before": before[-1].value, "litres": litres, "left": left,
                                    "out": sum(read.value for read in out)}  # fmt: skip
        reasons.append(Reason(says, values, "balance of animals and water"))
    elif not out:
        cautions.append(
            "No harvest on record since the count before: it grows faster if any was taken. "
            "K, live food taken out of a culture, writes it down; or --left."
        )
    if last.value > 0 and left > 0:
        hours = (last.at - before[-1].at).total_seconds() / 3600
        growth = livefood.growth_from_counts_per_day(left, last.value, hours)
        share = livefood.max_harvest_fraction(min(max(growth, -2.0), 4.0))
        says = "{left:.4g} per mL left, {now:.4g} after {hours:.0f} h: grows {r:.3f} a day"
        values = {"left": left, "now": last.value, "hours": hours, "r": growth}
        reasons.append(Reason(says, values, "exponential growth"))
        says = "at most {part:.0f} % may be taken"
        reasons.append(Reason(says, {"part": 100 * share}, "balance of a steady culture"))
        found = replace(
            found, growth_per_day=growth, harvest_fraction=share,
            harvest_l=None if litres is None else share * litres,
        )  # fmt: skip
    return replace(found, cautions=tuple(cautions), reasons=tuple(reasons))


def _eggs(found: Culture, farm: Farm, place: Place, now: datetime) -> Culture:
    """Put in what the eggs of rotifers say."""
    if found.food != "rotifers":
        return found
    eggs = farm.latest(place.code, "egg_ratio", now)
    if eggs is None or not fresh(eggs, now):
        return replace(found, missing=(*found.missing, f"Count the eggs of {place.code}."))
    state = livefood.egg_state(round(eggs.value * 100), 10_000)
    says = (
        "{ratio:g} % with eggs: {state}; told at the count that shows it, a crash follows one or "
        "two days after"
    )
    reason = Reason(says, {"ratio": eggs.value, "state": state}, "good from 25, crash below 15 %")
    cautions = found.cautions
    if state == "crash":
        crash = (
            "Egg ratio tells of a crash in one or two days: harvest hard, above the share that "
            "may be taken, or start again from the back-up; look for ciliates, foam and smell."
        )
        cautions = (*cautions, crash)
    return replace(found, egg_state=state, cautions=cautions, reasons=(*found.reasons, reason))


def shared(found: Culture, asked: Sequence[tuple[str, float]]) -> Culture:
    """Put in what larval tanks ask of a culture today, and tell where it cannot give it all.

    Args:
        found: The culture.
        asked: Each tank with the litres it asks, in walking order.
    """
    total = sum(litres for _, litres in asked)
    found = replace(found, asked=tuple(asked))
    if found.free_l is None or total <= found.free_l or len(asked) < 2:
        return found  # one tank alone tells it itself
    tanks = " and ".join(place for place, _ in asked)
    says = (
        f"{tanks} ask {total:.1f} L together, {found.free_l:.1f} L may be taken: share it out, "
        "the youngest first, and have other food ready."
    )
    return replace(found, cautions=(*found.cautions, says))
