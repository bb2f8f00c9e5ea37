"""A pond: its verdict and its dose sheet go by the same limits, in words that fit a pond."""

from __future__ import annotations

from datetime import timedelta

import pytest
from laptops import MONDAY, Laptop

from rounds.day.loops import doses
from rounds.day.loops.doses import DoseLine
from rounds.day.verdict import Word, of_place


def read(ph: str, hour: int) -> Laptop:
    """A pond read all through at an hour of a Monday."""
    laptop = Laptop(now=MONDAY + timedelta(hours=hour - MONDAY.hour))
    for measure, value, unit in (
        ("temperature", "23", "degC"), ("salinity", "18", "g/kg"), ("ph", ph, "pH"),
        ("alkalinity", "90", "mg/L CaCO3"), ("oxygen", "7", "mg/L"), ("tan", "0.05", "mg/L"),
    ):  # fmt: skip
        laptop.read("P1", measure, value, unit)
    return laptop


def stands(laptop: Laptop) -> Word:
    return of_place(laptop.site, laptop.farm, laptop.site.places["P1"], laptop.now).verdict


def alkali(laptop: Laptop) -> DoseLine:
    sheets = doses.today(laptop.site, laptop.farm, laptop.now)
    return next(line for s in sheets if s.loop == "P" for line in s.lines if line.product)


@pytest.mark.parametrize("hour", [7, 16])
def test_a_pond_in_order_is_not_told_to_change_its_water(hour: int) -> None:
    laptop = read("8.63", hour)
    assert stands(laptop) == "ok"
    assert not alkali(laptop).refused
    assert alkali(laptop).portions


def test_a_pond_too_high_is_told_so_on_both_sheets_and_of_no_feed_on_neither() -> None:
    laptop = read("9.3", 16)
    assert stands(laptop) == "act"
    (why,) = alkali(laptop).refused
    assert why == "Not now, pH 9.30, over 9.0 before any dose: read pH again at first light."


def test_the_same_ph_is_higher_at_dawn_than_in_the_afternoon() -> None:
    assert stands(read("8.8", 16)) == "ok"
    assert stands(read("8.8", 7)) == "watch"
