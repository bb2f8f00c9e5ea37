"""What a place's line of the board says in little room: minutes of air, the worst in two rows."""

from __future__ import annotations

from typing import Final

from rich.cells import cell_len
from textual.content import Content

from rounds.day.board import BoardLine
from rounds.screens.ink import cut, ink

_TOLD_ROWS: Final = 2
_LEAST_SAID: Final = 16


def minutes(air: str) -> str:
    """Return the minutes of air for a narrow column: "38 min" of "38 min flow off"."""
    return air.removesuffix("flow off").removesuffix("air off").replace("over ", ">").rstrip()


def air_told(line: BoardLine) -> str:
    """Return the minutes of air as the detail of a place says them."""
    return "" if line.air == "-" else f"air {line.air}"


def two_rows(line: BoardLine, room: int, more: str) -> list[Content]:
    """Return what is wrong with a place in two rows; what to do is never what is cut."""
    says = line.says
    while True:
        stop = "" if says.endswith("..") else "."
        folded = list(ink(f"{line.place}: {says}{stop} {line.do}".rstrip() + more).wrap(room))
        if len(folded) <= _TOLD_ROWS or len(says) < _LEAST_SAID:
            break
        says = cut(says.removesuffix(".."), cell_len(says) - 6)
    if len(folded) > _TOLD_ROWS:
        rest = " ".join(part.plain for part in folded[_TOLD_ROWS - 1 :])
        folded[_TOLD_ROWS - 1 :] = [ink(cut(rest, room))]
    return folded
