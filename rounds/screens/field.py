"""One line being typed: a number or words. It holds text and a caret and draws itself.

It is not a widget and takes no focus, so no key can lose it: the screen hands it each key first,
and what it does not take (letters, while a number is typed) is left to the screen's own keys.
"""

from __future__ import annotations

from typing import Final

from rich.cells import cell_len
from textual.content import Content

from rounds.screens.ink import row
from rounds.text import MAX_LINE, MAX_TEXT, clean

NUMBER: Final = frozenset("0123456789.,-")
_BLOCK: Final = {"decimal": ".", "separator": ",", "subtract": "-", "minus": "-"}
_CARET: Final = "$caret-text on $caret"


class Field:
    """A line of text with a caret; `fresh` text is replaced by the first character typed."""

    def __init__(self, allowed: frozenset[str] | None = None, limit: int = MAX_LINE) -> None:
        self.allowed = allowed
        self.limit = limit
        self.text = ""
        self.fresh = False
        self.full = False
        """Whether what was typed or pasted last did not fit."""
        self._caret = 0

    def set(self, text: str, *, fresh: bool = False) -> None:
        """Put a text into the field, the caret behind it."""
        self.text, self.fresh, self._caret = text, fresh and bool(text), len(text)

    def press(self, key: str, character: str | None) -> bool:
        """Take a key if it is one for this field.

        Args:
            key: Textual's name of the key.
            character: What it prints, if anything.

        Returns:
            True when the field took it; Backspace in an empty field is not taken.
        """
        self.full = False
        if key in ("left", "right"):
            step = -1 if key == "left" else 1
            self._caret = min(max(self._caret + step, 0), len(self.text))
            self.fresh = False
            return bool(self.text)
        if key in ("backspace", "delete") and self.text:
            if self.fresh:
                self.set("")
            elif key == "backspace" and self._caret:
                self._replace(self._caret - 1, self._caret, "")
            elif key == "delete":
                self._replace(self._caret, self._caret + 1, "")
            return True
        typed = _BLOCK.get(key, character) if self.allowed else character
        return typed is not None and typed.isprintable() and self._type(typed)

    def paste(self, text: str) -> bool:
        """Take pasted words as one line; of a number the first line, refused if it is none."""
        line = clean(text.partition("\n")[0] if self.allowed else text, limit=MAX_TEXT)
        return bool(line) and self._type(line)

    def draw(self, width: int) -> Content:
        """Return the field in `width` cells, between brackets, the caret in view."""
        room = width - 4
        before, after = self.text[: self._caret], self.text[self._caret :]
        while cell_len(before) > room - 1:
            before = before[1:]
        at, after = (after[:1] or " "), after[1:]
        while cell_len(before + at + after) > room:
            after = after[:-1]
        space = " " * (room - cell_len(before + at + after))
        typed = _CARET if self.fresh else "bold on $field"
        return row(
            "[ ",
            Content.styled(before, typed),
            Content.styled(at, _CARET),
            Content.styled(after + space, "bold on $field"),
            " ]",
        )

    def _type(self, typed: str) -> bool:
        if self.allowed is not None and not set(typed) <= self.allowed:
            return False
        self.full = len(typed) + (0 if self.fresh else len(self.text)) > self.limit
        if self.full:
            return True
        if self.fresh:
            self.set("")
        self._replace(self._caret, self._caret, clean(typed) if typed.strip() else " ")
        return True

    def _replace(self, start: int, end: int, text: str) -> None:
        self.text = self.text[:start] + text + self.text[end:]
        self._caret = start + len(text)
