"""Themes for sun, for night and for a bare console; text stands out 7:1 or more.

A verdict is a sign, a word and a fill, and the three fills differ in lightness, so that neither
colour vision nor a monochrome terminal is needed to tell them apart. Every colour is one of the 256
of older terminals, which take half the bytes on the wire.
"""

from __future__ import annotations

import os

from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.filter import LineFilter
from textual.theme import Theme

SUN = Theme(
    name="sun",
    primary="#000087",
    foreground="#000000",
    background="#ffffff",
    surface="#ffffff",
    panel="#e4e4e4",
    dark=False,
    text_alpha=1.0,
    variables={
        "quiet": "#3a3a3a",
        "field": "#ffffd7",
        "caret": "#000000",
        "caret-text": "#ffffd7",
        "chosen": "#d7d7ff",
        "ok": "#005f00",
        "watch": "#ffd700",
        "watch-text": "#000000",
        "act": "#af0000",
        "act-text": "#ffffff",
        "head": "#000087",
        "head-text": "#ffffff",
    },
)
"""Dark on light: the screen is brightest and reflections show least. The default."""

NIGHT = Theme(
    name="night",
    primary="#ff8700",
    foreground="#ff8700",
    background="#000000",
    surface="#000000",
    panel="#121212",
    dark=True,
    text_alpha=1.0,
    variables={
        "quiet": "#ff8700",
        "field": "#1c1c1c",
        "caret": "#ff8700",
        "caret-text": "#000000",
        "chosen": "#1c1c1c",
        "ok": "#ff8700",
        "watch": "#d78700",
        "watch-text": "#000000",
        "act": "#ffaf00",
        "act-text": "#000000",
        "head": "#d78700",
        "head-text": "#000000",
    },
)
"""Dim and red, so that the eye stays used to the dark: no white, no blue light."""

CONSOLE = Theme(
    name="console",
    primary="ansi_white",
    foreground="ansi_white",
    background="ansi_black",
    surface="ansi_black",
    panel="ansi_black",
    dark=True,
    text_alpha=1.0,
    ansi=True,
    variables={
        "ansi-background": "ansi_black",
        "ansi-foreground": "ansi_white",
        "quiet": "ansi_white",
        "field": "ansi_black",
        "caret": "ansi_white",
        "caret-text": "ansi_black",
        "chosen": "ansi_black",
        "ok": "ansi_white",
        "watch": "ansi_white",
        "watch-text": "ansi_black",
        "act": "ansi_bright_white",
        "act-text": "ansi_black",
        "head": "ansi_white",
        "head-text": "ansi_black",
    },
)
"""Black, white and their reverse, for the 16 colours of a bare console."""

THEMES = (SUN, NIGHT, CONSOLE)


class NoColour(LineFilter):
    """Sends no colour at all: what is filled stands reversed, what is bold stays bold."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Return the segments without their colours."""
        return [
            Segment(text, _plain(style) if style else None, control)
            for text, style, control in segments
        ]


def _plain(style: Style) -> Style:
    fill = style.bgcolor
    light = fill is not None and not fill.is_default and sum(fill.get_truecolor()) > 3 * 127
    return Style(bold=style.bold, reverse=light or None)


def fewest_bytes() -> None:
    """Let a terminal of 256 colours be written to by their numbers, though it has millions."""
    if os.environ.get("TERM", "").endswith("256color"):
        os.environ.pop("COLORTERM", None)


def first_theme(depth: str | None, last: str = "") -> str:
    """Return the name of the theme a terminal starts with: the last one, if it can.

    Args:
        depth: Its colours as Rich names them: "standard" has 16, None has none.
        last: The theme last chosen on this laptop.
    """
    if depth in (None, "standard", "windows") or "NO_COLOR" in os.environ:
        return CONSOLE.name
    return last if last in {theme.name for theme in THEMES} else SUN.name
