"""Frozen values, and what holds of every doubt of a meter."""

from __future__ import annotations

from random import Random

import pytest
from laptops import sample
from meter_farm import (
    SALT,
    TWO,
    USUAL,
    again,
    doubts,
    habit,
    kinds,
    one,
    scaled,
    tank,
    today,
)
from msgspec.structs import replace
from small_farm import NOW, Days

from rounds.day.fold.farm import fold
from rounds.day.meters.doubts import doubts_of_meters
from rounds.day.meters.frozen import runs_needed
from rounds.day.telling.board import board
from rounds.records import entry as e

# -- frozen ----------------------------------------------------------------------------------------


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


def test_over_two_waters_a_frozen_meter_is_told_while_it_is_in_the_hand() -> None:
    """By hand: 0.16 of a water's readings show its commonest hundredth of pH; 0.16**4 < 0.001."""
    loops = ("G1", "G3", "G2", "G4", "N1")
    assert kinds(again("ph", "7.80", 4, loops)) == []
    assert "7.80 in 5 places of 2 waters 5 times" in one(again("ph", "7.80", 5, loops)).says
    assert kinds(again("ph", "7.80", 5, ("G1", "G2"))) == []


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
    assert [kinds(days) for days in farms] == [
        ["salinity setting"], ["neighbour"], ["all together"], ["frozen"],
    ]  # fmt: skip
    for days in farms:
        for doubt in doubts(days):
            assert doubt.says.startswith("Check the ")
            assert doubt.delay
            assert doubt.reasons


def test_a_farm_without_readings_raises_none() -> None:
    assert doubts(Days(sample())) == ()
    assert doubts(Days(replace(sample(), checklists={}))) == ()
