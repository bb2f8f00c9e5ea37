"""Minutes of air from the book: by volume, fish, meals, age of the reading and what is off."""

from __future__ import annotations

from datetime import timedelta

import pytest
from small_farm import NOW, Days, make_site, with_place

from rounds.day.loops import air
from rounds.day.telling.board import board
from rounds.records.entry import Incident, State
from rounds.water.oxygen import saturation_mg_l


def stocked(**keys) -> Days:
    days = Days()
    days.stock("T1", **{"count": 400, "weight": "250", **keys})
    days.feed("500", -10)
    days.good_water()
    return days


def at(days: Days, place: str = "T1", site=None) -> air.AirLine:
    found = air.minutes(site or days.site, days.farm, NOW)
    return next(line for line in found if line.place == place)


def case(line: air.AirLine, off: str) -> air.Case:
    return next(one for one in line.cases if one.off == off)


def test_the_oxygen_in_the_water_is_what_the_fish_have() -> None:
    """Conservation: what the water holds above 60 % over what the fish take in a minute."""
    line = at(stocked())
    full = saturation_mg_l(24, 30, 1012.5)
    uptake = float(line.reasons[-2].values["uptake"])
    # Pirozzi & Booth 2009, active: (12.11 x 24 - 39.4) x 0.25^-0.2, long after a meal
    biomass = 100 + 0.5 / 1.3  # what the meal made them gain
    assert uptake == pytest.approx((12.11 * 24 - 39.4) * (biomass / 400) ** -0.2, rel=1e-6)
    stored_mg = 5.0 * 1000 * (6.8 - 0.6 * full)
    assert case(line, "both").to_act_min == pytest.approx(
        stored_mg / (biomass * uptake) * 60, rel=2e-3
    )
    stored_mg = 5.0 * 1000 * (6.8 - 0.4 * full)
    assert case(line, "both").to_loss_min == pytest.approx(
        stored_mg / (biomass * uptake) * 60, rel=2e-3
    )
    assert line.text == f"{int(case(line, 'both').to_act_min or 0)} min"


def test_a_meal_within_six_hours_leaves_less_and_none_on_record_counts_as_fed() -> None:
    long_ago = case(at(stocked()), "both").to_act_min
    fed = stocked()
    fed.feed("500", -2)
    unknown = Days()
    unknown.stock("T1", count=400)
    unknown.good_water()
    assert long_ago
    assert case(at(fed), "both").to_act_min == pytest.approx(long_ago / 1.5, rel=0.01)
    assert case(at(unknown), "both").to_act_min == pytest.approx(long_ago / 1.5, rel=0.01)


def test_a_reading_from_before_a_meal_is_brought_forward() -> None:
    read_first, read_last = stocked(), stocked()
    for days in (read_first, read_last):
        days.feed("500", -0.5)
    read_last.read("T1", -0.1, oxygen="6.8")
    first, last = (at(days).shortest for days in (read_first, read_last))
    assert first
    assert last
    assert (first.to_act_min or 0) < (last.to_act_min or 0)
    assert "brought forward" in " ".join(r.says for r in at(read_first).reasons)
    assert "brought forward" not in " ".join(r.says for r in at(read_last).reasons)


def test_an_outage_on_record_runs_from_when_it_began() -> None:
    days = stocked()
    days.read("T1", -0.5, oxygen="6.8")
    whole = case(at(days), "flow").to_act_min
    days.write(Incident(about="pump", event="began", loop="A"), hours=-0.1)
    line = at(days)
    assert whole
    assert case(line, "flow").to_act_min == pytest.approx(whole - 6)
    assert case(line, "air").to_act_min == pytest.approx(whole)
    assert line.shortest
    assert (line.shortest.off, line.shortest.since) == ("flow", NOW - timedelta(hours=0.1))
    assert line.text.endswith(" min flow OFF")
    days.write(Incident(about="pump", event="ended", loop="A"), hours=-0.01)
    assert case(at(days), "flow").since is None


def test_a_supply_that_goes_on_counts_only_as_measured() -> None:
    days = stocked()
    bare = at(days)
    assert len({one.to_act_min for one in bare.cases}) == 1
    aerated = with_place(days.site, "T1", aeration_per_h=3.0, flow_m3_h=5.0)
    line = at(days, site=aerated)
    assert (case(line, "flow").to_act_min or 1e9) > (case(line, "air").to_act_min or 0)
    assert case(line, "both").to_act_min == case(bare, "both").to_act_min
    assert line.text.endswith(" air off")
    days.read("T1", -1, oxygen_in="7.0")
    flowing = at(days, site=aerated)
    assert (case(flowing, "air").to_act_min or 1e9) > (case(line, "air").to_act_min or 0)
    days.write(State(place="T1", state="isolated"), hours=-0.5)
    days.read("T1", -0.4, oxygen="6.8", temperature=24, salinity=30)
    shut = at(days, site=aerated)
    assert case(shut, "air").to_act_min == case(shut, "both").to_act_min
    assert "isolated" in shut.cautions[0]


def test_the_shortest_comes_first_and_what_is_missing_last() -> None:
    days = stocked()
    days.stock("T2", count=900, lot="L2")
    days.good_water("T2")
    days.stock("P1", count=50, lot="L3")
    found = air.minutes(days.site, days.farm, NOW)
    assert [line.place for line in found] == ["T2", "loop A", "T1", "P1"]
    assert found[-1].text == "measure"
    assert "Oxygen not read here: measure it" in found[-1].missing
    days.read("P1", -25, oxygen="6.0")
    days.read("P1", -6, temperature=20, salinity=18)
    assert "too old" in at(days, "P1").missing[0]
    assert at(days, "P1").text == "measure"


def test_an_old_reading_still_counts_as_the_lowest_of_its_day_and_is_told() -> None:
    days, low = stocked(), stocked()
    for one in (days, low):
        one.entries = [e for e in one.entries if getattr(e, "measure", "") != "oxygen"]
        one.read("T1", -5, oxygen="6.8")
    low.read("T1", -12, oxygen="5.9")
    assert at(days).text.startswith("~")
    assert "too old" in at(days).missing[0]
    assert (case(at(low), "both").to_act_min or 0) < (case(at(days), "both").to_act_min or 0)


def test_a_loop_shares_all_of_its_water_from_its_lowest_tank() -> None:
    days = stocked()
    days.stock("T2", count=100, lot="L2")
    days.good_water("T2")
    days.read("T2", -0.5, oxygen="6.0")
    shared = at(days, "loop A")
    assert [one.off for one in shared.cases] == ["air"]
    assert [r.values["p"] for r in shared.reasons if "lowest" in r.says] == ["T2"]
    days.feed("2000", -7, place="T2")  # more ammonia for the filter, no fish just fed
    assert (case(at(days, "loop A"), "air").to_act_min or 1e9) < (
        case(shared, "air").to_act_min or 0
    )


def test_no_volume_and_no_weight_are_named() -> None:
    days = stocked(weight="0")
    site = with_place(make_site(), "T1", volume_m3=None)
    days.site = site
    missing = " ".join(at(days).missing)
    assert "volume of T1" in missing
    assert "weigh a sample" in missing
    assert at(days).cases == ()


def test_the_board_has_the_shorter_case_of_each_tank() -> None:
    days = stocked()
    lines = {line.place: line.air for line in board(days.site, days.farm, NOW).lines}
    assert lines["T1"] == at(days).text
    assert lines["HOUSE"] == lines["T2"] == "-"
