"""The closed list of what can be measured: unit, digits, hard and soft limits, likely slips.

Hard limits are what cannot be; soft limits and jumps are what is odd on a marine farm and is kept
when the person confirms it. Neither is a verdict: those come from `Limits`.
"""

from __future__ import annotations

from typing import Final

from msgspec import Struct

PRACTICE: Final = "common practice"


class Slip(Struct, frozen=True):
    """A typed value from `low` to `high` that was likely meant as value * factor + offset.

    `says` names the slip, for the question "Did you mean ...?". Without a factor the slip is
    named and no value is proposed: it cannot be worked out from the typed one alone.
    """

    low: float
    high: float
    says: str
    factor: float | None = None
    offset: float = 0.0

    def meant(self, value: float) -> float | None:
        """Return the value that was likely meant, in the measure's unit, where it is known."""
        return None if self.factor is None else value * self.factor + self.offset


class Measure(Struct, frozen=True):
    """A measured or derived quantity, in `unit` of the closed list of units."""

    code: str
    name: str
    unit: str
    decimals: int
    """Digits after the point when shown; what was typed is kept as typed."""
    impossible_low: float
    impossible_high: float
    stale_h: float
    """Hours after which a reading no longer counts for a ration or a dose."""
    suspicious_low: float | None = None
    suspicious_high: float | None = None
    jump: float | None = None
    """A change greater than this within `jump_h` hours is odd."""
    jump_h: float = 24.0
    accuracy: float = 0.0
    """Of a common instrument, in `unit`: two readings nearer than this do not disagree."""
    accuracy_percent: float = 0.0
    """The same, in percent of the reading; the greater of the two holds."""
    slow: bool = False
    """It changes over days: what is wrong is not read again within the hour."""
    derived: bool = False
    """Worked out from other readings, never typed."""
    slips: tuple[Slip, ...] = ()
    source: str = PRACTICE

    def accuracy_at(self, value: float) -> float:
        """Return the accuracy of a reading of this size, in `unit`."""
        return max(self.accuracy, abs(value) * self.accuracy_percent / 100)


_CRITERIA: Final = "USGS TM 1-D3, Wagner et al. 2006 (from memory); common practice"

