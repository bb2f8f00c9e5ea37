"""Typed values that cannot be, that are odd, and the slip that was likely made."""

from __future__ import annotations

from decimal import Decimal

import pytest
from laptops import Laptop, us

from rounds.day.walking.plausible import Doubt, doubts


def told(
    laptop: Laptop, measure: str, typed: str, unit: str, place: str = "G1"
) -> tuple[Doubt, ...]:
    at = laptop.site.places[place]
    return doubts(laptop.site, laptop.farm, at, measure, Decimal(typed), unit, laptop.now)


# Without any earlier reading: measure, typed, unit, kind, part of the text, suggestion.
@pytest.mark.parametrize(
    ("measure", "typed", "unit", "kind", "says", "meant"),
    [
        ("specific_gravity", "1024", "SG", "impossible", "written like 1.024", "1.024"),
        ("specific_gravity", "24", "SG", "impossible", "written like 1.024", "1.024"),
        ("salinity", "1024", "g/kg", "impossible", "specific gravity", None),
        ("salinity", "1.024", "g/kg", "odd", "specific gravity", None),
        ("ph", "81", "pH", "impossible", "point was left out", "8.10"),
        ("ph", "3.9", "pH", "impossible", "pH is 4 to 11", None),
        ("oxygen", "68", "mg/L", "impossible", "or that is oxygen in percent", "6.8"),
        ("oxygen_percent", "6.8", "%", "odd", "looks like oxygen in mg/L", None),
        ("alkalinity", "8.1", "mg/L CaCO3", "odd", "dKH", "145"),
        ("alkalinity", "2.4", "mg/L CaCO3", "odd", "meq/L", "120"),
        ("conductivity", "48200", "mS/cm", "impossible", "uS/cm", "48.2"),
        ("temperature", "78", "degC", "impossible", "Fahrenheit", "25.6"),
        ("temperature", "245", "degC", "impossible", "point was left out", "24.5"),
        ("temperature", "-3", "degC", "impossible", "-2.2 to 45 degC", None),
        ("temperature", "38", "degC", "odd", "high for here", None),
        ("temperature", "7.5", "degC", "odd", "low for here", None),
        ("pressure", "29.9", "hPa", "impossible", "inches of mercury", "1013"),
        ("pressure", "101.3", "hPa", "impossible", "kilopascals", "1013"),
        ("chlorine", "0.05", "mg/L", "odd", "high for here", None),
        ("tan", "120", "mg/L", "impossible", "0 to 100 mg/L", None),
    ],
)
def test_slips(
    measure: str, typed: str, unit: str, kind: str, says: str, meant: str | None
) -> None:
    found = told(Laptop(), measure, typed, unit)
    assert found[0].kind == kind
    assert says in found[0].says
    assert found[0].suggestion == (None if meant is None else Decimal(meant))


def test_a_slip_into_what_this_place_cannot_have_is_not_named() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "24.8", "degC")
    (found,) = told(laptop, "temperature", "46", "degC")
    assert (found.says, found.suggestion) == (
        "46 degC cannot be: Temperature is -2.2 to 45 degC", None,
    )  # fmt: skip
    (found,) = told(laptop, "temperature", "78", "degC")
    assert found.says.endswith("78? that looks like degrees Fahrenheit: 25.6?")


@pytest.mark.parametrize(
    ("measure", "typed", "unit"),
    [
        ("temperature", "24.5", "degC"), ("oxygen", "6.8", "mg/L"), ("ph", "7.60", "pH"),
        ("salinity", "24", "g/kg"), ("salinity", "32.0", "g/kg"), ("pressure", "1013", "hPa"),
        ("specific_gravity", "1.024", "SG"), ("alkalinity", "110", "mg/L CaCO3"),
        ("oxygen_percent", "92", "%"), ("tan", "0.4", "mg/L"), ("tan", "0", "mg/L"),
        ("chlorine", "0", "mg/L"), ("temperature", "78", "degF"),
    ],
)  # fmt: skip
def test_plain_values_raise_no_doubt(measure: str, typed: str, unit: str) -> None:
    assert told(Laptop(), measure, typed, unit) == ()


