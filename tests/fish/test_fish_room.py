import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import air, biofilter, capacity, growth
from rounds.fish.respiration import co2_per_oxygen
from rounds.reason import lines

TANK = (5.7, 150.0, 300.0)  # m3, kg, mg/kg/h


def test_with_air_and_flow_off_the_fish_use_what_is_there():
    found = air.minutes_of_air(*TANK, 6.5, 6.8, "both")
    used = 150 * 300 / 1000 / 5.7
    assert found.to_act_min == pytest.approx((6.5 - 0.60 * 6.8) / used * 60)
    assert found.to_loss_min == pytest.approx((6.5 - 0.40 * 6.8) / used * 60)


@given(oxygen=st.floats(2, 9), age=st.floats(0, 120), off=st.sampled_from(["air", "flow", "both"]))
def test_an_old_reading_never_leaves_more_time(oxygen, age, off):
    fresh = air.minutes_of_air(*TANK, oxygen, 6.8, off)
    old = air.minutes_of_air(*TANK, oxygen, 6.8, off, reading_age_min=age)
    assert 0 <= old.to_act_min <= fresh.to_act_min <= fresh.to_loss_min
    assert old.to_loss_min <= fresh.to_loss_min


def test_reading_the_oxygen_later_gives_the_same_end():
    used = 150 * 300 / 1000 / 5.7
    then = air.minutes_of_air(*TANK, 6.5, 6.8, "both", reading_age_min=10)
    now = air.minutes_of_air(*TANK, 6.5 - used / 6, 6.8, "both")
    assert then.to_loss_min == pytest.approx(now.to_loss_min)
    assert "the reading is 10 min old" in " ".join(lines(then.reasons))


def test_supply_that_goes_on_gives_time_only_when_it_is_known():
    both = air.minutes_of_air(*TANK, 6.5, 6.8, "both", flow_m3_h=6, inflow_mg_l=6.5)
    unknown = air.minutes_of_air(*TANK, 6.5, 6.8, "air", flow_m3_h=6)
    known = air.minutes_of_air(*TANK, 6.5, 6.8, "air", flow_m3_h=6, inflow_mg_l=6.5)
    assert both.to_loss_min == unknown.to_loss_min < known.to_loss_min
    aired = air.minutes_of_air(*TANK, 6.5, 6.8, "flow", air_per_h=4)
    assert math.isinf(aired.to_loss_min)
    assert "no time foreseen" in " ".join(lines(aired.reasons))


def test_a_meal_in_the_last_six_hours_counts_and_so_does_an_unknown_one():
    fasting = air.alarm_uptake_mg_kg_h(300, 25, 8)
    assert air.alarm_uptake_mg_kg_h(300, 25, 2) == pytest.approx(1.5 * fasting)
    assert air.alarm_uptake_mg_kg_h(300, 25) == pytest.approx(1.5 * fasting)


@given(need=st.floats(50, 900), flow=st.floats(100, 50_000), inflow=st.floats(5.5, 20))
def test_the_fish_a_flow_can_carry_use_exactly_what_it_brings(need, flow, inflow):
    kg = capacity.by_oxygen_kg(flow, inflow, 5.0, need)
    assert kg * need == pytest.approx(flow * (inflow - 5.0))
    carbon = capacity.by_carbon_dioxide_kg(flow, 5, 15, need)
    assert carbon * need * co2_per_oxygen() == pytest.approx(flow * 10)
    assert capacity.by_oxygen_kg(flow, 4.9, 5.0, need) == 0


def test_the_least_limit_governs_and_all_are_told():
    found = capacity.least({"space": 170.0, "oxygen": 45.4, "ammonia": 60.0})
    assert (found.kg, found.governs) == (45.4, "oxygen")
    assert lines(found.reasons)[0] == "by oxygen: 45.4 kg"
    assert len(found.reasons) == 3


@given(count=st.integers(10, 5000), weight=st.floats(5, 400), limit=st.floats(5, 80))
def test_on_the_day_of_the_limit_the_tank_is_at_the_limit(count, weight, limit):
    days = capacity.days_to_density(count, weight, 5.7, limit, 0.6, 24)
    later = growth.weight_from_tgc_g(weight, 0.6, 24 * days)
    density = capacity.density_kg_m3(count * later / 1000, 5.7)
    assert density == pytest.approx(limit) if days else density >= limit


@pytest.mark.parametrize(
    ("running", "verdict"),
    [(1.19, "act"), (1.2, "watch"), (1.4, "ok"), (2.0, "ok"), (2.1, "watch"), (2.21, "act")],
)
def test_a_sand_bed_is_watched_outside_its_band_and_acted_on_beyond(running, verdict):
    assert biofilter.expansion_verdict(biofilter.expansion_percent(1.0, running)) == verdict


def test_a_site_sets_its_own_band():
    assert biofilter.expansion_verdict(35, (30, 60)) == "ok"
    assert biofilter.expansion_verdict(65, (30, 60)) == "watch"
