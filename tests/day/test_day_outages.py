"""A supply that is out, and oxygen that a meal would take: nothing is fed, the clock is told."""

from __future__ import annotations

import pytest
from dose_farm import line_of, read_all
from ration_farm import fed_on, good
from small_farm import NOW, Days, make_site

from rounds.day.feeding import meals
from rounds.day.lots.room import room
from rounds.day.readings.derived import derived
from rounds.day.readings.outages import outage
from rounds.day.telling import handoff
from rounds.day.telling.board import board
from rounds.day.telling.boardfeed import feed_cells
from rounds.day.verdict import of_place
from rounds.records import entry as e


def faulty(about: str = "pump", **where: str) -> Days:
    days = good()
    days.feed("900", -20)
    days.write(e.Incident, -0.1, about=about, event="began", **(where or {"loop": "A"}))
    return days


@pytest.mark.parametrize("about", ["pump", "air", "power"])
def test_an_open_fault_withholds_feed_until_it_is_ended(about: str) -> None:
    days = faulty(about)
    ration = fed_on(days)
    assert ration.no_feed
    assert f"{about.capitalize()} of loop A off since" in ration.held_back
    assert (ration.total_g, ration.next_meal_g) == (0, 0)
    days.write(e.Incident, -0.05, about=about, event="ended", loop="A")
    assert not fed_on(days).no_feed


def test_a_fault_of_another_place_or_thing_withholds_nothing() -> None:
    assert not fed_on(faulty("pump", place="T2")).no_feed
    assert not fed_on(faulty("leak")).no_feed
    assert fed_on(faulty("pump", place="T1")).no_feed


def test_a_running_clock_is_an_act_and_told_first_with_its_hours() -> None:
    days = faulty()
    days.stock("T2", lot="L2", count=20, weight="50")
    days.good_water("T2")
    days.read("T2", -0.5, oxygen="3.9")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert (stands.verdict, stands.judgements[0].measure) == ("act", "supply")
    assert "Pump of loop A off since 07:54" in stands.judgements[0].says
    assert "act by " in stands.judgements[0].says
    assert "losses " in stands.judgements[0].says
    found = board(days.site, days.farm, NOW)
    first, second = found.worst[:2]  # T2 lasts less long, and its own oxygen is an act too
    assert (first.place, second.place) == ("T2", "T1")
    assert first.says.endswith("(and oxygen)")
    assert second.air.endswith("OFF")
    handed = handoff.places(days.site, days.farm, NOW)
    assert [one.says for one in handed[:2]] == [first.says, second.says]


def test_ammonia_tested_here_presses_before_that_of_another_tank() -> None:
    days = Days()
    for code, lot in (("L1", "LL"), ("T1", "LA"), ("T2", "LB")):
        days.stock(code, lot=lot, count=50, weight="50")
        days.read(code, -1, oxygen="7", temperature="24", salinity="30", ph="8.2", nitrite="0.1")
    days.read("T2", -0.5, tan="6")
    found = board(days.site, days.farm, NOW).worst
    assert {"NH3-N" in line.says for line in found} == {True}
    assert found[0].place == "T2"


def test_the_worked_out_line_writes_the_digit_that_tells_it_from_its_limit() -> None:
    days = good()
    days.read("T1", -0.1, oxygen="4.23")  # rounds to 60 %
    [line] = [one.line for one in derived(days.site, days.farm, days.site.places["T1"], NOW)
              if one.measure == "oxygen_percent"]  # fmt: skip
    assert line.startswith("Oxygen 59.")
    assert line.endswith(" % X ACT NOW")


def test_nothing_is_poured_into_water_that_stands_still() -> None:
    days = read_all(make_site())
    assert line_of(days, "alkalinity", "BIC").amount > 0
    days.write(e.Incident, -0.1, about="pump", event="began", loop="A")
    line = line_of(days, "alkalinity", "BIC")
    assert (line.amount, line.portions) == (0, ())
    assert "Pump of loop A off" in line.refused[0]
    assert line_of(days, "exchange").amount > 0


def test_a_meal_that_would_take_oxygen_below_act_is_withheld() -> None:
    """By hand: at 24 degC, S 30 full is 7.10; 5.1 - 0.5 x 2.0 = 4.1 is 58 %, below 60."""
    days = good()
    days.feed("900", -20)
    days.read("T1", -0.2, oxygen="5.1")
    ration = fed_on(days)
    assert ration.no_feed
    assert "A meal would take oxygen from 5.1 mg/L (72 %) to 4.1 mg/L (58 %)" in ration.held_back
    assert "[" not in ration.held_back  # a source is for the why-view
    days.read("T1", -0.1, oxygen="5.4")
    assert not fed_on(days).no_feed
    days.feed("200", -1)  # what is read within six hours of a meal has it in it already
    days.read("T1", -0.1, oxygen="5.1")
    assert not fed_on(days).no_feed


