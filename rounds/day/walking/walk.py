"""A walk: beginning, going on after a restart, and moving from step to step.

All of it is pure: `look` at every key, `answer` at Enter gives a draft entry, and once the book
has kept it `kept` moves on. What was kept is found in the farm alone, so that a walk goes on
exactly where it stood after a restart, and sees what another laptop did of the same round.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Literal

from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import WalkAt
from rounds.day.walking.answering import Look, Outcome, answer, look, note, skip
from rounds.day.walking.plan import RESUMABLE
from rounds.day.walking.steps import Item, WalkState, asked, renewed
from rounds.day.when import local_day
from rounds.records.entry import Entry, Walk
from rounds.site.model import Site, visited

__all__ = [
    "Item", "Look", "Outcome", "WalkState", "answer", "answered", "back", "begin", "finish",
    "forward", "jump", "kept", "leave", "look", "note", "onward", "renewed", "reread", "resume",
    "same_step", "skip", "unfinished",
]  # fmt: skip


def begin(
    site: Site, farm: Farm, checklist_code: str, day: date, by: str, now: datetime
) -> tuple[WalkState, Walk]:
    """Begin a walk: its state at the first open step, and the draft of its first entry.

    Args:
        site: The site.
        farm: The farm.
        checklist_code: Which checklist.
        day: The site-local date of the round.
        by: Code of the person walking.
        now: The present.

    Returns:
        The state and the draft. What another walk of the same round kept counts as done.

    Raises:
        KeyError: The site has no such checklist.
    """
    name = f"{checklist_code}.{day}.{now:%H%M%S%f}.{by}"
    state = asked(site, farm, site.checklists[checklist_code], name, day, by)
    return _to_open(state, 0), _walk(state, "begun")


def resume(site: Site, farm: Farm, walk_id: str, by: str, now: datetime) -> WalkState:
    """Go on with a walk at the first open step after the last one this person kept in it.

    Where the person kept none, it goes on after the last one anybody did.

    Args:
        site: The site.
        farm: The farm, with the walk in it.
        walk_id: Which walk.
        by: Code of the person going on.
        now: The present; entries from the future do not say where it stood.

    Returns:
        The state; past the last step when nothing is open.

    Raises:
        KeyError: There is no such walk, or its checklist is gone from the site.
    """
    walk = farm.walks[walk_id]
    checklist = site.checklists[walk.checklist]
    state = asked(site, farm, checklist, walk_id, date.fromisoformat(walk.day), by)
    own = [
        (not item.who, item.at, index)
        for index, item in enumerate(state.items)
        if item.at is not None and item.at <= now and not item.by
    ]
    if not own:
        return _to_open(state, 0)
    last = max(own)[2]
    return _to_open(replace(state, came_from=state.items[last].place), last + 1)


def reread(site: Site, farm: Farm, place_code: str, measure: str, by: str, day: date) -> WalkState:
    """Return a state that asks one measure of one place again, outside any walk.

    Args:
        site: The site.
        farm: The farm.
        place_code: Where.
        measure: What is read again.
        by: Code of the person reading.
        day: The site-local date.

    Returns:
        The state, its one step taken from a checklist that asks it there.

    Raises:
        KeyError: No checklist of the site asks this measure in this place.
    """
    place = site.places[place_code]
    for checklist in site.checklists.values():
        for step in checklist.steps:
            asked = visited(place, checklist.visits) and visited(
                place, step.visits or (place.code,)
            )
            if asked and step.measure == measure:
                item = (Item(place, step),)
                return WalkState(site, farm, checklist, "", day, by, item, size=farm.size)
    raise KeyError(measure)


def answered(site: Site, farm: Farm, by: str, now: datetime) -> tuple[WalkState, ...]:
    """Return every value and answer kept in a round of today or yesterday, each to be corrected.

    Args:
        site: The site.
        farm: The farm.
        by: Code of the person who would correct it.
        now: The present; what is kept after it is not there.

    Returns:
        States of one step each, outside any walk, the newest first.
    """
    today = local_day(now, site.timezone)
    days = {str(today - timedelta(days=back)) for back in (0, 1)}
    newest = {
        (walk.checklist, walk.day): walk
        for walk in sorted(farm.walks.values(), key=lambda one: (one.begun_at, one.id))
        if walk.day in days and walk.checklist in site.checklists
    }
    found = []
    for (code, day), one in newest.items():
        state = asked(site, farm, site.checklists[code], one.id, date.fromisoformat(day), by)
        for item in state.items:
            if item.status == "kept" and item.at is not None and item.at <= now:
                found.append((item.at, replace(state, walk="", items=(replace(item, by=""),))))
    return tuple(state for _, state in sorted(found, key=lambda one: one[0], reverse=True))


def same_step(state: WalkState, of: WalkState) -> WalkState | None:
    """Return a walk at the step another state of its round is at; None where it is no such walk."""
    there = of.item
    if there is None or not state.walk or (state.checklist, state.day) != (of.checklist, of.day):
        return None
    at = (index for index, item in enumerate(state.items) if item.where == there.where)
    return next((_at(state, index) for index in at), None)


def unfinished(farm: Farm, now: datetime) -> tuple[WalkAt, ...]:
    """Return the walks that can be gone on with, the newest first: of today, or 12 hours old."""
    today = local_day(now, farm.site.timezone).isoformat()
    found = [
        walk
        for walk in farm.walks.values()
        if walk.done_at is None
        and walk.begun_at <= now
        and walk.checklist in farm.site.checklists
        and (walk.day == today or now - walk.begun_at <= RESUMABLE)
    ]
    return tuple(sorted(found, key=lambda walk: (walk.begun_at, walk.id), reverse=True))


def kept(state: WalkState, farm: Farm, entry: Entry | None) -> WalkState:
    """Move on after an entry is in the book: to the next open step.

    Args:
        state: The walk, at the step that was answered.
        farm: The farm with the entry added.
        entry: What was kept; None when a correction changed nothing.

    Returns:
        The walk at the next open step after this one, else the first open one, else past the end.
    """
    item = state.items[state.position]
    if not state.walk and entry is not None:
        done = replace(item, status="kept", entry_id=entry.id)
        return replace(state, farm=farm, size=farm.size, items=(done,), position=1)
    state = replace(renewed(state, farm), came_from=item.place)
    return _to_open(state, state.position + 1)


def back(state: WalkState) -> WalkState:
    """Go one step back, to look at it or to correct it."""
    return _at(state, max(state.position - 1, 0))


def onward(state: WalkState) -> WalkState:
    """Go to the next open step after this one: somebody else has kept it."""
    return _to_open(state, state.position + 1)


def forward(state: WalkState) -> WalkState:
    """Go one step on, over a step that is kept or skipped only."""
    item = state.item
    return state if item is None or item.status == "open" else _at(state, state.position + 1)


def jump(state: WalkState, place_code: str) -> tuple[WalkState, str]:
    """Go to a place: its first open step, else its first one.

    Args:
        state: The walk.
        place_code: Where to.

    Returns:
        The walk there, and the caution on going back to a cleaner zone. Where the walk does not
        stop at the place it stays, and the caution says so.
    """
    stops = [i for i, item in enumerate(state.items) if item.place.code == place_code]
    if not stops:
        return state, f"{state.checklist.title} does not stop at {place_code}"
    to = next((i for i in stops if state.items[i].status == "open"), stops[0])
    moved = _at(state, to)
    return moved, moved.caution


def finish(state: WalkState) -> Walk:
    """Return the draft that says the walk is done; open steps stay open and are handed on."""
    return _walk(state, "done")


def leave(state: WalkState) -> Walk:
    """Return the draft that says the walk was left, to be gone on with."""
    return _walk(state, "left")


def _walk(state: WalkState, event: Literal["begun", "left", "done"]) -> Walk:
    return Walk(
        event=event, checklist=state.checklist.code, walk=state.walk, by=state.by,
        day=state.day.isoformat(),
    )  # fmt: skip


def _at(state: WalkState, position: int) -> WalkState:
    item = state.item
    came_from = item.place if item is not None else state.came_from
    return replace(state, position=position, came_from=came_from)


def _to_open(state: WalkState, start: int) -> WalkState:
    """Return the walk at the next open step: of this pass from a position on, else the first one.

    So a place jumped to leaves the others of its pass to come before the next pass begins.
    """
    here = state.items[start - 1].step.stop_pass if 0 < start <= len(state.items) else None
    opened = [i for i, item in enumerate(state.items) if item.status == "open"]
    after = (i for i in opened if i >= start and here in (None, state.items[i].step.stop_pass))
    return replace(state, position=(*after, *opened, len(state.items))[0])
