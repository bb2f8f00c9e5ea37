"""Cultures of live food: what may be harvested, what the eggs say, and whether one is spare."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from rounds.day.conditions import FOODS
from rounds.day.farm import LOOKS_BACK, Farm
from rounds.day.inputs import fresh
from rounds.day.when import local_day, spoken
from rounds.fish import livefood
from rounds.reason import Reason, Reasons, Value
from rounds.site.model import Place, Site

BACKUP: Final = "backup_culture"
"""Code of the step that asks whether the back-up is renewed."""
COUNTED_WITHIN: Final = timedelta(hours=36)
"""A culture is counted daily; later it is told. So is a fall of its eggs (common practice)."""
ALIVE: Final = timedelta(days=7)
RENEWED_WITHIN: Final = timedelta(days=9)
"""A back-up is renewed weekly; two days later it is told (common practice)."""


@dataclass(frozen=True, slots=True)
class Culture:
    """A culture of live food: its counts, what may be taken, and what its eggs say."""

    place: str
    food: str
    per_ml: float
    growth_per_day: float | None
    harvest_fraction: float | None
    harvest_l: float | None
    egg_state: str
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


@dataclass(frozen=True, slots=True)
class Upkeep:
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


def culture(
    site: Site, farm: Farm, place: Place, now: datetime, left_per_ml: float | None = None
) -> Culture | None:
    """Return what a culture can give today, from two counts about a day apart.

    Args:
        site: The site.
        farm: The farm.
        place: A culture.
        now: The present.
        left_per_ml: What was left after yesterday's harvest and fill; the count of yesterday
            where it is not given, which advises less.

    Returns:
        The culture; None where none of its food was ever counted there.

    Raises:
        ValueError: A number is out of range.
    """
    reads = {
        food: farm.between(place.code, measure, now - timedelta(hours=60), now)
        for food, measure in FOODS.items()
    }
    food = max(reads, key=lambda name: len(reads[name]))
    if not reads[food]:
        return None
    today = local_day(now, site.timezone)
    last = reads[food][-1]
    missing: list[str] = []
    cautions: list[str] = []
    reasons: list[Reason] = []
    growth = harvest = harvest_l = None
    if local_day(last.at, site.timezone) != today:
        missing.append(f"Count {place.code} today before the harvest.")
    day = timedelta(hours=24)
    before = [r for r in reads[food][:-1] if timedelta(hours=12) <= last.at - r.at <= 2 * day]
    if not before or missing:
        missing += [] if before else [f"Count {place.code} on two days running."]
    elif last.value > 0 and (left := left_per_ml or before[-1].value) > 0:
        hours = (last.at - before[-1].at).total_seconds() / 3600
        growth = livefood.growth_from_counts_per_day(left, last.value, hours)
        harvest = livefood.max_harvest_fraction(min(max(growth, -2.0), 4.0))
        harvest_l = None if place.volume_m3 is None else harvest * place.volume_m3 * 1000
        says = "{left:.4g} per mL left, {now:.4g} after {hours:.0f} h: grows {r:.3f} a day"
        values = {"left": left, "now": last.value, "hours": hours, "r": growth}
        reasons.append(Reason(says, values, "exponential growth"))
        says = "at most {part:.0f} % may be taken"
        reasons.append(Reason(says, {"part": 100 * harvest}, "balance of a steady culture"))
        if left_per_ml is None:
            cautions.append(
                "Yesterday's count stands for what its harvest left: say what was left."
            )
    state, eggs = "", farm.latest(place.code, "egg_ratio", now)
    if eggs is not None and fresh(eggs, now):
        state = livefood.egg_state(round(eggs.value * 100), 10_000)
        reasons.append(
            Reason(
                "{ratio:g} % with eggs: {state}; told at the count that shows it, a crash follows "
                "one or two days after",
                {"ratio": eggs.value, "state": state},
                "good from 25, crash below 15 %",
            )
        )
        if state == "crash":
            cautions.append(
                "Egg ratio tells of a crash in one or two days: harvest hard, above the share that "
                "may be taken, or start again from the back-up; look for ciliates, foam and smell."
            )
    elif food == "rotifers":
        missing.append(f"Count the eggs of {place.code}.")
    return Culture(
        place.code, food, last.value, growth, harvest, harvest_l, state, tuple(missing),
        tuple(cautions), tuple(reasons),
    )  # fmt: skip
