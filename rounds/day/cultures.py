"""Cultures of live food: what may be harvested, what the eggs say, and when to start a hatch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from rounds.day.farm import Farm
from rounds.day.inputs import fresh
from rounds.day.larvae import FOODS
from rounds.day.when import local_day, spoken
from rounds.fish import livefood
from rounds.reason import Reason, Reasons
from rounds.site.model import Place, Site


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
class Hatch:
    """Brine-shrimp cysts to hatch for an hour: how many grams, and the times backwards from it."""

    wanted: datetime
    nauplii: float
    cysts_g: float
    start: datetime
    harvest: datetime
    enrich: datetime | None
    cautions: tuple[str, ...]
    reasons: Reasons


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
                "{ratio:g} % with eggs: {state}",
                {"ratio": eggs.value, "state": state},
                "good from 25, crash below 15 %",
            )
        )
        if state == "crash":
            cautions.append(
                "Egg ratio tells of a crash in one or two days: harvest hard or start again from "
                "the back-up culture."
            )
    elif food == "rotifers":
        missing.append(f"Count the eggs of {place.code}.")
    return Culture(
        place.code, food, last.value, growth, harvest, harvest_l, state, tuple(missing),
        tuple(cautions), tuple(reasons),
    )  # fmt: skip


def hatch(
    site: Site,
    wanted: datetime,
    nauplii: float,
    nauplii_per_g: float,
    now: datetime,
    enrich_h: float = 0.0,
) -> Hatch:
    """Return the cysts to set up and the hours of a hatch, backwards from when it is wanted.

    Args:
        site: The site, for its clock.
        wanted: When the nauplii go into the tank.
        nauplii: How many.
        nauplii_per_g: Yield of this cyst lot, from its own hatches.
        now: The present, for the words.
        enrich_h: Hours in the enrichment; 0 for plain nauplii.

    Raises:
        ValueError: A number is out of range.
    """
    grams = livefood.cysts_g(nauplii, nauplii_per_g)
    plan = livefood.hatch_plan(wanted, enrich_h=enrich_h)
    zone = site.timezone
    reasons = [
        Reason(
            "{n:.0f} nauplii / {each:.0f} a gram of this lot = {grams:.2f} g of cysts",
            {"n": nauplii, "each": nauplii_per_g, "grams": grams},
            "definition",
        ),
        Reason(
            "wanted {wanted}: start {start}, harvest {harvest}",
            {
                "wanted": spoken(wanted, now, zone),
                "start": spoken(plan.start, now, zone),
                "harvest": spoken(plan.harvest, now, zone),
            },
            "24 h of hatching from memory; half an hour of rinsing, common practice",
        ),
    ]
    if plan.enrich is not None:
        when = spoken(plan.enrich, now, zone)
        says = "enrichment from {when}, {hours:g} h, once their mouths are open"
        reasons.append(Reason(says, {"when": when, "hours": enrich_h}, "8 h, from memory"))
    late = ("It should have been started by now: later, fewer, or fed plain.",)
    return Hatch(
        wanted, nauplii, grams, plan.start, plan.harvest, plan.enrich,
        late if plan.start < now else (), tuple(reasons),
    )  # fmt: skip