_ALL: Final = (
    Measure(
        "temperature", "Temperature", "degC", 1, -2.2, 45, 24, 8, 36, jump=1.5, jump_h=1,
        accuracy=0.2, source=_CRITERIA, slips=(
            Slip(46, 97, "that looks like degrees Fahrenheit", 5 / 9, -160 / 9),
            Slip(80, 360, "a point was left out", 0.1),
        ),
    ),
    Measure(
        "salinity", "Salinity", "g/kg", 1, 0, 45, 72, 10, 38, jump=2, accuracy=0.3, slips=(
            Slip(0.99, 1.04, "that is a specific gravity: read the salinity scale"),
            Slip(46, 75, "that looks like a conductivity: read the salinity scale"),
            Slip(80, 450, "a point was left out", 0.1),
            Slip(1000, 1040, "that is a specific gravity: read the salinity scale"),
        ),
        source="range of the 1978 scale, UNESCO 1983 (2 to 42); common practice",
    ),
    Measure(
        "oxygen", "Oxygen", "mg/L", 1, 0, 40, 4, 3, 12, accuracy=0.1, accuracy_percent=2,
        source=_CRITERIA, slips=(
            Slip(41, 150, "a point was left out, or that is oxygen in percent", 0.1),
        ),
    ),
    Measure(
        "oxygen_percent", "Oxygen, percent", "%", 0, 0, 400, 4, 60, 120, accuracy=1,
        accuracy_percent=2, slips=(
            Slip(1, 15, "that looks like oxygen in mg/L, not in percent"),
            Slip(401, 1500, "a point was left out", 0.1),
        ),
    ),
    Measure("oxygen_in", "Oxygen of the inflow", "mg/L", 1, 0, 40, 24, 3, 20, accuracy=0.1,
            accuracy_percent=2),
    Measure(
        "ph", "pH", "pH", 2, 4, 11, 24, 6.8, 8.5, jump=0.3, accuracy=0.05, slips=(
            Slip(60, 95, "a point was left out", 0.1),
            Slip(600, 950, "a point was left out", 0.01),
        ),
    ),
    Measure(
        "tan", "Total ammonia nitrogen", "mg/L", 2, 0, 100, 84, None, 2, accuracy=0.05,
        accuracy_percent=15,
    ),
    Measure(
        "nitrite", "Nitrite nitrogen", "mg/L", 2, 0, 100, 84, None, 2, accuracy=0.05,
        accuracy_percent=15,
    ),
    Measure(
        "nitrate", "Nitrate nitrogen", "mg/L", 0, 0, 1500, 240, None, 100, accuracy=2,
        accuracy_percent=15,
    ),
    Measure(
        "alkalinity", "Alkalinity", "mg/L CaCO3", 0, 0, 600, 48, 40, 250, jump=30, accuracy=5,
        slips=(
            Slip(0.5, 4.5, "that looks like meq/L", 50.043),
            Slip(4.5, 20, "that looks like degrees of carbonate hardness (dKH)", 17.848),
            Slip(601, 2500, "a point was left out", 0.1),
        ),
    ),
    Measure("co2", "Carbon dioxide", "mg/L", 1, 0, 100, 24, None, 20, accuracy=1,
            accuracy_percent=25),
    Measure(
        "ammonia", "Un-ionised ammonia nitrogen", "mg/L", 3, 0, 20, 84, None, 0.05,
        accuracy_percent=26, derived=True, source="worked out from TAN, pH, temperature, salinity",
    ),
    Measure(
        "pressure", "Air pressure", "hPa", 0, 600, 1085, 48, 950, 1050, jump=30, accuracy=2, slips=(
            Slip(0.6, 1.1, "that is in atmospheres", 1013.25),
            Slip(17, 32, "that is in inches of mercury", 33.8638864),
            Slip(60, 109, "that is in kilopascals", 10),
        ),
    ),
    Measure(
        "chlorine", "Total chlorine", "mg/L", 2, 0, 20, 12, None, 0, accuracy=0.05,
        source="EPA salt water limits 13 and 7.5 ug/L lie below any colour test",
    ),
    Measure(
        "conductivity", "Conductivity", "mS/cm", 1, 0, 75, 72, 15, 60, accuracy_percent=1, slips=(
            Slip(1000, 75000, "that is in uS/cm", 0.001),
        ),
    ),
    Measure(
        "specific_gravity", "Specific gravity", "SG", 3, 0.99, 1.04, 72, 1.005, 1.03,
        accuracy=0.001, slips=(
            Slip(5, 40, "a specific gravity is written like 1.024", 0.001, 1),
            Slip(990, 1040, "a specific gravity is written like 1.024", 0.001),
        ),
    ),
    Measure("flow", "Flow", "m^3/h", 1, 0, 1000, 24, accuracy_percent=5),
    Measure("level", "Water level", "cm", 0, 0, 1000, 24, accuracy=1),
    Measure("bed_height", "Height of the sand bed", "cm", 0, 0, 500, 24, accuracy=2),
    Measure("pump_current", "Pump current", "A", 1, 0, 100, 24, accuracy_percent=3),
    Measure("blower_pressure", "Air line pressure", "mbar", 0, 0, 1000, 24, accuracy_percent=3),
    Measure("air_temperature", "Air temperature", "degC", 0, -40, 65, 24, 5, 45, accuracy=1,
            slips=(Slip(66, 150, "that looks like degrees Fahrenheit", 5 / 9, -160 / 9),)),
    Measure("secchi", "Secchi depth", "cm", 0, 0, 500, 48, 20, 200, accuracy=5, slow=True),
    Measure("rotifer_density", "Rotifers", "1/mL", 0, 0, 10000, 24, accuracy_percent=20,
            source="counting error of about 100 animals, Poisson"),
    Measure("nauplii_density", "Brine shrimp nauplii", "1/mL", 1, 0, 1000, 24,
            accuracy_percent=20, source="counting error of about 100 animals, Poisson"),
    Measure("harvest", "Harvest", "L", 0, 0, 1_000_000, 24, accuracy_percent=5),
    Measure("rotifers_given", "Rotifers given", "1", 0, 0, 1e13, 24, accuracy_percent=20,
            source="counting error of about 100 animals, Poisson"),
    Measure("nauplii_given", "Brine shrimp given", "1", 0, 0, 1e13, 24, accuracy_percent=20,
            source="counting error of about 100 animals, Poisson"),
    Measure("egg_ratio", "Rotifers with eggs", "%", 0, 0, 200, 24, None, 100, accuracy_percent=20,
            slow=True),
)  # fmt: skip

MEASURES: Final[dict[str, Measure]] = {measure.code: measure for measure in _ALL}
