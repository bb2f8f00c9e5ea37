"""Places held against each other: the odd one, two typed crosswise, and what must stay quiet."""

from __future__ import annotations

import pytest
from laptops import sample
from meter_farm import (
    SALT,
    TWO,
    habit,
    kinds,
    one,
    today,
)
from small_farm import Days

from rounds.records import entry as e

# -- neighbours ------------------------------------------------------------------------------------


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
