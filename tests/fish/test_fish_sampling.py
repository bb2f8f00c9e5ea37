import math
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.fish import counting, distributions, pond, sampling

# Abramowitz & Stegun 1964, Table 26.10 (Student's t) at one-sided 0.975 and 0.995
T_TABLE = [
    (1, 0.975, 12.706),
    (2, 0.975, 4.303),
    (4, 0.975, 2.776),
    (10, 0.975, 2.228),
    (30, 0.975, 2.042),
    (60, 0.975, 2.000),
    (120, 0.975, 1.980),
    (5, 0.995, 4.032),
    (20, 0.995, 2.845),
    (120, 0.995, 2.617),
]
# Garwood 1936: exact 95 % limits of a Poisson mean, as reprinted in many tables
GARWOOD = [(0, 0.0, 3.69), (1, 0.0253, 5.57), (2, 0.242, 7.22), (5, 1.62, 11.67), (10, 4.80, 18.39)]


@pytest.mark.parametrize(("df", "probability", "value"), T_TABLE)
def test_students_t_agrees_with_the_printed_table(df, probability, value):
    assert distributions.t_quantile(probability, df) == pytest.approx(value, abs=6e-4)


@given(probability=st.floats(0.55, 0.999))
def test_students_t_of_one_and_two_degrees_has_a_closed_form(probability):
    one = math.tan(math.pi * (probability - 0.5))
    share = 2 * probability - 1
    two = share * math.sqrt(2 / (1 - share**2))
    assert distributions.t_quantile(probability, 1) == pytest.approx(one, rel=1e-9)
    assert distributions.t_quantile(probability, 2) == pytest.approx(two, rel=1e-9)


def test_students_t_joins_the_normal_without_a_step():
    just, beyond = (distributions.t_quantile(0.975, df) for df in (100_000, 100_001))
    assert just == pytest.approx(beyond, rel=1e-9)
    assert beyond > NormalDist().inv_cdf(0.975)


@pytest.mark.parametrize(("count", "low", "high"), GARWOOD)
def test_garwood_limits_agree_with_the_printed_table(count, low, high):
    found = distributions.poisson_interval(count)
    assert found == pytest.approx((low, high), abs=6e-3)


@given(count=st.integers(0, 400), mean=st.floats(0, 300))
def test_the_poisson_tail_is_the_sum_of_its_terms(count, mean):
    below = math.fsum(
        math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) if mean else float(k == 0)
        for k in range(count)
    )
    assert distributions.poisson_at_least(count, mean) == pytest.approx(1 - below, abs=1e-10)


def test_the_tail_of_a_very_unlikely_count_keeps_its_digits():
    # ten or more of 0.1: the first term e^-m m^10 / 10! carries all but 1 %
    first = math.exp(-0.1) * 0.1**10 / math.factorial(10)
    assert first < distributions.poisson_at_least(10, 0.1) < 1.01 * first


@given(count=st.integers(0, 300))
def test_garwood_limits_leave_a_fortieth_on_each_side(count):
    low, high = distributions.poisson_interval(count)
    assert distributions.poisson_at_least(count + 1, high) == pytest.approx(0.975, abs=1e-9)
    if count:
        assert distributions.poisson_at_least(count, low) == pytest.approx(0.025, abs=1e-9)


@given(
    cv=st.floats(3, 60),
    half=st.floats(2, 20),
    population=st.one_of(st.none(), st.integers(10, 2000)),
)
def test_a_sample_is_large_enough_and_one_fish_fewer_is_not(cv, half, population):
    n = sampling.sample_size(cv, half, 0.95, population)
    assert population is None or n <= population

    def reach(fish):
        left = 1 - fish / population if population else 1
        return distributions.t_quantile(0.975, fish - 1) * cv * math.sqrt(left / fish)

    assert reach(n) <= half
    assert n == 2 or reach(n - 1) > half


@given(st.lists(st.floats(5, 500), min_size=1, max_size=30))
def test_the_interval_holds_the_mean_and_one_fish_has_none(weights):
    sample = sampling.describe(weights)
    if len(weights) == 1:
        assert (sample.sd_g, sample.low_g, sample.se_g, sample.skew) == (None,) * 4
    else:
        assert sample.low_g <= sample.mean_g <= sample.high_g


def test_skew_is_told_with_its_side():
    right = sampling.describe([100, 101, 102, 103, 180])
    assert right.skew > 1
    assert right.median_g < right.mean_g
    assert sampling.describe([90, 100, 110]).skew == pytest.approx(0)
    assert sampling.describe([100, 100, 100]).skew is None


def test_three_ways_to_the_fraction_above_a_size():
    # the quantiles of a normal lot are a sample of it
    lot = [NormalDist(800, 160).inv_cdf((k + 0.5) / 200) for k in range(200)]
    empirical = sampling.fraction_above_in_sample(lot, 900)
    assert empirical == pytest.approx(sampling.fraction_above_normal(800, 20, 900), abs=0.005)
    assert sampling.fraction_above_lognormal(800, 20, 900) < empirical


@given(a=st.floats(50, 900), se=st.floats(0.5, 50), b=st.floats(50, 900), other=st.floats(0.5, 50))
def test_two_weights_combine_between_themselves_and_surer_than_either(a, se, b, other):
    both = sampling.reconcile(a, se, b, other)
    assert min(a, b) - 1e-9 <= both.weight_g <= max(a, b) + 1e-9
    assert both.se_g < min(se, other)
    assert both.recount == (both.z > 2)


def test_nets_are_weighed_together_and_not_averaged():
    assert sampling.batch_mean_g([(10, 1.0), (90, 18.0)]) == pytest.approx(190)


@given(counted=st.integers(0, 500), volume=st.floats(0.5, 50), dilution=st.floats(1, 20))
def test_a_diluted_count_is_told_for_the_culture(counted, volume, dilution):
    plain = counting.density(counted, volume)
    thick = counting.density(counted, volume, dilution)
    assert thick.per_ml == pytest.approx(dilution * plain.per_ml)
    assert plain.low_per_ml <= plain.per_ml <= plain.high_per_ml
    assert plain.high_per_ml > 0


def test_replicates_that_differ_too_much_are_clumped():
    assert counting.clumping(counting.dispersion([20, 21, 19, 22])) == "even"
    assert counting.clumping(counting.dispersion([2, 40, 5, 30])) == "clumped"
    with pytest.raises(ValueError, match="animals counted in all"):
        counting.dispersion([0, 0, 0])


def test_mark_and_recapture_is_right_on_average_and_knows_its_error():
    # Chapman's estimate and Seber's variance are unbiased when marked + caught reach the stock
    stock, marked, caught = 60, 35, 30

    def chance(again):
        ways = math.comb(marked, again) * math.comb(stock - marked, caught - again)
        return ways / math.comb(stock, caught)

    cases = [(chance(r), pond.mark_recapture(marked, caught, r)) for r in range(5, caught + 1)]
    mean = sum(p * found.fish for p, found in cases)
    variance = sum(p * (found.fish - stock) ** 2 for p, found in cases)
    assert mean == pytest.approx(stock)
    assert sum(p * found.se**2 for p, found in cases) == pytest.approx(variance)
    assert all(found.low >= marked + caught - r for r, (_, found) in enumerate(cases, start=5))
