"""Verdicts by the limits decided for the farm, and figures worked out from several readings."""

from __future__ import annotations

from datetime import timedelta

import pytest
from laptops import MONDAY, Laptop, sample, us
from msgspec.structs import replace

from rounds.day.lots.deaths import judge_deaths
from rounds.day.readings.derived import Derived, derived
from rounds.day.verdict import judge, of_place, worst
from rounds.reason import lines
from rounds.records.entry import Answer, Died, Incident, State


def one(laptop: Laptop, place: str, measure: str, **typed: float) -> Derived:
    at = laptop.site.places[place]
    found = derived(laptop.site, laptop.farm, at, laptop.now, typed, day=True)
    return next(figure for figure in found if figure.measure == measure)


# Decided: full ration from 75 % and 5.0 mg/L, act below 60 % or 4.0 mg/L; ammonia watch 0.02, act
# 0.05; nitrite watch 1, act 10; a value on a limit is still inside.
@pytest.mark.parametrize(
    ("measure", "value", "verdict"),
    [
        ("oxygen", 5.0, "ok"), ("oxygen", 4.99, "watch"), ("oxygen", 4.0, "watch"),
        ("oxygen", 3.99, "act"), ("oxygen_percent", 75, "ok"), ("oxygen_percent", 74.9, "watch"),
        ("oxygen_percent", 59.9, "act"), ("ammonia", 0.02, "ok"), ("ammonia", 0.021, "watch"),
        ("ammonia", 0.051, "act"), ("nitrite", 1.0, "ok"), ("nitrite", 1.1, "watch"),
        ("nitrite", 10.1, "act"),
    ],
)  # fmt: skip
def test_bands_of_a_grow_out_tank(measure: str, value: float, verdict: str) -> None:
    assert judge(sample(), sample().places["G1"], measure, value, MONDAY).verdict == verdict


def test_larvae_have_half_the_ammonia() -> None:
    grown = judge(sample(), sample().places["G1"], "ammonia", 0.015, MONDAY)
    larvae = judge(sample(), sample().places["L1"], "ammonia", 0.015, MONDAY)
    assert (grown.verdict, larvae.verdict) == ("ok", "watch")


def test_a_judgement_says_value_limit_and_what_to_do() -> None:
    found = judge(sample(), sample().places["G1"], "oxygen", 3.9, MONDAY)
    assert found.says == "Oxygen 3.9 mg/L, below 4.0"
    assert found.sentence.startswith("Oxygen 3.9 mg/L, below 4.0: Aerate now, stop feeding")
    assert any("4 or more mg/L" in line for line in lines(found.reasons))


def test_rounding_never_hides_a_passed_limit() -> None:
    found = judge(sample(), sample().places["G1"], "oxygen", 4.98, MONDAY)
    assert found.says == "Oxygen 4.98 mg/L, below 5.0"


def test_read_again_sooner_the_worse_it_is_and_tests_wait_for_the_next_round() -> None:
    place = sample().places["G1"]
    after = {
        value: judge(sample(), place, "oxygen", value, MONDAY).reread_at
        for value in (3.0, 4.5, 6.0)
    }
    assert after == {
        3.0: MONDAY + timedelta(minutes=15), 4.5: MONDAY + timedelta(minutes=30), 6.0: None,
    }  # fmt: skip
    assert judge(sample(), place, "nitrite", 2, MONDAY).reread_at is None
    eggs = judge(sample(), sample().places["R1"], "egg_ratio", 12, MONDAY)
    assert (eggs.verdict, eggs.reread_at) == ("act", None)  # eggs change over days


def test_limits_with_hours_are_those_of_the_sites_clock() -> None:
    tray = sample().places["M1"]
    assert judge(sample(), tray, "ph", 8.7, MONDAY.replace(hour=13)).verdict == "ok"
    assert judge(sample(), tray, "ph", 8.7, MONDAY.replace(hour=5)).verdict == "act"


def test_other_units_are_judged_and_us_units_shown() -> None:
    found = judge(us(), us().places["G1"], "temperature", 92.0, MONDAY, "degF")
    assert found.verdict == "act"
    assert found.says == "Temperature 92.0 degF, above 91.4"


