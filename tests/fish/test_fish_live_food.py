import random
import statistics
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import food_safety, forage, larvae, lengths, livefood, pond
from rounds.reason import lines

DENSITY = st.floats(0, 30)


@given(tank=st.floats(100, 5000), target=DENSITY, residual=DENSITY, culture=st.floats(40, 3000))
def test_what_is_poured_in_brings_the_tank_to_its_target(tank, target, residual, culture):
    added = larvae.culture_to_add_l(tank, target, residual, culture)
    sieved = larvae.culture_to_sieve_l(tank, target, residual, culture)
    if residual >= target:
        assert added == sieved == 0
        return
    mixed = (tank * residual + added * culture) / (tank + added)
    assert mixed == pytest.approx(target)
    assert tank * residual + sieved * culture == pytest.approx(tank * target)
    assert sieved <= added


def test_a_culture_too_thin_is_refused_with_what_to_do():
    with pytest.raises(ValueError, match="sieve and rinse it instead"):
        larvae.culture_to_add_l(1000, 10, 3, 8)
    with pytest.raises(ValueError, match="culture 0 per mL"):
        larvae.culture_to_sieve_l(1000, 10, 3, 0)


def test_what_will_be_eaten_until_the_next_top_up_is_counted():
    missing = 520_000 * 4
    eaten = 7800 * 1900 / 4
    assert larvae.needed_until_next(520, 10, 6, 7800, 1900, 6) == pytest.approx(missing + eaten)
    assert larvae.needed_until_next(520, 10, 60, 7800, 1900, 6) == 0


@given(harvest=st.floats(0.01, 0.9))
def test_a_culture_harvested_at_its_growth_stays_level(harvest):
    left = 1 - harvest
    assert left * (1 + livefood.daily_increase_percent(harvest) / 100) == pytest.approx(1)
    assert left * (1 + livefood.hourly_increase_percent(harvest) / 100) ** 24 == pytest.approx(1)
    assert livefood.max_harvest_fraction(livefood.growth_r_per_day(harvest)) == pytest.approx(
        harvest
    )


def test_two_counts_a_day_apart_say_what_may_be_taken():
    r = livefood.growth_from_counts_per_day(150, 200)
    assert livefood.max_harvest_fraction(r) == pytest.approx(1 - 150 / 200)
    shrinking = livefood.growth_from_counts_per_day(200, 150)
    assert livefood.max_harvest_fraction(shrinking) == 0


def test_eggs_warn_before_a_crash():
    assert [livefood.egg_state(e, 100) for e in (14, 15, 24, 25)] == ["crash", "low", "low", "good"]


def test_a_hatch_far_under_its_own_lot_is_told_and_a_first_one_is_not():
    assert livefood.poor_hatch(160_000, [200_000, 200_000])
    assert not livefood.poor_hatch(161_000, [200_000, 200_000])
    assert not livefood.poor_hatch(1000, [])


def test_cysts_are_set_up_backwards_from_the_hour_they_are_wanted():
    ready = datetime(2026, 5, 4, 8)
    plain = livefood.hatch_plan(ready)
    assert plain.start == ready - timedelta(hours=24.5)
    assert plain.enrich is None
    rich = livefood.hatch_plan(ready, hatch_h=20, mouth_h=8, enrich_h=12, rinse_h=1)
    assert rich.start == ready - timedelta(hours=41)
    assert rich.start < rich.harvest < rich.enrich < rich.ready


def test_a_prey_window_is_inside_what_fish_are_known_to_take():
    window = forage.prey_window(250)
    assert window.offer_mm == pytest.approx((30, 50))
    assert window.offer_mm[1] <= window.refuse_above_mm < window.largest_mm[0]
    assert lines(window.reasons)[0].startswith("a fish of 250 mm takes prey of 30 mm to 50 mm")


def test_a_prey_too_long_is_never_caught():
    assert forage.attack_success(0.474) == 0
    assert forage.attack_success(0.47) > 0


def test_a_tank_is_graded_when_the_largest_can_eat_the_smallest():
    assert forage.grade_now(11.9, 20)
    assert not forage.grade_now(12, 20)


@given(r=st.floats(0.1, 3), k=st.floats(5, 500), share=st.floats(0, 0.999))
def test_at_the_balance_the_crop_is_the_surplus(r, k, share):
    crop = share * pond.msy_kg_yr(r, k)
    stock = pond.equilibrium_kg(r, k, crop)
    assert pond.surplus_kg_yr(r, k, stock) == pytest.approx(crop, abs=1e-6 * r * k)
    assert pond.equilibrium_kg(r, k, 1.01 * pond.msy_kg_yr(r, k)) is None


def _crop(stock_kg=120.0, age_days=10, warm_c=26.0):
    return pond.crop_allowed(0.1, 1.2, 200, stock_kg, age_days, warm_c, 22)


