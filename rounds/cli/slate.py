"""`rounds slate`: a blank round sheet to walk with on paper."""

from __future__ import annotations

import argparse
from datetime import date

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened
from rounds.cli.out import block
from rounds.day.walking import plan, slate
from rounds.day.walking.slate import Slate
from rounds.day.when import local_day
from rounds.reports.slate import render

_WIDEST = 200


def run(asked: argparse.Namespace) -> int:
    """Print the slate; nothing is written."""
    if not 80 <= asked.width <= _WIDEST:
        raise Failure(f"--width is {asked.width}, allowed are 80 to {_WIDEST} columns")
    with opened(asked, writes=False) as farm:
        day = day_of(farm, asked.day)
        code = _checklist(farm, asked.checklist)
        found = slate.blank(farm.site, farm.farm, code, day, farm.now)
        if asked.json:
            farm.emit("slate", _rows(found))
        else:
            block(render(farm.site, found, asked.width))
    return 0


def _rows(found: Slate) -> list[dict[str, object]]:
    return [
        {
            "checklist": found.checklist.code, "day": found.day, "pass": part.number,
            "place": place.code, "step": step.code, "ask": step.ask, "unit": unit,
            "last": cell.last, "aim": cell.aim,
        }
        for part in found.parts
        for place, cells in part.rows
        for step, unit, cell in zip(part.steps, part.units, cells, strict=True)
        if cell is not None
    ]  # fmt: skip


def day_of(farm: Opened, typed: str | None) -> date:
    """Return the day a slate is for, today where none is typed.

    Raises:
        Failure: It is no date.
    """
    if typed is None:
        return local_day(farm.now, farm.site.timezone)
    try:
        return date.fromisoformat(typed)
    except ValueError:
        raise Failure(f"--day is {typed}, it must be like 2026-11-24") from None


def _checklist(farm: Opened, code: str | None) -> str:
    """Return the checklist named, else the round of today that is not done yet."""
    known = farm.site.checklists
    if code is not None:
        if code not in known:
            raise Failure(f"there is no checklist {code}: {', '.join(known)}")
        return code
    rounds = plan.rounds_on(farm.site, farm.farm, farm.now)
    first = next((one for one in rounds if one.state != "done"), next(iter(rounds), None))
    if first is None:
        raise Failure(f"no round is due today, name one: {', '.join(known)}")
    return first.checklist.code
