"""Today's rations: outside rows end to end, meals that add up, larvae and wet feed.

Grams are expected from named rows of the husbandry checks, from conservation, or as a share of
another ration of the same test.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec.structs import replace
from ration_farm import ROWS, fed_on, flat, good, rows
from small_farm import FISH, NOW, Days, make_site, table, with_place, with_product

from rounds.day.feeding import rations
from rounds.day.recording.forms import FORMS
from rounds.reason import lines

# -- the number ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("inputs", "expected", "tolerance"), rows("daily_ration_kg_day"))
def test_count_times_weight_times_rate(
    inputs: dict[str, str], expected: str, tolerance: float
) -> None:
    site = flat(float(inputs["ration_percent_day"]))
    ration = fed_on(good(site, int(inputs["N"]), inputs["W_g"]))
    assert ration.total_g / 1000 == pytest.approx(float(expected), abs=tolerance)
    assert ration.factor == 1
    assert not ration.missing


@pytest.mark.parametrize(("inputs", "expected", "tolerance"), rows("ration_grid_percent_day"))
def test_rate_is_read_from_the_table_at_weight_and_temperature(
    inputs: dict[str, str], expected: str, tolerance: float
) -> None:
    points = [tuple(float(x) for x in p.split(":")) for p in inputs["grid"].split("|")]
    fish = replace(FISH, table=table(*points))  # type: ignore[arg-type]
    days = Days(make_site(species={"fish": fish}))
    days.stock(weight=inputs["W_g"])
    days.good_water(temperature=inputs["t_C"])
    ration = fed_on(days)
    assert ration.rate_percent == pytest.approx(float(expected), abs=tolerance)
    clamped = any("outside the feed table" in caution for caution in ration.cautions)
    assert clamped == (float(inputs["W_g"]) > 400)


def test_meals_are_split_as_the_row_says_and_add_up() -> None:
    # split_feedings_g: total_g=765;meals=3;step_g=1 -> 255|255|255
    (row,) = [r for r in ROWS if r["inputs"] == "total_g=765;meals=3;step_g=1"]
    ration = fed_on(good(flat(1.02)))
    assert [meal.advised_g for meal in ration.meals] == [
        float(p) for p in row["expected"].split("|")
    ]


@pytest.mark.parametrize("count", [7, 61, 299, 300, 1001])
@pytest.mark.parametrize("weight", ["51", "99.7", "250", "640"])
def test_meals_add_up_to_the_ration_exactly(count: int, weight: str) -> None:
    ration = fed_on(good(count=count, weight=weight))
    assert ration.rate_percent is not None
    full_g = ration.biomass_kg * ration.rate_percent * 10
    assert sum(Decimal(f"{m.advised_g:.4g}") for m in ration.meals) == Decimal(
        f"{ration.total_g:g}"
    )
    step = 0.1 if full_g / len(ration.meals) < 10 else 1
    assert 0 <= full_g + 1e-3 - ration.total_g < step + 1e-3  # below one step stays in the bag
    assert ration.meals[0].advised_g >= ration.meals[-1].advised_g


def test_two_lots_are_fed_together_each_at_its_own_rate() -> None:
    one, other, both = good(count=100, weight="100"), good(count=50, weight="400"), Days()
    both.stock(count=100, weight="100", lot="L1")
    both.stock(count=50, weight="400", lot="L2")
    both.good_water()
    together = fed_on(both)
    apart = fed_on(one).total_g + fed_on(other).total_g
    assert together.total_g == pytest.approx(apart, abs=1)
    assert together.lots == ("L1", "L2")
    assert together.count == 150


def test_temperature_is_the_mean_of_minima_and_maxima_of_three_days() -> None:
    days = good()
    for hours, value in ((-50, "22"), (-48.5, "20"), (-48.4, "23")):
        days.read("T1", hours, temperature=value)  # two days ago from 20 to 24, others 24
    assert fed_on(days).temperature_c == pytest.approx((20 + 24 + 24 * 4) / 6)
    days.read("T1", -80, temperature="5")  # four days ago
    assert fed_on(days).temperature_c == pytest.approx((20 + 24 + 24 * 4) / 6)


def test_every_step_is_told_in_order() -> None:
    said = lines(fed_on(good(flat(1.02))).reasons)
    order = ["L1 in T1: 300 fish", "maker's table", "765 g a day", "oxygen", "3 meals: 255"]
    places = [next(i for i, line in enumerate(said) if part in line) for part in order]
    assert places == sorted(places)


def test_places_come_in_walking_order_and_empty_ones_not_at_all() -> None:
    days = Days()
    days.stock("T2", lot="L2")
    days.stock("T1")
    assert [r.place for r in rations.today(days.site, days.farm, NOW)] == ["T1", "T2"]


def test_odd_farms_do_not_raise() -> None:
    assert rations.today(make_site(), Days().farm, NOW) == ()
    days = Days()
    days.stock(weight="0")
    days.stock("P1", lot="L9", weight="3")
    days.read("T1", hours=100, oxygen="1.0", temperature="99")
    assert all(r.total_g == 0 for r in rations.today(days.site, days.farm, NOW))


# -- other places ----------------------------------------------------------------------------------


def test_larvae_are_topped_up_by_count_without_grams() -> None:
    days = Days()
    days.stock("L1", 9000, "0.01", lot="LV")
    days.read("L1", -1, rotifer_density="4", oxygen="6.8", temperature="24", salinity="30")
    ration = fed_on(days, "L1")
    assert ration.total_g == 0
    assert not ration.meals
    assert any("Rotifers left 4 per mL" in line for line in ration.cautions)
    assert any(f"K, {FORMS['given'].title}" in line for line in ration.cautions)
    days.entries = days.entries[:1]
    assert any("Count" in line for line in fed_on(days, "L1").cautions)
    with pytest.raises(ValueError, match="say why"):
        rations.fed(ration, 1, Decimal(5))


def test_wet_feed_gets_no_figure_from_a_dry_table() -> None:
    days = good(with_place(make_site(), "T1", feed="KILLI"))
    ration = fed_on(days)
    assert ration.total_g == 0
    assert "not a dry feed" in ration.held_back


def test_a_tank_without_feed_names_what_to_set() -> None:
    ration = fed_on(good(with_place(make_site(), "T1", feed=None)))
    assert ration.total_g == 0
    assert any("site.toml" in line for line in ration.missing)


def test_a_feed_for_other_fish_is_cautioned() -> None:
    site = with_product(make_site(), "P", for_weights_g=(10, 100))
    assert any("check the feed" in line for line in fed_on(good(site)).cautions)
    assert not any("check the feed" in line for line in fed_on(good()).cautions)
