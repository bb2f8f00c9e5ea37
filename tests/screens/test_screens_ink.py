"""What reaches the screen: cleaned text, never markup, in the cells there are."""

from __future__ import annotations

import pytest
from textual.content import Content

from rounds.screens.ink import cell, cut, ink, paragraph, row, spread

HOSTILE = [
    "[/",
    "a[/b]",
    "[bold]x",
    "[@click=app.bell]z[/]",
    "\x1b]0;t\x07",
    "\u202egnp",
    "\x9b31m",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_foreign_text_is_shown_as_it_is_written_without_its_controls(text: str) -> None:
    shown = ink(text).plain
    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or c == "\u202e" for c in shown)
    assert [c for c in shown if c.isascii()] == [c for c in text if c.isascii() and c.isprintable()]
    assert not ink(text).spans


@pytest.mark.parametrize(
    "text", ["", "abc", "long name of a tank", "漢字の名前です", "e\u0301e\u0301e\u0301"]
)
@pytest.mark.parametrize("width", [0, 1, 2, 3, 8, 30])
def test_a_cell_is_exactly_as_wide_as_asked(text: str, width: int) -> None:
    assert cell(text, width).cell_length == width
    assert cell(text, width, align="right").cell_length == width


def test_what_is_cut_says_so_in_ascii() -> None:
    assert cut("alkalinity", 6) == "alka.."
    assert cut("漢字の名前", 7) == "漢字.."


def test_the_right_part_of_a_line_stays_and_the_left_gives_way() -> None:
    line = spread(ink("a long heading that does not fit"), ink("saved 07:42"), 30)
    assert line.cell_length == 30
    assert line.plain.endswith("saved 07:42")
    assert ".." in line.plain


def test_paragraphs_fold_with_a_hanging_indent() -> None:
    lines = paragraph("aerate now, stop feeding, call the supervisor", 20, indent=2)
    assert all(line.cell_length <= 20 for line in lines)
    assert lines[0].plain.startswith("  aerate")
    assert all(line.plain.startswith("    ") for line in lines[1:])


def test_a_row_joins_parts_with_their_styles() -> None:
    line = row(" ", Content.styled("X", "bold"), " end")
    assert line.plain == " X end"
    assert [(s.start, s.end) for s in line.spans] == [(1, 2)]