# measure, unit, last, typed, part of the text, suggestion: a jump or slip against the last reading
@pytest.mark.parametrize(
    ("measure", "unit", "last", "typed", "says", "meant"),
    [
        ("oxygen", "mg/L", "6.8", "68", "last 6.8, now 68: decimal point? 6.8", "6.8"),
        ("oxygen", "mg/L", "6.8", "0.68", "last 6.8, now 0.68: decimal point? 6.8", "6.8"),
        ("nitrate", "mg/L", "9", "88", "last 9, now 88: decimal point? 8.8", "8.8"),
        ("tan", "mg/L", "0.4", "4.1", "decimal point? 0.41", "0.41"),
        ("alkalinity", "mg/L CaCO3", "145", "8.1", "dKH", "145"),
        ("alkalinity", "mg/L CaCO3", "84", "8.1", "decimal point? 81", "81"),
        ("temperature", "degC", "24.6", "42.6", "digits swapped? 24.6", "24.6"),
        ("temperature", "degC", "24.6", "21.0", "last 24.6, now 21.0: a jump", None),
        ("ph", "pH", "7.60", "8.10", "a jump", None),
        ("salinity", "g/kg", "32.0", "28.5", "a jump", None),
        ("tan", "mg/L", "1.8", "0", "reagent", None),
    ],
)
def test_against_the_last_reading(
    measure: str, unit: str, last: str, typed: str, says: str, meant: str | None
) -> None:
    laptop = Laptop()
    laptop.read("G1", measure, last, unit)
    laptop.wait(minutes=40)
    found = told(laptop, measure, typed, unit)
    assert any(
        says in doubt.says and doubt.suggestion == (None if meant is None else Decimal(meant))
        for doubt in found
    ), found


def test_a_measure_without_a_jump_is_odd_twenty_times_off() -> None:
    laptop = Laptop()
    laptop.read("HOUSE", "blower_pressure", "212", "mbar")
    for typed in ("2", "5000"):
        says = [one.says for one in told(laptop, "blower_pressure", typed, "mbar", "HOUSE")]
        assert any("20 times off" in one or "0 to 1000" in one for one in says)
    assert told(laptop, "blower_pressure", "60", "mbar", "HOUSE") == ()
    assert told(laptop, "blower_pressure", "0", "mbar", "HOUSE") == ()


def test_a_slow_change_is_no_jump() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "24.6", "degC")
    laptop.wait(hours=3)
    assert told(laptop, "temperature", "27.0", "degC") == ()
    assert told(laptop, "temperature", "31.5", "degC") != ()


def test_a_stale_reading_makes_no_jump_and_another_tanks_never() -> None:
    laptop = Laptop()
    laptop.read("G1", "ph", "7.60", "pH")
    assert told(laptop, "ph", "8.10", "pH", "G2") == ()
    laptop.wait(hours=30)
    assert told(laptop, "ph", "8.10", "pH") == ()


def test_pressure_is_compared_with_the_height_of_the_site() -> None:
    laptop = Laptop()  # 6 m: about 1013 hPa (US Standard Atmosphere)
    assert "sea level" in told(laptop, "pressure", "970", "hPa", "HOUSE")[0].says
    assert told(laptop, "pressure", "990", "hPa", "HOUSE") == ()


def test_celsius_typed_where_fahrenheit_is_asked() -> None:
    found = told(Laptop(us()), "temperature", "24.5", "degF")
    assert found[0].suggestion == Decimal("76.1")
    assert "degC" in found[0].says


def test_a_value_in_another_unit_is_compared_in_the_measures_own() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "25.5", "degC")
    laptop.wait(minutes=30)
    assert told(laptop, "temperature", "78", "degF") == ()
    assert "a jump" in told(laptop, "temperature", "84", "degF")[0].says


def test_readings_that_cannot_go_together_are_doubted() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "25.0", "degC")
    laptop.read("G1", "salinity", "32.0", "g/kg")
    laptop.read("G1", "alkalinity", "40", "mg/L CaCO3")
    found = told(laptop, "ph", "10.6", "pH")
    assert any("pH too high for this alkalinity" in doubt.says for doubt in found)
    above = told(laptop, "oxygen", "9.2", "mg/L")
    assert any("is oxygen being added?" in doubt.says for doubt in above)


def test_a_corrected_value_is_not_compared_with_itself() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "6.7", "mg/L")
    laptop.wait(hours=1)
    wrong = laptop.read("G1", "oxygen", "0.68", "mg/L")
    place = laptop.site.places["G1"]
    found = doubts(
        laptop.site, laptop.farm, place, "oxygen", Decimal("6.8"), "mg/L", laptop.now, wrong.id
    )
    assert found == ()
