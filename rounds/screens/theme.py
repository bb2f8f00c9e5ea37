"""Themes for sun, for night and for a bare console; text stands out 7:1 or more.

A verdict is a sign, a word and a fill, and the three fills differ in lightness, so that neither
colour vision nor a monochrome terminal is needed to tell them apart.
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
    primary="#002c84",
    foreground="#000000",
    background="#ffffff",
    surface="#ffffff",
    panel="#e6e6e6",
    dark=False,
    text_alpha=1.0,
    variables={
        "quiet": "#3a3a3a",
        "field": "#fff7c2",
        "caret": "#000000",
        "caret-text": "#fff7c2",
        "chosen": "#d5e4fb",
        "ok": "#00512f",
        "watch": "#ffcf33",
        "watch-text": "#000000",
        "act": "#9a0000",
        "act-text": "#ffffff",
        "head": "#002c84",
        "head-text": "#ffffff",
    },
)
"""Dark on light: the screen is brightest and reflections show least. The default."""

NIGHT = Theme(
    name="night",
    primary="#ff9c50",
    foreground="#f08848",
    background="#000000",
    surface="#000000",
    panel="#100600",
    dark=True,
    text_alpha=1.0,
    variables={
        "quiet": "#ea8444",
        "field": "#1e0c00",
        "caret": "#f08848",
        "caret-text": "#000000",
        "chosen": "#1e0c00",
        "ok": "#f08848",
        "watch": "#e07f20",
        "watch-text": "#000000",
        "act": "#ffb040",
        "act-text": "#000000",
        "head": "#e07f20",
        "head-text": "#000000",
    },
)
"""Dim and red, so that the eye stays used to the dark: hardly any blue, no white."""

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


def first_theme(term: str, last: str = "") -> str:
    """Return the name of the theme a terminal of this kind starts with: the last one, if it can."""
    if term in ("linux", "vt100", "ansi") or "NO_COLOR" in os.environ:
        return CONSOLE.name
    return last if last in {theme.name for theme in THEMES} else SUN.name
