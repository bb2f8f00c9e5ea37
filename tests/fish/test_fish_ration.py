from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import drymatter, meals, ration
from rounds.reason import lines

# grid of the gilthead energy budget, Lupatsch, Kissil & Sklan 2003
GRID = [(100, 20, 1.042), (100, 24, 1.314), (400, 20, 0.712), (400, 24, 0.897)]
TABLE = ration.RationTable.from_points(GRID, "Lupatsch, Kissil & Sklan 2003")
WEIGHTS, WARMTH = st.floats(0.5, 5000), st.floats(5, 35)


@given(weight=WEIGHTS, warm=WARMTH)
def test_a_rate_stays_between_the_smallest_and_largest_of_the_table(weight, warm):
    found = ration.rate(TABLE, weight, warm)
    assert 0.712 <= found.percent_day <= 1.314
    assert ("weight" in found.clamped) == (not 100 <= weight <= 400)
    assert ("temperature" in found.clamped) == (not 20 <= warm <= 24)


@given(weight=WEIGHTS, warm=WARMTH)
def test_outside_the_table_its_edge_is_held(weight, warm):
    inside = ration.rate(TABLE, min(max(weight, 100), 400), min(max(warm, 20), 24))
    assert ration.rate(TABLE, weight, warm).percent_day == inside.percent_day
    assert inside.clamped == ()


@pytest.mark.parametrize(("weight", "warm", "percent"), GRID)
def test_every_point_of_the_table_is_met(weight, warm, percent):
    assert ration.rate(TABLE, weight, warm).percent_day == pytest.approx(percent)


@given(weight=WEIGHTS, warm=WARMTH)
def test_no_temperature_gives_more_than_the_largest_for_a_weight(weight, warm):
    assert ration.rate(TABLE, weight, warm).percent_day <= ration.largest_percent(TABLE, weight)
    assert ration.largest_percent(TABLE, 400) == pytest.approx(0.897)


def test_half_way_in_weight_is_half_way_on_its_logarithm():
    assert ration.rate(TABLE, 200, 20).percent_day == pytest.approx((1.042 + 0.712) / 2)
    assert ration.rate(TABLE, 100, 22).percent_day == pytest.approx((1.042 + 1.314) / 2)


def test_holding_the_edge_and_an_unverified_table_are_told():
    table = ration.RationTable((100,), (20,), ((1.0,),), "starting table", verified=False)
    said = " ".join(lines(ration.rate(table, 90, 20).reasons))
    assert "weight is outside the table: held at its edge" in said
    assert "unverified" in said
    assert "[starting table]" in said


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (GRID[:3], "no value at 400 g 24 degC"),
        ([*GRID, GRID[0]], "stands twice"),
        ([(100, 20, 120)], "table ration 120 % a day is outside"),
        ([], "do not rise"),
    ],
)
def test_a_table_with_a_fault_is_refused(points, says):
    with pytest.raises(ValueError, match=says):
        ration.RationTable.from_points(points, "x")


def test_a_table_out_of_order_or_ragged_is_refused():
    with pytest.raises(ValueError, match="table weights do not rise"):
        ration.RationTable((400, 100), (20,), ((1.0,), (2.0,)), "x")
    with pytest.raises(ValueError, match="row of 100 g has 1 values, not 2"):
        ration.RationTable((100,), (20, 24), ((1.0,),), "x")


@given(weight=st.floats(1, 16))
def test_between_printed_points_the_ration_is_a_power_of_weight(weight):
    # common snook, 3.31 % at 1 g and 1.86 % at 16 g: W^-0.208
    found = ration.between_points([(1, 3.31), (16, 1.86)], weight)
    assert found.percent_day == pytest.approx(3.31 * weight**-0.2079, rel=1e-3)


def test_opinions_that_agree_leave_the_table_to_govern():
    found = ration.compare(1000, 900, 1100)
    assert (found.governs, found.governs_g, found.choose) == ("table", 1000, False)


def test_opinions_that_differ_by_more_than_a_quarter_ask_a_person():
    found = ration.compare(1000, 780, 900)
    assert (found.governs, found.governs_g, found.choose) == ("growth", 780, True)
    assert "smallest stands until a person chooses" in lines(found.reasons)[-1]
    assert ration.compare(1000).governs == "table"


@given(
    total=st.decimals(0, 20000, places=1),
    count=st.integers(1, 12),
    step=st.sampled_from(["0.1", "0.5", "1", "5", "10"]),
)
def test_meals_add_up_exactly_and_differ_by_one_step_at_most(total, count, step):
    parts = [
        Decimal(repr(part))
        for part in meals.split_meals(float(total), meals=count, step_g=float(step))
    ]
    step_g = Decimal(step)
    assert sum(parts) == total // step_g * step_g
    assert max(parts) - min(parts) <= step_g
    assert parts == sorted(parts, reverse=True)


@given(
    total=st.integers(0, 50_000),
    weights=st.lists(st.integers(0, 10), min_size=1, max_size=8).filter(any),
)
def test_uneven_meals_add_up_too_and_stay_within_a_step_of_their_share(total, weights):
    shares = [weight / sum(weights) for weight in weights]
    parts = meals.split_meals(total, fractions=shares)
    assert sum(parts) == total
    for part, share in zip(parts, shares, strict=True):
        assert abs(part - total * share) < 1.001


def test_earlier_meals_get_the_odd_grams():
    assert meals.split_meals(500, meals=3) == (167, 167, 166)
    assert meals.split_meals(0.3, meals=3, step_g=0.1) == (0.1, 0.1, 0.1)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({}, "either"),
        ({"meals": 2, "fractions": [0.5, 0.5]}, "either"),
        ({"fractions": [0.5, 0.2]}, "sum of the fractions 0.7"),
        ({"meals": 3, "step_g": 0}, "scale step 0 g"),
    ],
)
def test_a_split_that_makes_no_sense_is_refused(asked, says):
    with pytest.raises(ValueError, match=says):
        meals.split_meals(500, **asked)


@given(weight=st.floats(0.3, 4000))
def test_every_weight_has_a_pellet_and_two_sizes_mean_mixing(weight):
    found = meals.pellets(weight)
    assert found.low_mm <= found.high_mm
    assert ("mix both sizes" in " ".join(lines(found.reasons))) == (len(found.bands) > 1)


@given(pellets=st.floats(0.1, 100), dry=st.floats(85, 95), wet=st.floats(18, 35))
def test_wet_and_dry_hold_the_same_dry_matter(pellets, dry, wet):
    forage = drymatter.wet_equivalent_kg(pellets, dry, wet)
    assert forage * wet == pytest.approx(pellets * dry)
