"""Dissolved oxygen: saturation, percent, partial pressure, and what heating does to it.

Pressure is station pressure, as a barometer on the farm shows it; a weather service's figure is
reduced to sea level and reads too high on a hill.
"""

from __future__ import annotations

from math import exp, log
from typing import Final

from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3

ATMOSPHERE_HPA: Final = 1013.25
OXYGEN_G_MOL: Final = 31.998
OXYGEN_IN_AIR: Final = 0.20946


def saturation_mg_l(
    temperature_c: float, practical_salinity: float, pressure_hpa: float = ATMOSPHERE_HPA
) -> float:
    """Return the oxygen of air-saturated water.

    Args:
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 40.
        pressure_hpa: Station pressure, 600 to 1085 hPa.

    Returns:
        Oxygen in mg/L.

    Raises:
        ValueError: Outside the range.

    Source: Benson & Krause 1984, Limnol. Oceanogr. 29:620-632, Eqs 24 and 32.
    """
    _check(temperature_c, practical_salinity, pressure_hpa)
    t = temperature_c + 273.15
    standard = exp(
        -139.34411
        + 1.575701e5 / t
        - 6.642308e7 / t**2
        + 1.243800e10 / t**3
        - 8.621949e11 / t**4
        - practical_salinity * (1.7674e-2 - 10.754 / t + 2.1407e3 / t**2)
    )
    p = pressure_hpa / ATMOSPHERE_HPA
    u = vapour_pressure_atm(temperature_c, practical_salinity)
    theta = 9.75e-4 - 1.426e-5 * temperature_c + 6.436e-8 * temperature_c**2
    return standard * (p - u) * (1 - theta * p) / ((1 - u) * (1 - theta))


def vapour_pressure_atm(temperature_c: float, practical_salinity: float) -> float:
    """Return the vapour pressure of sea water, atm, at 0 to 40 degC and salinity 0 to 40.

    Raises:
        ValueError: Outside the range.

    Source: Weiss & Price 1980, Mar. Chem. 8:347-359, Eq. 10.
    """
    _check(temperature_c, practical_salinity)
    t = temperature_c + 273.15
    return exp(24.4543 - 67.4509 * 100 / t - 4.8489 * log(t / 100) - 0.000544 * practical_salinity)


def pressure_at_elevation_hpa(elevation_m: float) -> float:
    """Return the mean station pressure at a height; weather moves it by about 3 % either way.

    Args:
        elevation_m: Above the sea, -400 to 4000 m.

    Returns:
        Pressure in hPa.

    Raises:
        ValueError: Outside the range.

    Source: US Standard Atmosphere 1976 (equation from memory).
    """
    within("elevation", elevation_m, -400, 4000, "m")
    return float(ATMOSPHERE_HPA * (1 - 2.25577e-5 * elevation_m) ** 5.25588)


def percent(
    oxygen_mg_l: float,
    temperature_c: float,
    practical_salinity: float,
    pressure_hpa: float = ATMOSPHERE_HPA,
) -> float:
    """Return oxygen in percent of saturation at the station's own pressure.

    Args:
        oxygen_mg_l: 0 to 40 mg/L.
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 40.
        pressure_hpa: Station pressure, 600 to 1085 hPa.

    Returns:
        Percent of saturation.

    Raises:
        ValueError: Outside the range.

    Source: `saturation_mg_l`.
    """
    within("oxygen", oxygen_mg_l, 0, 40, "mg/L")
    return 100 * oxygen_mg_l / saturation_mg_l(temperature_c, practical_salinity, pressure_hpa)


def from_percent_mg_l(
    oxygen_percent: float,
    temperature_c: float,
    practical_salinity: float,
    pressure_hpa: float = ATMOSPHERE_HPA,
) -> float:
    """Return oxygen in mg/L from percent of saturation (0 to 400 %); ranges as `percent`.

    Raises:
        ValueError: Outside the range.

    Source: `saturation_mg_l`.
    """
    within("oxygen", oxygen_percent, 0, 400, "%")
    return oxygen_percent / 100 * saturation_mg_l(temperature_c, practical_salinity, pressure_hpa)