def test_a_measure_without_limits_says_so() -> None:
    found = judge(sample(), sample().places["HOUSE"], "pump_current", 4.2, MONDAY)
    assert found.verdict == "ok"
    assert "no limits set" in found.says


def test_the_worst_word_governs() -> None:
    assert worst(["ok", "act", "watch"]) == "act"
    assert worst(["ok", "unknown"]) == "unknown"
    assert worst([]) == "unknown"


# -- worked-out figures --------------------------------------------------------------------------


def warm(laptop: Laptop, place: str = "G1") -> None:
    laptop.read(place, "temperature", "26.5", "degC")
    laptop.read(place, "salinity", "32.0", "g/kg")


def test_what_is_missing_is_named_and_nothing_is_guessed() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "6.0", "mg/L")
    laptop.read("G1", "temperature", "26.5", "degC")
    found = one(laptop, "G1", "oxygen_percent")
    assert found.value is None
    assert found.judgement is None
    assert found.missing == ("Salinity not read here: measure it",)


def test_an_old_reading_does_not_count() -> None:
    laptop = Laptop()
    warm(laptop)
    laptop.wait(hours=25)
    laptop.read("G1", "oxygen", "6.0", "mg/L")
    found = one(laptop, "G1", "oxygen_percent")
    assert found.value is None
    assert "yesterday 07:00" in found.missing[0]
    assert "Temperature" in found.missing[0]


def test_a_reading_from_the_future_does_not_count() -> None:
    laptop = Laptop()
    laptop.wait(hours=2)
    warm(laptop)
    laptop.wait(hours=-2)
    laptop.read("G1", "oxygen", "6.0", "mg/L")
    assert one(laptop, "G1", "oxygen_percent").value is None


def test_salinity_of_the_same_loop_counts_and_is_told() -> None:
    laptop = Laptop()
    warm(laptop, "G1")
    laptop.read("G2", "oxygen", "6.0", "mg/L")
    found = one(laptop, "G2", "oxygen_percent")
    assert found.value is not None
    assert any("Salinity 32.0 g/kg (today 07:00 in G1)" in line for line in lines(found.reasons))
    laptop.read("G4", "oxygen", "6.0", "mg/L")
    assert one(laptop, "G4", "oxygen_percent").value is None, "another loop is another water"


def test_oxygen_is_never_taken_from_another_tank() -> None:
    laptop = Laptop()
    warm(laptop, "G1")
    laptop.read("G1", "oxygen", "6.0", "mg/L")
    found = one(laptop, "G2", "oxygen_percent")
    assert found.value is None
    assert found.missing == ("Oxygen not read here: measure it",)


def test_an_isolated_tank_does_not_share_the_loops_water() -> None:
    laptop = Laptop()
    warm(laptop, "G1")
    laptop.keep(State(place="G2", state="isolated"))
    laptop.read("G2", "oxygen", "6.0", "mg/L")
    assert one(laptop, "G2", "oxygen_percent").value is None


def test_percent_governs_where_mg_l_looks_well() -> None:
    laptop = Laptop()
    laptop.stock("G1")
    laptop.read("G1", "temperature", "24.5", "degC")
    laptop.read("G1", "salinity", "20.0", "g/kg")
    laptop.read("G1", "oxygen", "5.2", "mg/L")
    stands = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert stands.worst is not None
    assert (stands.verdict, stands.worst.measure) == ("watch", "oxygen_percent")


def test_what_kills_soonest_is_told_first() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "10.0", "degC")
    laptop.read("G1", "oxygen", "3.0", "mg/L")
    stands = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert [j.measure for j in stands.judgements] == ["oxygen", "temperature"]


def test_oxygen_read_in_percent_is_judged_in_mg_l_too() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "30.0", "degC")
    laptop.read("G1", "salinity", "35.0", "g/kg")
    laptop.read("G1", "oxygen_percent", "76", "%")
    found = one(laptop, "G1", "oxygen")
    # 6.24 mg/L is full at 30 degC and salinity 35 (Garcia & Gordon 1992, printed table)
    assert found.value == pytest.approx(0.76 * 6.24, abs=0.03)
    assert found.judgement is not None
    assert found.judgement.verdict == "watch"


