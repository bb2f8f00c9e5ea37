"""Units: a closed list that needs no library, and Pint at the edge for everything else.

An entry stores a decimal string and one of the unit texts below; a calculation takes floats whose
unit stands in the argument's name. `convert` goes between units of the closed list; `quantity`
reads what a person wrote in a site file or a command ("900 gal", "78 degF", or a bare number in
the documented unit) and asks Pint, imported at that moment, for a unit the list does not hold.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    import pint


class Unit(NamedTuple):
    """A unit of the closed list: value in the base unit = value * factor + offset."""

    dimension: str
    factor: float
    offset: float = 0.0


UNITS: Final[dict[str, Unit]] = {
    # temperature, base degC
    "degC": Unit("temperature", 1.0),
    "degF": Unit("temperature", 5 / 9, -160 / 9),
    "K": Unit("temperature", 1.0, -273.15),
    # volume, base m^3; gal is the US gallon
    "m^3": Unit("volume", 1.0),
    "L": Unit("volume", 1e-3),
    "mL": Unit("volume", 1e-6),
    "gal": Unit("volume", 3.785411784e-3),
    # mass, base kg
    "kg": Unit("mass", 1.0),
    "g": Unit("mass", 1e-3),
    "mg": Unit("mass", 1e-6),
    "lb": Unit("mass", 0.45359237),
    "oz": Unit("mass", 0.45359237 / 16),
    # length, base m
    "m": Unit("length", 1.0),
    "cm": Unit("length", 0.01),
    "mm": Unit("length", 1e-3),
    "ft": Unit("length", 0.3048),
    "in": Unit("length", 0.0254),
    # area, base m^2
    "m^2": Unit("area", 1.0),
    "ft^2": Unit("area", 0.3048**2),
    # mass concentration, base mg/L (of the substance the measure names)
    "mg/L": Unit("concentration", 1.0),
    "ug/L": Unit("concentration", 1e-3),
    "g/L": Unit("concentration", 1e3),
    # alkalinity, base mg/L as CaCO3 (equivalent weight 50.043, CaO 28.0385 g per equivalent)
    "mg/L CaCO3": Unit("alkalinity", 1.0),
    "meq/L": Unit("alkalinity", 50.043),
    "dKH": Unit("alkalinity", 10 * 100.086 / 56.077),
    # salinity, base g/kg; typed figures are kept as practical salinity
    "g/kg": Unit("salinity", 1.0),
    "ppt": Unit("salinity", 1.0),
    # flow, base m^3/h
    "m^3/h": Unit("flow", 1.0),
    "L/h": Unit("flow", 1e-3),
    "L/min": Unit("flow", 0.06),
    "L/s": Unit("flow", 3.6),
    "gal/min": Unit("flow", 3.785411784e-3 * 60),
    # pressure, base hPa
    "hPa": Unit("pressure", 1.0),
    "mbar": Unit("pressure", 1.0),
    "kPa": Unit("pressure", 10.0),
    "bar": Unit("pressure", 1000.0),
    "mmHg": Unit("pressure", 1.333223874),
    "inHg": Unit("pressure", 33.86388640),
    "atm": Unit("pressure", 1013.25),
    "psi": Unit("pressure", 68.94757293168),
    # conductivity, base mS/cm
    "mS/cm": Unit("conductivity", 1.0),
    "uS/cm": Unit("conductivity", 1e-3),
    "S/m": Unit("conductivity", 10.0),
    # time, base h
    "h": Unit("time", 1.0),
    "min": Unit("time", 1 / 60),
    "d": Unit("time", 24.0),
    # energy density of feed, base kJ/g
    "kJ/g": Unit("energy density", 1.0),
    "MJ/kg": Unit("energy density", 1.0),
    # numbers without a dimension
    "%": Unit("percent", 1.0),
    "pH": Unit("pH", 1.0),
    "SG": Unit("specific gravity", 1.0),
    "1/mL": Unit("number density", 1.0),
    "1": Unit("count", 1.0),
    "A": Unit("current", 1.0),
    "NTU": Unit("turbidity", 1.0),
}

_NAME: Final = r"[A-Za-zµ°%][A-Za-zµ°%0-9_]*(?:(?:\^|\*\*)-?[0-9])?"
_UNIT_TEXT: Final = re.compile(rf"{_NAME}(?: ?[*/ ] ?{_NAME}){{0,7}}")

_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}", re.ASCII)

_WRITTEN: Final = {"1": "", "pH": "", "SG": "", "1/mL": "per mL"}
_SHOWN_US: Final = {
    "degC": "degF", "m^3": "gal", "L": "gal", "kg": "lb", "m": "ft", "cm": "in",
    "m^3/h": "gal/min", "L/min": "gal/min", "m^2": "ft^2",
}  # fmt: skip


class UnitError(ValueError):
    """A value or a unit that cannot be read; the text says what is allowed."""


class Amount(NamedTuple):
    """A value with a unit of the closed list. `format(a, ".1f")` gives "12.3 kg"."""

    value: float
    unit: str

    def __format__(self, spec: str) -> str:
        number = format(self.value, spec)
        return f"{number} {written(self.unit)}".rstrip(" ")

    def to(self, unit: str) -> Amount:
        """Return the same amount in another unit of its dimension."""
        return Amount(convert(self.value, self.unit, unit), unit)


def convert(value: float, unit: str, to: str) -> float:
    """Convert a value between two units of the closed list.

    Args:
        value: The number, in `unit`.
        unit: A unit text of the closed list.
        to: The wanted unit, of the same dimension.

    Returns:
        The number in `to`.

    Raises:
        UnitError: A unit is not in the list, or the dimensions differ.
    """
    if unit == to and unit in UNITS:
        return value
    try:
        source, target = UNITS[unit], UNITS[to]
    except KeyError as error:
        raise UnitError(f"unit {error.args[0]!r} is not in the list: {', '.join(UNITS)}") from None
    if source.dimension != target.dimension:
        raise UnitError(f"{unit} is a unit of {source.dimension}, {to} of {target.dimension}")
    return (value * source.factor + source.offset - target.offset) / target.factor


def shown(amount: Amount, display: str) -> Amount:
    """Return the amount as the site shows it: unchanged for "metric", US units for "us"."""
    if display != "us" or amount.unit not in _SHOWN_US:
        return amount
    return amount.to(_SHOWN_US[amount.unit])


def written(unit: str) -> str:
    """Return a unit as it stands behind a number: "per mL"; empty for pH and plain numbers."""
    return _WRITTEN.get(unit, unit)


def shown_unit(unit: str, display: str) -> str:
    """Return the unit a person of this site types and reads in place of `unit`."""
    return _SHOWN_US.get(unit, unit) if display == "us" else unit


def quantity(value: int | float | str, to: str) -> float:
    """Read a quantity a person wrote: a number in the documented unit, or text with a unit.

    Args:
        value: A number (taken in `to`) or text such as "900 gal", "78 degF", "1.5 lb".
        to: The documented unit, of the closed list.

    Returns:
        The number in `to`, finite.

    Raises:
        UnitError: Not a number, not finite, an unknown unit, or a unit of another dimension; a
            comma before three digits, which may mean thousands or a decimal.
    """
    if isinstance(value, bool):
        raise UnitError(f"{value} is not a number in {to}")
    number = float(value) if isinstance(value, int | float) else _read(value.strip(), to)
    if not math.isfinite(number):
        raise UnitError(f"{value!r} is not a finite number")
    return number


def _read(text: str, to: str) -> float:
    head, _, tail = text.partition(" ")
    unit = tail.strip()
    if _THOUSANDS.fullmatch(head):
        plain, point = head.replace(",", ""), head.replace(",", ".")
        raise UnitError(f"{head!r} can be read two ways: write {plain} or {point}")
    try:
        number = float(head.replace("_", "x").replace(",", ".", 1))
    except ValueError:
        raise UnitError(f"{text!r} is not a number with a unit, such as 1.5 {to}") from None
    if not unit:
        return number
    if unit in UNITS:
        return convert(number, unit, to)
    return _ask_pint(number, unit, to)


def _ask_pint(number: float, unit: str, to: str) -> float:
    if len(unit) > 40 or not _UNIT_TEXT.fullmatch(unit):
        raise UnitError(f"{unit[:40]!r} is not a unit")
    target = {"g/kg": "gram / kilogram", "mg/L": "milligram / liter", "%": "percent"}.get(to, to)
    try:
        return float(_registry().Quantity(number, unit).to(target).magnitude)
    except Exception as error:  # its parser raises whatever foreign text makes it stumble on
        raise UnitError(f"unit {unit!r} cannot be read as {to}: {error}") from None


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    registry.define("ppt_mass = 1e-3 = g/kg")
    return registry
