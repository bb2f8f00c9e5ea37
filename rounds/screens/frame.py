"""What stands on the terminal, so that of each frame only the cells that changed are sent.

A row with signs that terminals may draw wider or narrower than we think is sent whole. This is the
one module that touches how Textual hands a frame to the terminal.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from rich.color import ColorSystem
from rich.console import Console
from rich.segment import Segment
from textual._compositor import ChopsUpdate, CompositorUpdate, LayoutUpdate
from textual.strip import Strip


class Ink(NamedTuple):
    """How a cell is drawn, in the codes of the terminal; empty is the terminal's own."""

    shape: tuple[str, ...] = ()
    """Bold, reversed and the like."""
    text: str | None = ""
    """The colour of the sign; None for a blank, which shows none."""
    fill: str = ""


Cell = tuple[str, Ink]
"""A sign and how it is drawn; the sign is empty behind one that takes more cells."""

PLAIN: Final = Ink()
_UNKNOWN: Final = ("", Ink(("unknown",)))
_SHOWS: Final = frozenset(("4", "7", "9", "21", "53"))
"""Shapes that are seen on a blank too: lines, and reversed."""
_OFF: Final = {
    "1": "22", "2": "22", "3": "23", "4": "24", "5": "25", "7": "27", "9": "29",
}  # fmt: skip
_FILLS: Final = ("xterm", "rxvt", "linux", "alacritty", "foot")
_NARROW: Final = "\u0300"
"""From here on a terminal may draw a sign in two cells, or upon the one before it."""


def erasing_fills(environ: Mapping[str, str]) -> bool:
    """Tell whether the terminal is known to erase in the colour set, as not every one does."""
    within = environ.get("STY") or environ.get("TMUX")
    return environ.get("TERM", "").startswith(_FILLS) and not within


class Frame:
    """The cells of the terminal as they were written last."""

    def __init__(self, fills: bool = False) -> None:
        """Begin with an unknown terminal; `fills` says that erasing takes the colour set."""
        self.fills = fills
        self._rows: dict[int, list[Cell]] = {}

    def forget(self) -> None:
        """Know nothing any more: somebody else wrote to the terminal, or it has another size."""
        self._rows.clear()

    def changes(self, update: CompositorUpdate, console: Console) -> CompositorUpdate | None:
        """Return what sends of an update only what differs from what stands there, if anything."""
        rows: dict[int, list[Cell]] = {}
        system = console._color_system or ColorSystem.TRUECOLOR  # as Textual asks it
        for x, y, strip in _strips(update):
            row = rows.setdefault(y, list(self._rows.get(y, ())))
            _put(row, x, [cell for segment in strip for cell in _cells(segment, system)])
        pen, parts = PLAIN, []
        for y in sorted(rows):
            if rows[y] != (old := self._rows.get(y, [])):
                part, pen = _written(y, old, rows[y], pen, self.fills)
                parts.append(part)
        parts.append(_turned(pen, PLAIN)[0])
        return _Changes("".join(parts), self._rows, rows) if parts[1:] else None


class _Changes(CompositorUpdate):
    def __init__(
        self, codes: str, before: dict[int, list[Cell]], rows: dict[int, list[Cell]]
    ) -> None:
        self._codes, self._before, self._rows = codes, before, rows

    def render_segments(self, console: Console) -> str:
        """Return what is written now: from here on the rows stand on the terminal."""
        self._before |= self._rows
        return self._codes


def _strips(update: CompositorUpdate) -> Iterator[tuple[int, int, Strip]]:
    """Return column, row and content of each piece of an update."""
    if isinstance(update, LayoutUpdate):
        for y, strips in enumerate(update.strips, update.region.y):
            x = update.region.x
            for strip in strips:
                yield x, y, strip
                x += strip.cell_length
    elif isinstance(update, ChopsUpdate):
        for y, left, right in update.spans:
            pieces = zip(update.chop_ends[y], update.chops[y].items(), strict=False)
            for end, (x, piece) in pieces:
                if piece is not None and x < right and end > left:
                    yield x, y, piece


def _cells(segment: Segment, system: ColorSystem) -> list[Cell]:
    text, style, control = segment
    if control or not text:
        return []
    ink = _ink(Strip.render_ansi(style, system) if style else "")
    if text.isascii() or (max(text) < _NARROW and segment.cell_length == len(text)):
        blank = " ", _blank(ink)
        return [blank if sign == " " else (sign, ink) for sign in text]
    return [(text, ink), *[("", ink)] * (segment.cell_length - 1)]


def _put(row: list[Cell], x: int, cells: Sequence[Cell]) -> None:
    """Put cells into a row; what is left of a sign they cut through is known no more."""
    end = after = x + len(cells)
    before = x
    while _continues(row, before):
        before -= 1
    row[before:x] = [_UNKNOWN] * (x - before)
    row += [_UNKNOWN] * (end - len(row))
    row[x:end] = cells
    while _continues(row, after):
        row[after] = _UNKNOWN
        after += 1


