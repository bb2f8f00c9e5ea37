"""How the farm stands, in one filled band under the heading: to be read from two metres.

Where there is room its word is drawn in letters five rows high. It is sign, word and fill, so that
it is read without colour too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from textual.content import Content

from rounds.day.readings.judgement import SIGNS, Word
from rounds.screens.ink import STYLES, cell, cut, ink, row

ROWS: Final = 5
_LETTERS: Final = {
    "A": (" ### ", "#   #", "#####", "#   #", "#   #"),
    "C": (" ####", "#    ", "#    ", "#    ", " ####"),
    "D": ("#### ", "#   #", "#   #", "#   #", "#### "),
    "E": ("#####", "#    ", "###  ", "#    ", "#####"),
    "H": ("#   #", "#   #", "#####", "#   #", "#   #"),
    "K": ("#   #", "#  # ", "###  ", "#  # ", "#   #"),
    "N": ("#   #", "##  #", "# # #", "#  ##", "#   #"),
    "O": (" ### ", "#   #", "#   #", "#   #", " ### "),
    "T": ("#####", "  #  ", "  #  ", "  #  ", "  #  "),
    "W": ("#   #", "#   #", "# # #", "## ##", "#   #"),
    "X": ("#   #", " # # ", "  #  ", " # # ", "#   #"),
    "!": ("#", "#", "#", " ", "#"),
    " ": (" ", " ", " ", " ", " "),
}
_FILLS: Final = {"ok": "bold $head-text on $ok", "unknown": "bold $foreground on $panel"}


def band(verdict: Word, facts: Sequence[str], width: int, *, big: bool) -> list[Content]:
    """Return the band's rows, each as wide as the screen.

    Args:
        verdict: How the farm stands.
        facts: What stands behind it, a short text each, the most important first.
        width: Cells of a row.
        big: Whether it may take five rows.
    """
    style, sign = _FILLS.get(verdict, STYLES[verdict]), SIGNS[verdict]
    letters = _drawn(sign.upper())
    if not big or len(letters[0]) + 16 > width:
        spaced = sign.upper() if width < 70 else sign.upper().replace(" ", "  ")
        head = f"  {spaced}   "
        rest = "   ".join(facts[1:])
        room = width - len(head) - len(rest) - 4
        first = _counted(facts[0], room)
        told = cut(f"{first}   {rest}", width - len(head))
        return [row(ink(head, style), cell(told, width - len(head), style))]
    beside = [*facts, *[""] * ROWS][:ROWS]
    room = width - len(letters[0]) - 6
    return [
        row(ink(f"  {letter}    ", style), cell(_counted(fact, room), room, style))
        for letter, fact in zip(letters, beside, strict=True)
    ]


def _counted(places: str, room: int) -> str:
    """Return as many of the places as there is room for, and how many more there are."""
    names = places.split(", ")
    for count in range(len(names), 0, -1):
        more = f" and {len(names) - count} more" if count < len(names) else ""
        if len(told := ", ".join(names[:count]) + more) <= room:
            return told
    return cut(places, max(room, 0))


def _drawn(word: str) -> list[str]:
    return [" ".join(_LETTERS[letter][line] for letter in word) for line in range(ROWS)]