def test_a_pond_too_cold_to_breed_gives_nothing_and_an_old_estimate_is_not_known():
    assert _crop(warm_c=21.9).by_yield_kg_day == _crop(warm_c=21.9).by_surplus_kg_day == 0
    assert _crop(age_days=43).by_yield_kg_day is _crop(age_days=43).by_surplus_kg_day is None
    assert _crop(age_days=42).by_yield_kg_day == pytest.approx(0.07)


def test_a_low_stock_halves_the_crop():
    full = pond.surplus_kg_yr(1.2, 200, 60) / 365.25
    assert _crop(stock_kg=60).by_surplus_kg_day == pytest.approx(full / 2)
    assert "under a third" in lines(_crop(stock_kg=60).reasons)[-1]


@given(length=st.floats(3, 60))
def test_length_and_weight_lead_back_to_each_other(length):
    curve = lengths.BLACK_SEA_BASS
    weight = curve.weight_g(length)
    assert curve.length_cm(weight) == pytest.approx(length)
    assert curve.mean_weight_g(length) > weight
    assert lengths.condition_k(weight, length) == pytest.approx(
        lengths.condition_from_curve(curve.a, curve.b, length)
    )


@pytest.mark.parametrize(("length_unit", "weight_unit"), [("mm", "mg"), ("mm", "kg"), ("cm", "kg")])
def test_a_curve_gives_one_weight_in_any_unit(length_unit, weight_unit):
    a, b = 2.5e-5, 3.1
    length = 120 if length_unit == "mm" else 12
    grams = a * length**b * {"mg": 0.001, "kg": 1000}[weight_unit]
    assert lengths.a_to_g_cm(a, b, length_unit, weight_unit) * 12**b == pytest.approx(grams)


def test_millimetres_taken_for_centimetres_are_caught():
    with pytest.raises(ValueError, match="is the length in cm, the weight in g"):
        lengths.condition_k(200, 240)


@pytest.mark.parametrize(
    ("frozen", "hold", "hours", "us", "eu"),
    [
        (-20, -20, 168, True, True),
        (-20, -20, 167, False, True),
        (-35, -20, 24, True, True),
        (-34, -20, 24, False, True),
        (-35, -35, 15, True, True),
        (-35, -35, 14, False, False),
        (-20, -19, 500, False, False),
    ],
)
def test_freezing_rules(frozen, hold, hours, us, eu):
    assert food_safety.meets_us_freezing(frozen, hold, hours) is us
    assert food_safety.meets_eu_freezing(frozen, hold, hours) is eu


def test_live_food_takes_the_exemption_away_and_an_unknown_origin_is_refused():
    assert food_safety.us_exemption_may_apply("net_pen", False)
    assert not food_safety.us_exemption_may_apply("tank", True)
    with pytest.raises(ValueError, match="tank, pond_on_land, net_pen"):
        food_safety.us_exemption_may_apply("wild", False)


def test_any_feed_starts_the_fast_anew():
    feeds = [datetime(2026, 3, 2, 9), datetime(2026, 3, 1, 18)]
    assert food_safety.earliest_harvest(feeds, 36) == datetime(2026, 3, 3, 21)
    with pytest.raises(ValueError, match="no feeding time is known"):
        food_safety.earliest_harvest([], 36)


@pytest.mark.parametrize("part", [0.3, 0.5, 0.8])
def test_hauls_as_they_fall_on_average_give_the_stock_back(part):
    # what each haul takes on average: the same part of what is left
    hauls = [round(10_000 * part * (1 - part) ** n) for n in range(4)]
    found = pond.removal(hauls)
    assert found.fish == pytest.approx(10_000, rel=0.002)
    assert sum(hauls) <= found.low < found.fish < found.high


@pytest.mark.parametrize(
    ("hauls", "falls"),
    [([100, 120, 90], False), ([100, 60, 62], True), ([500, 250, 125], True), ([10, 8], False)],
)
def test_hauls_deplete_a_pond_only_when_they_fall_beyond_chance(hauls, falls):
    assert pond.falls(hauls) is falls


def test_the_error_of_hauls_is_that_of_many_seinings():
    chance, found = random.Random(1), []
    for _ in range(150):
        left, hauls = 300, []
        for _ in range(3):
            hauls.append(sum(chance.random() < 0.45 for _ in range(left)))
            left -= hauls[-1]
        found.append(pond.removal(hauls))
    fish = [one.fish for one in found]
    assert statistics.fmean(fish) == pytest.approx(300, rel=0.02)
    assert statistics.stdev(fish) == pytest.approx(statistics.fmean(x.se for x in found), rel=0.2)


@pytest.mark.parametrize("hauls", [[100], [100, 100], [50, 80], [0, 0], [10, -1], [9] * 11])
def test_hauls_that_do_not_fall_tell_nothing(hauls):
    with pytest.raises(ValueError, match="haul"):
        pond.removal(hauls)
