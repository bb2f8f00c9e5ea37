"""Larvae counted by columns, and shares of twenty: intervals against tables and plain sums."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import comb
from statistics import mean, stdev

import pytest

from rounds.fish import larvae, livefood
from rounds.fish.distributions import binomial_interval
from rounds.reason import lines

SEVEN = (4, 6, 5, 3, 7, 5, 4, 6, 2, 5)
"""47 in ten columns, no more spread than chance gives."""


def test_even_columns_have_the_exact_poisson_interval() -> None:
    # husbandry figures: 47 in 10 mL are 4.70 (3.45 to 6.25)
    found = larvae.number_in_tank(SEVEN, 1.0, 500)
    assert found.fish == pytest.approx(2350)
    assert (found.low / 500, found.high / 500) == pytest.approx((3.453, 6.25), abs=0.002)
    assert not found.clumped
    # half-width 10 % of a Poisson count needs 1.96^2 / 0.1^2 = 384.1 larvae, at 4.7 a column
    assert found.more_columns == 82 - 10
    assert "exact Poisson" in lines(found.reasons)[-1]


def test_half_the_column_volume_is_twice_the_larvae() -> None:
    whole, half = (larvae.number_in_tank(SEVEN, litres, 500) for litres in (1.0, 0.5))
    assert half.fish == pytest.approx(2 * whole.fish)
    assert half.high == pytest.approx(2 * whole.high)


def test_clumped_columns_have_the_spread_between_them() -> None:
    counts = (20, 42, 11, 35, 17)
    found = larvae.number_in_tank(counts, 1.0, 500)
    reach = 2.776 * stdev(counts) / 5**0.5  # t of a table, 4 degrees of freedom
    assert found.clumped
    assert found.low == pytest.approx(500 * (mean(counts) - reach), rel=1e-3)
    assert found.high == pytest.approx(500 * (mean(counts) + reach), rel=1e-3)
    # never surer than chance: a wilder spread is never less than zero larvae
    wild = larvae.number_in_tank((1, 60, 2), 1.0, 500)
    assert wild.low == 0
    assert (wild.more_columns or 0) > (found.more_columns or 0)


def test_no_larva_is_no_more_than_the_interval_says() -> None:
    found = larvae.number_in_tank((0,) * 10, 1.0, 100)
    assert (found.fish, found.low) == (0, 0)
    assert found.high == pytest.approx(36.9, abs=0.1)  # 0 in 10: 0 to 0.37
    assert found.more_columns is None


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (((), 1.0, 500), "number of columns 0"),
        (((5, -1), 1.0, 500), "larvae in a column -1"),
        (((5, 6), 300.0, 500), "water in all columns 600 L"),
        (((5, 6), 0.0, 500), "column 0 L"),
        (((5, 6), 1.0, 500, 0.5), "wanted precision 0.5 %"),
    ],
)
def test_columns_that_cannot_be_are_refused(args: tuple[object, ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        larvae.number_in_tank(*args)  # type: ignore[arg-type]


@pytest.mark.parametrize("hits", [1, 7, 16, 19])
def test_the_ends_of_a_share_leave_the_tail_on_each_side(hits: int) -> None:
    def at_least(k: int, p: float) -> float:
        return sum(comb(20, i) * p**i * (1 - p) ** (20 - i) for i in range(k, 21))

    low, high = binomial_interval(hits, 20)
    assert at_least(hits, low) == pytest.approx(0.025)
    assert 1 - at_least(hits + 1, high) == pytest.approx(0.025)
    assert low < hits / 20 < high


def test_all_or_none_of_twenty() -> None:
    assert larvae.share_of(20, 20).low == pytest.approx(0.025 ** (1 / 20))
    assert larvae.share_of(20, 20).high == 1
    assert larvae.share_of(0, 20).high == pytest.approx(1 - 0.025 ** (1 / 20))
    with pytest.raises(ValueError, match="number found 21"):
        larvae.share_of(21, 20)


def test_a_gram_of_cysts_gives_what_was_counted() -> None:
    # published lot: 230,600 nauplii a gram
    assert livefood.hatch_yield_per_g(2_767_200, 12) == pytest.approx(230_600)
    with pytest.raises(ValueError, match="yield 500000 nauplii/g"):
        livefood.hatch_yield_per_g(5e6, 10)


def test_the_enrichment_runs_backwards_from_the_feeding_and_ends() -> None:
    ready = datetime(2026, 5, 4, 8)
    clock = livefood.enrichment_clock(ready, 12)
    assert clock.start == ready - timedelta(hours=12.5)
    assert clock.out == livefood.hatch_plan(ready, enrich_h=12).ready - timedelta(hours=0.5)
    assert clock.start == livefood.hatch_plan(ready, enrich_h=12).enrich
    assert clock.out < ready < clock.use_by_warm < clock.use_by_cold
    assert livefood.use_by(ready, cold=True) == ready + timedelta(hours=24)
    with pytest.raises(ValueError, match="enrichment 40 h"):
        livefood.enrichment_clock(ready, 40)
