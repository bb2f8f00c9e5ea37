"""The table of the board: columns as wide as their figures, and what gives way in little room.

A figure is never cut. Where all columns do not fit, the name of a place gets shorter, then columns
go, those first that are the least needed to run to the right place; what is in nobody's row is no
column at all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from msgspec import Struct
from rich.cells import cell_len
from textual.content import Content

from rounds.day.telling.board import KNOWN, NO_FEED, BoardLine
from rounds.screens.boardtexts import minutes, short_name
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, ink, row

_MARKS: Final = {"watch": "!", "act": "X"}
_WAYS: Final = {"up": "^", "down": "v", "steady": "="}
_MOST: Final = 10
"""Cells of the widest figure: what is longer is no figure."""
NAMED: Final = 11
"""Cells a name takes at least, the blank behind it included, or there are none."""
_VERDICT: Final = 9
_LEAD: Final = 3

Text = tuple[str, str]
"""A cell's text and its style."""


class Column(Struct, frozen=True):
    """A column: its head, fewest cells, and what it shows of a line."""

    head: str
    least: int
    shows: Callable[[BoardLine], Text]
    signs: int = 0
    """Cells behind a figure, for its change and its verdict."""

    def width(self, lines: Sequence[BoardLine]) -> int:
        """Return the cells of its widest text, a blank before it included; 0 where none has one."""
        texts = [self.shows(line)[0] for line in lines]
        if self is not _OXYGEN and all(text.strip() in ("", "-") for text in texts):
            return 0
        return min(max(self.least, *map(cell_len, texts)), _MOST) + 1


def _figure(head: str, measure: str, signs: int) -> Column:
    def shows(line: BoardLine) -> Text:
        text, word = next(((t, w) for m, t, w in line.cells if m == measure), ("-", ""))
        way = next((one.way for one in line.changes if one.measure == measure), "")
        told = _WAYS.get(way, "") + _MARKS.get(word, "")
        return f"{text}{told:<{signs}}", BOLD if word in _MARKS else ""

    return Column(head, 6, shows, signs)


def _meal(line: BoardLine) -> Text:
    return line.meal, STYLES["act"] if line.meal == NO_FEED else ""


_FISH: Final = Column("Fish", 4, lambda line: (line.fish, ""))
_ROUND: Final = Column("Round", 5, lambda line: (line.round.replace(" of ", "/"), ""))
_PH: Final = _figure("pH", "ph", 2)
_AMMONIA: Final = _figure("NH3-N", "ammonia", 1)
_TEMPERATURE: Final = _figure("Temp", "temperature", 2)
_OXYGEN: Final = _figure("O2", "oxygen", 2)
"""Never left out: that nobody has read it is worth knowing."""
_AIR: Final = Column("Air", 5, lambda line: (minutes(line.air), ""))
COLUMNS: Final = (
    _FISH,
    _ROUND,
    _TEMPERATURE,
    _OXYGEN,
    _PH,
    _AMMONIA,
    _AIR,
    Column("Feed", 7, _meal),
)
_GO: Final = (_FISH, _AMMONIA, _PH, _TEMPERATURE, _ROUND)
"""Columns that give way, the first first."""


class Table(Struct, frozen=True):
    """The columns that fit, their widths, and those of code and name."""

    code: int
    name: int
    columns: tuple[tuple[Column, int], ...]
    width: int

    def head(self) -> Content:
        """Return the row of heads."""
        return row(
            " " * _LEAD,
            cell("Place", self.code + self.name, QUIET),
            *(
                _cell(column.head + " " * column.signs, QUIET, width)
                for column, width in self.columns
            ),
            "  ",
            cell("Verdict", _VERDICT, QUIET),
        )

    def line(self, line: BoardLine, marked: bool) -> Content:
        """Return the row of a place; the house has what is said of it in place of figures."""
        return row(
            *self._lead(line, marked),
            *(self._house(line) if line.kind == "house" else self._cells(line)),
            "  ",
            ink(line.sign, QUIET if line.sign == KNOWN else STYLES[line.verdict]),
        )

    def _lead(self, line: BoardLine, marked: bool) -> tuple[Content, ...]:
        chosen = "on $chosen" if marked else ""
        return (
            Content.styled(" > " if marked else "   ", BOLD),
            cell(line.place, self.code, f"bold {chosen}".strip()),
            cell(short_name(line.name, self.name - 1), self.name, chosen),
        )

    def _house(self, line: BoardLine) -> list[Content]:
        room = sum(width for _, width in self.columns)
        at = 0
        for column, width in self.columns:
            at += width
            if column is _ROUND:
                says = line.says if cell_len(line.says) <= room - at - 2 else ""
                return [
                    cell(_ROUND.shows(line)[0], at, align="right"),
                    Content("  "), cell(says, room - at - 2, QUIET),
                ]  # fmt: skip
        return [cell("", room)]

    def _cells(self, line: BoardLine) -> list[Content]:
        return [_cell(*column.shows(line), width) for column, width in self.columns]


def table(lines: Sequence[BoardLine], width: int) -> Table:
    """Fit the columns of the board into a width.

    Args:
        lines: Every line of the board.
        width: Cells of a row.

    Returns:
        The table; it is wider than asked only where place, oxygen, feed and verdict do not fit.
    """
    places = [line for line in lines if line.kind != "house"]
    code = min(max((cell_len(line.place) for line in lines), default=5), 8) + 1
    shown = [(column, wide) for column in COLUMNS if (wide := column.width(places))]
    room = width - _LEAD - code - 2 - _VERDICT
    going = list(_GO)
    while room < NAMED + sum(wide for _, wide in shown) and going:
        gone = going.pop(0)
        shown = [(column, wide) for column, wide in shown if column is not gone]
    left = room - sum(wide for _, wide in shown)
    longest = max((cell_len(line.name) for line in lines), default=0) + 1
    name = min(left, longest) if left >= NAMED else 0
    return Table(code, name, tuple(shown), width - left + name)


def _cell(text: str, style: str, width: int) -> Content:
    """Return a figure at the right of its cells, the blanks behind it kept."""
    if cell_len(text) > width:
        return cell(text, width, style)
    return row(" " * (width - cell_len(text)), ink(text, style))
