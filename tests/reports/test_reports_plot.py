"""A drawing of points: every value is inside, its axes are right, and its key says what is what."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rounds.reports.plot import POINTER, SEVERAL, Limit, Series, Strip, plot

FALLING = Series("falling", "o", ((0, 10), (5, 5), (10, 0)))


def drawn(*series: Series, **how) -> tuple[str, ...]:
    return plot(series or (FALLING,), width=60, height=14, **how)


def inside(lines: tuple[str, ...]) -> list[str]:
    """Return the cells inside the axes."""
    rows = lines[: next(n for n, line in enumerate(lines) if re.fullmatch(r" *\+[+-]{20,}", line))]
    at = max(max(line.find("|"), line.find("+")) for line in rows)
    return [line[at + 1 :] for line in rows]


def test_a_falling_line_falls_from_corner_to_corner():
    rows = inside(drawn())
    marks = [(row, line.index("o")) for row, line in enumerate(rows) if "o" in line]
    assert len(marks) == 3
    (top, left), (middle, centre), (bottom, right) = marks
    assert (top, left, bottom) == (0, 0, len(rows) - 1)
    assert middle == pytest.approx(bottom / 2, abs=0.6)
    assert centre == pytest.approx(right / 2, abs=0.6)
    assert any("." in line for line in rows)


def test_the_axes_carry_round_figures_and_their_labels():
    lines = drawn(x_label="days", y_label="mg/L")
    assert lines[0] == "mg/L"
    assert any(line.startswith(" 10 +") for line in lines)
    assert any(line.startswith("  0 +") for line in lines)
    under = next(line for line in lines if line.split()[:1] == ["0"] and "+" not in line)
    assert under.split() == ["0", "2", "4", "6", "8", "10"]
    assert any(line.endswith("days") for line in lines)


def test_equal_ratios_are_equal_steps_on_a_logarithmic_axis():
    rows = inside(drawn(Series("x", "o", ((1, 0), (10, 1), (100, 2)), joined=False), log_x=True))
    columns = sorted(line.index("o") for line in rows if "o" in line)
    assert columns[1] == pytest.approx((columns[0] + columns[2]) / 2, abs=0.6)


def test_limits_lie_across_and_are_named():
    lines = drawn(limits=(Limit("watch 6", 6), Limit("act 4", 4, "=")))
    rows = inside(lines)
    assert sum("-----" in line for line in rows) == 1
    assert sum("=====" in line for line in rows) == 1
    watch, act = (next(n for n, line in enumerate(rows) if s * 5 in line) for s in "-=")
    assert watch < act
    assert "--- watch 6" in lines[-1]
    assert "=== act 4" in lines[-1]


def test_a_limit_above_every_value_is_inside_the_drawing():
    rows = inside(drawn(limits=(Limit("act", 40),)))
    assert any("-----" in line for line in rows)


def test_marks_in_one_cell_say_there_are_several():
    lines = drawn(Series("a", "a", ((1, 1), (2, 2))), Series("b", "b", ((1, 1),)))
    assert any(SEVERAL in line for line in inside(lines))
    assert f"{SEVERAL} several in one place" in lines[-1]
    same = drawn(Series("a", "a", ((1, 1), (2, 2), (1, 1))))
    assert not any(SEVERAL in line for line in same)


def test_braille_draws_finer_lines_and_keeps_the_marks():
    lines = drawn(dots="braille")
    assert any(0x2800 < ord(sign) <= 0x28FF for line in lines for sign in line)
    assert sum(line.count("o") for line in inside(lines)) == 3
    assert all(ord(sign) < 128 for line in drawn() for sign in line)


def test_dates_stand_under_the_axis_and_never_run_into_each_other():
    ticks = [(n / 4, f"{n:02d} Nov") for n in range(41)]
    under = next(line for line in drawn(x_ticks=ticks) if "Nov" in line and "+" not in line)
    words = under.split()
    assert words[:2] == ["00", "Nov"]
    assert all(word == "Nov" for word in words[1::2])


def test_a_series_without_points_is_named_and_a_single_value_is_drawn():
    lines = drawn(Series("one", "o", ((3, 7),)), Series("two", "x", ()))
    assert sum(line.count("o") for line in inside(lines)) == 1
    assert "x two: none" in lines[-1]


def test_a_long_key_is_folded_and_nothing_of_it_is_lost():
    names = [f"tank number {n} at 24 degC" for n in range(12)]
    lines = drawn(*(Series(name, "o", ((n, n),)) for n, name in enumerate(names)))
    said = " ".join(" ".join(lines).split())
    assert all(name in said for name in names)


@settings(max_examples=60)
@given(
    points=st.lists(st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)), min_size=1, max_size=30),
    width=st.integers(40, 120),
    height=st.integers(8, 40),
    dots=st.sampled_from(["ascii", "braille"]),
)
def test_any_points_fit_and_no_line_is_longer_than_asked(points, width, height, dots):
    lines = plot(
        [Series("s", "o", tuple(points))], width=width, height=height, dots=dots, y_label="y"
    )
    assert all(len(line) <= width for line in lines)
    assert len(lines) == height + 2  # label and key
    cells = [line for line in lines[:-1] if "o" in line]
    assert cells


@pytest.mark.parametrize(
    ("series", "how", "says"),
    [
        ((), {}, "no point"),
        ((Series("s", "o", ()),), {}, "no point"),
        ((Series("s", "oo", ((1, 1),)),), {}, "not one sign"),
        ((Series("s", "o", ((1, math.nan),)),), {}, "not a finite number"),
        ((FALLING,), {"log_x": True}, "above 0"),
        ((FALLING,), {"width": 20}, "too few"),
        ((FALLING,), {"height": 4}, "too few"),
        ((FALLING,), {"limits": (Limit("x", math.inf),)}, "not a finite number"),
    ],
)
def test_what_cannot_be_drawn_is_refused(series, how, says):
    with pytest.raises(ValueError, match=says):
        plot(series, **how)


def test_a_strip_shares_the_axis_and_two_signs_in_a_cell_say_so():
    lines = drawn(strips=(Strip("fed", ((0, "F"), (5, "F"), (10, "F"), (10, "G"))),))
    strip = next(line for line in lines if line.split("|")[0].strip() == "fed")
    row = next(line for line in lines if "^" not in line and line.count("o") == 1)
    assert strip.index("F") == row.index("o")  # the first point stands at the top left
    assert strip.rstrip()[-1] == SEVERAL
    assert len(lines) == len(drawn())  # it takes its row from the drawing


def test_a_limit_of_some_hours_is_drawn_only_there():
    rows = inside(drawn(limits=(Limit("day", 9, "=", spans=((5, 10),)),)))
    level = next(row for row in rows if "===" in row)
    assert level.index("=") == pytest.approx(len(level) / 2, abs=2)


def test_the_pointer_marks_its_point_and_its_place_under_the_axis():
    lines = drawn(pointer=(5, 5))
    axis = next(line for line in lines if "^" in line)
    pointed = next(line for line in lines if POINTER in line)
    assert pointed.index(POINTER) == axis.index("^")
    assert axis.count("^") == 1


def test_an_axis_may_run_farther_than_its_points():
    lines = drawn(x_range=(0, 20), y_range=(-10, 10))
    rows, wide = inside(lines), len(next(line for line in lines if "---" in line).strip())
    marks = [(n, row.index("o")) for n, row in enumerate(rows) if "o" in row]
    assert marks[-1][1] == pytest.approx(wide / 2, abs=2)
    assert marks[-1][0] == pytest.approx(len(rows) / 2, abs=1)
