"""Two tests of one water that disagree: the worse one counts, for feed and dose alike."""

from __future__ import annotations

from small_farm import NOW, Days

from rounds.day.feeding import rations
from rounds.day.loops import doses
from rounds.day.readings.derived import derived
from rounds.day.readings.inputs import Inputs
from rounds.day.verdict import of_place
from rounds.reason import render


def farm(*tests: tuple[float, str]) -> Days:
    days = Days()
    days.stock()
    days.good_water(hours=-3)
    for hours, tan in tests:
        days.read("T1", hours, tan=tan)
    return days


def tan(days: Days, place: str = "T1") -> float:
    inputs = Inputs(days.farm, days.site.places[place], NOW)
    assert inputs.take("tan") is not None
    return inputs.take("tan") or 0.0


def test_a_retest_that_disagrees_waits_for_a_third() -> None:
    assert tan(farm((-0.5, "1.9"))) == 1.9
    assert tan(farm((-0.5, "1.9"), (-0.4, "0.40"))) == 1.9
    assert tan(farm((-0.5, "1.9"), (-0.4, "0.40"), (-0.3, "0.42"))) == 0.42
    assert tan(farm((-0.5, "0.40"), (-0.4, "1.9"))) == 1.9
    assert tan(farm((-0.5, "0.40"), (-0.4, "0.42"), (-0.3, "1.9"))) == 1.9


def test_two_that_agree_within_the_test_and_one_of_another_hour_are_no_quarrel() -> None:
    assert tan(farm((-0.5, "0.44"), (-0.4, "0.40"))) == 0.40
    assert tan(farm((-2.6, "1.9"), (-0.4, "0.40"))) == 0.40


def test_the_other_test_is_told_in_the_reasons() -> None:
    days = farm((-0.5, "1.9"), (-0.4, "0.40"))
    [ammonia] = [d for d in derived(days.site, days.farm, days.site.places["T1"], NOW)
                 if d.measure == "ammonia"]  # fmt: skip
    told = " ".join(render(reason) for reason in ammonia.reasons)
    assert "0.40 in T1" in told
    assert "1.9 counts until two tests agree" in told


def test_feed_and_dose_go_by_the_same_test() -> None:
    bad = {"ph": "8.2", "alkalinity": "60"}
    for third, stopped in (((), True), (((-0.3, "0.42"),), False)):
        days = farm((-0.5, "6.0"), (-0.4, "0.40"), *third)
        days.read("T1", -0.2, **bad)
        [ration] = [r for r in rations.today(days.site, days.farm, NOW) if r.place == "T1"]
        sheet = next(s for s in doses.today(days.site, days.farm, NOW) if s.loop == "A")
        says = " ".join((*sheet.cautions, *(c for line in sheet.lines for c in line.refused)))
        assert ration.no_feed == stopped
        assert ("disagree: 6.0 counts" in says) == stopped


def test_yesterdays_ph_of_a_tank_gives_way_to_todays_of_its_loop() -> None:
    days = Days()
    days.stock()
    days.read("T1", -20, ph="7.6")
    days.read("T2", -0.5, ph="8.1")
    days.read("M1", -0.2, ph="8.4")
    inputs = Inputs(days.farm, days.site.places["T1"], NOW)
    assert inputs.take("ph") == 8.1  # of a tank, not of the mats in the sun
    days.read("T1", -10, ph="7.7")
    assert Inputs(days.farm, days.site.places["T1"], NOW).take("ph") == 7.7


def test_a_neighbours_worse_nitrite_says_why_it_counts_and_an_older_one_does_not_count() -> None:
    days = farm()
    days.stock("T2", lot="L2")
    days.good_water("T2", hours=-3)
    days.read("T2", -0.5, nitrite="0.60")
    days.read("T1", -0.4, nitrite="0.12")
    found = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    [nitrite] = [one for one in found.judgements if one.measure == "nitrite"]
    assert nitrite.says.endswith("in T2")
    told = " ".join(render(reason) for reason in nitrite.reasons)
    assert "0.12 in T1" in told
    assert "disagrees: 0.60 counts until two tests agree" in told
    days = farm()
    days.read("T2", -2.6, nitrite="0.60")
    days.read("T1", -0.4, nitrite="0.12")
    found = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    [nitrite] = [one for one in found.judgements if one.measure == "nitrite"]
    assert nitrite.value == 0.12
