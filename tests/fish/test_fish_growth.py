import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import growth, seabream, stock

WEIGHTS = st.floats(0.01, 2000)


@given(weight=st.floats(1, 300), days=st.integers(1, 60), warm=st.floats(14, 28))
def test_stepping_day_by_day_meets_the_closed_form(weight, days, warm):
    reached = growth.step_days(weight, [warm] * days, _gain)[-1]
    if reached <= 470:
        closed = seabream.days_to_weight_seabream(weight, reached, warm)
        assert closed == pytest.approx(days, rel=0.002)


def _gain(weight_g, temperature_c):
    return seabream.seabream_gain_g_day(min(weight_g, 470), temperature_c)


@given(weight=st.floats(0.1, 500), tgc=st.floats(0.05, 2), temperatures=st.lists(st.floats(10, 30)))
def test_days_of_tgc_growth_add_up_to_their_degree_days(weight, tgc, temperatures):
    stepped = weight
    for value in temperatures:
        stepped += growth.tgc_gain_g_day(stepped, tgc, value)
    at_once = growth.weight_from_tgc_g(weight, tgc, growth.degree_days_c(temperatures))
    assert stepped == pytest.approx(at_once, rel=1e-9)


@given(start=WEIGHTS, end=WEIGHTS, days=st.floats(10, 400), warm=st.floats(10, 30))
def test_rates_found_backwards_lead_forwards_again(start, end, days, warm):
    sgr = growth.sgr_percent_day(start, end, days)
    if -20 <= sgr <= 60:
        assert growth.weight_from_sgr_g(start, sgr, days) == pytest.approx(end)
    tgc = growth.tgc_x1000(start, end, warm * days)
    if 0.001 < tgc <= 10:
        assert growth.weight_from_tgc_g(start, tgc, warm * days) == pytest.approx(end)
        assert growth.days_to_weight_tgc(start, end, tgc, warm) == pytest.approx(days)


def test_the_band_of_a_projection_widens_and_holds_the_middle():
    spread = [growth.project_tgc(200, 5, 0.8, 0.1, dd) for dd in (0, 500, 1500, 3000)]
    widths = [p.high_g - p.low_g for p in spread]
    assert widths == sorted(widths)
    assert widths[0] == pytest.approx(2 * 1.96 * 5, rel=0.01)
    assert all(p.low_g < p.weight_g < p.high_g for p in spread)


def test_a_coefficient_knows_its_scale_and_where_it_holds():
    printed = growth.Tgc(0.222, 100, (9, 13), (10, 350))
    assert printed.x1000 == pytest.approx(2.22)
    assert printed.covers(100, 11)
    assert not printed.covers(100, 13.5)
    assert not printed.covers(351, 11)


def test_a_missing_first_day_has_nothing_to_carry():
    with pytest.raises(ValueError, match="first day is missing"):
        growth.filled([None, 21.0])


def test_a_weight_above_the_equation_is_refused_and_not_stretched():
    with pytest.raises(ValueError, match="weight 471 g is outside 1 to 470 g"):
        seabream.seabream_gain_g_day(471, 24)


@given(
    count=st.integers(1, 10_000),
    weight=st.floats(0.1, 2000),
    eaten=st.floats(0, 500),
    fcr=st.floats(0.5, 5),
    share=st.floats(0, 1),
)
def test_biomass_carried_is_what_lived_and_what_was_eaten(count, weight, eaten, fcr, share):
    dead = int(count * share)
    carried = stock.carry_forward(count, weight, eaten, fcr, dead)
    assert carried.count == count - dead
    assert carried.biomass_kg == pytest.approx(carried.count * carried.weight_g / 1000)
    if carried.count:
        before_kg = carried.count * weight / 1000
        assert carried.biomass_kg - before_kg == pytest.approx(eaten / fcr, abs=1e-6)


@given(
    start=st.integers(0, 5000),
    dead=st.integers(0, 500),
    out=st.integers(0, 500),
    into=st.integers(0, 500),
)
def test_no_fish_come_from_nowhere(start, dead, out, into):
    if start + into < dead + out:
        with pytest.raises(ValueError, match="fish left"):
            stock.count_ledger(start, dead, 0, out, into)
    else:
        left = stock.count_ledger(start, dead, 0, out, into)
        assert left + dead + out == start + into


def test_fish_that_leave_are_no_deaths():
    # 100 at risk, 10 die; 60 are moved on; 3 of the 30 left die
    assert stock.survival([(100, 10), (30, 3)]) == pytest.approx(0.81)


def test_survival_and_instantaneous_mortality_are_two_words_for_one_thing():
    assert math.exp(-stock.mortality_z_per_day(0.73, 103) * 103) == pytest.approx(0.73)


def test_gain_that_is_not_positive_gives_no_fcr():
    assert stock.fcr_biological(10, 100, 100) is None
    assert stock.fcr_biological(10, 100, 110, moved_in_kg=10) is None
    assert stock.fcr_economic(10, 100, 90, removed_kg=20) == pytest.approx(1.0)
