"""What is asked before fish are sold, put in with others or written off, and what is taken back."""

from __future__ import annotations

import pytest
from ration_farm import good
from small_farm import NOW, Days, make_site, with_place
from test_day_recording import make

from rounds.day.lots.deaths import judge_deaths
from rounds.day.recording.forms import FORMS
from rounds.day.recording.words import words
from rounds.day.slips import Unsure
from rounds.reason import lines
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


NEW = {"lot": "RD-30", "count": "40", "origin": "a hatchery", "weight": "240 g"}


def test_none_are_put_in_with_sick_fish_unless_somebody_permits_it() -> None:
    days = good()
    days.write(e.Died, -2, place="T1", lot="L1", count=30, cause="disease")
    with pytest.raises(ValueError, match=r"30 dead of L1.*Who permits it"):
        make(days, "stocked", place="T1", **NEW)
    entry = make(days, "stocked", place="T1", permit="the vet", **NEW)
    assert words(entry).endswith("permitted by the vet")


def test_new_fish_stay_apart_first_and_a_quarantine_begins_anew_with_them() -> None:
    days = good(with_place(make_site(), "T2", stage="quarantine"))
    with pytest.raises(Unsure, match="stay apart for 28 days first: T2"):
        make(days, "stocked", place="T1", **NEW)
    assert make(days, "stocked", place="T1", parents="L1", **NEW)
    assert make(days, "stocked", place="T2", **NEW)
    days.stock("T2", lot="L2", hours=-24 * 12)
    with pytest.raises(Unsure, match="12 of 28 days of quarantine: for all of them"):
        make(days, "stocked", place="T2", **NEW)


def test_fish_are_put_in_only_where_there_is_room_and_none_ate_raw_fish() -> None:
    days = good()
    days.feed("100", -60, product="KILLI")
    with pytest.raises(Unsure, match="L1 once had live or raw fish"):
        make(days, "stocked", place="T1", **NEW)
    site = with_place(make_site(), "T1", flow_m3_h=4.0)
    with pytest.raises(Unsure, match=r"T1 has room for .* fish of 240 g .*: 4000 are too many"):
        make(good(site), "stocked", place="T1", **{**NEW, "count": "4000"})


def test_dead_that_weigh_twice_what_the_lot_weighs_are_asked_about() -> None:
    days = good()  # 250 g
    with pytest.raises(Unsure, match="550 g each, 250 g are carried"):
        make(days, "died", place="T1", lot="L1", count="1", mass="550 g")
    assert make(days, "died", place="T1", lot="L1", count="1", mass="150 g")


def test_fish_missing_at_a_count_are_told_before_it_is_kept() -> None:
    days = good()
    with pytest.raises(Unsure, match=r"20 of L1 missing: 280 counted, 300 on record. Count again"):
        make(days, "counted", place="T1", lot="L1", count="280")
    assert make(days, "counted", place="T1", lot="L1", count="298")


def test_far_more_dead_than_expected_are_asked_about() -> None:
    days = good()
    with pytest.raises(Unsure, match=r"200 dead of L1.*is the number meant"):
        make(days, "died", place="T1", lot="L1", count="200")
    assert make(days, "died", place="T1", lot="L1", count="1")
    judged = judge_deaths(days.farm, days.site.places["T1"], "L1", 200, NOW)
    (why,) = lines(judged.reasons)
    assert "chance below 0.0001" in why


def test_what_other_forms_wrote_is_taken_back_too_but_not_a_walks_own() -> None:
    days = good()
    days.write(e.Incident, -1, about="pump", event="began", loop="A")
    days.write(e.Reading, -1, place="L1", measure="rotifers_given", value="5", unit="1", verdict="")
    days.write(e.Died, -1, place="T1", lot="L1", count=1, walk="w")
    offered = FORMS["mistake"].fields[0].offers(days.farm, {})
    assert [one.partition(" ")[2].partition(" ")[2] for one in offered if "10 Mar" in one] == [
        "07:00:00 L1: 5 rotifers given", "07:00:00 fault began: pump, loop A",
    ]  # fmt: skip
    days.write(make(days, "mistake", entry=offered[1], why="it was the other pump"))
    assert not days.farm.incidents


def test_what_was_recorded_by_mistake_is_taken_back_and_its_line_stays() -> None:
    days = good()
    days.write(e.Died, -0.5, place="T1", lot="L1", count=200)
    [asked, _] = FORMS["mistake"].fields
    assert days.farm.stocks["T1"][0].count == 100
    offered = asked.offers(days.farm, {})
    assert offered[0] == "10 Mar 07:30:00 L1: 200 dead in T1"
    days.write(make(days, "mistake", entry="10 mar 07:30", why="typed in the wrong tank"))
    assert days.farm.stocks["T1"][0].count == 300
    said = words(days.entries[-1], days.farm)
    assert said == "taken back L1: 200 dead in T1: typed in the wrong tank"
    assert offered[0] not in asked.offers(days.farm, {})
    assert any(isinstance(one, e.Died) for one in days.entries)
    with pytest.raises(ValueError, match="begins with"):
        make(days, "mistake", entry="10 mar 07:30", why="once more")
