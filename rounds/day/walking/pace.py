"""How long ago a round and a place were walked, and how long the rest of a walk takes.

Nothing is said where nothing is known: minutes left rest on whole walks of the same checklist, and
on the middle pace of this walk, the more the further it is.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil
from statistics import median
from typing import Final

from rounds.day.fold.state import WalkAt
from rounds.day.laptops.unheard import named
from rounds.day.walking.answering import last_kept
from rounds.day.walking.steps import WalkState
from rounds.day.when import spoken

_OWN_STEPS: Final = 6
"""Steps of one's own from which a pace can be told (common practice)."""
_USUAL_WEIGHS: Final = 20
"""Steps of one's own that weigh as much as the usual pace (common practice)."""
_PAUSE: Final = timedelta(minutes=10)
"""More than this between two steps was an interruption (common practice)."""
_WHOLE_MIN: Final = 240
"""A walk that took longer was not walked through."""
_WALKS: Final = 5
"""Last walks whose middle is taken; two at least."""


def minutes_left(state: WalkState, now: datetime) -> int | None:
    """Return about how many minutes the open steps take; None where no pace is known.

    Args:
        state: The walk.
        now: The present.
    """
    own, usual = _own_pace(state, now), _usual_pace(state, now)
    pace = usual
    if own is not None:
        pace, steps = own
        if usual is not None:
            pace = (usual * _USUAL_WEIGHS + pace * steps) / (_USUAL_WEIGHS + steps)
    return ceil(state.open * pace / timedelta(minutes=1)) if pace and state.open else None


def _own_pace(state: WalkState, now: datetime) -> tuple[timedelta, int] | None:
    """Return the middle time a step took in this walk, and of how many; interruptions left out."""
    kept = sorted(
        item.at
        for item in state.items
        if item.at is not None and item.at <= now and not item.by and not item.who
    )
    gaps = [b - a for a, b in pairwise(kept) if b - a <= _PAUSE]
    if len(gaps) < _OWN_STEPS - 1:
        return None
    middle_s = median(gap.total_seconds() for gap in gaps)
    return (timedelta(seconds=middle_s), len(gaps)) if middle_s >= 1 else None


def _usual_pace(state: WalkState, now: datetime) -> timedelta | None:
    """Return the time a step takes in the last walks of this checklist, walked in one go."""
    whole = [
        (walk.done_at - walk.begun_at) / timedelta(minutes=1)
        for walk in _earlier(state, now)
        if walk.done_at is not None and walk.left_at is None
    ]
    took = [minutes for minutes in whole if 1 < minutes < _WHOLE_MIN][-_WALKS:]
    if len(took) < 2 or not state.items:
        return None
    return timedelta(minutes=median(took) / len(state.items))


def last_round(state: WalkState, now: datetime) -> str:
    """Return when this checklist was walked before: "last walked yesterday 06:12 by Rui"."""
    last = next(reversed(_earlier(state, now)), None)
    if last is None:
        return ""
    by = f" by {named(state.farm, last.by)}" if last.by else ""
    return f"last walked {spoken(last.begun_at, now, state.site.timezone)}{by}"


def last_here(state: WalkState, now: datetime) -> str:
    """Return when anything this walk asks here was last kept before: "last here today 06:11"."""
    place = state.item.place.code if state.item else ""
    mine = [item for item in state.items if item.place.code == place]
    asked = {(item.step.measure, item.step.code): item for item in mine}
    found = [last for item in asked.values() if (last := last_kept(state, item, now)) is not None]
    if not found:
        return ""
    return f"last here {spoken(max(at for _, at in found), now, state.site.timezone)}"


def _earlier(state: WalkState, now: datetime) -> list[WalkAt]:
    """Return the walks of this checklist on days before this one's, as they began."""
    found = (
        walk
        for walk in state.farm.walks.values()
        if walk.checklist == state.checklist.code
        and walk.id != state.walk
        and walk.begun_at <= now
        and (walk.day < state.day.isoformat() or walk.done_at is not None)
    )
    return sorted(found, key=lambda walk: (walk.begun_at, walk.id))
