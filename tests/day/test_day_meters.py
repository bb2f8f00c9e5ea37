"""Each way a meter tells on itself, and beside it the near miss that must stay quiet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest
from laptops import sample
from small_farm import NOW, Days

from rounds.day import rations
from rounds.day.board import board
from rounds.day.farm import fold
from rounds.day.meter_doubt import MeterDoubt
from rounds.day.meter_frozen import runs_needed
from rounds.day.meters import doubts_of_meters
from rounds.day.verdict import of_place
from rounds.records import entry as e

TANKS = ("N1", "N2", "G1", "G2", "G3", "G4", "G5")
FISHLESS = ("S1", "M1", "M2", "P1")
USUAL = {
    "N1": 6.9, "N2": 6.8, "G1": 6.5, "G2": 6.4, "G3": 6.6, "G4": 6.3, "G5": 6.5, "S1": 5.2,
    "M1": 6.0, "M2": 5.8, "P1": 7.4,
}  # fmt: skip


def doubts(days: Days, hours: float = 0.0) -> tuple[MeterDoubt, ...]:
    """Return all doubts but those of a check past its date."""
    found = doubts_of_meters(days.site, days.farm, NOW + timedelta(hours=hours))
    return tuple(doubt for doubt in found if doubt.kind != "due")


def kinds(days: Days, hours: float = 0.0) -> list[str]:
    return [doubt.kind for doubt in doubts(days, hours)]


def one(days: Days) -> MeterDoubt:
    (found,) = doubts(days)
    return found


def tank(**values: object) -> Days:
    """Return a farm with one stop in G1, an hour ago, at one atmosphere."""
    days = Days(sample())
    days.read("HOUSE", -2, pressure="1013.25")
    days.read("G1", -1, **values)
    return days


def habit(measure: str, usual: Mapping[str, float], nights: int = 5, digits: int = 1) -> Days:
    """Return a farm whose places read as usual, within a digit, an hour before NOW each day."""
    days = Days(sample())
    for place in TANKS:
        days.stock(place, hours=-2000)
    for night in range(1, nights + 1):
        for n, (place, value) in enumerate(usual.items()):
            noise = ((night + n) % 3 - 1) * 10.0**-digits
            days.read(place, -1 - 24 * night, **{measure: f"{value + noise:.{digits}f}"})
    return days


def today(days: Days, measure: str, values: Mapping[str, float], digits: int = 1) -> Days:
    for place, value in values.items():
        days.read(place, -1, **{measure: f"{value:.{digits}f}"})
    return days


# -- mg/L against percent: the saturations are printed ones, 9.092 and 7.396 mg/L at 20 degC -------


def test_a_meter_left_at_salinity_0_is_named_and_the_true_figure_given() -> None:
    found = one(tank(temperature="20", salinity="35", oxygen="8.2", oxygen_percent="90"))
    assert (found.kind, found.places) == ("salinity setting", ("G1",))
    assert "stands at salinity 0" in found.says
    assert "set it to 35" in found.says
    assert "6.7 mg/L in G1" in found.says  # 0.90 x 7.396


@pytest.mark.parametrize("mg_l", ["6.7", "6.4", "7.0"])  # 91, 87 and 95 % where 90 was read
def test_mg_l_and_percent_within_five_points_belong_together(mg_l: str) -> None:
    assert kinds(tank(temperature="20", salinity="35", oxygen=mg_l, oxygen_percent="90")) == []


@pytest.mark.parametrize("mg_l", ["7.3", "5.9"])  # 99 and 80 %
def test_mg_l_and_percent_further_apart_are_told_without_naming_salinity_0(mg_l: str) -> None:
    found = one(tank(temperature="20", salinity="35", oxygen=mg_l, oxygen_percent="90"))
    assert found.kind == "pair"
    assert "if the percent is right it is 6.7 mg/L in G1" in found.says


def test_forms_of_two_stops_are_not_compared_nor_without_salinity() -> None:
    days = tank(temperature="20", salinity="35", oxygen="8.2")
    days.read("G1", -3, oxygen_percent="90")
    assert kinds(days) == []
    assert kinds(tank(temperature="20", oxygen="8.2", oxygen_percent="90")) == []


def test_the_doubt_ends_with_the_next_reading_that_fits_and_after_a_day() -> None:
    days = tank(temperature="20", salinity="35", oxygen="8.2", oxygen_percent="90")
    assert kinds(days, hours=24.5) == []
    days.read("G1", -0.5, oxygen="6.7", oxygen_percent="90")
    assert kinds(days) == []


def test_act_stays_act_and_the_meter_comes_second() -> None:
    days = Days()
    days.stock()
    days.read("T1", -1, temperature="20", salinity="35", oxygen="3.5", oxygen_percent="90")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.verdict == "act"
    assert stands.worst is not None
    assert stands.worst.do == "Aerate now, stop feeding. Then check the meter."
    assert any("do not fit" in str(r.values.get("says")) for r in stands.worst.reasons)


def test_what_the_percent_comes_to_can_only_raise_a_verdict_and_the_ration_agrees() -> None:
    # 34 degC, S 35: saturation 5.858 in this water, 7.065 in fresh; 65 % is 3.8, shown as 4.6
    days = Days()
    days.stock()
    days.read("T1", -1, temperature="34", salinity="35", oxygen="4.6", oxygen_percent="65")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.verdict == "act"
    assert stands.worst is not None
    assert stands.worst.says == "Oxygen 3.8 mg/L, below 4.0 (by the percent)"
    ration = next(r for r in rations.today(days.site, days.farm, NOW) if r.place == "T1")
    assert ration.no_feed


# -- conductivity, pH against alkalinity -----------------------------------------------------------


@pytest.mark.parametrize(("salinity", "told"), [("35", False), ("34.2", False), ("33.4", True)])
def test_conductivity_of_the_standard_against_salinity(salinity: str, told: bool) -> None:
    days = tank(temperature="15", conductivity="42.914", salinity=salinity)  # PSS-78: 35 at 15 degC
    assert [(d.kind, d.measure) for d in doubts(days)] == [("pair", "salinity")] * told


@pytest.mark.parametrize(
    ("ph", "alkalinity", "told"),
    [("10.2", "20", True), ("5.9", "100", True), ("7.6", "100", False), ("8.9", "100", False)],
)
def test_ph_that_no_water_of_this_alkalinity_has(ph: str, alkalinity: str, told: bool) -> None:
    days = tank(temperature="24", salinity="30", ph=ph, alkalinity=alkalinity)
    assert [(d.kind, d.measure) for d in doubts(days)] == [("pair", "ph")] * told
    if told:
        assert "Check the pH meter in two buffers" in one(days).says


# -- neighbours ------------------------------------------------------------------------------------

SALT = {"N1": 32.0, "N2": 32.0, "G1": 32.0, "G2": 32.0, "S1": 32.0}


@pytest.mark.parametrize("odd", [30.8, 33.2])
def test_the_odd_one_of_neighbours_is_named(odd: float) -> None:
    found = one(today(habit("salinity", SALT), "salinity", SALT | {"G2": odd}))
    assert (found.kind, found.measure, found.places) == ("neighbour", "salinity", ("G2",))
    assert f"G2 reads {odd}" in found.says
    assert "Read both again" in found.says


@pytest.mark.parametrize(
    "values",
    [
        SALT | {"G2": 31.4},  # two readings may differ by that much
        dict.fromkeys(SALT, 30.8),  # the water itself changed
        SALT | {"G2": 30.8, "N1": 33.4},  # more than one differs
    ],
    ids=["near", "water", "two"],
)
def test_neighbours_within_the_accuracy_or_all_alike_are_quiet(values: dict[str, float]) -> None:
    days = today(habit("salinity", SALT), "salinity", values)
    assert "neighbour" not in kinds(days)


def test_isolated_places_share_no_water() -> None:
    days = today(habit("salinity", SALT), "salinity", SALT | {"G2": 30.8})
    days.write(e.State, -3, place="G2", state="isolated")
    assert kinds(days) == []


def test_a_tank_that_always_runs_warmer_is_not_the_odd_one() -> None:
    warm = {"N1": 24.0, "N2": 25.5, "G1": 24.1, "G2": 24.0}
    assert kinds(today(habit("temperature", warm), "temperature", warm)) == []
    odd = today(habit("temperature", warm), "temperature", warm | {"N2": 24.0})
    assert one(odd).places == ("N2",)


def test_without_a_habit_two_are_told_only_when_twice_as_far_apart() -> None:
    near, far = Days(sample()), Days(sample())
    today(near, "salinity", {"G3": 30.0, "G4": 31.7})
    today(far, "salinity", {"G3": 30.0, "G4": 31.9})
    assert kinds(near) == []
    assert set(one(far).places) == {"G3", "G4"}


# -- crosswise -------------------------------------------------------------------------------------

TWO = {"G1": 32.0, "G2": 32.0, "N1": 32.0, "G3": 30.0, "G4": 30.0, "G5": 30.0}


def test_two_places_typed_crosswise_are_named_in_that_round() -> None:
    found = one(today(habit("salinity", TWO), "salinity", TWO | {"G1": 30.1, "G4": 31.9}))
    assert (found.kind, set(found.places)) == ("crosswise", {"G1", "G4"})
    assert "G1 and G4 salinity look typed crosswise (30.1 and 31.9" in found.says


def test_what_is_usual_is_written_in_the_unit_it_was_typed_in() -> None:
    warm = {"G1": 20.0, "G3": 25.0}
    days = habit("temperature", warm)
    for place, typed in (("G1", "77.0"), ("G3", "68.0")):  # 25 and 20 degC
        days.write(e.Reading, -1, place=place, measure="temperature", value=typed, unit="degF")
    assert "(77.0 and 68.0, usually 68.0 and 77.0)" in one(days).says


@pytest.mark.parametrize(
    "values",
    [TWO | {"G1": 30.1}, TWO | {"G1": 30.1, "G4": 28.0}, TWO | {"G1": 31.6, "G4": 30.4}],
    ids=["one of them only", "neither fits the other", "within the noise"],
)
def test_what_is_not_crosswise(values: dict[str, float]) -> None:
    assert "crosswise" not in kinds(today(habit("salinity", TWO), "salinity", values))


def test_crosswise_needs_three_days_of_readings_at_that_hour() -> None:
    crossed = TWO | {"G1": 30.1, "G4": 31.9}
    assert "crosswise" not in kinds(today(habit("salinity", TWO, nights=2), "salinity", crossed))
    assert "crosswise" in kinds(today(habit("salinity", TWO, nights=3), "salinity", crossed))


# -- one handheld in all places --------------------------------------------------------------------


def scaled(factor: float, places: tuple[str, ...] = (*TANKS, *FISHLESS)) -> dict[str, float]:
    return {place: value * (factor if place in places else 1) for place, value in USUAL.items()}


@pytest.mark.parametrize(("factor", "says"), [(0.86, "14 % lower"), (1.14, "14 % higher")])
def test_one_handheld_off_in_all_places_is_the_meter(factor: float, says: str) -> None:
    days = today(habit("oxygen", USUAL), "oxygen", scaled(factor), digits=2)
    (found,) = (d for d in doubts(days) if d.kind == "all together")
    assert set(found.places) == set(USUAL)
    assert says in found.says
    assert "S1, M1, M2 and P1 without fish too" in found.says
    assert "Act on every ACT NOW first" in found.says


@pytest.mark.parametrize(
    "values",
    [
        scaled(0.95),
        scaled(0.6, ("G4",)),
        scaled(0.8, TANKS),
        scaled(0.8, ("G3", "G4", "G5", "M2")),
    ],
    ids=["a little", "one tank", "all fish, no fishless place", "one loop"],
)
def test_what_is_about_fish_or_water_is_no_doubt_of_the_meter(values: dict[str, float]) -> None:
    days = today(habit("oxygen", USUAL), "oxygen", values, digits=2)
    assert "all together" not in kinds(days)


def told_together(places: tuple[str, ...], factors: Mapping[str, float]) -> bool:
    usual = {place: USUAL[place] for place in places}
    fallen = {place: value * factors.get(place, 1.0) for place, value in usual.items()}
    return "all together" in kinds(today(habit("oxygen", usual), "oxygen", fallen, digits=2))


def test_a_fishless_place_must_fall_too_however_many_tanks_do() -> None:
    places = (*TANKS, "P1")
    assert told_together(places, dict.fromkeys(places, 0.85))
    assert not told_together(places, dict.fromkeys(TANKS, 0.85))


def test_places_of_one_water_alone_may_really_have_fallen() -> None:
    places = ("N1", "N2", "G1", "G2", "S1", "M1")
    assert not told_together(places, dict.fromkeys(places, 0.85))
    assert told_together((*places, "P1"), dict.fromkeys((*places, "P1"), 0.85))


def test_places_that_fall_by_different_parts_are_no_meter() -> None:
    """A blower that died: the fuller a tank, the further it falls."""
    parts = (0.5, 0.6, 0.7, 0.85, 0.97, 0.99, 0.99, 0.85, 0.85, 0.85, 0.85)
    assert not told_together(tuple(USUAL), dict(zip(USUAL, parts, strict=True)))


def test_a_tank_that_falls_is_acted_on_whatever_the_meter() -> None:
    days = today(habit("oxygen", USUAL), "oxygen", scaled(0.55), digits=2)
    assert "all together" in kinds(days)
    verdicts = {line.place: line.verdict for line in board(days.site, days.farm, NOW).lines}
    assert all(verdicts[place] == "act" for place in ("G1", "G2", "G3", "G4", "G5"))


def test_warm_water_that_holds_less_is_not_the_meter() -> None:
    # printed fresh-water column: 8.263 mg/L at 25 degC, 7.559 at 30
    def farm(warmer: float) -> Days:
        days = habit("oxygen", USUAL)
        for night in range(1, 6):
            for place in USUAL:
                days.read(place, -1 - 24 * night, temperature="25.0")
        for place in USUAL:
            days.read(place, -1, temperature=f"{25 + warmer}")
        return today(days, "oxygen", scaled(7.559 / 8.263 * 0.97), digits=2)

    assert "all together" in kinds(farm(0.0))
    assert "all together" not in kinds(farm(5.0))


def test_all_too_high_by_what_fresh_water_holds_more_is_salinity_0_again() -> None:
    days = habit("oxygen", USUAL)
    for place in USUAL:
        days.read(place, -1, temperature="20.0", salinity="35")
    today(days, "oxygen", scaled(9.092 / 7.396), digits=2)
    (found,) = (d for d in doubts(days) if d.kind == "all together")
    assert "That is what salinity 0 in the meter does" in found.says


def test_a_creeping_fall_of_one_percent_a_day_is_told_within_three_weeks() -> None:
    days = habit("oxygen", USUAL, nights=28)
    for day in range(28):
        values = scaled(0.99 ** (day + 1))
        for place, value in values.items():
            days.read(place, 24 * (day + 1) - 1, oxygen=f"{value:.2f}")
        if "all together" in kinds(days, hours=24 * (day + 1)):
            break
    assert 8 <= day + 1 <= 21


# -- frozen ----------------------------------------------------------------------------------------


def again(measure: str, typed: str, times: int, places: tuple[str, ...] = ("G1",)) -> Days:
    days = Days(sample())
    days.read("G1", -12 * times - 12, **{measure: "7.55" if measure == "ph" else "20.0"})
    for n in range(times):
        days.read(places[n % len(places)], -12 * (times - n - 1) - 1, **{measure: typed})
    return days


@pytest.mark.parametrize(
    ("measure", "typed", "needed"), [("ph", "7.62", 8), ("salinity", "31.8", 10)]
)
def test_the_same_digits_too_often_are_a_frozen_value(
    measure: str, typed: str, needed: int
) -> None:
    assert kinds(again(measure, typed, needed - 1)) == []
    found = one(again(measure, typed, needed))
    assert (found.kind, found.measure) == ("frozen", measure)
    assert f"in G1 {needed} times running" in found.says
    assert f"after {needed} equal readings" in found.delay


def test_a_frozen_meter_is_told_within_a_round_over_two_waters_but_not_one() -> None:
    loops = ("G1", "G3", "G2", "G4")
    assert "in 4 places of 2 waters 12 times" in one(again("salinity", "31.0", 12, loops)).says
    assert kinds(again("salinity", "31.0", 12, ("G1", "G2"))) == []


def test_coarse_digits_and_old_runs_tell_nothing() -> None:
    assert kinds(again("temperature", "24", 20)) == []
    assert kinds(again("ph", "7.62", 9), hours=30) == []


@pytest.mark.parametrize(("measure", "true"), [("ph", 7.62), ("salinity", 31.8)])
def test_noise_alone_is_never_frozen(measure: str, true: float) -> None:
    """A seeded meter of the stated noise, 20 000 readings: no run as long as the one needed."""
    chance, digits = Random(7), 2 if measure == "ph" else 1
    sigma = (0.05 if measure == "ph" else 0.3) / 2
    days = Days(sample())
    days.read("G1", 0, **{measure: f"{true:.{digits}f}"})
    needed = runs_needed(days.farm.reads("G1", measure)[0])
    assert needed is not None
    longest, run, last = 0, 0, ""
    for _ in range(20_000):
        shown = f"{chance.gauss(true, sigma):.{digits}f}"
        run = run + 1 if shown == last else 1
        longest, last = max(longest, run), shown
    assert 3 <= longest < needed


# -- all of them -----------------------------------------------------------------------------------


def test_the_same_set_of_entries_gives_the_same_doubts() -> None:
    days = today(habit("salinity", TWO), "salinity", TWO | {"G1": 30.1, "G4": 31.9})
    shuffled = [*days.entries]
    Random(3).shuffle(shuffled)
    again_ = doubts_of_meters(days.site, fold(days.site, shuffled), NOW)
    assert again_ == doubts_of_meters(days.site, days.farm, NOW)


def test_a_corrected_slip_takes_its_doubt_back() -> None:
    days = today(habit("salinity", SALT), "salinity", SALT | {"G2": 30.8})
    slip = next(x for x in days.entries if isinstance(x, e.Reading) and x.value == "30.8")
    days.write(e.Correction, -0.5, of=slip.id, set={"value": "31.8"})
    assert kinds(days) == []


def test_the_board_tells_it_under_the_table() -> None:
    days = today(habit("salinity", SALT), "salinity", SALT | {"G2": 30.8})
    assert any("G2 reads 30.8" in line for line in board(days.site, days.farm, NOW).meters)


def test_every_doubt_says_what_to_do_and_how_soon_it_can_be_told() -> None:
    farms = [
        tank(temperature="20", salinity="35", oxygen="8.2", oxygen_percent="90"),
        today(habit("salinity", SALT), "salinity", SALT | {"G2": 30.8}),
        today(habit("oxygen", USUAL), "oxygen", scaled(0.8), digits=2),
        again("ph", "7.62", 8),
    ]
    for days in farms:
        for doubt in doubts(days):
            assert doubt.says.startswith("Check the ")
            assert doubt.delay
            assert doubt.reasons


def test_a_farm_without_readings_raises_none() -> None:
    assert doubts(Days(sample())) == ()
    assert doubts(Days(replace(sample(), checklists={}))) == ()