def test_the_last_tan_is_judged_again_with_a_new_ph() -> None:
    laptop = Laptop()
    warm(laptop)
    laptop.read("G1", "tan", "1.0", "mg/L")
    laptop.read("G1", "ph", "7.40", "pH")
    low = one(laptop, "G1", "ammonia")
    high = one(laptop, "G1", "ammonia", ph=7.8)
    assert low.judgement is not None
    assert high.judgement is not None
    assert (low.judgement.verdict, high.judgement.verdict) == ("ok", "watch")
    assert low.line.endswith("OK")
    assert "! WATCH" in high.line
    assert high.cautious is not None
    assert high.value is not None
    assert high.cautious >= high.value
    assert high.judgement.value == high.cautious, "the verdict is given on the cautious value"


def test_the_days_worst_ammonia_stays_in_sight() -> None:
    laptop = Laptop()
    warm(laptop)
    laptop.read("G1", "tan", "1.0", "mg/L")
    laptop.read("G1", "ph", "8.20", "pH")
    worst_of_day = one(laptop, "G1", "ammonia").cautious
    laptop.wait(hours=5)
    laptop.read("G1", "ph", "7.60", "pH")
    found = one(laptop, "G1", "ammonia")
    assert found.worst == (worst_of_day, MONDAY)
    assert found.cautious is not None
    assert worst_of_day is not None
    assert found.cautious < worst_of_day


def test_an_impossible_pair_gives_no_number() -> None:
    laptop = Laptop()
    warm(laptop)
    laptop.read("G1", "alkalinity", "40", "mg/L CaCO3")
    laptop.read("G1", "ph", "10.60", "pH")
    found = one(laptop, "G1", "co2")
    assert found.value is None
    assert "pH too high for this alkalinity" in found.doubtful
    assert found.line.startswith("CO2: pH too high")


def test_co2_has_its_band_and_a_doubt_above_60() -> None:
    laptop = Laptop()
    warm(laptop)
    laptop.read("G1", "alkalinity", "95", "mg/L CaCO3")
    laptop.read("G1", "ph", "7.45", "pH")
    found = one(laptop, "G1", "co2")
    assert found.value is not None
    assert found.low == pytest.approx(0.75 * found.value)
    assert found.high == pytest.approx(1.25 * found.value)
    assert not found.doubtful
    assert "measure pH and alkalinity again" in one(laptop, "G1", "co2", ph=6.0).doubtful


def test_a_typed_pressure_counts_before_the_elevation() -> None:
    laptop = Laptop()
    warm(laptop)
    laptop.read("G1", "oxygen", "6.0", "mg/L")
    here = one(laptop, "G1", "oxygen_percent")
    high = one(laptop, "G1", "oxygen_percent", pressure=800)
    assert here.value is not None
    assert high.value is not None
    assert high.value > here.value * 1.2
    assert any("elevation" in line for line in lines(here.reasons))


# -- a place -------------------------------------------------------------------------------------


def test_fish_whose_oxygen_was_not_read_are_never_ok() -> None:
    laptop = Laptop()
    laptop.stock("G1")
    laptop.read("G1", "temperature", "24.0", "degC")
    stands = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert stands.verdict == "unknown"
    assert stands.worst is not None
    assert "Oxygen not read" in stands.worst.says
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    stands = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert stands.verdict == "ok"


def test_todays_limits_judge_a_reading_kept_under_older_ones() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "3.0", "mg/L", verdict="ok")
    assert of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now).verdict == "act"


def test_a_bad_answer_counts_overnight_until_a_better_one() -> None:
    laptop = Laptop()
    place = laptop.site.places["G1"]
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    laptop.keep(Answer(place="G1", step="look", value="gasping at surface", verdict="act"))
    stands = of_place(laptop.site, laptop.farm, place, laptop.now)
    assert stands.worst is not None
    assert (stands.verdict, stands.worst.measure) == ("act", "look")
    assert "gasping at surface" in stands.worst.says
    assert "aerate" in stands.worst.do
    laptop.wait(days=1)
    assert of_place(laptop.site, laptop.farm, place, laptop.now).verdict == "act"
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    laptop.keep(Answer(place="G1", step="look", value="calm and spread", verdict="ok"))
    assert of_place(laptop.site, laptop.farm, place, laptop.now).verdict == "ok"


