"""Deaths of several days against the days before them."""

import pytest

from rounds.fish.distributions import poisson_at_least
from rounds.fish.mortality import expected_a_day, judge_run


@pytest.mark.parametrize(("deaths", "before"), [(0, 0), (3, 0), (6, 0), (20, 42), (1, 14)])
def test_deaths_of_three_days_by_a_sum_of_terms(deaths: int, before: int) -> None:
    """What is left of one after the first terms of the negative binomial."""
    shape, share, term = before + 0.5, 3 / 17, (14 / 17) ** (before + 0.5)
    total = 0.0
    for n in range(deaths):
        total += term
        term *= (shape + n) / (n + 1) * share
    assert judge_run(deaths, 3, before).probability == pytest.approx(1 - total, rel=1e-7)


def test_a_baseline_that_is_itself_a_count_widens_what_may_be_expected() -> None:
    plain = poisson_at_least(10, 3 * expected_a_day(14))
    found = judge_run(10, 3, 14)
    assert found.probability > plain
    assert (found.verdict, judge_run(12, 3, 14).verdict) == ("watch", "act")
    assert "3.1 expected" in found.reasons[0].says.format(**found.reasons[0].values)


@pytest.mark.parametrize(
    ("days", "before", "named"), [(0.5, 0, "days"), (3, -1, "deaths before"), (61, 0, "days")]
)
def test_out_of_range_is_named(days: float, before: int, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        judge_run(1, days, before)
