"""Fish off their feed: told on the day stated, with what stands beside it, and not for a slip."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days

from rounds.day.feeding.off_feed import off_feed
from rounds.day.telling.board import board
from rounds.records import entry as e


def eaten(*percent_left: float, last_ago_h: float = 2.0) -> Days:
    """Return a farm whose last days each left so many percent of 100 g, the last one lately."""
    days = Days()
    days.stock()
    for ago, left in enumerate(reversed(percent_left)):
        days.feed("100", -last_ago_h - 24 * ago, left=f"{left:g}")
    return days


def says(days: Days) -> list[str]:
    return [one.says for one in off_feed(days.farm, days.site.places["T1"], NOW)]


@pytest.mark.parametrize(
    ("left", "told"),
    [
        ((1, 1, 10), True),  # a tenth, on its day
        ((1, 1, 9), False),
        ((1, 6, 6), True),  # a twentieth on the second day
        ((1, 1, 6), False),
        ((3.5, 4, 6, 6), False),  # not twice their habit
        ((1, 12, 3), False),  # they eat again
        ((10,), True),
        ((6, 6), False),  # nothing is known of their habit
    ],
)
def test_what_is_left_is_told_on_the_day_stated(left: tuple[float, ...], told: bool) -> None:
    assert bool(says(eaten(*left))) is told


def test_it_says_day_by_day_what_was_left_when_and_by_whom() -> None:
    (line,) = says(eaten(1, 1, 7, 13))
    assert line == (
        "Off feed since Mon 9 Mar: 7, 13 % left, 1 % before; 13 of 100 g at the last meal "
        "(Ana, today 06:00)"
    )


def test_water_out_of_band_and_the_dead_since_then_stand_beside_it() -> None:
    days = eaten(1, 1, 7, 13)
    days.read("T1", -60, oxygen="4.2")  # before it began
    assert "oxygen" not in says(days)[0]
    days.read("T1", -1, oxygen="4.4", ph="7.6")
    days.write(e.Died, -60, place="T1", lot="L1", count=5, cause="jumped")
    days.write(e.Died, -3, place="T1", lot="L1", count=2, cause="disease suspected")
    (judged,) = off_feed(days.farm, days.site.places["T1"], NOW)
    assert judged.says.endswith("; oxygen 4.4 mg/L (today 07:00); 2 dead since, disease suspected")
    assert judged.do.startswith("Mend the water first.")
    assert judged.verdict == "watch"


def test_it_is_told_for_three_days_without_a_meal_and_no_longer() -> None:
    assert says(eaten(1, 20, last_ago_h=71))
    assert not says(eaten(1, 20, last_ago_h=73))


def test_larvae_and_meals_nobody_looked_at_say_nothing() -> None:
    days = eaten(1, 1)
    days.feed("100", -1)
    days.stock("L1", lot="LV")
    days.feed("100", -1, place="L1", left="50")
    assert says(days) == []
    assert off_feed(days.farm, days.site.places["L1"], NOW) == []


def test_it_stands_on_the_board() -> None:
    days = eaten(1, 1, 7, 13)
    days.read("T1", -1, oxygen="6.5", temperature="24", salinity="30")
    site = replace(days.site, checklists={})
    (line,) = [line for line in board(site, days.farm, NOW).worst if line.place == "T1"]
    assert line.says.startswith("Off feed since")
