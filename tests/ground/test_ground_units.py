"""The closed list against Pint, and quantities as people write them."""

from __future__ import annotations

import subprocess
import sys

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rounds.units import UNITS, Amount, UnitError, convert, quantity, shown, shown_unit

UREG: pint.UnitRegistry[float] = pint.UnitRegistry()
BASE = {
    "temperature": "degC", "volume": "m^3", "mass": "kg", "length": "m", "area": "m^2",
    "concentration": "mg/L", "flow": "m^3/h", "pressure": "hPa", "conductivity": "mS/cm",
    "time": "h", "energy density": "kJ/g", "percent": "percent", "current": "A",
}  # fmt: skip
PINT_NAME = {"psi": "psi", "inHg": "inHg", "mmHg": "mmHg", "%": "percent", "d": "day"}
CHEMICAL = {
    # IUPAC abridged atomic weights: CaCO3 100.086 g/mol holds two equivalents; one degree of
    # carbonate hardness is 10 mg CaO/L, CaO 56.077 g/mol.
    "mg/L CaCO3": 1.0,
    "meq/L": 100.086 / 2,
    "dKH": 10 * 100.086 / 56.077,
}
DIMENSIONLESS = {"pH", "SG", "1/mL", "1", "NTU", "g/kg", "ppt"}


@pytest.mark.parametrize("unit", sorted(set(UNITS) - set(CHEMICAL) - DIMENSIONLESS))
def test_every_factor_and_offset_agrees_with_pint(unit: str) -> None:
    base = BASE[UNITS[unit].dimension]
    for value in (1.0, 37.5):
        expected = UREG.Quantity(value, PINT_NAME.get(unit, unit)).to(base).magnitude
        factor, offset = UNITS[unit].factor, UNITS[unit].offset
        assert value * factor + offset == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("unit", "factor"), CHEMICAL.items())
def test_alkalinity_units_follow_from_atomic_weights(unit: str, factor: float) -> None:
    assert UNITS[unit].factor == pytest.approx(factor, rel=1e-4)


def test_no_unit_is_left_unchecked() -> None:
    checked = {u for u in UNITS if UNITS[u].dimension in BASE} | set(CHEMICAL) | DIMENSIONLESS
    assert checked == set(UNITS)


@given(st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)), st.floats(-1e6, 1e6))
def test_conversions_invert(one: str, two: str, value: float) -> None:
    if UNITS[one].dimension != UNITS[two].dimension:
        with pytest.raises(UnitError):
            convert(value, one, two)
    else:
        assert convert(convert(value, one, two), two, one) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(
    ("written", "to", "expected"),
    [
        ("900 gal", "m^3", 3.4068706),  # 1 US gal = 3.785411784 L exactly
        ("78 degF", "degC", 25.5555556),
        ("1.5 lb", "kg", 0.680388555),
        ("24,5 degC", "degC", 24.5),
        (24.5, "degC", 24.5),
        ("6", "m^3", 6.0),
        ("3 cup", "L", 0.70976471),  # a unit the list does not hold: Pint's
        ("300 kelvin", "degC", 26.85),
        ("4 acre", "m^2", 16187.4261),  # international acre 4046.8564 m^2
        ("5 gallon/minute", "m^3/h", 1.13562354),
    ],
)
def test_quantities_are_read(written: str | float, to: str, expected: float) -> None:
    assert quantity(written, to) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(
    "written",
    ["3 kg", "3 foo", "much", "", "nan L", "inf L", "1e999 L", True, "1_0 L", "2 __import__('os')",
     "1,000.5 L", "[/] L", "3 L;L", "5 L*", "5 m^9^9^9^9", "5 m**999", "5 L/", "5 m" * 30],
)  # fmt: skip
def test_bad_quantities_are_refused_with_words(written: str | bool) -> None:
    with pytest.raises(UnitError) as error:
        quantity(written, "L")
    assert str(error.value)


def test_a_comma_that_may_mean_thousands_is_asked_about() -> None:
    with pytest.raises(UnitError, match=r"write 1500 or 1\.500"):
        quantity("1,500 gal", "m^3")
    assert quantity("0,500 m^3", "m^3") == 0.5
    assert quantity("1,5 m^3", "m^3") == 1.5


def test_a_unit_of_the_list_never_loads_pint() -> None:
    code = (
        "import sys; from rounds.units import quantity; quantity('900 gal', 'm^3');"
        "quantity('78 degF', 'degC'); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_amounts_print_with_their_unit_and_follow_the_site() -> None:
    assert f"{Amount(12.345, 'kg'):.1f}" == "12.3 kg"
    assert f"{Amount(8.05, 'pH'):.2f}" == "8.05"
    assert f"{shown(Amount(25, 'degC'), 'us'):.0f}" == "77 degF"
    assert shown(Amount(25, "degC"), "metric") == Amount(25, "degC")
    assert shown(Amount(5, "mg/L"), "us") == Amount(5, "mg/L")
    assert shown_unit("degC", "us") == "degF"
    assert shown_unit("degC", "metric") == "degC"


def test_a_unit_behind_a_number_is_written_as_people_say_it() -> None:
    assert [f"{Amount(30.0, unit):.0f}" for unit in ("1/mL", "pH", "mg/L")] == [
        "30 per mL", "30", "30 mg/L",
    ]  # fmt: skip
