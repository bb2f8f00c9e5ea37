"""The ways into a walk: begun, gone on with where it was left, or at a place."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from msgspec.structs import replace

from rounds.day.walking import slate, walk
from rounds.day.walking.plan import walks_of
from rounds.day.walking.walk import WalkState
from rounds.screens.desk import Desk
from rounds.screens.page import Page
from rounds.screens.walk import WalkPage
from rounds.screens.walktexts import begun


async def open_walk(
    page: Page[Any],
    checklist: str,
    day: date,
    place: str | None = None,
    read_at: datetime | None = None,
) -> None:
    """Begin a round or go on with it exactly where it was left.

    Args:
        page: What it is opened from.
        checklist: Code of the round's checklist.
        day: The site-local date it is due on.
        place: Go there, if it stops there; it says which.
        read_at: It was walked on paper, then: the time on the slate.
    """
    desk = page.desk
    walks = reversed(walks_of(desk.farm, checklist, day))
    known = max(walks, key=lambda one: one.done_at is None, default=None)
    if known is not None:
        state = walk.resume(desk.site, desk.farm, known.id, desk.by, desk.now())
    else:
        begins = read_at or desk.now()
        began, draft = walk.begin(desk.site, desk.farm, checklist, day, desk.by, begins)
        if await page.keep(slate.dated(draft, read_at) if read_at else draft) is None:
            return
        state = walk.renewed(began, desk.farm)
    if place is not None and any(item.place.code == place for item in state.items):
        state, _ = walk.jump(state, place)
        at = f"At {place}, which was marked"
    else:
        at = f"No step of it is at {place}: here is its next one" if place else ""
        state = _left_at(desk, state)
    walk_on(page, state, ". ".join(filter(None, (at, begun(desk, state)))), read_at)


def walk_on(
    page: Page[Any], state: WalkState, says: str = "", read_at: datetime | None = None
) -> None:
    """Open a walk on top of a page, which tells how it ended; `says` is told as it opens."""
    from rounds.screens.slate import SlatePage

    def ended(says: str | None) -> None:
        if says:
            page.tell(says)

    opened = SlatePage(state, says, read_at) if read_at else WalkPage(state, says)
    page.app.push_screen(opened, ended)


def _left_at(desk: Desk, state: WalkState) -> WalkState:
    """Return the walk where it was left in this run, or where a half-typed value waits."""
    half = next(reversed(desk.half.of(state.walk, desk.by)), None)
    at = desk.half.left.get(state.walk, half)
    for index, item in enumerate(state.items):
        if item.where == at and (at == half or item.status == "open"):
            return replace(state, position=index)
    return state
