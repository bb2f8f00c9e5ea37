"""A round on paper: the blank slate to carry, and what was read on it typed in afterwards."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from typing import Final, TypeVar

from msgspec import Struct, structs
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.readings.judgement import with_unit
from rounds.day.walking import walk
from rounds.day.walking.answering import last_kept
from rounds.day.walking.plan import items, rounds_on
from rounds.day.walking.steps import asked
from rounds.day.walking.typed import step_unit
from rounds.day.walking.walk import WalkState
from rounds.day.when import clock, local_day, long_day, short_day
from rounds.records.entry import Correction, Entry, stamp
from rounds.site.model import Checklist, Place, Site, Step
from rounds.site.rhythm import event_of, window
from rounds.units import written

_CLOCK: Final = re.compile(r"([01]?\d|2[0-3])[:.,]?([0-5]\d)", re.ASCII)
_DAY: Final = timedelta(days=1)
_OLD: Final = timedelta(hours=36)
_FAR: Final = timedelta(hours=3)
"""A slate read so long before or after its round's window is asked about (common practice)."""

_E = TypeVar("_E", bound=Entry)


class Blank(Struct, frozen=True):
    """One value to write: the last one here, and the band aimed at."""

    last: str
    aim: str


class Part(Struct, frozen=True):
    """One pass of a round: what is asked, and the places in walking order, a blank each."""

    number: int
    steps: tuple[Step, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[Place, tuple[Blank | None, ...]], ...]


class Slate(Struct, frozen=True):
    """A round to be walked on paper."""

    checklist: Checklist
    day: date
    start: datetime
    end: datetime
    parts: tuple[Part, ...]


def blank(site: Site, farm: Farm, checklist_code: str, day: date, now: datetime) -> Slate:
    """Return the blank slate of a round: places in walking order, last values and bands.

    Args:
        site: The site.
        farm: The farm, for the last values.
        checklist_code: Which checklist.
        day: The site-local date it is for.
        now: The present: a value from the future is no last one.

    Returns:
        The slate, pass by pass.

    Raises:
        KeyError: The site has no such checklist.
    """
    checklist = site.checklists[checklist_code]
    state = asked(site, farm, checklist, "", day, "")
    start, end = window(checklist.window, day, site)
    parts = []
    found = items(site, checklist, day)
    for number in checklist.passes:
        here = [(place, step) for place, step in found if step.stop_pass == number]
        asks = {step.code for _, step in here}
        steps = tuple(step for step in checklist.steps if step.code in asks)
        at = {(place.code, step.code): index for index, (place, step) in enumerate(found)}
        rows = []
        for place in {place.code: place for place, _ in here}.values():
            cells = tuple(
                _blank(replace(state, position=at[place.code, step.code]), now, start)
                if (place.code, step.code) in at
                else None
                for step in steps
            )
            rows.append((place, cells))
        units = tuple(written(step_unit(site, step)) for step in steps)
        parts.append(Part(number, steps, units, tuple(rows)))
    return Slate(checklist, day, start, end, tuple(part for part in parts if part.rows))


def _blank(state: WalkState, now: datetime, then: datetime) -> Blank:
    """Return the last value as of now and the band that holds when the round is walked.

    A value older than a day and a half says its day.
    """
    item = state.items[state.position]
    unit = step_unit(state.site, item.step)
    after = with_unit("", unit)
    last = ""
    if (found := last_kept(state, item, now)) is not None:
        last = found[0].removesuffix(after)
        last += f" {short_day(local_day(found[1], state.site.timezone))}" * (now - found[1] > _OLD)
    aim = walk.look(state, "", max(now, then)).aim.removeprefix("aim ").removesuffix(after)
    return Blank(last, aim)


def walked(site: Site, farm: Farm, now: datetime) -> tuple[tuple[Checklist, date], ...]:
    """Return the rounds of today and yesterday that may have been walked on paper.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        Checklist and site-local date: those with steps open first, the newest window first; then
        those for an event.
    """
    found = []
    for at in (now, now - _DAY):
        found += [
            (one.done == one.total, -one.start.timestamp(), one.checklist, one.day)
            for one in rounds_on(site, farm, at)
            if one.start <= now
        ]
    today = local_day(now, site.timezone)
    known = {(one[2].code, one[3]) for one in found}
    found += [
        (True, 0.0, checklist, today)
        for checklist in site.checklists.values()
        if event_of(checklist.due) and (checklist.code, today) not in known
    ]
    return tuple((one[2], one[3]) for one in sorted(found, key=lambda one: one[:2]))


def ahead(site: Site, farm: Farm, now: datetime) -> tuple[tuple[Checklist, date], ...]:
    """Return the rounds of today that are not done and those of tomorrow, by their windows.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
    """
    today = [one for one in rounds_on(site, farm, now) if one.state != "done"]
    days = (*today, *rounds_on(site, farm, now + _DAY))
    return tuple({(one.checklist.code, one.day): (one.checklist, one.day) for one in days}.values())


def time_read(text: str, day: date, now: datetime, site: Site, checklist: Checklist) -> datetime:
    """Return when values were read from what was typed: a time on the round's day.

    One after midnight belongs to the next day where only that is near the round's window.

    Args:
        text: "07:10", "7.10" or "0710", in the site's time.
        day: The site-local date of the round.
        now: The present.
        site: The site, for its time zone.
        checklist: The round, for its window.

    Returns:
        The instant, in UTC as entries hold it.

    Raises:
        ValueError: Not a time, or one that has not come yet.
    """
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text.strip() or 'Nothing'} is not a time: type it like 07:10")
    on_clock = time(int(found[1]), int(found[2]))
    at, next_day = (datetime.combine(d, on_clock, site.timezone) for d in (day, day + _DAY))
    if far_off(at, checklist, day, site) and not far_off(next_day, checklist, day, site):
        at = next_day
    if at > now:
        raise ValueError(f"{clock(at, site.timezone)} on {long_day(day)} has not come yet")
    return at


def far_off(at: datetime, checklist: Checklist, day: date, site: Site) -> str:
    """Ask about a time on the slate that is far from the window of its round.

    Args:
        at: When it was read.
        checklist: The round; one due after an event may be walked at any time.
        day: The site-local date of the round.
        site: The site, for its time zone.

    Returns:
        One question; empty where the time is near the window.
    """
    start, end = window(checklist.window, day, site)
    if event_of(checklist.due) or start - _FAR <= at <= end + _FAR:
        return ""
    zone = site.timezone
    return (
        f"{clock(at, zone)} on {long_day(local_day(at, zone))} is far from {checklist.title}, "
        f"{clock(start, zone)} to {clock(end, zone)}: is it meant?"
    )


def dated(draft: _E, read_at: datetime) -> _E:
    """Return a draft that says when it was read; a correction is made now, and stays so."""
    if isinstance(draft, Correction):
        return draft
    return structs.replace(draft, read_at=stamp(read_at))
