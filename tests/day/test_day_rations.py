"""Today's rations: outside rows end to end, what holds a ration back, meals that add up, giving.

Grams are expected from named rows of the husbandry checks, from conservation, or as a share of
another ration of the same test.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from small_farm import FISH, NOW, Days, make_site, table, with_place, with_product

from rounds.day import rations
from rounds.day.rations import Ration
from rounds.day.slips import Unsure
from rounds.day.verdict import of_place
from rounds.reason import lines
from rounds.records import entry as e
from rounds.site.model import Site

ROWS = list(
    csv.DictReader(
        (Path(__file__).parents[1] / "published/data/husbandry_checks.csv").open(encoding="utf-8")
    )
)


def rows(quantity: str) -> list[Any]:
    return [
        pytest.param(
            dict(pair.split("=", 1) for pair in row["inputs"].split(";")),
            row["expected"],
            float(row["tolerance"].split(":")[1].split("|")[0]) if ":" in row["tolerance"] else 0,
            id=row["inputs"],
        )
        for row in ROWS
        if row["quantity"] == quantity
    ]


def fed_on(days: Days, place: str = "T1") -> Ration:
    return next(r for r in rations.today(days.site, days.farm, NOW) if r.place == place)


def flat(percent: float, site: Site | None = None, **species: Any) -> Site:
    """A site whose table has one rate everywhere."""
    site = site or make_site()
    fish = replace(FISH, table=table((1, 10, percent), (5000, 35, percent),
                                     (1, 35, percent), (5000, 10, percent)), **species)  # fmt: skip
    return replace(site, species={"fish": fish})


def good(site: Site | None = None, count: int = 300, weight: str = "250") -> Days:
    """A tank with good water and plenty fed yesterday."""
    days = Days(site)
    days.stock(count=count, weight=weight)
    days.good_water()
    return days


# -- the number --------------------------------------------------------------------------------


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


# -- what holds it back ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "factor"),
    [
        ({"oxygen": "4.5"}, 0.75),  # half-way from watch 5.0 to act 4.0
        ({"oxygen": "5.0"}, 1.0),
        ({"nitrite": "5.5"}, 0.75),  # half-way from 1 to 10
        ({"nitrite": "10"}, 0.5),
        ({"temperature": "28"}, 0.75),  # within 2 degrees above the best band
    ],
)
def test_a_condition_between_watch_and_act_reduces(values: dict[str, str], factor: float) -> None:
    days = good()
    days.read("T1", -0.5, **values)
    ration = fed_on(days)
    # percent is worked out from mg/L: at 24 degC and salinity 30, 4.5 mg/L is below 75 % too
    assert ration.factor <= factor
    if set(values) != {"oxygen"}:
        assert ration.factor == pytest.approx(factor)
    assert ration.total_g <= ration.factor * ration.biomass_kg * (ration.rate_percent or 0) * 10
    assert not ration.no_feed


def test_the_smallest_multiplier_governs_not_the_product() -> None:
    days = good()
    days.read("T1", -0.5, nitrite="5.5", temperature="28")
    assert fed_on(days).factor == pytest.approx(0.75)
    assert "smallest governs" in " ".join(lines(fed_on(days).reasons))


def test_the_lowest_oxygen_of_six_hours_counts_and_no_older() -> None:
    days = good()
    days.read("T1", -5.5, oxygen="4.8", temperature="24", salinity="30")
    assert fed_on(days).factor < 1
    days = good()
    days.read("T1", -6.5, oxygen="4.8", temperature="24", salinity="30")
    assert fed_on(days).factor == 1


@pytest.mark.parametrize(
    "values",
    [
        {"oxygen": "3.9"},
        {"oxygen_percent": "59"},
        {"nitrite": "10.1"},
        {"tan": "9", "ph": "8.2"},
        {"alkalinity": "300", "ph": "7.1"},  # carbon dioxide above 15 mg/L
    ],
)
def test_act_means_no_feed_until_it_is_read_again(values: dict[str, str]) -> None:
    days = good()
    days.feed("900", -20)
    days.read("T1", -0.9, **values)
    ration = fed_on(days)
    assert ration.no_feed
    assert ration.total_g == ration.next_meal_g == 0
    assert ration.held_back
    days.read("T1", -0.1, oxygen="6.8", nitrite="0.2", tan="0.3", ph="7.6", alkalinity="100")
    again = fed_on(days)
    assert not again.no_feed
    assert again.total_g > 0


def test_act_of_yesterday_still_stops_this_morning() -> None:
    days = Days()
    days.stock()
    days.good_water(hours=-12)
    days.read("T1", -11, oxygen="3.0")
    assert fed_on(days).no_feed
    days.read("T1", -0.1, temperature="24")  # reading something else does not release it
    assert fed_on(days).no_feed


def test_an_ammonia_act_grown_too_old_to_work_out_still_stops() -> None:
    days = Days()
    days.stock()
    days.good_water()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure in ("tan", "ph"))
    ]
    days.read("T1", -48, tan="9", ph="8.3", salinity="30")  # pH counts for a day only
    assert fed_on(days).no_feed
    days.read("T1", -0.1, tan="0.3", ph="7.6")
    assert not fed_on(days).no_feed


def test_oxygen_is_read_before_a_meal() -> None:
    days = Days()
    days.stock()
    days.good_water(hours=-9)  # yesterday evening
    days.feed("500", -14)
    ration = fed_on(days)
    assert not ration.ready
    assert ration.next_meal_g == 0
    assert not ration.no_feed
    assert ration.total_g > 0  # what to weigh out can be seen
    assert "read oxygen first" in ration.held_back
    days.read("T1", -0.1, oxygen="6.8")
    assert fed_on(days).next_meal_g > 0


def test_oxygen_of_the_morning_is_too_old_for_the_evening_meal() -> None:
    days = good()
    later = {r.place: r for r in rations.today(days.site, days.farm, NOW + timedelta(hours=5))}
    assert later["T1"].next_meal_g == 0
    assert "read oxygen first" in later["T1"].held_back


@pytest.mark.parametrize("order", [(-0.55, -0.5), (-0.5, -0.55)])
def test_of_both_forms_of_oxygen_the_worse_stops_and_the_verdict_agrees(
    order: tuple[float, float],
) -> None:
    days = good()
    days.read("T1", order[0], oxygen="6.8")
    days.read("T1", order[1], oxygen_percent="55")
    assert fed_on(days).no_feed
    tank = days.site.places["T1"]
    assert of_place(days.site, days.farm, tank, NOW).verdict == "act"
    days.read("T1", -0.1, oxygen="6.8")
    assert not fed_on(days).no_feed
    assert of_place(days.site, days.farm, tank, NOW).verdict == "ok"


def test_nitrite_of_the_loop_stops_feeding_where_the_own_test_is_older() -> None:
    days = Days()
    days.stock()
    days.read("T1", -60, nitrite="0.2")
    days.read("T1", temperature="24", oxygen="6.8", salinity="30", ph="7.6", tan="0.3")
    days.read("T2", nitrite="12")
    ration = fed_on(days)
    verdict = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert ration.no_feed
    assert verdict.verdict == "act"


@pytest.mark.parametrize("lacking", ["temperature", "nitrite", "tan", "ph", "oxygen", "salinity"])
def test_what_is_not_read_is_named_and_raises_nothing_above_yesterday(lacking: str) -> None:
    days = Days()
    days.stock()
    days.good_water()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == lacking)
    ]
    days.feed("200", -20)
    ration = fed_on(days)
    assert ration.total_g <= 200
    named = (*ration.missing, ration.held_back)
    name = {"tan": "total ammonia"}.get(lacking, lacking)
    assert any(name in line.lower() for line in named)
    full = fed_on(good())
    assert full.total_g > 200
    assert not full.missing


def test_a_stale_reading_is_named_and_caps_the_ration() -> None:
    days = Days()
    days.stock()
    days.good_water(hours=-1)
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "nitrite")
    ]
    days.read("T1", -100, nitrite="0.2")
    days.feed("200", -20)
    ration = fed_on(days)
    assert ration.total_g == 200
    assert any("Nitrite" in line and "too old" in line for line in ration.missing)


def test_an_old_weight_caps_the_ration() -> None:
    days = Days()
    days.stock(hours=-24 * 31)
    days.good_water()
    days.feed("200", -20)
    ration = fed_on(days)
    assert ration.total_g == 200
    assert any("weigh a sample" in line for line in ration.missing)


def test_missing_still_reduces_below_yesterday() -> None:
    days = good()
    days.feed("900", -20)
    days.read("T1", -0.5, nitrite="10")
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "tan")
    ]
    half = fed_on(days)
    assert half.factor == pytest.approx(0.5)
    assert half.total_g < 900


@pytest.mark.parametrize(
    "row", [r for r in ROWS if r["quantity"] == "next_meal_factor"], ids=lambda r: r["inputs"]
)
def test_appetite_follows_the_rows(row: dict[str, str]) -> None:
    inputs = dict(pair.split("=") for pair in row["inputs"].split(";"))
    days = good()
    for n in range(max(1, int(inputs["refusals_in_row"]))):
        days.feed(inputs["given_g"], -12 - n, left=inputs["left_g"])
    ration = fed_on(days)
    assert ration.factor == pytest.approx(float(row["expected"]))
    assert ration.no_feed == (float(row["expected"]) == 0)


def test_a_clean_meal_ends_the_refusals() -> None:
    days = good()
    for hours in (-20, -16):
        days.feed("200", hours, left="60")
    days.feed("200", -12, left="0")
    assert fed_on(days).factor == 1


def test_more_deaths_than_usual_halve_the_ration() -> None:
    days = good()
    days.write(e.Died, -0.5, place="T1", lot="L1", count=1)
    assert fed_on(days).factor == 1
    days.write(e.Died, -0.4, place="T1", lot="L1", count=4)
    ration = fed_on(days)
    assert ration.factor == 0.5
    assert any("dead" in caution for caution in ration.cautions)


def test_cold_water_and_hot_water_are_not_fed() -> None:
    for temperature in ("15", "30.5"):
        days = Days()
        days.stock()
        days.good_water(temperature=temperature)
        assert fed_on(days).no_feed


# -- the day -------------------------------------------------------------------------------------


def test_the_ration_is_fixed_at_the_first_meal() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.25)
    days.write(e.Counted, -0.1, place="T1", lot="L1", count=400)  # more fish than thought
    after = fed_on(days)
    assert after.meals[0].given is not None
    assert [m.advised_g for m in after.meals[1:]] <= [m.advised_g for m in before.meals[1:]]


def test_feed_given_today_does_not_feed_itself() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.25)
    after = fed_on(days)
    assert after.total_g == before.total_g
    assert after.given_g == before.meals[0].advised_g
    assert after.next_meal_g == before.meals[1].advised_g


def test_later_meals_are_reduced_but_never_made_up() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.5)
    days.read("T1", -0.25, nitrite="10")
    after = fed_on(days)
    assert after.meals[1].advised_g == pytest.approx(before.meals[1].advised_g / 2, abs=1)
    small = good()
    small.write(rations.fed(before, 1, Decimal(10), "fish were shy", confirmed=True), -0.5)
    assert fed_on(small).next_meal_g == before.meals[1].advised_g


def test_what_was_given_above_the_advice_is_taken_off_the_later_meals() -> None:
    days = good()
    before = fed_on(days)
    more = Decimal(int(before.meals[0].advised_g) + 50)
    days.write(rations.fed(before, 1, more, "bag was open"), -0.5)
    after = fed_on(days)
    rest = sum(meal.advised_g for meal in after.meals[1:])
    assert rest == sum(meal.advised_g for meal in before.meals[1:]) - 50


def test_a_meal_given_on_two_laptops_is_taken_off_the_later_ones() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.5)
    days.writer = "bbbbbb"
    days.write(rations.fed(before, 1), -0.4)
    after = fed_on(days)
    coming = sum(meal.advised_g for meal in after.meals[1:])
    assert after.given_g + coming == before.total_g


def test_what_a_late_laptop_brings_never_raises_a_ration_begun() -> None:
    days = good()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "temperature")
    ]
    days.feed("300", -24)
    days.read("T1", -1, temperature="24")
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.5)
    days.read("T1", -26, temperature="27")
    days.feed("900", -25)
    after = fed_on(days)
    assert all(m.advised_g <= before.meals[0].advised_g for m in after.meals[1:])


def test_a_meal_against_the_advice_comes_off_the_day() -> None:
    days = good()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "oxygen")
    ]
    days.feed("900", -24)
    early = fed_on(days)
    days.write(rations.fed(early, 1, Decimal(100), "meter broken", confirmed=True), -0.5)
    days.read("T1", -0.1, oxygen="6.8")
    after = fed_on(days)
    assert 0 < after.next_meal_g < early.meals[1].advised_g


def test_a_meal_refused_by_the_gate_does_not_end_the_day() -> None:
    days = good()
    days.read("T1", -0.9, oxygen="3.5")
    held = fed_on(days)
    days.write(rations.fed(held, 1), -0.8)
    days.read("T1", -0.1, oxygen="6.8")
    after = fed_on(days)
    assert after.next_meal is not None
    assert after.next_meal.number == 2
    assert after.next_meal_g > 0


def test_readings_after_now_do_not_count() -> None:
    days = good()
    days.read("T1", +2, oxygen="2.0", nitrite="50")
    assert not fed_on(days).no_feed


# -- other places --------------------------------------------------------------------------------


def test_larvae_are_topped_up_by_count_without_grams() -> None:
    days = Days()
    days.stock("L1", 9000, "0.01", lot="LV")
    days.read("L1", -1, rotifer_density="4", oxygen="6.8", temperature="24", salinity="30")
    ration = fed_on(days, "L1")
    assert ration.total_g == 0
    assert not ration.meals
    assert any("Rotifers left 4 per mL" in line for line in ration.cautions)
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


# -- giving it -----------------------------------------------------------------------------------


def test_a_meal_as_advised_keeps_advice_and_reasons() -> None:
    ration = fed_on(good(flat(1.02)))
    draft = rations.fed(ration, 1, left=Decimal("5"))
    assert (draft.amount, draft.advised, draft.left, draft.meal) == ("255", "255", "5", 1)
    assert (draft.place, draft.lot, draft.product, draft.unit) == ("T1", "L1", "P", "g")
    assert draft.reasons == lines(ration.reasons)


def test_another_amount_needs_a_reason() -> None:
    ration = fed_on(good(flat(1.02)))
    with pytest.raises(ValueError, match="255 g: say why"):
        rations.fed(ration, 1, Decimal("200.5"))
    draft = rations.fed(ration, 1, Decimal("200.5"), "shy today")
    assert (draft.amount, draft.advised, draft.why) == ("200.5", "255", "shy today")


def test_feeding_against_no_feed_takes_a_second_step_and_a_reason() -> None:
    days = good()
    days.read("T1", -0.5, oxygen="3.0")
    ration = fed_on(days)
    for keys in ({}, {"why": "supervisor says so"}, {"confirmed": True}):
        with pytest.raises(ValueError, match="NO FEED"):
            rations.fed(ration, 1, Decimal(50), **keys)
    draft = rations.fed(ration, 1, Decimal(50), "supervisor says so", confirmed=True)
    assert (draft.amount, draft.advised) == ("50", "0")


def test_a_meal_is_not_given_twice_by_oversight() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1), -0.5)
    with pytest.raises(ValueError, match=r"given already, .* by ana"):
        rations.fed(fed_on(days), 1)
    assert rations.fed(fed_on(days), 2, confirmed=True).meal == 2


@pytest.mark.parametrize(
    ("grams", "says"),
    [
        ("2550", "2550 g is 10 times the meal of 255 g: a decimal point?"),
        ("2600", "2600 g is about 10 times the meal of 255 g: a decimal point?"),
        ("25.5", "25.5 g is a tenth of the meal of 255 g: a decimal point?"),
        ("1300", "1300 g is more than the whole day's ration, 765 g are left: is it meant?"),
    ],
)
def test_an_amount_that_looks_like_a_slip_is_kept_only_when_it_is_meant(
    grams: str, says: str
) -> None:
    ration = fed_on(good(flat(1.02)))
    with pytest.raises(Unsure) as asked:
        rations.fed(ration, 1, Decimal(grams), "typed")
    assert str(asked.value) == says
    assert rations.fed(ration, 1, Decimal(grams), "typed", confirmed=True).amount == grams


def test_what_is_left_of_the_day_may_be_given_at_once() -> None:
    ration = fed_on(good(flat(1.02)))
    for grams in (0, 30, 765, 1100):
        assert rations.fed(ration, 1, Decimal(grams), "one visit today").amount == str(grams)


def test_a_slip_is_named_beside_no_feed_too() -> None:
    days = good()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "oxygen")
    ]
    days.feed("900", -24)
    ration = fed_on(days)
    grams = Decimal(str(ration.meals[0].advised_g)) * 10
    with pytest.raises(Unsure, match=r"not to be fed yet .* is 10 times the meal"):
        rations.fed(ration, 1, grams, "in a hurry")


def test_a_meal_too_soon_after_the_last_is_asked_about() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1), -0.5)
    soon = fed_on(days)
    # 10 March at 38 degrees north: 11 h 45 min of light, three meals, half of a third of it
    assert soon.next_at is not None
    assert 115 < (soon.next_at - NOW).total_seconds() / 60 + 30 < 119
    assert soon.too_soon in soon.cautions
    assert soon.too_soon == f"T1 was fed at 07:30: next not before {soon.next_at:%H:%M}."
    with pytest.raises(Unsure, match="next not before"):
        rations.fed(soon, 2)
    later = next(iter(rations.today(days.site, days.farm, soon.next_at)))
    assert (later.place, later.next_at, later.too_soon) == ("T1", None, "")


def test_fish_of_many_meals_wait_three_quarters_of_an_hour() -> None:
    days = good(flat(1.02, meals=((2000, 12),)))
    days.write(rations.fed(fed_on(days), 1), -0.5)
    assert fed_on(days).next_at == NOW + timedelta(minutes=15)


def test_the_total_is_the_day_as_fixed_whatever_was_advised_when_it_was_given() -> None:
    days = good(flat(1.02))
    before = fed_on(days)
    assert (before.total_g, before.given_g, before.left_g) == (765, 0, 765)
    for meal in (1, 2, 3):  # given against the sheet: nothing was advised
        days.feed("300", -0.9 + meal / 10, meal=meal, advised="0", why="fed before it was read")
    after = fed_on(days)
    assert (after.total_g, after.given_g, after.left_g) == (765, 900, 0)


def test_what_stops_a_meal_leaves_the_total_and_nothing_to_give() -> None:
    days = good(flat(1.02))
    days.write(rations.fed(fed_on(days), 1), -0.9)
    days.read("T1", -0.5, oxygen="3.0")
    after = fed_on(days)
    assert (after.total_g, after.given_g, after.left_g) == (765, 255, 0)


@pytest.mark.parametrize("bad", [Decimal(-1), Decimal("NaN")])
def test_no_such_amount(bad: Decimal) -> None:
    with pytest.raises(ValueError, match="not an amount"):
        rations.fed(fed_on(good()), 1, bad, "why")


def test_left_cannot_exceed_given() -> None:
    with pytest.raises(ValueError, match="not between"):
        rations.fed(fed_on(good()), 1, left=Decimal(99999))


def test_a_day_later_the_sheet_starts_anew() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1), -0.5)
    later = NOW + timedelta(days=1)
    (ration,) = rations.today(days.site, days.farm, later)
    assert ration.given_g == 0
    assert not ration.ready
