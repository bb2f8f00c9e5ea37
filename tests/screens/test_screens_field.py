"""The line being typed: what it takes, what it leaves to the screen's keys, how it is drawn."""

from __future__ import annotations

import pytest

from rounds.screens.bounce import BOUNCE_S, Bounce
from rounds.screens.field import NUMBER, Field


def typed(field: Field, keys: str) -> str:
    for char in keys:
        field.press(char, char)
    return field.text


def test_both_decimal_marks_and_a_minus_are_kept_as_typed() -> None:
    assert typed(Field(NUMBER), "24,5") == "24,5"
    assert typed(Field(NUMBER), "-1.5") == "-1.5"


def test_the_number_block_gives_the_same_signs() -> None:
    field = Field(NUMBER)
    for key, character in (("subtract", None), ("2", "2"), ("decimal", None), ("5", "5")):
        assert field.press(key, character)
    assert field.text == "-2.5"


@pytest.mark.parametrize("char", ["s", "S", "m", "/", "*", "+", " ", "e", "١", "½", "[", "\x1b"])
def test_a_number_leaves_every_other_sign_to_the_screen(char: str) -> None:
    field = Field(NUMBER)
    typed(field, "4.9")
    assert not field.press(char, char)
    assert field.text == "4.9"


def test_backspace_erases_and_is_left_to_the_screen_in_an_empty_field() -> None:
    field = Field(NUMBER)
    typed(field, "12")
    assert field.press("backspace", None)
    assert field.press("backspace", None)
    assert field.text == ""
    assert not field.press("backspace", None)


def test_the_first_digit_replaces_a_value_one_came_back_to() -> None:
    field = Field(NUMBER)
    field.set("6.8", fresh=True)
    assert typed(field, "7") == "7"
    field.set("6.8", fresh=True)
    field.press("backspace", None)
    assert field.text == ""


def test_a_digit_in_the_middle_can_be_mended() -> None:
    field = Field(NUMBER)
    typed(field, "24.5")
    field.press("left", None)
    field.press("left", None)
    field.press("backspace", None)
    typed(field, "6")
    assert field.text == "26.5"
    field.press("delete", None)
    assert field.text == "265"


def test_a_paste_is_taken_whole_or_not_at_all() -> None:
    field = Field(NUMBER)
    assert field.paste("24.5\nrm -rf")
    assert field.text == "24.5"
    assert not field.paste("7 mg")
    assert field.text == "24.5"
    words = Field()
    assert words.paste("a[/b] \x1b[31m\u202e")
    assert "\x1b" not in words.text
    assert "\u202e" not in words.text
    assert words.text.startswith("a[/b] ")


def test_words_take_every_printing_sign_and_end_at_the_limit() -> None:
    field = Field(limit=5)
    assert typed(field, "a b[/xyz") == "a b[/"


@pytest.mark.parametrize("width", [12, 18, 74])
@pytest.mark.parametrize("text", ["", "4.9", "x" * 200, "漢字" * 40, "e\u0301" * 30])
def test_it_is_drawn_in_exactly_its_width_with_the_caret_in_view(text: str, width: int) -> None:
    field = Field()
    field.set(text)
    for moves in range(3):
        drawn = field.draw(width)
        assert drawn.cell_length == width
        assert any("$caret" in str(span.style) for span in drawn.spans)
        for _ in range(moves * 40):
            field.press("left", None)


def test_a_second_enter_within_a_moment_is_a_bounce() -> None:
    now = [0.0]
    bounce = Bounce(lambda: now[0])
    bounce.answers("enter")
    now[0] = BOUNCE_S / 2
    assert bounce.bounced("enter")
    assert not bounce.bounced("1")
    now[0] = BOUNCE_S * 2
    assert not bounce.bounced("enter")
    bounce.answers("1")
    bounce.typed()
    assert not bounce.bounced("1")
