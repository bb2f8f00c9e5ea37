"""What is asked before fish are sold, put in with others or written off, and what is taken back."""

from __future__ import annotations

import pytest
from ration_farm import good
from small_farm import Days
from test_day_recording import make

from rounds.day.recording.forms import FORMS
from rounds.day.recording.words import words
from rounds.day.slips import Unsure
from rounds.records import entry as e


def sold(days: Days, **more: str) -> e.Entry:
    asked = {"place": "T1", "lot": "L1", "count": "10", "cause": "sold", **more}
    return make(days, "removed", **asked)


def test_a_sale_waits_for_empty_guts_and_says_to_whom() -> None:
    days = good()
    days.feed("900", -10)
    with pytest.raises(Unsure, match=r"no feed until .*Fish are sold with empty guts"):
        sold(days)
    days = good()
    days.feed("900", -50)
    entry = sold(days, to="an invented buyer")
    assert isinstance(entry, e.Removed)
    assert (entry.to, words(entry)) == (
        "an invented buyer", "L1: 10 fish out of T1, sold to an invented buyer",
    )  # fmt: skip


def test_feed_that_was_not_written_down_is_asked_about_before_a_sale() -> None:
    with pytest.raises(Unsure, match="no feed on record for three days"):
        sold(good())


def test_fish_that_ate_live_fish_once_are_sold_with_that_said() -> None:
    days = good()
    days.feed("100", -60, product="KILLI")
    days.feed("900", -50)
    with pytest.raises(Unsure, match="freezing for raw eating"):
        sold(days)


def test_small_fish_are_not_put_in_with_those_that_eat_them() -> None:
    days = good()  # 250 g
    asked = {"place": "T1", "lot": "RD-30", "count": "40", "origin": "own larvae"}
    with pytest.raises(Unsure, match="the large ones eat them"):
        make(days, "stocked", weight="4.2 g", **asked)
    assert make(days, "stocked", weight="200 g", **asked)


def test_far_more_dead_than_expected_are_asked_about() -> None:
    days = good()
    with pytest.raises(Unsure, match=r"200 dead of L1.*is the number meant"):
        make(days, "died", place="T1", lot="L1", count="200")
    assert make(days, "died", place="T1", lot="L1", count="1")


def test_what_was_recorded_by_mistake_is_taken_back_and_its_line_stays() -> None:
    days = good()
    days.write(e.Died, -0.5, place="T1", lot="L1", count=200)
    [asked, _] = FORMS["mistake"].fields
    assert days.farm.stocks["T1"][0].count == 100
    offered = asked.offers(days.farm, {})
    assert offered[0] == "10 Mar 07:30:00 L1: 200 dead in T1"
    days.write(make(days, "mistake", entry="10 mar 07:30", why="typed in the wrong tank"))
    assert days.farm.stocks["T1"][0].count == 300
    assert offered[0] not in asked.offers(days.farm, {})
    assert any(isinstance(one, e.Died) for one in days.entries)
    with pytest.raises(ValueError, match="begins with"):
        make(days, "mistake", entry="10 mar 07:30", why="once more")
