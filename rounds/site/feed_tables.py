"""Feed tables as CSV in a site's folder feeds: read cell by cell, every fault with its place.

The first line holds a corner that names the weights' unit ("weight_g", "weight lb") and the
temperatures; each further line a weight and its percents of body weight a day. A cell may have its
own unit ("72 degF"). Columns are parted by commas, or by semicolons with decimal commas.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Final, NamedTuple

from rounds.site.reading import Problem
from rounds.text import NumberError, clean, number, plain
from rounds.units import UNITS, UnitError, quantity

WEIGHTS_G: Final = (1e-4, 50_000.0)
TEMPERATURES_C: Final = (-2.0, 40.0)
_CELL: Final = re.compile(r"([+-]?[0-9.,]+)\s*(.*)", re.ASCII)
_RULE: Final = "first line: weight_g, temperatures in degC; then a line a weight: weight, percents"


class Grid(NamedTuple):
    """What a feed table holds."""

    weights_g: list[float]
    temperatures_c: list[float]
    percent: list[list[float]]


def read_feed_table(path: Path, file: str, problems: list[Problem]) -> Grid | None:
    """Read a feed table of a site.

    Args:
        path: The CSV file.
        file: Its name as the site writes it.
        problems: Where every fault is noted, with row and column.

    Returns:
        The table, or None where a fault was noted, by another profile that names it too perhaps.
    """
    if any(known.file == file for known in problems):
        return None
    try:
        text = path.read_bytes().decode("utf-8-sig")
        delimiter = ";" if ";" in text.partition("\n")[0] else ","
        reader = csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)
        rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except UnicodeDecodeError:
        problems.append(Problem(file, "", "", "", "must be saved as UTF-8 text"))
        return None
    except OSError as error:
        problems.append(Problem(file, "", "", "", f"cannot be read: {error.strerror}"))
        return None
    except csv.Error as error:
        said = f"cannot be read as a feed table: {clean(str(error), limit=80)}; {_RULE}"
        problems.append(Problem(file, "", "", "", said))
        return None
    before = len(problems)
    sheet = _Sheet(file, problems)
    grid = sheet.grid(rows)
    return grid if len(problems) == before else None


def out_of_order(grid: Grid) -> Iterator[tuple[int, int, str]]:
    """Say where percents do not run as fish eat: (row, column, what is wrong), both from 0.

    A ration falls, or stays, as fish grow; along temperature it rises to one best and falls.

    Args:
        grid: The table.
    """
    for row, (lighter, heavier) in enumerate(pairwise(grid.percent), 1):
        for column, (above, here) in enumerate(zip(lighter, heavier, strict=True)):
            if here > above:
                says = f"is more than the {above:g} of lighter fish: a ration falls with weight"
                yield row, column, says
    for row, percents in enumerate(grid.percent):
        best = percents.index(max(percents))
        for column, (colder, here) in enumerate(pairwise(percents), 1):
            if (column <= best and here < colder) or (column > best and here > colder):
                yield row, column, "a ration rises with temperature to one best, then falls"


class _Sheet:
    """Reads the rows of one file and notes what is wrong with each cell."""

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file, self.problems = file, problems

    def problem(self, row: int, column: int, value: str, allowed: str) -> None:
        """Note a fault of a cell; column 0 is the whole row."""
        where = f"row {row}" + (f", column {column}" if column else "")
        self.problems.append(Problem(self.file, where, "", clean(value, limit=40), allowed))

    def grid(self, rows: Sequence[tuple[int, list[str]]]) -> Grid:
        """Return what could be read; the caller looks whether anything was noted."""
        if len(rows) < 2 or len(rows[0][1]) < 2:
            said = f"cannot be read as a feed table: {_RULE}"
            self.problems.append(Problem(self.file, "", "", "", said))
            return Grid([], [], [])
        (top, head), *body = rows
        unit = self._unit(top, head[0])
        warm = [
            self._cell(top, n, cell, "degC", "degC", TEMPERATURES_C)
            for n, cell in enumerate(head[1:], 2)
        ]
        weights, percent, lines = [], [], []
        for line, row in body:
            if len(row) != len(head):
                says = f"has {len(row)} cells, the first row has {len(head)}"
                self.problem(line, 0, "", f"{says}: one percent for each temperature")
                continue
            lines.append(line)
            weights.append(self._cell(line, 1, row[0], unit, "g", WEIGHTS_G))
            percent.append(
                [self._cell(line, n, cell, "%", "%", (0, 100)) for n, cell in enumerate(row[1:], 2)]
            )
        if any(known.file == self.file for known in self.problems):
            return Grid([], [], [])
        self._rising(warm, [(top, n) for n in range(2, len(head) + 1)], head[1:], "degC")
        self._rising(weights, [(line, 1) for line in lines], [row[0] for _, row in body], "g")
        grid = Grid(weights, warm, percent)
        for at, column, says in out_of_order(grid):
            self.problem(lines[at], column + 2, f"{percent[at][column]:g}", says)
        return grid

    def _unit(self, row: int, corner: str) -> str:
        """Return the unit of the weights: the last word of the corner; g where it names none."""
        word = re.split(r"[\s_()\[\],]+", corner.strip(" )]"))[-1]
        if word in ("", "weight", "w", "g"):
            return "g"
        if word not in UNITS or UNITS[word].dimension != UNITS["g"].dimension:
            masses = ", ".join(u for u, one in UNITS.items() if one.dimension == "mass")
            self.problem(row, 1, corner, f"must name the unit of the weights: {masses}")
            return "g"
        return word

    def _cell(
        self, row: int, column: int, text: str, unit: str, to: str, span: tuple[float, float]
    ) -> float:
        """Return a cell in `to`; a bare number is in `unit`."""
        low, high = span
        said = text.strip()
        if not said:
            self.problem(row, column, "", "is empty: a table has no gaps")
            return 0.0
        found = _CELL.fullmatch(said)
        try:
            if found is None:
                raise UnitError(f"must be a number in {unit}, or one with its unit")
            own = found[2] or unit
            value = quantity(f"{plain(number(found[1]))} {own}", to)
        except (UnitError, NumberError) as error:
            self.problem(row, column, said, clean(str(error), limit=100))
            return 0.0
        if not low <= value <= high:
            self.problem(row, column, said, f"must be from {low:g} to {high:g} {to}")
        return value

    def _rising(
        self,
        values: Sequence[float],
        at: Sequence[tuple[int, int]],
        said: Sequence[str],
        unit: str,
    ) -> None:
        for (a, b), (row, column), text in zip(pairwise(values), at[1:], said[1:], strict=True):
            if b <= a:
                self.problem(row, column, text.strip(), f"must be above the {a:g} {unit} before it")
