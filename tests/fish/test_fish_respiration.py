import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import respiration as r


@given(
    oxygen=st.floats(4, 9),
    uptake=st.floats(50, 900),
    biomass=st.floats(1, 300),
    supply=st.floats(0.05, 4),
)
def test_the_closed_form_is_the_balance_stepped_through_time(oxygen, uptake, biomass, supply):
    minutes = r.time_to_critical_min(
        5, biomass, uptake, oxygen, 3, reaeration_per_h=supply, saturation_mg_l=7
    )
    if math.isinf(minutes):
        assert 7 - biomass * uptake / 5000 / supply >= 3
        return
    steps = 2000
    level, dt = oxygen, minutes / 60 / steps
    for _ in range(steps):
        half = level + dt / 2 * (supply * (7 - level) - biomass * uptake / 5000)
        level += dt * (supply * (7 - half) - biomass * uptake / 5000)
    assert level == pytest.approx(3, abs=0.01)


def test_little_supply_left_is_close_to_none():
    args = (5.678, 100, 250, 6.5, 3)
    none = r.time_to_critical_min(*args)
    little = r.time_to_critical_min(*args, reaeration_per_h=1e-6, saturation_mg_l=6.8)
    assert little == pytest.approx(none, rel=1e-4)


def test_no_fish_and_no_filter_never_run_out():
    assert math.isinf(r.time_to_critical_min(5, 0, 250, 6, 3))
    assert r.time_to_critical_min(5, 100, 250, 2.9, 3) == 0


def test_oxygen_carbon_and_nitrogen_follow_their_molar_masses():
    # 1 mol N takes 2 mol O2 and 2 equivalents of alkalinity
    assert r.nitrification_oxygen_g(14.007) == pytest.approx(2 * 31.998)
    assert r.nitrification_alkalinity_g(14.007) == pytest.approx(2 * 50.043)
    assert r.co2_from_oxygen_g_day(31.998) == pytest.approx(44.009)
    assert r.co2_per_oxygen() == pytest.approx(44.009 / 31.998)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: r.routine_mg_kg_h(250, 9), "temperature 9 degC is outside 10 to 35 degC"),
        (lambda: r.resting_mg_kg_h(0, 20), "weight 0 g is outside 0.0001 to 50000 g"),
        (lambda: r.solids_kg_day(-1), "feed -1 kg/day is outside 0 to"),
        (lambda: r.tan_production_g_day(1, 45), "protein fraction 45 is outside 0 to 1"),
        (lambda: r.tan_production_g_day(math.nan, 0.4), "feed nan"),
        (lambda: r.routine_mg_kg_h(250, 20, "lazy"), "sedentary or active"),
        (lambda: r.time_to_critical_min(5, 9, 250, 6, 3, 0, 1), "saturation_mg_l is missing"),
    ],
)
def test_a_value_out_of_range_is_refused_by_name_value_unit_and_range(call, says):
    with pytest.raises(ValueError, match=says):
        call()
