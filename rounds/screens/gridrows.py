"""The rows of a slate typed in: places down, steps across, the box asked now and its verdict."""

from __future__ import annotations

from typing import Final

from textual.content import Content

from rounds.day.walking.walk import Item, Look, WalkState
from rounds.screens.field import Field
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, paragraph, row
from rounds.screens.walkrows import aim_rows, entry_rows, filled, verdict_rows

_CODE: Final = 7
_BOX: Final = 13
_MARKS: Final = {"watch": "!", "act": "X"}
_BELOW: Final = 10
"""Rows below the grid: question, line, verdict and what to do."""


def grid_rows(
    state: WalkState,
    look: Look,
    field: Field | None,
    picked: str,
    asked: bool,
    width: int,
    height: int,
) -> list[Content]:
    """Return the pass of the present step as a grid, and below it the step as in a walk."""
    item = state.items[state.position]
    grid = _grid(state, item, width, max(height - _BELOW, 3))
    said = bool(picked or (field and field.text))
    below = [
        Content(""),
        *paragraph(f"{item.place.code}  {item.place.name}: {item.step.ask}", width - 2, 2, BOLD),
        *aim_rows(look, width),
        *entry_rows(state, item, field, picked, width),
    ]
    room = _BELOW - len(below)
    below += verdict_rows(item, look, said, asked, width, room)
    return [*filled(grid, max(height - _BELOW, 3)), *filled(below, _BELOW)]


def _grid(state: WalkState, item: Item, width: int, height: int) -> list[Content]:
    """Return the heads and the places around the present one, as many boxes as fit."""
    mine = [one for one in state.items if one.step.stop_pass == item.step.stop_pass]
    asks = {one.step.code for one in mine}
    codes = [step.code for step in state.checklist.steps if step.code in asks]
    places = list(dict.fromkeys(one.place.code for one in mine))
    boxes = max((width - _CODE - 1) // _BOX, 1)
    first = _window(codes.index(item.step.code), len(codes), boxes)
    top = _window(places.index(item.place.code), len(places), height - 1)
    shown = codes[first : first + boxes]
    found = {(one.place.code, one.step.code): one for one in mine}
    more = f"{len(codes)} asked" if len(shown) < len(codes) else ""
    heads = [cell(code.replace("_", " "), _BOX, QUIET) for code in shown]
    rows = [row(" ", cell(more, _CODE, QUIET), *heads)]
    for place in places[top : top + height - 1]:
        boxed = [_box(found.get((place, code)), item) for code in shown]
        rows.append(row(" ", cell(place, _CODE, BOLD if place == item.place.code else ""), *boxed))
    return rows


def _window(at: int, count: int, room: int) -> int:
    """Return where a window of `room` begins so that `at` is in its middle, as far as it can."""
    return max(0, min(at - room // 2, count - room))


def _box(item: Item | None, now: Item) -> Content:
    if item is None:
        return cell("", _BOX)
    here = (item.place.code, item.step.code) == (now.place.code, now.step.code)
    text = {"open": "...", "skipped": "- skipped"}.get(item.status, item.typed)
    mark = _MARKS.get(item.verdict, "") if item.status == "kept" else ""
    style = "bold on $chosen" if here else STYLES[item.verdict] if mark else ""
    quiet = QUIET if item.status == "open" else ""
    return row(cell(f"{text}{mark}", _BOX - 2, style or quiet), "  ")
