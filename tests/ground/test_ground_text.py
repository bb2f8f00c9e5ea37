"""Numbers as people type them, text as others send it, reasons as one line."""

from __future__ import annotations

import unicodedata
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.reason import Reason, lines, render
from rounds.text import NumberError, clean, number, plain
from rounds.units import Amount


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("4.9", "4.9"), ("24,5", "24.5"), ("8,10", "8.10"), ("-1.5", "-1.5"), ("+3", "3"),
     (" 7 ", "7"), (".5", "0.5"), ("5.", "5"), (",05", "0.05"), ("0", "0")],
)  # fmt: skip
def test_a_point_or_a_comma_is_kept_as_typed(typed: str, kept: str) -> None:
    assert plain(number(typed)) == kept


@pytest.mark.parametrize(
    "typed",
    ["", "  ", "1,234.5", "1.2.3", "1,2,3", "1e5", "1_0", "nan", "inf", "٣", "\uff15",
     "4..9", "--4", "4 9", "0x1f", "six", "[/]", "\x1b[31m5", "1234567890123456"],
)  # fmt: skip
def test_what_is_no_number_is_refused_with_words(typed: str) -> None:
    with pytest.raises(NumberError) as error:
        number(typed)
    assert str(error.value) == clean(str(error.value))


@given(
    st.decimals(allow_nan=False, allow_infinity=False, min_value=-9999, max_value=9999, places=3)
)
def test_numbers_survive_being_typed_with_either_mark(value: Decimal) -> None:
    assert number(plain(value)) == value
    assert number(plain(value).replace(".", ",")) == value


HOSTILE = [
    "\x1b]0;title\x07", "\x1b[31mred", "\x9b31m", "a\x00b", "\u202egnp.exe", "\u2066x\u2069",
    "zero\u200bwidth", "\ufeffbom", "tag\U000e0041", "line\u2028break", "\ud800", "bell\x07",
    "e" + "\u0301" * 50, "a\tb\nc\rd", "\u061cx", "\ufff9x",
]  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_loses_what_could_steer_a_terminal(text: str) -> None:
    cleaned = clean(text)
    cleaned.encode("utf-8")
    for char in cleaned:
        assert unicodedata.category(char) not in ("Cc", "Cs", "Cf", "Zl", "Zp")
    assert sum(unicodedata.combining(char) > 0 for char in cleaned) <= 8


def texts(most: int) -> st.SearchStrategy[str]:
    """Any text; unlike `st.text` it needs no table of all signs, which takes seconds to make."""
    signs = st.integers(0, 0x2FF) | st.integers(0, 0xD7FF) | st.integers(0xE000, 0x10FFFF)
    return st.lists(signs.map(chr), max_size=most).map("".join)


@given(texts(300))
def test_cleaning_twice_changes_nothing(text: str) -> None:
    once = clean(text)
    assert clean(once) == once
    assert len(once) <= 200
    assert not any(unicodedata.category(c) in ("Cc", "Cs") for c in once)


@given(texts(100))
def test_long_notes_keep_only_line_breaks(text: str) -> None:
    kept = clean(text, newlines=True)
    assert not any(unicodedata.category(c) == "Cc" and c != "\n" for c in kept)


def test_names_people_have_stay_as_they_are() -> None:
    for name in (
        "Ana Sofía",
        "Łukasz",
        "中村",
        "O'Neil [night]",
        "J\N{LATIN SMALL LETTER U WITH DIAERESIS}rgen",
    ):
        assert clean(name) == unicodedata.normalize("NFC", name)


def test_long_text_is_cut_visibly() -> None:
    assert clean("x" * 500, limit=20) == "x" * 18 + ".."


def test_a_reason_is_one_line_with_its_source_and_foreign_text_stays_text() -> None:
    reason = Reason(
        "{lot} weighs {mass:.1f}",
        {"lot": "{mass.__class__} [/]", "mass": Amount(10, "kg")},
        "scale",
    )
    assert render(reason) == "{mass.__class__} [/] weighs 10.0 kg [scale]"
    assert lines((reason,), "us") == ["{mass.__class__} [/] weighs 22.0 lb [scale]"]
