"""One handheld off in all places, and the real falls of oxygen it must not be taken for."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from meter_farm import (
    TANKS,
    USUAL,
    doubts,
    habit,
    kinds,
    scaled,
    today,
)
from small_farm import NOW, Days

from rounds.day.telling.board import board


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
