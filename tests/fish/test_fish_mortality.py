"""Deaths of a day, and of several, against the days before them."""

import math

import pytest

from rounds.fish.distributions import poisson_at_least
from rounds.fish.mortality import expected_a_day, judge


@pytest.mark.parametrize(("deaths", "before"), [(0, 0), (3, 0), (6, 0), (20, 42), (1, 14)])
def test_deaths_of_three_days_by_a_sum_of_terms(deaths: int, before: int) -> None:
    """What is left of one after the first terms of the negative binomial."""
    shape, share, term = before + 0.5, 3 / 17, (14 / 17) ** (before + 0.5)
    total = 0.0
    for n in range(deaths):
        total += term
        term *= (shape + n) / (n + 1) * share
    assert judge(deaths, 3, before).probability == pytest.approx(1 - total, rel=1e-7)


def test_a_baseline_that_is_itself_a_count_widens_what_may_be_expected() -> None:
    plain = poisson_at_least(10, 3 * expected_a_day(14))
    found = judge(10, 3, 14)
    assert found.probability > plain
    assert (found.verdict, judge(12, 3, 14).verdict) == ("watch", "act")
    assert "3.1 expected" in found.reasons[0].says.format(**found.reasons[0].values)


def test_one_dead_after_two_quiet_weeks_is_a_look_two_are_watched_three_an_alarm() -> None:
    assert [judge(dead, 1, 0).verdict for dead in (1, 2, 3)] == ["ok", "watch", "act"]
    assert [judge(dead, 1, 14).verdict for dead in (3, 5, 7)] == ["ok", "watch", "act"]


def test_a_quiet_farm_of_24_tanks_raises_less_than_one_alarm_in_90_days() -> None:
    """By its own chance each tank loses a fish in twenty days; so was its history of 14 days."""
    rate = 0.05

    def chance(k: int, mean: float) -> float:
        return math.exp(-mean) * mean**k / math.factorial(k)

    alarms = sum(
        chance(before, 14 * rate) * chance(today, rate)
        for before in range(20)
        for today in range(12)
        if judge(today, 1, before).verdict == "act"
    )
    assert 0 < alarms * 24 * 90 < 1


@pytest.mark.parametrize(
    ("days", "before", "named"), [(0.5, 0, "days"), (3, -1, "deaths before"), (61, 0, "days")]
)
def test_out_of_range_is_named(days: float, before: int, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        judge(1, days, before)
