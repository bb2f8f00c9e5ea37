"""Foreign text and typed numbers: what may come in, and in what form.

`clean` is applied at every border (site files, entries read, pasted and typed text, sync) and
again by whatever shows text; `number` reads what a person types, with a point or a comma.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from typing import Final

MAX_LINE: Final = 200
MAX_TEXT: Final = 4000
_REPLACEMENT: Final = "\N{REPLACEMENT CHARACTER}"
_DROPPED: Final = frozenset(
    code
    for low, high in (
        (0x061C, 0x061C),  # Arabic letter mark
        (0x200B, 0x200F),  # zero width, direction marks
        (0x2028, 0x202E),  # line and paragraph separators, embeddings, overrides
        (0x2060, 0x206F),  # word joiner, isolates
        (0xFE00, 0xFE0F),  # variation selectors
        (0xFEFF, 0xFEFF),
        (0xFFF9, 0xFFFB),  # interlinear annotation
        (0xE0000, 0xE007F),  # tags
    )
    for code in range(low, high + 1)
)
_MAX_MARKS: Final = 8
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)", re.ASCII)
_MAX_DIGITS: Final = 15


def clean(text: str, *, limit: int = MAX_LINE, newlines: bool = False) -> str:
    """Return text that cannot steer a terminal or change its own direction.

    Control characters (C0, DEL, C1), direction marks, zero-width and tag characters and lone
    surrogates become a replacement character, at most eight combining marks follow one base
    character, and text longer than `limit` ends in "..". Tabs become a space; so do line breaks
    unless `newlines`.

    Args:
        text: Any text.
        limit: Greatest number of characters kept.
        newlines: Keep line breaks (long notes only).

    Returns:
        Clean text, in normal form C.
    """
    plain_ascii = text.isascii() and (text.replace("\n", "") if newlines else text).isprintable()
    cleaned = (text if plain_ascii else _replaced(text[: 4 * limit + 64], newlines)).strip()
    return cleaned if len(cleaned) <= limit else cleaned[: limit - 2] + ".."


def _replaced(text: str, newlines: bool) -> str:
    out: list[str] = []
    marks = 0
    for char in unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n")):
        if char == "\n" or char == "\t":
            out.append("\n" if char == "\n" and newlines else " ")
            marks = 0
        elif unicodedata.category(char) in ("Cc", "Cs", "Cn") or ord(char) in _DROPPED:
            out.append(_REPLACEMENT)
            marks = 0
        elif unicodedata.combining(char) or unicodedata.category(char) in ("Mn", "Me"):
            marks += 1
            if marks <= _MAX_MARKS:
                out.append(char)
        else:
            out.append(char)
            marks = 0
    return "".join(out)


class NumberError(ValueError):
    """Text that is not a number; the message says what to type."""


def number(text: str) -> Decimal:
    """Read a number as a person types it: ASCII digits, one point or one comma.

    Args:
        text: What was typed; blanks around it are ignored.

    Returns:
        The number with as many digits as were typed ("8,10" is Decimal("8.10")).

    Raises:
        NumberError: Empty, two separators, an exponent, other characters, or more than 15 digits.
    """
    typed = text.strip()
    if not typed:
        raise NumberError("Type a value, or skip with a reason")
    if not _NUMBER.fullmatch(typed):
        if re.fullmatch(r"[+-]?[0-9.,]+", typed):
            raise NumberError(
                f"{clean(typed, limit=20)} has two decimal marks: use one, no thousands"
            )
        raise NumberError(
            f"{clean(typed, limit=20)} is not a number: digits and one point or comma"
        )
    if sum(c.isdigit() for c in typed) > _MAX_DIGITS:
        raise NumberError(f"Too many digits: type {_MAX_DIGITS} at most")
    return Decimal(typed.replace(",", "."))


def plain(value: Decimal) -> str:
    """Return a decimal as it is stored: a point, no exponent, every digit that was typed."""
    return format(value, "f")
