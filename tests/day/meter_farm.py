"""What the tests of the meters share: a farm of habits, one stop, and the doubts told of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from laptops import sample
from small_farm import NOW, Days

from rounds.day.meters.doubt import MeterDoubt
from rounds.day.meters.doubts import doubts_of_meters

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


# -- neighbours ------------------------------------------------------------------------------------


SALT = {"N1": 32.0, "N2": 32.0, "G1": 32.0, "G2": 32.0, "S1": 32.0}


# -- crosswise -------------------------------------------------------------------------------------


TWO = {"G1": 32.0, "G2": 32.0, "N1": 32.0, "G3": 30.0, "G4": 30.0, "G5": 30.0}


# -- one handheld in all places --------------------------------------------------------------------


def scaled(factor: float, places: tuple[str, ...] = (*TANKS, *FISHLESS)) -> dict[str, float]:
    return {place: value * (factor if place in places else 1) for place, value in USUAL.items()}


# -- frozen ----------------------------------------------------------------------------------------


def again(measure: str, typed: str, times: int, places: tuple[str, ...] = ("G1",)) -> Days:
    days = Days(sample())
    days.read("G1", -12 * times - 12, **{measure: "7.55" if measure == "ph" else "20.0"})
    for n in range(times):
        days.read(places[n % len(places)], -12 * (times - n - 1) - 1, **{measure: typed})
    return days
