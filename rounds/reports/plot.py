"""A drawing of points in signs every terminal has: axes with figures, limits, a sign a series.

It knows nothing of fish or water: series of (x, y) and a size in cells go in, lines of text come
out. Every value given lies inside the drawing and in the key under it; none is cut off.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final, Literal

from msgspec import Struct

Dots = Literal["ascii", "braille"]
SEVERAL: Final = "#"
"""Marks a cell in which points of several series lie."""
POINTER: Final = "@"
"""Marks the point that is pointed at."""
_LEAST: Final = (24, 4)  # columns and rows inside the axes that can still be read
_BRAILLE: Final = 0x2800
_BITS: Final = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))  # by row, column of a cell


class Series(Struct, frozen=True):
    """Points of one kind: `mark` is their sign, `joined` draws a line from each to the next.

    Without a mark only the line is drawn, and the key does not name it.
    """

    name: str
    mark: str
    points: tuple[tuple[float, float], ...]
    joined: bool = True


class Limit(Struct, frozen=True):
    """A level drawn across, with its own sign.

    `label` stands at the axis in place of a round number. With `spans`, stretches of x, it is drawn
    only there.
    """

    name: str
    y: float
    sign: str = "-"
    label: str = ""
    spans: tuple[tuple[float, float], ...] = ()


class Strip(Struct, frozen=True):
    """A row of signs under the drawing, on the same axis: (x, sign)."""

    name: str
    marks: tuple[tuple[float, str], ...]


def plot(
    series: Sequence[Series],
    *,
    width: int = 76,
    height: int = 18,
    x_label: str = "",
    y_label: str = "",
    limits: Sequence[Limit] = (),
    strips: Sequence[Strip] = (),
    x_ticks: Sequence[tuple[float, str]] = (),
    x_range: tuple[float, float] | None = None,
    y_range: tuple[float, float] | None = None,
    pointer: tuple[float, float] | None = None,
    log_x: bool = False,
    dots: Dots = "ascii",
) -> tuple[str, ...]:
    """Draw series of points as lines of text.

    Args:
        series: What is drawn; a series without points stands in the key as having none.
        width: Columns of the whole, 32 or more; no line is longer.
        height: Rows of the drawing with its strips and its axis, 6 or more; the key comes below.
        x_label: What the horizontal axis is, with its unit.
        y_label: What the vertical axis is, with its unit.
        limits: Levels drawn across.
        strips: Rows of signs between the drawing and its axis.
        x_ticks: (x, text) under the axis, such as dates; left out, round numbers.
        x_range: From where to where the axis runs, if farther than the points.
        y_range: What the other axis holds at least.
        pointer: A point marked with POINTER, and under the axis.
        log_x: Equal steps of the axis are equal ratios of x.
        dots: "ascii", or "braille" for finer lines where the font has them.

    Returns:
        The lines, without a blank at their end.

    Raises:
        ValueError: No point at all, a value that is not finite, x not above 0 on a logarithmic
            axis, a mark that is not one sign, or too small a size.
    """
    points = [point for one in series for point in one.points]
    _check(series, points, limits, log_x)
    ys = [*(y for _, y in points), *(limit.y for limit in limits), *(y_range or ())]
    xs = [*(x for x, _ in points), *(x_range or ())]
    columns, rows = width, height - 2 - len(strips)
    low, high, y_ticks = _rounded(ys, max(rows, 2))
    names = [limit.label for limit in limits] + [strip.name for strip in strips]
    left = max(len(text) for text in (*(text for _, text in y_ticks), *names)) + 1
    columns -= left + 2
    if columns < _LEAST[0] or rows < _LEAST[1]:
        raise ValueError(f"{width} x {height} cells are too few to draw in: 32 x 6 are needed")
    canvas = _Canvas(
        columns, rows, _spread([_along(x, log_x) for x in xs]), (low, high), log_x, dots
    )
    for limit in limits:
        canvas.across(limit)
    for one in series:
        for a, b in pairwise(one.points) if one.joined else ():
            canvas.line(a, b)
    for one in series:
        for point in one.points if one.mark else ():
            canvas.mark(point, one.mark)
    if pointer is not None:
        canvas.point(pointer)
    at = {canvas.row(y): text for y, text in y_ticks}
    at |= {canvas.row(limit.y): limit.label for limit in limits if limit.label}
    lines = [y_label] if y_label else []
    lines += [
        f"{at.get(row, ''):>{left}} {'+' if row in at else '|'}{''.join(cells)}"
        for row, cells in enumerate(canvas.cells())
    ]
    lines += [f"{strip.name:>{left}} |{canvas.strip(strip.marks)}" for strip in strips]
    ticks = [(canvas.column(x), text) for x, text in x_ticks or _x_ticks(xs, columns, log_x)]
    lines += _x_axis(
        ticks, left + 2, columns, None if pointer is None else canvas.column(pointer[0])
    )
    lines += [f"{x_label:>{width}}"] if x_label else []
    lines += _key(series, limits, canvas.several, width)
    return tuple(line.rstrip() for line in lines)


# -- the drawing -----------------------------------------------------------------------------------


class _Canvas:
    """Cells of a drawing: marks over lines over limits; lines are dots, two by four in Braille."""

    def __init__(
        self,
        columns: int,
        rows: int,
        x_range: tuple[float, float],
        y_range: tuple[float, float],
        log_x: bool,
        dots: Dots,
    ) -> None:
        self.columns, self.rows, self.log_x = columns, rows, log_x
        self.x_range, self.y_range = x_range, y_range
        self.fine = (2, 4) if dots == "braille" else (1, 1)
        self.several = False
        self._levels: dict[tuple[int, int], str] = {}
        self._dots: set[tuple[int, int]] = set()
        self._marks: dict[tuple[int, int], str] = {}

    def column(self, x: float) -> int:
        """Return the column of an x."""
        return self._x(x, self.columns)

    def row(self, y: float) -> int:
        """Return the row of a y, from the top."""
        return self._y(y, self.rows)

    def across(self, limit: Limit) -> None:
        """Draw a level."""
        for low, high in limit.spans or ((-math.inf, math.inf),):
            first = self.column(low) if math.isfinite(low) else 0
            last = self.column(high) if math.isfinite(high) else self.columns - 1
            for column in range(max(first, 0), min(last, self.columns - 1) + 1):
                self._levels[self.row(limit.y), column] = limit.sign

    def line(self, a: tuple[float, float], b: tuple[float, float]) -> None:
        """Draw dots from one point to another, straight on the axes as they are."""
        wide, tall = self.columns * self.fine[0], self.rows * self.fine[1]
        ax, bx, ay, by = (
            self._x(a[0], wide), self._x(b[0], wide), self._y(a[1], tall), self._y(b[1], tall),
        )  # fmt: skip
        steps = max(abs(bx - ax), abs(by - ay), 1)
        for n in range(steps + 1):
            self._dots.add((round(ay + (by - ay) * n / steps), round(ax + (bx - ax) * n / steps)))

    def mark(self, point: tuple[float, float], sign: str) -> None:
        """Put a sign at a point; two different ones in a cell become one that says so."""
        cell = self.row(point[1]), self.column(point[0])
        held = self._marks.get(cell, sign)
        self._marks[cell] = sign if held == sign else SEVERAL
        self.several = self.several or held != sign

    def point(self, at: tuple[float, float]) -> None:
        """Mark the point that is pointed at, over all others."""
        self._marks[self.row(at[1]), self.column(at[0])] = POINTER

    def strip(self, marks: Iterable[tuple[float, str]]) -> str:
        """Return a row of signs."""
        found: dict[int, str] = {}
        for x, sign in marks:
            column = self.column(x)
            found[column] = sign if found.get(column, sign) == sign else SEVERAL
            self.several = self.several or found[column] == SEVERAL
        return "".join(found.get(column, " ") for column in range(self.columns))

    def cells(self) -> Iterable[list[str]]:
        """Return the rows, from the top."""
        across, down = self.fine
        bits: dict[tuple[int, int], int] = {}
        for y, x in self._dots:
            cell = y // down, x // across
            bits[cell] = bits.get(cell, 0) | _BITS[y % down][x % across]
        for row in range(self.rows):
            yield [self._cell((row, column), bits) for column in range(self.columns)]

    def _cell(self, at: tuple[int, int], bits: dict[tuple[int, int], int]) -> str:
        below = self._dot(bits[at]) if at in bits else self._levels.get(at, " ")
        return self._marks.get(at, below)

    def _dot(self, bits: int) -> str:
        return "." if self.fine == (1, 1) else chr(_BRAILLE + bits)

    def _x(self, x: float, cells: int) -> int:
        low, high = self.x_range
        return round((_along(x, self.log_x) - low) / (high - low) * (cells - 1))

    def _y(self, y: float, cells: int) -> int:
        low, high = self.y_range
        return round((high - y) / (high - low) * (cells - 1))


# -- axes and key ----------------------------------------------------------------------------------


def _along(x: float, log_x: bool) -> float:
    return math.log(x) if log_x else x


def _spread(values: Sequence[float]) -> tuple[float, float]:
    """Return the range of values; a single one gets room on both sides."""
    low, high = min(values), max(values)
    room = max(0.5, 1e-6 * max(abs(low), abs(high)))
    return (low, high) if high - low > 1e-6 * room else (low - room, high + room)


def _step(span: float, most: int) -> float:
    """Return the smallest of 1, 2 and 5 times a power of ten that steps a span at most so often."""
    power = math.pow(10, math.floor(math.log10(span / most)))
    return next(n * power for n in (1, 2, 5, 10, 20) if span / (n * power) <= most)


def _rounded(values: Sequence[float], height: int) -> tuple[float, float, list[tuple[float, str]]]:
    """Return a range that begins and ends on round numbers, and the numbers in it."""
    low, high = _spread(values)
    step = _step(high - low, max(2, height // 3))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    ticks = [(n * step, f"{n * step:.{digits}f}") for n in range(first, last + 1)]
    return min(first * step, low), max(last * step, high), ticks


def _x_ticks(xs: Sequence[float], columns: int, log_x: bool) -> list[tuple[float, str]]:
    low, high = min(xs), max(xs)
    if not log_x:
        low, high = _spread([low, high])
        step = _step(high - low, max(2, columns // 10))
        ns = range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)
        return [(n * step, f"{n * step:g}") for n in ns]
    tens = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found = [n * math.pow(10, ten) for ten in tens for n in (1, 2, 5)]
    inside = [x for x in found if low * (1 - 1e-9) <= x <= high * (1 + 1e-9)]
    return [(x, f"{x:g}") for x in inside or [low, high]]


def _x_axis(
    ticks: Sequence[tuple[int, str]], left: int, columns: int, pointed: int | None
) -> list[str]:
    """Return the axis and the figures under it; one that would touch another is left out."""
    axis, under = ["-"] * columns, [" "] * (left + columns)
    for column, text in ticks:
        start = min(max(left + column - len(text) // 2, 0), left + columns - len(text))
        near = under[max(start - 1, 0) : start + len(text) + 1]
        if 0 <= column < columns and start >= 0 and not "".join(near).strip():
            axis[column] = "+"
            under[start : start + len(text)] = text
    if pointed is not None:
        axis[pointed] = "^"
    return [" " * (left - 1) + "+" + "".join(axis), "".join(under)]


def _key(series: Sequence[Series], limits: Sequence[Limit], several: bool, width: int) -> list[str]:
    said = [f"{o.mark} {o.name}" + ("" if o.points else ": none") for o in series if o.mark]
    said += [f"{limit.sign * 3} {limit.name}" for limit in limits]
    said += [f"{SEVERAL} several in one place"] if several else []
    lines = [""]
    for one in said:
        joined = f"{lines[-1]}   {one}" if lines[-1] else one
        if len(joined) + 1 <= width:
            lines[-1] = joined
        else:
            lines += textwrap.wrap(one, width - 4)
    return [f" {line}" for line in lines if line]


def _check(
    series: Sequence[Series],
    points: Sequence[tuple[float, float]],
    limits: Sequence[Limit],
    log_x: bool,
) -> None:
    if not points:
        raise ValueError("there is no point to draw")
    for sign in (*(one.mark for one in series if one.mark), *(limit.sign for limit in limits)):
        if len(sign) != 1 or not sign.isprintable() or sign == " ":
            raise ValueError(f"mark {sign!r} is not one sign")
    for value in (*(v for point in points for v in point), *(limit.y for limit in limits)):
        if not math.isfinite(value):
            raise ValueError(f"{value} cannot be drawn: it is not a finite number")
    if log_x and min(x for x, _ in points) <= 0:
        raise ValueError("x of a logarithmic axis must be above 0")