def test_oxygen_that_was_an_act_when_read_ends_by_oxygen_only() -> None:
    days = good()
    days.read("T1", -0.5, verdict="act", oxygen="4.3")
    days.read("T2", -0.2, salinity="33")
    place = days.site.places["T1"]
    assert of_place(days.site, days.farm, place, NOW).verdict == "act"
    assert fed_on(days).no_feed
    days.read("T1", -0.1, oxygen="6.5")
    assert of_place(days.site, days.farm, place, NOW).verdict != "act"
    assert not fed_on(days).no_feed


@pytest.mark.parametrize(("later", "over"), [
    ({-0.1: "4.6"}, False),  # one better reading, minutes later
    ({-0.1: "5.6"}, True),  # one that is ok: 79 %
    ({-0.4: "4.6", -0.1: "4.7"}, False),  # 18 minutes apart
    ({-0.7: "4.6", -0.1: "4.7"}, True),
    ({-0.7: "4.6", -0.3: "3.9", -0.1: "4.7"}, False),  # it fell again
])  # fmt: skip
def test_an_oxygen_act_ends_by_one_good_reading_or_two_better_ones_half_an_hour_apart(
    later: dict[float, str], over: bool
) -> None:
    days = good()
    days.feed("200", -2)  # they digest already: a meal takes no more
    days.read("T1", -0.8, verdict="act", oxygen="4.1")
    for hours, value in later.items():
        days.read("T1", hours, oxygen=value)
    stands, ration = of_place(days.site, days.farm, days.site.places["T1"], NOW), fed_on(days)
    assert (stands.verdict == "act", ration.no_feed) == (not over, not over)
    if not over:
        assert "not over, read it again from " in ration.held_back
        assert "not over, read it again from " in stands.judgements[0].says


def test_fish_seen_gasping_get_nothing_until_somebody_looked_again() -> None:
    days = good()
    seen = {"place": "T1", "step": "look"}
    days.write(e.Answer, -0.3, value="gasping at surface", verdict="act", **seen)
    assert "look again before feeding" in fed_on(days).held_back
    days.write(e.Answer, -0.1, value="calm and spread", verdict="ok", **seen)
    assert not fed_on(days).no_feed


def test_many_dead_ask_before_the_half_meal_is_kept() -> None:
    days = good()
    days.write(e.Died, -0.5, place="T1", lot="L1", count=7)
    ration = fed_on(days)
    assert ration.factor == 0.5
    assert ration.held_back.startswith("see to ACT NOW first; ")
    assert feed_cells(days.site, days.farm, NOW)["T1"][1] == "see ACT"
    with pytest.raises(meals.Unsure, match="supervisor or the veterinarian"):
        meals.fed(ration, meal=1)


def test_a_call_for_the_veterinarian_asks_before_a_meal_is_kept() -> None:
    days = good()
    for ago, count in ((49, 2), (25, 3), (1, 4)):
        days.write(e.Died, -ago, place="T1", lot="L1", count=count)
    assert of_place(days.site, days.farm, days.site.places["T1"], NOW).verdict == "act"
    with pytest.raises(meals.Unsure, match="supervisor or the veterinarian"):
        meals.fed(fed_on(days), meal=1)


def test_ammonia_tested_elsewhere_does_not_starve_larvae() -> None:
    days = Days()
    days.stock("L1", lot="LL", count=5000, weight="0.001")
    days.read("L1", -1, oxygen="7", temperature="24", salinity="30", ph="8.2", nitrite="0.1")
    days.read("T1", -0.5, tan="6", ph="8.2")
    ration = fed_on(days, "L1")
    assert not ration.no_feed
    assert "tested in T1: test TAN here now" in " ".join(ration.cautions)
    days.read("L1", -0.2, tan="6")
    days.read("L1", -0.1, tan="6")
    assert fed_on(days, "L1").no_feed


def test_no_fish_fit_while_a_supply_is_out() -> None:
    days = faulty()
    found = room(days.site, days.farm, days.site.places["T1"], NOW, 300.0, 1)
    assert not found.fits
    assert found.cautions[0] == "Pump of loop A off since 07:54: no fish go in until it runs"
    days.write(e.Incident, -0.05, about="pump", event="ended", loop="A")
    assert "no fish go in" not in " ".join(room(
        days.site, days.farm, days.site.places["T1"], NOW, 300.0, 1).cautions)  # fmt: skip


def test_what_is_out_is_said_with_where_and_since_when() -> None:
    days = faulty("power", place="T1")
    assert outage(days.farm, days.site.places["T1"], NOW) == "power of T1 off since 07:54"
    assert outage(days.farm, days.site.places["T2"], NOW) == ""
