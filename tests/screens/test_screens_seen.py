"""Each screen as it is seen, row by row, kept as text beside this test.

A change of wording or layout shows as a difference to read; `SEEN=write pytest tests/screens -k
seen` writes the files anew. In every colour the texts are the same, and stand out 7:1 or more.
"""

from __future__ import annotations

import os
from difflib import unified_diff
from pathlib import Path

import pytest
from rich.color import ColorSystem, ColorType
from rich.style import Style
from screens_hand import Clock, Hand, opened
from screens_tour import tour
from test_screens_keys import prepared, the_key_line_fits
from textual.color import Color

from rounds.site.model import Site

SEEN = Path(__file__).parent / "seen"
SIZES = [(80, 24), (120, 40)]
LEAST = 7.0


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
async def test_seen(stocked: Site, clock: Clock, size: tuple[int, int]) -> None:
    await prepared(stocked, clock)
    found = []
    async with opened(stocked, clock, size=size) as hand:
        async for name, rows in tour(hand):
            assert len(rows) == size[1]
            assert not low(hand), name
            the_key_line_fits(hand, name, size[0])
            found += differences(hand, f"{name}-{size[0]}x{size[1]}", rows)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("colours", ["night", "console", "none"])
async def test_seen_in_other_colours(
    stocked: Site, clock: Clock, colours: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    await prepared(stocked, clock)
    if colours == "none":
        monkeypatch.setenv("NO_COLOR", "1")
    found = []
    async with opened(stocked, clock) as hand:
        if colours != "none":
            hand.app.theme = colours
            await hand.settle()
        async for name, rows in tour(hand):
            drawn = styles(hand)
            if colours == "night":
                assert not low(hand), name
                assert max(blue(style) for _, style in drawn) < 0.1, name
            elif colours == "console":
                assert {of for _, style in drawn for of in numbers(style)} <= {0, 7, 15}, name
            else:
                assert not [style for _, style in drawn if style.color or style.bgcolor], name
            if name != "help":  # without colours it has no key to change them
                found += differences(hand, f"{name}-80x24", rows, write=False)
    assert not found, "\n".join(found)


def differences(hand: Hand, name: str, rows: list[str], *, write: bool = True) -> list[str]:
    """What differs from the picture kept; the code of the laptop is another in every run."""
    codes = {entry.id.partition("-")[0] for entry in hand.app.desk.farm.entries.values()}
    text = "\n".join(rows) + "\n"
    for code in codes - {"here22"}:
        text = text.replace(code, "laptop")
    file = SEEN / f"{name}.txt"
    if write and os.environ.get("SEEN") == "write":
        SEEN.mkdir(exist_ok=True)
        file.write_text(text, "utf-8")
    kept = file.read_text("utf-8")
    return [*unified_diff(kept.split("\n"), text.split("\n"), name, lineterm="")]


def styles(hand: Hand) -> list[tuple[str, Style]]:
    """Every text on the screen with how it is drawn; nothing is dim, slanted or blinks."""
    drawn = [
        (text, style)
        for strip in hand.app.screen._compositor.render_strips()
        for text, style, _ in strip
        if text.strip() and style
    ]
    assert not [text for text, style in drawn if style.dim or style.italic or style.blink]
    return drawn


def low(hand: Hand) -> set[tuple[str, str]]:
    """Pairs of text and ground that do not stand out, in full colours and in 256."""
    pairs = {
        (style.color, style.bgcolor) for _, style in styles(hand) if style.color and style.bgcolor
    }
    assert pairs
    narrow = {tuple(one.downgrade(ColorSystem.EIGHT_BIT) for one in pair) for pair in pairs}
    return {
        (front.name, back.name)
        for front, back in pairs | narrow
        if contrast(Color.from_rich_color(front), Color.from_rich_color(back)) < LEAST
    }


def contrast(front: Color, back: Color) -> float:
    """The ratio of two colours by WCAG 2."""
    high, low = sorted((luminance(front), luminance(back)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def luminance(color: Color) -> float:
    """Relative luminance by WCAG 2."""
    parts = [c / 255 for c in (color.r, color.g, color.b)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def blue(style: Style) -> float:
    """How much blue light text and ground give, of 1."""
    colours = [Color.from_rich_color(one) for one in (style.color, style.bgcolor) if one]
    return max((((one.b / 255 + 0.055) / 1.055) ** 2.4 for one in colours), default=0.0)


def numbers(style: Style) -> set[int]:
    """The numbers of a style's colours among the 16 of a console."""
    colours = [one for one in (style.color, style.bgcolor) if one and not one.is_default]
    assert all(one.type is ColorType.STANDARD for one in colours)
    return {one.number for one in colours if one.number is not None}
