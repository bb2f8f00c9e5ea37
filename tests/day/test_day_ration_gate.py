"""What holds a ration back: water, oxygen before a meal, what is not read, appetite, deaths."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace
from ration_farm import ROWS, fed_on, good
from small_farm import FISH, NOW, Days, make_site

from rounds.day.feeding import rations
from rounds.day.verdict import of_place
from rounds.reason import lines
from rounds.records import entry as e


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
    assert 0.5 < ration.factor <= factor or ration.factor == factor
    if set(values) != {"oxygen"}:
        assert ration.factor == pytest.approx(factor)
    # 300 of 250 g, 75 kg, at the 1.0384 % a day the table has at 24 degC: 778.8 g
    assert ration.total_g == pytest.approx(778.8 * ration.factor, abs=1)
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
    again = {"oxygen": "6.8", "nitrite": "0.2", "tan": "0.3", "ph": "7.6", "alkalinity": "100"}
    days.read("T1", -0.2, **again)
    assert fed_on(days).no_feed == ("nitrite" in values or "tan" in values)  # one test is none
    days.read("T1", -0.1, **again)
    after = fed_on(days)
    assert not after.no_feed
    assert after.total_g > 0


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


def test_salinity_read_later_in_the_round_at_the_test_point_serves_the_oxygen_before_it() -> None:
    days = Days()
    days.stock("T2")
    days.read("T2", -20, temperature="24")
    days.read("T2", -0.6, oxygen="4.5", temperature="24")  # pass 1, tank by tank
    days.read("T1", -0.3, salinity="30", ph="7.6", tan="0.3", nitrite="0.2")  # pass 2
    ration = next(r for r in rations.today(days.site, days.farm, NOW) if r.place == "T2")
    assert not ration.missing
    assert ration.factor < 0.75  # of 4.5 mg/L alone; the percent is worse, and governs


def test_three_meals_refused_stop_feeding_until_one_is_eaten_not_until_time_has_passed() -> None:
    days = good()
    for hours in (-50, -30, -20):
        days.feed("300", hours, left="100")
    assert fed_on(days).no_feed
    assert "3 meals in a row" in fed_on(days).held_back
    days = good()
    for hours in (-90, -80, -70):
        days.feed("300", hours, left="100")
    assert not fed_on(days).no_feed


def test_oxygen_without_limits_is_named_and_neither_stops_nor_reduces() -> None:
    """What no file sets is not made up: the ration stays at yesterday's and says what to set."""
    kept = tuple(one for one in FISH.limits["any"] if not one.measure.startswith("oxygen"))
    days = good(replace(make_site(), species={"fish": replace(FISH, limits={"any": kept})}))
    days.read("T1", -0.1, oxygen="4.5")
    ration = fed_on(days)
    assert "No oxygen limits here, watch and act: put them into site.toml" in ration.missing
    assert (ration.factor, ration.no_feed) == (1, False)


@pytest.mark.parametrize(("measure", "told"), [("ammonia", "missing"), ("nitrite", "cautions")])
def test_no_limits_of_ammonia_or_nitrite_are_made_up(measure: str, told: str) -> None:
    kept = tuple(one for one in FISH.limits["any"] if one.measure != measure)
    days = good(replace(make_site(), species={"fish": replace(FISH, limits={"any": kept})}))
    days.read("T1", -0.1, tan="2.0", nitrite="5")
    ration = fed_on(days)
    says = f"No {measure} limits here, watch and act: put them into site.toml"
    assert any(says in one for one in getattr(ration, told))
    assert not any(reason.says.startswith(f"{measure} ") for reason in ration.reasons)


def test_only_the_form_of_oxygen_that_has_limits_counts() -> None:
    kept = tuple(one for one in FISH.limits["any"] if one.measure != "oxygen_percent")
    days = good(replace(make_site(), species={"fish": replace(FISH, limits={"any": kept})}))
    days.read("T1", -0.1, oxygen="4.5")  # 64 % would count for less
    ration = fed_on(days)
    assert not any("oxygen limits" in one for one in ration.missing)
    assert ration.factor == pytest.approx(0.75)  # half-way from watch 5.0 to act 4.0
