"""Salt, fresh water, exchange and thiosulfate: what goes in is what is there."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rounds.dosing import chlorine, exchange, salt
from rounds.dosing.salinity import lower_salinity, raise_salinity, top_up
from rounds.reason import lines
from rounds.water.seawater import density_kg_m3

quick = settings(max_examples=60, deadline=None)
volumes = st.floats(0.5, 500)
temperatures = st.floats(8, 34)
salinities = st.floats(1, 38)


def rise(**changes):
    return raise_salinity(
        **{
            "volume_m3": 10.0,
            "temperature_c": 20.0,
            "practical_salinity": 28.0,
            "target_salinity": 30.0,
            "salt_fraction": 0.95,
            **changes,
        }
    )


def fall(**changes):
    return lower_salinity(
        **{
            "volume_m3": 10.0,
            "temperature_c": 20.0,
            "practical_salinity": 33.0,
            "target_salinity": 30.0,
            "in_salinity": 0.3,
            "in_temperature_c": 20.0,
            **changes,
        }
    )


def swap(**changes):
    return exchange.partial_exchange(
        **{
            "volume_m3": 10.0,
            "fraction": 0.2,
            "temperature_c": 24.0,
            "practical_salinity": 32.0,
            "in_temperature_c": 24.0,
            "in_salinity": 32.0,
            **changes,
        }
    )


# --- salt ----------------------------------------------------------------------------------------


@quick
@given(volumes, temperatures, salinities, st.floats(0.1, 8), st.floats(0.7, 1))
def test_salt_is_conserved(v, t, s, step, fraction):
    target = min(s + step, 41)
    mass = v * density_kg_m3(t, s)
    added = salt.salt_to_add_kg(v, t, s, target, fraction)
    assert (mass * s / 1000 + added * fraction) / (mass + added) * 1000 == pytest.approx(target)
    assert salt.salinity_with_salt(mass, s, added, fraction) == pytest.approx(target)


@quick
@given(volumes, temperatures, st.floats(5, 38), st.floats(0, 4), st.floats(0.05, 0.9))
def test_fresh_water_conserves_salt(v, t, s, fresh, part):
    target = fresh + (s - fresh) * part
    assume(target > fresh + 0.01)
    mass = v * density_kg_m3(t, s)
    added = salt.fresh_water_to_add_kg(v, t, s, target, fresh)
    assert exchange.mixed_salinity(mass, s, added, fresh) == pytest.approx(target)
    x = salt.fraction_to_replace(s, target, fresh)
    assert exchange.mixed_salinity(mass * (1 - x), s, mass * x, fresh) == pytest.approx(target)


@quick
@given(st.floats(100, 1e6), salinities, st.floats(0, 0.5))
def test_evaporation_never_lowers_salinity_and_is_found_again(mass, s, part):
    after = salt.salinity_after_evaporation(mass, s, part * mass)
    assert after >= s * (1 - 1e-12)
    assume(s <= after <= 60)
    lost = salt.evaporated_kg(mass * (1 - part), after, s)
    assert lost == pytest.approx(part * mass, rel=1e-6, abs=1e-6 * mass)


def test_a_salt_dose_is_weighed_split_and_told():
    found = rise()
    mass = 10 * density_kg_m3(20, 28)
    assert found.total_g == sum(found.portions_g)
    by_hand = (mass * 28 + found.total_g * 0.95) / (mass + found.total_g / 1000)
    assert found.salinity == pytest.approx(by_hand)
    assert found.salinity == pytest.approx(30, abs=0.02)
    assert found.first_salinity - 28 <= 1
    assert f"{found.total_g / 1000:.2f} kg" in " ".join(lines(found.reasons))
    assert any("an hour after each portion" in m for m in found.measure_after)


def test_the_days_rise_is_limited_for_fish_and_the_rest_left():
    found = rise(target_salinity=35.0)
    assert found.salinity == pytest.approx(30, abs=0.02)
    assert found.left_salinity == pytest.approx(5, abs=0.02)
    assert any("rest on later days" in c for c in found.cautions)
    assert any("living filter" in c for c in found.cautions)
    assert rise(risen_today=2.0).total_g == 0
    empty = rise(target_salinity=35.0, stocked=False)
    assert empty.salinity == pytest.approx(35, abs=0.02)


def test_a_step_the_living_filter_would_not_survive_is_refused():
    step = {"practical_salinity": 2.0, "target_salinity": 20.0, "stocked": False}
    assert "living filter" in rise(**step).refused[0]
    assert rise(**step).total_g == 0
    assert rise(**step, living_filter=False).total_g > 0
    down = fall(practical_salinity=30.0, target_salinity=10.0, stocked=False)
    assert "living filter" in down.refused[0]
    assert down.volume_in_l == 0
    assert down.left_fraction == pytest.approx(20 / 29.7, abs=0.01)


def test_plain_salt_is_not_sea_salt():
    assert any("not sea salt" in c for c in rise(sea_salt=False).cautions)
    assert not any("not sea salt" in c for c in rise().cautions)


def test_no_salt_and_no_water_is_needed_the_other_way():
    assert rise(target_salinity=25.0).expect.startswith("No salt needed")
    assert rise(target_salinity=25.0).total_g == 0
    assert fall(target_salinity=35.0).expect.startswith("No water needed")
    assert fall(target_salinity=35.0).volume_in_l == 0


# --- water ---------------------------------------------------------------------------------------


def test_fresh_water_brings_the_salinity_wanted_in_steps_fish_stand():
    found = fall()
    assert found.salinity == pytest.approx(30, abs=0.05)
    assert found.volume_in_l == found.volume_out_l == sum(found.portions_l)
    salt_left, rho = 33.0, density_kg_m3(20, 33)
    for part in found.portions_l:
        before = salt_left
        x = part / 1e4
        comes = x * density_kg_m3(20, 0.3)
        stays = (1 - x) * rho
        salt_left = (stays * salt_left + comes * 0.3) / (stays + comes)
        rho = density_kg_m3(20, salt_left)
        assert before - salt_left <= 1.001
    assert found.salinity == pytest.approx(salt_left)


def test_a_fall_is_limited_to_five_a_day_with_fish():
    found = fall(practical_salinity=35.0, target_salinity=25.0)
    assert 35 - found.salinity <= 5.01
    assert found.left_fraction > 0
    assert any("today" in c for c in found.cautions)


def test_the_new_water_has_to_be_able_to_bring_the_target():
    with pytest.raises(ValueError, match="out of reach"):
        fall(in_salinity=30.0)
    with pytest.raises(ValueError, match=r"too close to 29\.9 of the new"):
        fall(in_salinity=29.9)


@quick
@given(
    volumes,
    st.floats(0, 0.9),
    temperatures,
    salinities,
    temperatures,
    salinities,
    st.booleans(),
)
def test_an_exchange_stays_between_the_two_waters(v, part, t, s, t_in, s_in, stocked):
    found = swap(
        volume_m3=v,
        fraction=part,
        temperature_c=t,
        practical_salinity=s,
        in_temperature_c=t_in,
        in_salinity=s_in,
        stocked=stocked,
    )
    assert min(s, s_in) - 1e-9 <= found.salinity <= max(s, s_in) + 1e-9
    assert min(t, t_in) - 1e-6 <= found.temperature_c <= max(t, t_in) + 1e-6
    assert 0 < found.kept_fraction <= 1
    assert found.volume_in_l == found.volume_out_l == sum(found.portions_l)
    if not stocked:
        assert len(found.portions_l) <= 1
        assert found.left_fraction == 0
        return
    assert abs(found.temperature_c - t) <= 3.1
    assert s - found.salinity <= 5.1
    assert found.salinity - s <= 2.1
    if found.portions_l:
        first = max(found.portions_l) / 1000 / v
        assert first * max(abs(t_in - t), abs(s_in - s)) <= 1.05


def test_an_exchange_says_what_to_match_and_where_to_discharge():
    found = swap(in_temperature_c=16.0, in_salinity=28.0)
    told = " ".join((*found.cautions, *found.measure_after, *lines(found.reasons)))
    for words in ("8.0 degC colder", "gives off gas", "moves the loop", "permit", "chlorine"):
        assert words in told
    plain = " ".join(swap().cautions)
    assert "colder" not in plain
    assert "moves the loop" not in plain
    assert "permit" in plain
    assert "More than half" in " ".join(swap(fraction=0.6).cautions)


@quick
@given(st.floats(0, 200), st.floats(0, 200), st.floats(0, 1), st.integers(0, 30))
def test_batches_stay_between_and_approach_the_new_water(c0, cin, x, n):
    found = exchange.after_batches(c0, cin, x, n)
    assert min(c0, cin) - 1e-9 <= found <= max(c0, cin) + 1e-9
    again = exchange.after_batches(found, cin, x, 1)
    assert again == pytest.approx(exchange.after_batches(c0, cin, x, n + 1), abs=1e-9)


def test_one_volume_replaced_continuously_removes_63_percent():
    assert exchange.after_flow(100, 0, 2, 10, 5) == pytest.approx(100 * math.exp(-1))


@quick
@given(st.floats(1, 200), st.floats(0, 200), st.floats(0.1, 5), st.floats(1, 60), st.floats(0, 100))
def test_the_time_to_a_target_is_the_time_it_takes(c0, cin, q, v, p):
    halfway = (c0 + cin + p / q) / 2
    assume(abs(c0 - cin - p / q) > 0.1)
    hours = exchange.hours_to_reach(c0, halfway, cin, q, v, p)
    assert exchange.after_flow(c0, cin, q, v, hours, p) == pytest.approx(halfway, rel=1e-9)
    assert exchange.hours_to_reach(c0, c0, cin, q, v, p) == 0
    assert math.isinf(exchange.hours_to_reach(c0, cin + p / q, cin, q, v, p))


def test_a_small_flow_is_nearly_none():
    slow = exchange.after_flow(5, 1, 1e-6, 10, 24, 2)
    assert exchange.after_flow(5, 1, 0, 10, 24, 2) == pytest.approx(slow, rel=1e-4)


def test_a_target_beyond_the_new_water_is_out_of_reach():
    with pytest.raises(ValueError, match="target 10"):
        exchange.hours_to_reach(50, 10, 20, 1, 10)


@quick
@given(st.floats(1, 1e4), temperatures, salinities, st.floats(1, 1e4), temperatures, salinities)
def test_mixing_conserves_and_stays_between(m1, t1, s1, m2, t2, s2):
    s = exchange.mixed_salinity(m1, s1, m2, s2)
    t = exchange.mixed_temperature_c(m1, t1, s1, m2, t2, s2)
    assert min(s1, s2) - 1e-9 <= s <= max(s1, s2) + 1e-9
    assert min(t1, t2) - 1e-9 <= t <= max(t1, t2) + 1e-9
    assert s * (m1 + m2) == pytest.approx(m1 * s1 + m2 * s2)


# --- top-up --------------------------------------------------------------------------------------


def refill(**changes):
    return top_up(
        **{
            "full_m3": 10.0,
            "now_m3": 9.5,
            "temperature_c": 25.0,
            "practical_salinity": 34.7,
            "in_salinity": 0.0,
            "in_temperature_c": 25.0,
            "salinity_before": 33.0,
            **changes,
        }
    )


def test_a_top_up_brings_back_volume_and_salinity():
    found = refill()
    assert found.volume_in_l == 500
    assert found.volume_out_l == 0
    assert found.salinity == pytest.approx(33.0, abs=0.1)
    assert not any("leak" in c for c in found.cautions)


def test_a_level_that_fell_with_its_salt_is_a_leak():
    found = refill(practical_salinity=33.0)
    assert "leak" in found.cautions[0]
    assert not any("leak" in c for c in refill(practical_salinity=33.0, now_m3=9.95).cautions)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"now_m3": 5.0}, "look for a leak and fill with water of like salinity"),
        ({"now_m3": 8.0, "in_salinity": 33.0, "in_temperature_c": 5.0}, "new water nearer first"),
    ],
)
def test_a_top_up_that_would_shock_the_fish_is_refused(changes, words):
    found = refill(**changes)
    assert words in found.refused[0]
    assert (found.portions_l, found.volume_in_l, found.expect, found.how) == ((), 0, "", ())
    assert (found.salinity, found.temperature_c) == (34.7, 25.0)
    assert "leak" in found.cautions[0]


def test_salt_water_as_top_up_is_cautioned():
    assert any("creep" in c for c in refill(in_salinity=30.0).cautions)
    assert not any("creep" in c for c in refill().cautions)


def test_a_full_loop_needs_nothing():
    found = refill(now_m3=10.0, practical_salinity=33.0)
    assert found.portions_l == ()
    assert found.expect == "No water needed."
    assert found.cautions == ()


# --- chlorine ------------------------------------------------------------------------------------


def test_thiosulfate_by_each_reaction():
    """Reference: 0.875, 3.50 and 7.00 g per g to sulfate, sulfur and tetrathionate."""
    for moles, expected in ((4, 0.875), (1, 3.50), (0.5, 7.00)):
        assert chlorine.pentahydrate_g_per_g(moles) == pytest.approx(expected, rel=1e-3)


def test_a_chlorine_dose_says_what_a_zero_test_is_worth():
    found = chlorine.neutralise_chlorine(volume_m3=3, chlorine_mg_l=1.5)
    assert found.mass_g == pytest.approx(31.5)
    assert found.ammonia_freed_mg_l == pytest.approx(1.5 * 0.198, rel=0.01)
    told = " ".join(found.cautions)
    assert "no proof" in told
    assert "chloramine" in told
    powder = chlorine.neutralise_chlorine(volume_m3=3, chlorine_mg_l=1.5, pentahydrate=False)
    assert powder.mass_g == pytest.approx(31.5 * 0.637, rel=1e-3)
    stocked = chlorine.neutralise_chlorine(volume_m3=3, chlorine_mg_l=0.1, stocked=True)
    assert stocked.cautions[0].startswith("If fish are in it, stop the source")
    none = chlorine.neutralise_chlorine(volume_m3=3, chlorine_mg_l=0)
    assert none.mass_g == 0
    assert "no proof" in none.cautions[0]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: chlorine.thiosulfate_g(1, 25), "chlorine 25 mg/L is outside 0 to 20 mg/L"),
        (lambda: chlorine.pentahydrate_g_per_g(9), "chlorine per thiosulfate 9"),
        (lambda: rise(salt_fraction=2.0), "salt fraction 2"),
        (lambda: rise(target_salinity=50.0), "target salinity 50"),
        (lambda: swap(fraction=1.0), "fraction 1 is outside 0 to 0.95"),
        (lambda: swap(in_temperature_c=50.0), "temperature 50 degC"),
        (lambda: refill(now_m3=11.0), "volume now 11 m3"),
        (lambda: salt.salt_to_add_kg(1, 20, 30, 20, 1), "target salinity 20 g/kg"),
        (lambda: salt.fraction_to_replace(30, 0.3, 0.3), "out of reach"),
        (lambda: salt.evaporated_kg(1, 30, 33), "salinity now 30 g/kg is outside 33"),
        (lambda: salt.dissolved_fraction({}), "mass of the recipe 0"),
        (lambda: salt.salinity_after_evaporation(10, 30, 10), "evaporated 10 kg"),
        (lambda: exchange.after_batches(1, 1, 1.5), "fraction 1.5"),
        (lambda: exchange.after_flow(1, 1, -1, 1, 1), "flow -1 m3/h"),
        (lambda: exchange.mixed_salinity(0, 1, 0, 1), "mass of both 0 kg"),
    ],
)
def test_nonsense_is_refused_in_words(call, words):
    with pytest.raises(ValueError, match=words):
        call()
