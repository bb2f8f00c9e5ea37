"""A trend drawn: every value has its row and hour, limits their figures, events their column."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from rounds.day.lots.growth import growths
from rounds.day.telling.trends import Trend, trend
from rounds.records import entry as e
from rounds.reports.growth_chart import growth_chart
from rounds.reports.time_axis import ticks
from rounds.reports.trend import beyond, chart, heading, listed, read_out, says
from tests.day.small_farm import NOW, Days, make_site, with_place


def week(days: Days, *places: str, measure: str = "oxygen", back: int = 7) -> Trend:
    return trend(days.site, days.farm, places or ("T1",), measure, NOW - timedelta(days=back), NOW)


def drawn(days: Days, *places: str, width: int = 78, height: int = 18, **how) -> list[str]:
    return list(chart(days.site, week(days, *places, **how), width=width, height=height))


def cells(lines: list[str]) -> list[str]:
    """Return the drawing and its strips, from the axis on."""
    end = next(n for n, line in enumerate(lines) if re.fullmatch(r" *\+[-+^]{20,}", line))
    at = lines[end].index("+")
    return [line[at + 1 :] for line in lines[:end]]


def strip(lines: list[str], name: str) -> str:
    return next(line for line in lines if line.split("|")[0].strip() == name).split("|")[1]


def falling() -> Days:
    days = Days()
    for n in range(8):
        days.read("T1", -160 + 20 * n, oxygen=f"{6.6 - 0.4 * n:.1f}")
    return days


def test_limits_stand_at_the_axis_with_sign_and_figure_and_in_the_key_with_words():
    lines = drawn(falling())
    watch = next(line for line in lines if line.lstrip().startswith("! 5.0"))
    act = next(line for line in lines if line.lstrip().startswith("X 4.0"))
    assert "----------" in watch
    assert "==========" in act
    key = " ".join(lines)
    assert "! watch below 5.0" in key
    assert "X act below 4.0" in key


def test_the_value_that_passes_a_limit_is_drawn_beyond_its_line():
    rows = cells(drawn(falling()))
    limit = next(n for n, row in enumerate(rows) if row.count("=") > 10)
    below = [n for n, row in enumerate(rows) if "o" in row and n > limit]
    assert below  # 3.8, the last one
    assert rows[below[-1]].rindex("o") == max(row.rfind("o") for row in rows)


def test_an_event_stands_under_the_value_read_in_the_same_hour():
    days = Days()
    for hours in (-150, -80, -10):
        days.read("T1", hours, oxygen="6.0")
    days.feed("120", -80)
    lines = drawn(days)
    (level,) = (row for row in cells(lines) if "o" in row)
    read = [n for n, sign in enumerate(level) if sign == "o"]
    assert [n for n, sign in enumerate(strip(lines, "fed")) if sign == "F"] == [read[1]]


def test_kinds_of_events_share_a_row_where_there_are_few_and_none_is_lost():
    days = falling()
    days.feed("120", -80)
    days.write(e.Dosed, -70, loop="A", product="BIC", amount="500", unit="g", portion=1)
    days.write(e.Died, -50, lot="L1", place="T1", count=2)
    tall, short = drawn(days), drawn(days, height=11)
    assert "D" in strip(tall, "dosed")
    assert "+" in strip(tall, "dead")
    assert "D" in strip(short, "other")
    assert "+" in strip(short, "other")
    assert len(cells(short)) == 9


def test_laptops_have_their_own_marks_and_the_key_says_whose():
    days = Days()
    days.read("T1", -80, oxygen="6.0")
    days.writer = "bbbbbb"
    days.read("T1", -60, oxygen="6.2")
    lines = drawn(days)
    assert "o laptop aaaaaa   x laptop bbbbbb" in " ".join(lines)
    assert " ".join(cells(lines)).count("x") == 1


def test_a_doubtful_value_is_marked_and_the_key_says_so():
    days = falling()
    check = {"measure": "oxygen", "step": "o2", "instrument": "m", "points": []}
    days.write(e.Calibrated, -150, result="good", slope="99", **check)
    days.write(e.Calibrated, -130, result="poor", slope="80", **check)
    days.write(e.Calibrated, -129, result="good", slope="99", **check)
    lines = drawn(days)
    assert " ".join(cells(lines)).count("?") == 1
    assert "? doubtful" in " ".join(lines)
    assert "1 doubtful (?)" in says(days.site, week(days))[0]


def test_tanks_compared_have_a_letter_each_in_the_drawing_the_words_and_the_events():
    days = falling()
    for n in range(8):
        days.read("T2", -160 + 20 * n, oxygen="6.4")
    days.feed("120", -80, place="T2")
    lines = drawn(days, "T1", "T2")
    rows = cells(lines)[:-1]
    assert max(n for n, row in enumerate(rows) if "a" in row) > max(
        n for n, row in enumerate(rows) if "b" in row
    )
    assert strip(lines, "fed").strip() == "b"
    first, second = says(days.site, week(days, "T1", "T2"))
    assert first.startswith("a T1: last 3.8 X ACT NOW")
    assert "It falls 0.48 a day." in first
    assert second.startswith("b T2: last 6.4")
    assert "falls" not in second


def test_a_day_ahead_is_told_of_today_not_of_a_window_long_past():
    days = Days()
    for day in range(-30, -18):
        days.read("T1", 24 * day - 1, ph=f"{7.9 - 0.03 * (day + 30):.2f}")
    since, until = (NOW + timedelta(days=day) for day in (-30.5, -18.5))
    then = trend(days.site, days.farm, ("T1",), "ph", since, until)
    assert "7.50 is passed about" in says(days.site, then)[0]
    now = trend(days.site, days.farm, ("T1",), "ph", since, until, NOW)
    assert "falls" in says(days.site, now)[0]
    assert "is passed" not in says(days.site, now)[0]


def test_a_pace_with_doses_in_it_says_so():
    days = falling()
    days.write(e.Dosed, -70, loop="A", product="BIC", amount="500", unit="g", portion=1)
    assert "It falls 0.48 a day, 1 dose in it" in says(days.site, week(days))[0]


def test_a_limit_far_from_the_values_is_told_and_drawn_when_asked_for():
    days = Days()
    for hours in (-30, -20, -10):
        days.read("T1", hours, oxygen="7.5")
    found = week(days)
    assert beyond(days.site, found)
    near, whole = (chart(days.site, found, whole=whole) for whole in (False, True))
    assert any(line.startswith(" Beyond the drawing:") and "below 4.0" in line for line in near)
    assert any(line.lstrip().startswith("X 4.0") for line in whole)
    assert not any("Beyond" in line for line in whole)


@pytest.mark.parametrize("values", [("6.0",), ("6.0",) * 9, ("0",) * 3], ids=str)
def test_one_value_and_equal_values_are_drawn_level(values):
    days = Days()
    for n, value in enumerate(values):
        days.read("T1", -150 + 10 * n, oxygen=value)
    rows = [row for row in cells(drawn(days)) if "o" in row]
    assert len(rows) == 1
    assert rows[0].count("o") == len(values)


def test_nothing_read_is_said_in_words():
    assert chart(make_site(), week(Days())) == ("Nothing was read of Oxygen in this span.",)
    days = Days()
    days.read("T1", -24 * 9, oxygen="5.7")
    assert "before it 5.7 Sun 1 Mar" in " ".join(drawn(days))


def test_a_value_of_another_year_is_told_with_its_year():
    days = Days()
    days.read("T1", -24 * 500, oxygen="4.5")
    days.read("T1", -5, oxygen="6.5")
    assert "lowest 4.5 ! 26 Oct 2024 08:00" in says(days.site, week(days, back=600))[0]


def test_the_lowest_and_the_highest_of_thousands_are_in_the_drawing():
    days = Days()
    for n in range(3000):
        days.read("T1", -167 + n / 18, oxygen="6.0")
    days.read("T1", -77.77, oxygen="2.5")
    days.read("T1", -33.33, oxygen="9.5")
    rows = cells(drawn(days))
    marked = [row for row in rows if "o" in row]
    assert [row.count("o") for row in (marked[0], marked[-1])] == [1, 1]
    assert marked[0].index("o") > marked[-1].index("o")


@pytest.mark.parametrize(("width", "height"), [(58, 9), (78, 18), (118, 34)])
def test_no_line_is_wider_than_asked_for(width, height):
    days = falling()
    days.feed("120", -80)
    assert max(map(len, drawn(days, width=width, height=height))) <= width


def test_figures_follow_the_units_of_the_site():
    days = Days(replace(make_site(), display_units="us"))
    for hours in (-40, -30, -20):
        days.read("T1", hours, temperature="25")
    found = week(days, measure="temperature")
    assert "degF" in heading(days.site, found)
    assert "last 77.0" in says(days.site, found)[0]
    assert any(line.lstrip().startswith("77") for line in chart(days.site, found))


def test_a_value_read_out_names_hour_verdict_person_laptop_and_the_meal_before():
    days = falling()
    days.feed("120", -23)
    found = week(days)
    text = read_out(days.site, days.farm, found, found.curves[0].last, "T1")
    value = "yesterday 12:00   3.8 mg/L X ACT NOW   Ana, aaaaaa"
    assert text == f"{value}   3 h after: fed 120 g P"
    words = listed(days.site, days.farm, found)
    assert "Limit: X act below 4.0" in words
    assert words.index(value) < words.index("T1 yesterday 09:00   fed 120 g P")


# -- the axis of time ------------------------------------------------------------------------------


def named(since: datetime, until: datetime, columns: int = 70) -> list[tuple[str, datetime]]:
    zone = ZoneInfo("Europe/Lisbon")
    found = ticks(since.astimezone(UTC), until.astimezone(UTC), zone, columns)
    return [(text, datetime.fromtimestamp(at, zone)) for at, text in found]


def test_hours_under_a_day_on_which_the_clocks_change_are_those_of_the_clock():
    zone = ZoneInfo("Europe/Lisbon")
    found = named(datetime(2026, 3, 29, tzinfo=zone), datetime(2026, 3, 30, tzinfo=zone))
    assert [text for text, _ in found[1:-1]] == ["03:00", "06:00", "09:00", "12:00", "15:00",
                                                 "18:00", "21:00"]  # fmt: skip
    assert (found[0][0], found[-1][0]) == ("Sun 29", "Mon 30")
    assert all(text == f"{at:%H:%M}" for text, at in found[1:-1])


@pytest.mark.parametrize(
    ("days", "texts"),
    [(7, ["Thu 12", "Fri 13"]), (28, ["16 Mar", "23 Mar"]), (400, ["May", "Jul"])],
)
def test_longer_spans_name_days_weeks_and_months(days, texts):
    since = datetime(2026, 3, 11, 20, tzinfo=UTC)
    found = [text for text, _ in named(since, since + timedelta(days=days))]
    assert found[:2] == texts


def test_names_have_room_whatever_the_span():
    since = datetime(2026, 3, 11, 20, tzinfo=UTC)
    for days in (1, 2, 3, 5, 7, 14, 28, 60, 120, 365, 1000, 2000, 4000):
        found = named(since, since + timedelta(days=days))
        apart = [(b - a) / timedelta(days=days) * 70 for (_, a), (_, b) in pairwise(found)]
        assert found, days
        assert min(apart, default=9) >= 5, days


# -- growth ----------------------------------------------------------------------------------------


def weighed(days: Days) -> None:
    days.stock("T1", 300, "100", hours=-24 * 43)
    for day in range(-43, 1):
        days.read("T1", 24 * day - 1, temperature="24")
    for day, weight in ((-42, 101), (-28, 140), (-14, 190), (-1, 245)):
        weights = [str(weight - 5 + n % 11) for n in range(44)]
        days.write(
            e.Weighed, 24 * day, lot="L1", place="T1", count=44, mass=str(sum(map(int, weights))),
            unit="g", weights=weights,
        )  # fmt: skip


def test_growth_shows_samples_today_the_band_ahead_and_what_it_runs_into():
    days = Days(with_place(make_site(), "T1", density_kg_m3=30.0))
    weighed(days)
    (growth,) = growths(days.site, days.farm, NOW)
    lines = growth_chart(days.site, days.farm, growth, NOW)
    rows = cells(list(lines))
    text = " ".join(lines)
    assert " ".join(rows).count("~") > 10
    assert any(line.lstrip().startswith("D 500") for line in lines)  # 30 kg/m3 x 5 m3 / 300
    assert "30 kg/m3 at 500 g" in text
    assert "market size 900 g" in text
    assert "Last weighed 9 Mar 2026: 44 fish, 245 g" in text
    samples = [(n, row.index("o")) for n, row in enumerate(rows) if "o" in row]
    assert samples[0][1] > samples[-1][1]  # later and heavier: up and to the right


def test_a_lot_weighed_once_has_its_point_and_says_what_is_wanted():
    days = Days()
    days.stock("T1", 300, "100", hours=-48)
    (growth,) = growths(days.site, days.farm, NOW)
    text = " ".join(growth_chart(days.site, days.farm, growth, NOW))
    assert "No band ahead: weighed once: weigh again in a week or more" in text
    assert "s came with" in text
