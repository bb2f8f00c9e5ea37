"""The one way text reaches the screen: cleaned, never parsed as markup, cut to the cells there are.

Everything that comes from a file, an entry or the keyboard goes through `ink` or `cell`. Styles
are names of theme variables, so a change of theme repaints without a word said here.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal

from rich.cells import cell_len, set_cell_size
from textual.content import Content

from rounds.text import MAX_TEXT, clean

QUIET: Final = "$quiet"
BOLD: Final = "bold"
LINK: Final = "bold $primary"
STYLES: Final = {
    "ok": "bold $ok",
    "watch": "bold $watch-text on $watch",
    "act": "bold $act-text on $act",
    "unknown": "$quiet",
}
"""How a verdict is drawn; its sign and word are drawn with it."""


def ink(text: str, style: str = "") -> Content:
    """Return foreign or own text as it may be shown; blanks around it stay."""
    body = clean(text, limit=MAX_TEXT)
    before = len(text) - len(text.lstrip(" "))
    after = len(text) - len(text.rstrip(" ")) if body else 0
    return Content.styled(" " * before + body + " " * after, style)


def cut(text: str, width: int) -> str:
    """Return clean text in at most `width` cells, ending in ".." where some is missing."""
    line = clean(text, limit=MAX_TEXT)
    if cell_len(line) <= width:
        return line
    return set_cell_size(line, max(width - 2, 0)).rstrip() + ".."[: max(width, 0)]


def cell(
    text: str, width: int, style: str = "", align: Literal["left", "right"] = "left"
) -> Content:
    """Return text in exactly `width` cells."""
    line = cut(text, width)
    space = " " * (width - cell_len(line))
    return Content.styled(line + space if align == "left" else space + line, style)


def row(*parts: Content | str) -> Content:
    """Join parts of one line; a plain string here is our own and holds no foreign text."""
    return Content("").join(part if isinstance(part, Content) else Content(part) for part in parts)


def spread(left: Content, right: Content, width: int) -> Content:
    """Return one line with `right` at its right edge; the left part gives way."""
    room = width - right.cell_length
    if left.cell_length > room - 1:
        left = left.truncate(max(room - 3, 0)).append(".. ")
    return row(left, " " * (room - left.cell_length), right)


def paragraph(text: str, width: int, indent: int = 0, style: str = "") -> list[Content]:
    """Return text as lines of at most `width` cells, all but the first indented two more."""
    room = max(width - indent - 2, 8)
    lines: list[Content] = []
    for part in clean(text, limit=MAX_TEXT, newlines=True).split("\n"):
        folded = Content.styled(part, style).wrap(room) if part else [Content("")]
        lines += [
            row(" " * (indent if first else indent + 2), line)
            for first, line in zip([True] + [False] * len(folded), folded, strict=False)
        ]
    return lines


def paragraphs(texts: Iterable[str], width: int, indent: int = 0, style: str = "") -> list[Content]:
    """Return several texts as lines, each text beginning on its own line."""
    return [line for text in texts for line in paragraph(text, width, indent, style)]


def flagged(text: str, style: str, width: int, indent: int = 2) -> list[Content]:
    """Return text folded to the width, each line on a fill that catches the eye."""
    lines = ink(text).wrap(width - indent - 4)
    return [row(" " * indent, Content.styled(f" {line.plain.strip()} ", style)) for line in lines]


def flow(parts: Iterable[Content], width: int) -> list[Content]:
    """Return parts side by side in as many lines of `width` cells as they need."""
    lines: list[Content] = []
    for part in parts:
        if not lines or lines[-1].cell_length + part.cell_length > width:
            lines.append(Content(" "))
        lines[-1] = lines[-1].append(part)
    return lines


def grams(value: float) -> str:
    """Return a mass as sheets write it: "1 260 g", and a tenth below ten grams."""
    return f"{value:,.0f} g".replace(",", " ") if value >= 10 or value == 0 else f"{value:.1f} g"