def percent_after_heating(
    oxygen_percent: float,
    from_c: float,
    to_c: float,
    practical_salinity: float,
    pressure_hpa: float = ATMOSPHERE_HPA,
) -> float:
    """Return the percent of saturation after a change of temperature with no gas gained or lost.

    Args:
        oxygen_percent: Before, 0 to 400 %.
        from_c: Temperature before, 0 to 40 degC.
        to_c: Temperature after, 0 to 40 degC.
        practical_salinity: 0 to 40.
        pressure_hpa: Station pressure, 600 to 1085 hPa.

    Returns:
        Percent after; above 110 the heated make-up water should be aerated before use.

    Raises:
        ValueError: Outside the range.

    Source: ratio of two saturations, Benson & Krause 1984.
    """
    held = from_percent_mg_l(oxygen_percent, from_c, practical_salinity, pressure_hpa)
    return 100 * held / saturation_mg_l(to_c, practical_salinity, pressure_hpa)


def partial_pressure_mmhg(
    oxygen_percent: float,
    temperature_c: float,
    practical_salinity: float,
    pressure_hpa: float = ATMOSPHERE_HPA,
) -> float:
    """Return the partial pressure of oxygen, mmHg; ranges as `from_percent_mg_l`.

    Raises:
        ValueError: Outside the range.

    Source: pO2 = % / 100 * 0.20946 * (P - u), u of Weiss & Price 1980.
    """
    within("oxygen", oxygen_percent, 0, 400, "%")
    _check(temperature_c, practical_salinity, pressure_hpa)
    dry = pressure_hpa / ATMOSPHERE_HPA - vapour_pressure_atm(temperature_c, practical_salinity)
    return oxygen_percent / 100 * OXYGEN_IN_AIR * dry * 760


def umol_kg(oxygen_mg_l: float, temperature_c: float, practical_salinity: float) -> float:
    """Return oxygen (0 to 40 mg/L) in umol/kg of water at 0 to 40 degC, salinity 0 to 40.

    Raises:
        ValueError: Outside the range.

    Source: molar mass 31.998 g/mol and the density of `seawater.density_kg_m3`.
    """
    within("oxygen", oxygen_mg_l, 0, 40, "mg/L")
    return oxygen_mg_l / OXYGEN_G_MOL / density_kg_m3(temperature_c, practical_salinity) * 1e6


_UMOL_KG: Final = (
    (5.80871, 3.20291, 4.17887, 5.10006, -0.0986643, 3.80369),
    (-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3),
    -2.75915e-7,
)
_ML_L: Final = (
    (2.00907, 3.22014, 4.05010, 4.94457, -0.256847, 3.88767),
    (-6.24523e-3, -7.37614e-3, -1.03410e-2, -8.17083e-3),
    -4.88682e-7,
)


def garcia_gordon(temperature_c: float, practical_salinity: float, unit: str = "umol/kg") -> float:
    """Return saturation at one atmosphere by a second equation, to cross-check `saturation_mg_l`.

    Args:
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 40.
        unit: "umol/kg" or "mL/L".

    Returns:
        Oxygen in `unit`.

    Raises:
        ValueError: Outside the range, or another unit.

    Source: Garcia & Gordon 1992, Limnol. Oceanogr. 37:1307-1312, Table 1, Benson & Krause fits,
    without the spurious term of Eq. 8 (erratum 1993).
    """
    _check(temperature_c, practical_salinity)
    if unit not in ("umol/kg", "mL/L"):
        raise ValueError(f"unit {unit!r} is not umol/kg or mL/L")
    a, b, c = _UMOL_KG if unit == "umol/kg" else _ML_L
    ts = log((298.15 - temperature_c) / (273.15 + temperature_c))
    s = practical_salinity
    powers = sum(k * ts**n for n, k in enumerate(a))
    return exp(powers + s * sum(k * ts**n for n, k in enumerate(b)) + c * s**2)


def _check(
    temperature_c: float, practical_salinity: float, pressure_hpa: float = ATMOSPHERE_HPA
) -> None:
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", practical_salinity, 0, 40)
    within("pressure", pressure_hpa, 600, 1085, "hPa")
