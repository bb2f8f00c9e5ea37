"""The blank round sheet: places in walking order, last value and aim in each box to write in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import zip_longest
from pathlib import Path
from textwrap import wrap
from typing import Final

from rounds.day.walking.slate import Blank, Part, Slate
from rounds.day.when import clock, long_day
from rounds.reports.paper import WIDTH, folded, keep
from rounds.site.model import Place, Site, Step
from rounds.text import MAX_TEXT, clean

_NAME: Final = 17
_BOX: Final = 20
"""Cells of a box with the blank behind it."""
_MOST: Final = 3
"""Rows that a place or a last answer may take."""
_TOLD: Final = (
    "Above each box the last value, in brackets the aim. What you skip stays empty: say why below. "
    "A value you do not believe: read again, write both. Act first, write second."
)


def render(site: Site, slate: Slate, width: int = WIDTH) -> str:
    """Print a blank slate as plain text.

    Args:
        site: The site, for its name.
        slate: The round.
        width: Columns of the paper, 80 or more: a wider one takes more boxes in a row.

    Returns:
        Text of at most `width` columns, ending in a line break.
    """
    zone = site.timezone
    hours = f"{clock(slate.start, zone)} to {clock(slate.end, zone)}"
    head = f"{slate.checklist.title}, {site.name}, {slate.day:%A} {long_day(slate.day)}, {hours}"
    out = [
        folded(head),
        *([folded(site.notice)] if site.notice else []),
        "",
        "Walked by ____________________    first read at ___:___    last at ___:___",
        folded(_TOLD),
    ]
    boxes = max((width - _NAME) // _BOX, 1)
    for part in slate.parts:
        for first in range(0, len(part.steps), boxes):
            out += _table(part, first, boxes)
    out += ["", "SKIPPED AND SEEN", *["_" * width for _ in range(4)], ""]
    for part in slate.parts:
        for step in part.steps:
            out += _legend(step)
    return "\n".join(line.rstrip() for line in out) + "\n"


def _table(part: Part, first: int, boxes: int) -> Iterator[str]:
    chosen = range(first, min(first + boxes, len(part.steps)))
    rows = [(place, [cells[i] for i in chosen]) for place, cells in part.rows]
    rows = [(place, cells) for place, cells in rows if any(cells)]
    yield ""
    yield _line(f"PASS {part.number}", [_name(part.steps[i]) for i in chosen])
    if any(part.units[i] for i in chosen):
        yield _line("", [part.units[i] for i in chosen])
    for place, cells in rows:
        yield from _boxes(place, cells)


def _boxes(place: Place, cells: Sequence[Blank | None]) -> Iterator[str]:
    above = [[place.code, *_fold(place.name, _NAME)], *map(_above, cells)]
    yield ""
    for first, *rest in zip_longest(*above, fillvalue=""):
        yield _line(first, rest)
    yield _line("    ___:___", [f"[{' ' * (_BOX - 4)}]" if cell else "" for cell in cells])


def _above(cell: Blank | None) -> list[str]:
    if cell is None:
        return []
    return [*_fold(cell.last, _BOX), *([f"({cell.aim})"] if cell.aim else [])]


def _fold(text: str, width: int) -> list[str]:
    return wrap(clean(text, limit=MAX_TEXT), width - 1, max_lines=_MOST, placeholder="..")


def _line(name: str, cells: Sequence[str]) -> str:
    return _cut(name, _NAME - 1).ljust(_NAME) + "".join(
        _cut(cell, _BOX - 1).ljust(_BOX) for cell in cells
    )


def _cut(text: str, width: int) -> str:
    line = clean(text, limit=MAX_TEXT)
    return line if len(line) <= width else line[: width - 2].rstrip() + ".."


def _name(step: Step) -> str:
    return step.code.replace("_", " ")


def _legend(step: Step) -> Iterator[str]:
    answers = {
        "yes-no": "1 yes, 2 no",
        "choice": ", ".join(f"{n} {choice}" for n, choice in enumerate(step.choices, 1)),
        "count": "a whole number, 0 where there is none",
    }
    told = [answers.get(step.answer, ""), step.caution]
    if any(told):
        yield folded(" ".join(filter(None, (f"{_name(step)}: {step.ask}", *told))), "", "  ")


def write(folder: Path, slate: Slate, text: str) -> Path:
    """Keep a blank slate as a file of the site's reports, to be printed from there.

    Args:
        folder: The site's folder.
        slate: The round.
        text: What `render` gave.

    Returns:
        reports/slate-<day>-<checklist>-<n>.txt.

    Raises:
        OSError: The file cannot be written.
    """
    return keep(folder, f"slate-{slate.day.isoformat()}-{slate.checklist.code}", "txt", text)