@pytest.mark.parametrize(("dead", "verdict"), [(0, "ok"), (1, "ok"), (2, "watch"), (3, "act")])
def test_one_dead_of_250_is_a_look_not_an_alarm(dead: int, verdict: str) -> None:
    laptop = Laptop()
    laptop.stock("G1", count=250)
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    laptop.keep(Died(place="G1", lot="RD1", count=dead))
    found = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert found.verdict == verdict


def test_deaths_are_weighed_against_the_lots_own_past() -> None:
    """mortality_alarm row of the husbandry checks: 0.3 a day expected, 3 dead are flagged."""
    laptop = Laptop()
    laptop.stock("G1", count=250)
    laptop.now -= timedelta(days=15)
    for day in range(14):
        laptop.wait(days=1)
        laptop.keep(Died(place="G1", lot="RD1", count=1 if day in (1, 5, 9, 12) else 0))
    laptop.now = MONDAY
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    laptop.keep(Died(place="G1", lot="RD1", count=3))
    found = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert found.worst is not None
    assert (found.verdict, found.worst.measure) == ("watch", "dead")
    assert found.worst.says == "3 dead of RD1, 0.3 expected"


def test_the_evenings_dead_are_still_told_at_first_light_until_they_are_counted_again() -> None:
    laptop = Laptop()
    laptop.stock("G1", count=250)
    laptop.keep(Died(place="G1", lot="RD1", count=4))
    laptop.wait(days=1)
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    place = laptop.site.places["G1"]
    assert of_place(laptop.site, laptop.farm, place, laptop.now).verdict == "act"
    laptop.keep(Died(place="G1", lot="RD1", count=0))
    assert of_place(laptop.site, laptop.farm, place, laptop.now).verdict == "ok"
    laptop.keep(Died(place="G1", lot="RD1", count=4))
    laptop.wait(days=2)
    laptop.read("G1", "oxygen", "6.5", "mg/L")
    assert of_place(laptop.site, laptop.farm, place, laptop.now).verdict == "ok"


def test_a_tank_of_which_no_fish_is_left_is_told() -> None:
    laptop = Laptop()
    laptop.stock("G1")
    laptop.keep(Died(place="G1", lot="RD1", count=250))
    assert not laptop.farm.stocks.get("G1")
    found = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert (found.verdict, found.worst and found.worst.measure) == ("act", "dead")


@pytest.mark.parametrize("count", [-5, 10**7, 10**18])
def test_a_count_beyond_all_sense_does_not_raise(count: int) -> None:
    laptop = Laptop()
    laptop.stock("G1")
    laptop.keep(Died(place="G1", lot="RD1", count=count))
    found = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert found.verdict == ("act" if count > 0 else "unknown")


def test_larvae_are_not_judged_by_their_last_14_days() -> None:
    laptop = Laptop()
    laptop.stock("L1", "LV1", 40_000)
    found = judge_deaths(laptop.farm, laptop.site.places["L1"], "LV1", 900, laptop.now)
    assert found.verdict == "ok"
    assert "larvae: compare with the day before" in found.says


def test_dry_places_have_no_water_figures() -> None:
    laptop = Laptop()
    laptop.keep(Incident(about="pump", event="began"))
    assert derived(laptop.site, laptop.farm, laptop.site.places["HOUSE"], MONDAY) == ()


def test_sea_water_buffers_change_the_ammonia() -> None:
    laptop = Laptop(replace(sample(), ph_buffers="total"))
    warm(laptop)
    laptop.read("G1", "tan", "1.0", "mg/L")
    laptop.read("G1", "ph", "7.40", "pH")
    total = one(laptop, "G1", "ammonia").value
    nbs = Laptop()
    nbs.hear(laptop)
    meter = one(nbs, "G1", "ammonia").value
    assert total is not None
    assert meter is not None
    assert total > 1.2 * meter
