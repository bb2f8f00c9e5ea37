"""What is known at a step before it is answered: the last meal, the dead, an open matter."""

from __future__ import annotations

import re
from collections import defaultdict
from datetime import date, datetime, time, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.placing import DEAD_STEP
from rounds.day.fold.state import OpenMatter
from rounds.day.laptops.unheard import named
from rounds.day.readings.covering import worse_than
from rounds.day.readings.judgement import in_words
from rounds.day.walking.steps import Item
from rounds.day.when import local_day, spoken

FEED_STEP: Final = "feed_left"
"""The step that asks what was left of a meal."""
_MEAL: Final = timedelta(hours=24)
"""Nothing can be left of a meal older than this: it was taken out or it is rotten by then."""
_DAYS: Final = 3
"""Days before today whose dead are told at the next count."""
_NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_MORE_DEAD: Final = re.compile(r"(?:more than|above|over)\s+(\w+)\s+dead", re.IGNORECASE)


def known_here(farm: Farm, item: Item, now: datetime) -> tuple[str, ...]:
    """Return what somebody must know who answers a step: a sentence each.

    Args:
        farm: The farm.
        item: The step at its place.
        now: The present.

    Returns:
        The last meal where its rest is asked for, then the open matters about what is asked.
    """
    said = [f"Open matter, {_told(farm, one)}" for one in _about(farm, item, now)]
    return (_last_meal(farm, item, now), *said) if item.step.code == FEED_STEP else tuple(said)


def passed(farm: Farm, item: Item, value: float | None, now: datetime) -> str:
    """Return whom to tell when an answer is worse than an open matter allows; empty if it is not.

    Args:
        farm: The farm.
        item: The step at its place.
        value: What was typed, in the measure's unit; None of words.
        now: The present.
    """
    for matter in _about(farm, item, now):
        if value is not None and _worse(farm, item, matter, value, now):
            owner = named(farm, matter.owner or matter.by)
            return f"It is {matter.again_if}: tell {owner} now ({matter.text})."
    return ""


def recent_dead(farm: Farm, item: Item, now: datetime) -> str:
    """Return the dead counted here today and on the last days: "dead: 4 yesterday, 3 Mon"."""
    today = local_day(now, farm.site.timezone)
    days = _dead(farm, item, now)
    told = [f"{days[day]} {_day(day, today)}" for day in sorted(days, reverse=True)]
    return f"dead: {', '.join(told)}" if told else ""


def _dead(farm: Farm, item: Item, now: datetime) -> dict[date, int]:
    zone = farm.site.timezone
    first = local_day(now, zone) - timedelta(days=_DAYS)
    days: defaultdict[date, int] = defaultdict(int)
    for one in farm.dead(item.place.code, datetime.combine(first, time(), zone)):
        if one.at <= now and one.id != item.entry_id:
            days[local_day(one.at, zone)] += one.count
    return dict(days)


def _day(day: date, today: date) -> str:
    back = (today - day).days
    return ("today", "yesterday")[back] if back < 2 else f"{day:%a}"


def _last_meal(farm: Farm, item: Item, now: datetime) -> str:
    meals = [
        fed
        for fed in farm.fed(item.place.code, now - timedelta(days=7))
        if fed.at <= now and fed.amount_g > 0
    ]
    if not meals:
        return "No meal was given here in the last week: nothing can be left of one."
    last = meals[-1]
    when = spoken(last.at, now, farm.site.timezone)
    if now - last.at > _MEAL:
        return f"No meal was given here since {when}: nothing can be left of one."
    left = f", {100 * last.left_g / last.amount_g:.0f} % left" if last.left_g is not None else ""
    return f"The last meal: {last.amount_g:.0f} g, {when}{left}."


def _about(farm: Farm, item: Item, now: datetime) -> list[OpenMatter]:
    """Return the open matters of the place about what a step asks; by their words where unsaid."""
    step = item.step
    codes = {step.code, step.measure or step.code}
    names = {in_words(code) for code in codes}
    found = []
    for matter in farm.matters:
        if matter.place != item.place.code or matter.at > now:
            continue
        words = set(re.findall(r"\w+", f"{matter.text} {matter.again_if}".lower()))
        if matter.about in codes or (not matter.about and names & words):
            found.append(matter)
    return found


def _told(farm: Farm, matter: OpenMatter) -> str:
    again = f"; again if {matter.again_if}" if matter.again_if else ""
    return f"{named(farm, matter.owner or matter.by)} has it: {matter.text}{again}."


def _worse(farm: Farm, item: Item, matter: OpenMatter, value: float, now: datetime) -> bool:
    if item.step.code == DEAD_STEP:
        most = _most_dead(matter.again_if)
        today = local_day(now, farm.site.timezone)
        return most is not None and _dead(farm, item, now).get(today, 0) + value > most
    edge = worse_than(matter.again_if, item.step.measure or "")
    if edge is None:
        return False
    side, limit, half = edge
    return value > limit + half if side == "above" else value < limit - half


def _most_dead(again_if: str) -> int | None:
    """Read how many dead a matter allows: 4 of "more than four dead in a day"."""
    found = _MORE_DEAD.search(again_if)
    if found is None:
        return None
    word = found[1].lower()
    if word in _NUMBERS:
        return _NUMBERS.index(word)
    return int(word) if word.isascii() and word.isdecimal() else None
