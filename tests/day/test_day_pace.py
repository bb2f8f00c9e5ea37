"""Minutes left and the last time: from what was walked, and nothing where nothing is known."""

from __future__ import annotations

from itertools import pairwise

from laptops import Laptop

from rounds.day.walking import walk
from rounds.day.walking.pace import last_here, last_round, minutes_left
from rounds.day.walking.walk import WalkState
from rounds.records.entry import Walk


def skipped(laptop: Laptop, state: WalkState, steps: int, **time: float) -> WalkState:
    """Skip some steps, each after so long."""
    for _ in range(steps):
        laptop.wait(**time)
        outcome = walk.skip(state, "no time", laptop.now)
        assert outcome.entry is not None
        state = walk.kept(state, laptop.farm, laptop.keep(outcome.entry))
    return state


def walked(laptop: Laptop, minutes: float, *, left: bool = False) -> None:
    """Walk a whole round a day before the present, in so many minutes."""
    state, draft = walk.begin(
        laptop.site, laptop.farm, "first-light", laptop.now.date(), "rui", laptop.now
    )
    laptop.keep(draft)
    if left:
        laptop.keep(walk.leave(state))
    laptop.wait(minutes=minutes)
    laptop.keep(walk.finish(state))
    laptop.wait(days=1, minutes=-minutes)


def test_nothing_is_said_while_no_pace_is_known() -> None:
    laptop = Laptop()
    state = laptop.begin()
    assert minutes_left(state, laptop.now) is None
    assert last_round(state, laptop.now) == ""
    assert last_here(state, laptop.now) == ""
    state = skipped(laptop, state, 5, seconds=30)
    assert minutes_left(state, laptop.now) is None


def test_the_pace_of_this_walk_leaves_interruptions_out() -> None:
    laptop = Laptop()
    state = skipped(laptop, laptop.begin(), 4, seconds=30)
    laptop.wait(hours=1)
    state = skipped(laptop, state, 4, seconds=30)
    assert minutes_left(state, laptop.now) == -(-state.open * 30 // 60)


def test_the_minutes_left_do_not_jump_when_one_is_quick_or_is_held_up() -> None:
    laptop = Laptop()
    walked(laptop, 40)
    walked(laptop, 40)
    state = laptop.begin()
    first = minutes_left(state, laptop.now) or 0
    assert first in (40, 41)  # rounded up
    told = [first]
    for seconds in (5, 5, 5, 5, 5, 5, 30, 30, 500, 30, 30, 590, 30, 30):
        state = skipped(laptop, state, 1, seconds=seconds)
        told.append(minutes_left(state, laptop.now) or 0)
    assert max(abs(b - a) for a, b in pairwise(told)) <= 6
    assert min(told) > 20


def test_else_the_middle_of_whole_walks_of_the_checklist() -> None:
    laptop = Laptop()
    for minutes in (40, 50, 90):
        walked(laptop, minutes)
    walked(laptop, 10, left=True)
    state = laptop.begin()
    assert minutes_left(state, laptop.now) == 50
    assert last_round(state, laptop.now) == "last walked yesterday 07:00 by Rui"


def test_one_whole_walk_is_no_pace() -> None:
    laptop = Laptop()
    walked(laptop, 40)
    assert minutes_left(laptop.begin(), laptop.now) is None


def test_a_place_was_here_last_when_anything_was_kept_in_it() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin(), "N1", "oxygen")
    state, _ = laptop.type(state, "6.9")
    laptop.keep(Walk(event="done", checklist="first-light", walk=state.walk))
    laptop.wait(days=1)
    again = laptop.go(laptop.begin(), "N1", "temperature")
    assert last_here(again, laptop.now) == "last here yesterday 07:00"