def _continues(row: Sequence[Cell], x: int) -> bool:
    return x < len(row) and not row[x][0] and row[x] is not _UNKNOWN


@lru_cache(maxsize=1024)
def _ink(codes: str) -> Ink:
    """Read the codes that draw a style."""
    shape, text, fill = [], "", ""
    rest = iter(codes.split(";") if codes else ())
    for code in rest:
        if code in ("38", "48"):
            kind = next(rest)
            code = ";".join((code, kind, *(next(rest) for _ in range(1 if kind == "5" else 3))))
        number = int(code.partition(";")[0])
        if number in range(30, 40) or number in range(90, 98):
            text = "" if code == "39" else code
        elif number in range(40, 50) or number in range(100, 108):
            fill = "" if code == "49" else code
        else:
            shape.append(code)
    return Ink(tuple(shape), text, fill)


@lru_cache(maxsize=1024)
def _blank(ink: Ink) -> Ink:
    """Return what is seen of a blank: its fill, unless it is underlined or reversed."""
    return ink if _SHOWS.intersection(ink.shape) else Ink((), None, ink.fill)


@lru_cache(maxsize=4096)
def _turned(pen: Ink, to: Ink) -> tuple[str, Ink]:
    """Return the shortest code that makes one ink of another, and the ink it makes."""
    if to.text is None:
        to = Ink(tuple(s for s in pen.shape if s not in _SHOWS), pen.text, to.fill)
    if pen == to:
        return "", pen
    whole = ["0" if to != PLAIN else "", *to.shape, to.text or "", to.fill]
    ways = [";".join(filter(None, whole))]
    gone = [s for s in pen.shape if s not in to.shape]
    if all(s in _OFF for s in gone):
        off = dict.fromkeys(_OFF[s] for s in gone)
        kept = pen.shape if "22" not in off else [s for s in pen.shape if s not in ("1", "2")]
        step = [*off, *(s for s in to.shape if s not in kept)]
        step += [to.text or "39"] if to.text != pen.text else []
        step += [to.fill or "49"] if to.fill != pen.fill else []
        ways.append(";".join(step))
    return f"\x1b[{min(ways, key=len)}m", to


def _written(
    y: int, old: Sequence[Cell], new: Sequence[Cell], pen: Ink, fills: bool
) -> tuple[str, Ink]:
    """Return what makes one row of another, and the ink at its end."""
    narrow = all(len(sign) == 1 for sign, _ in (*old, *new))
    before = [*old, *[_UNKNOWN] * (len(new) - len(old))]
    pairs = enumerate(zip(before, new, strict=False))
    changed = deque(x for x, (a, b) in pairs if b is not _UNKNOWN and (a != b or not narrow))
    parts: list[str] = []
    end = -1
    while changed:
        x = changed.popleft()
        if x != end:
            way, pen = _way(y, x, end if narrow else -1, new, pen)
            parts.append(way)
        sign, ink = new[x]
        if ink != pen:
            code, pen = _turned(pen, ink)
            parts.append(code)
        erased = _erasing(new, x, changed) if fills and narrow and ink.text is None else ""
        parts.append(erased or sign)
        end = x if erased else x + 1
    return "".join(parts), pen


def _way(y: int, x: int, end: int, row: Sequence[Cell], pen: Ink) -> tuple[str, Ink]:
    """Return the shortest way to a cell of a row: a jump, or over the cells between."""
    if end < 0:
        return f"\x1b[{y + 1};{x + 1}H", pen
    jump = f"\x1b[{x - end}C" if x - end > 1 else "\x1b[C"
    ways = [(jump, pen)]
    if x - end <= len(jump):
        ways.append(_drawn(row[end:x], pen))
    return min(ways, key=lambda one: len(one[0]) + len(_drawn(row[x : x + 1], one[1])[0]))


def _erasing(row: Sequence[Cell], x: int, changed: deque[int]) -> str:
    """Return what erases from a blank on, where that is shorter, and take off what it erases."""
    blank = row[x]
    if row[x + 1 : x + 4] != [blank] * 3:
        return ""
    stop = next((at for at in range(x, len(row)) if row[at] != blank), len(row))
    last = x
    for at in changed:
        if at >= stop:
            break
        last = at
    erase, shorter = f"\x1b[{last + 1 - x}X", last + 1 - x > 8
    if stop == len(row):
        erase, shorter = "\x1b[K", last + 1 - x > 3
    while shorter and changed and changed[0] <= last:
        changed.popleft()
    return erase if shorter else ""


def _drawn(cells: Iterable[Cell], pen: Ink) -> tuple[str, Ink]:
    """Return what draws cells side by side, and the ink at their end."""
    parts: list[str] = []
    for sign, ink in cells:
        if ink != pen:
            code, pen = _turned(pen, ink)
            parts.append(code)
        parts.append(sign)
    return "".join(parts), pen
