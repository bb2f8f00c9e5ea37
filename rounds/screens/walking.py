"""The ways into a walk: begun, gone on with where it was left, or at a place."""

from __future__ import annotations

from typing import Any

from msgspec.structs import replace

from rounds.day import walk
from rounds.day.plan import Round, walks_of
from rounds.day.walk import WalkState
from rounds.screens.desk import Desk
from rounds.screens.page import Page
from rounds.screens.walk import WalkPage
from rounds.screens.walktexts import begun


async def open_walk(page: Page[Any], due: Round, place: str | None) -> None:
    """Begin a round or go on with it exactly where it was left, at `place` if one is named."""
    desk = page.desk
    walks = walks_of(desk.farm, due.checklist.code, due.day)
    known = due.walk or (walks[-1].id if walks else None)
    if known is None:
        began, draft = walk.begin(
            desk.site, desk.farm, due.checklist.code, due.day, desk.by, desk.now()
        )
        if await page.keep(draft) is None:
            return
        state = walk.renewed(began, desk.farm)
    else:
        state = walk.resume(desk.site, desk.farm, known, desk.by, desk.now())
    if place is not None:
        state, caution = walk.jump(state, place)
        if state.item is None or state.item.place.code != place:
            page.tell(caution, "watch")
            return
    else:
        state = _left_at(desk, state)
    walk_on(page, state, begun(desk, state))


def walk_on(page: Page[Any], state: WalkState, says: str = "") -> None:
    """Open a walk on top of a page, which tells how it ended; `says` is told as it opens."""

    def ended(says: str | None) -> None:
        if says:
            page.tell(says)

    page.app.push_screen(WalkPage(state, says), ended)


def _left_at(desk: Desk, state: WalkState) -> WalkState:
    """Return the walk where it was left in this run, or where a half-typed value waits."""
    half = next(reversed(desk.half.of(state.walk, desk.by)), None)
    at = desk.half.left.get(state.walk, half)
    for index, item in enumerate(state.items):
        if item.where == at and (at == half or item.status == "open"):
            return replace(state, position=index)
    return state
