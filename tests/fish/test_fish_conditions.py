import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import conditions as c
from rounds.reason import render

NUMBERS = st.floats(0, 40)


@given(a=NUMBERS, b=NUMBERS, watch=NUMBERS, act=NUMBERS)
def test_a_reading_further_into_trouble_never_feeds_more(a, b, watch, act):
    if watch == act:
        return
    better, worse = sorted((a, b), reverse=act < watch)
    high, low = c.between(better, watch, act), c.between(worse, watch, act)
    assert 0 <= low <= high <= 1


@pytest.mark.parametrize(
    ("percent", "mg_l", "factor"),
    [
        (90, 6.5, 1.0),
        (75, 5.0, 1.0),
        (67.5, 5.5, 0.75),
        (90, 4.5, 0.75),
        (60, 4.0, 0.5),
        (59.9, 5.0, 0.0),
        (90, 3.9, 0.0),
    ],
)
def test_oxygen_is_judged_by_percent_and_by_milligrams(percent, mg_l, factor):
    assert c.oxygen(percent, mg_l).factor == pytest.approx(factor)


@pytest.mark.parametrize(
    ("value", "factor"), [(0.01, 1), (0.02, 1), (0.035, 0.75), (0.05, 0.5), (0.051, 0)]
)
def test_ammonia_falls_from_watch_to_act(value, factor):
    assert c.ammonia(value).factor == pytest.approx(factor)
    larvae = c.ammonia(value / 2, watch_mg_l=0.01, act_mg_l=0.025)
    assert larvae.factor == pytest.approx(factor)


@pytest.mark.parametrize(("value", "factor"), [(0.9, 1), (5.5, 0.75), (10, 0.5), (10.1, 0)])
def test_nitrite_falls_from_watch_to_act(value, factor):
    assert c.nitrite(value).factor == pytest.approx(factor)


@pytest.mark.parametrize(
    ("warm", "factor"),
    [(13.9, 0), (14, 1), (27, 1), (28, 0.75), (29, 0.75), (30, 0.5), (31, 0.5), (31.1, 0), (33, 0)],
)
def test_temperature_outside_the_best_band_takes_feed_off(warm, factor):
    assert c.temperature(warm, 14, 27, 35).factor == factor


def test_near_the_upper_limit_nothing_is_fed_even_inside_two_degrees_of_the_band():
    assert c.temperature(28, 14, 27, 30).factor == 0
    assert "upper limit 30.0 degC: no feed" in render(c.temperature(28, 14, 27, 30).reason)


def test_a_fast_fall_halves_the_ration_for_a_day():
    assert c.temperature(20, 14, 27, 35, fall_24h_c=3.1).factor == 0.5
    assert c.temperature(20, 14, 27, 35, fall_24h_c=3.0).factor == 1


@given(a=st.floats(14, 40), b=st.floats(14, 40), fall=st.floats(0, 10))
def test_above_the_feeding_limit_warmer_never_feeds_more(a, b, fall):
    cool, warm = sorted((a, b))
    of = [c.temperature(t, 14, 27, 35, fall).factor for t in (cool, warm)]
    assert 0 <= of[1] <= of[0] <= 1


@pytest.mark.parametrize(
    ("left", "row", "factor"), [(19, 3, 1), (20, 1, 0.75), (20, 2, 0.5), (20, 3, 0), (200, 9, 0)]
)
def test_refusals_in_a_row_take_the_next_meal_down(left, row, factor):
    assert c.appetite(200, left, row).factor == factor


def test_a_tenth_left_is_a_refusal_in_decimal_grams_too():
    assert c.appetite(3, 0.3, 1).factor == c.appetite(77, 7.7, 1).factor == 0.75


def test_three_refusals_call_the_supervisor_and_more_left_than_given_is_refused():
    assert "call the supervisor" in render(c.appetite(200, 60, 3).reason)
    with pytest.raises(ValueError, match="feed left 201 g"):
        c.appetite(200, 201, 1)


def test_the_days_around_handling():
    assert [c.handling(day).factor for day in range(-2, 4)] == [1, 0, 0, 0.5, 0.75, 1]


def test_the_smallest_governs_and_not_the_product():
    low, half = c.oxygen(67.5, 6), c.mortality(True)
    assert c.smallest([low, half, c.nitrite(0)]) is half
    assert c.smallest([]).factor == 1


def test_a_reason_names_the_reading_and_the_limit():
    assert render(c.oxygen(90, 3.9).reason) == (
        "oxygen 3.9 mg/L, below 4 mg/L: no feed [common practice]"
    )
    assert render(c.nitrite(5.5).reason).startswith("nitrite 5.5 mg/L, above 1 mg/L: x0.75")
    assert "no feed" not in render(c.nitrite(0.5).reason)


@pytest.mark.parametrize(("days", "factor"), [(0, 1), (2, 1), (3, 1.05), (4, 1.1), (30, 1.1)])
def test_cleared_meals_raise_five_percent_a_day_from_the_third_and_a_tenth_at_most(days, factor):
    assert c.eager(days).factor == pytest.approx(factor)  # husbandry 2.5
