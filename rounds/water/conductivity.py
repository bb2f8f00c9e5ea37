"""Practical salinity from conductivity, and how a meter's temperature compensation misleads.

Meters show either the conductivity of the water as it is (in situ) or one recalculated to 25 degC
("specific conductance"): ask which. 1 mS/cm = 1000 uS/cm; 1 S/m = 10 mS/cm.
"""

from __future__ import annotations

from math import sqrt
from typing import Final

from rounds.water.ranges import root, within
from rounds.water.seawater import MAX_SALINITY, T68_PER_T90

STANDARD_MS_CM: Final = 42.914  # salinity 35, 15 degC (IPTS-68); UNESCO 44, 1983
_A: Final = (0.0080, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081)
_B: Final = (0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144)
_MAX_RATIO: Final = 2.2


def salinity_from_ratio(ratio: float, temperature_c: float, pressure_dbar: float = 0.0) -> float:
    """Return practical salinity from the conductivity ratio to standard sea water.

    Args:
        ratio: Conductivity over 42.914 mS/cm.
        temperature_c: -2 to 35 degC (ITS-90).
        pressure_dbar: Sea pressure, 0 to 10000 dbar; 0 at the surface.

    Returns:
        Practical salinity, 0 to 42.

    Raises:
        ValueError: Outside the range, or a salinity above 42.

    Source: PSS-78, UNESCO 44, 1983, pp. 6-9; below salinity 2 with the extension of Hill, Dauphinee
    & Woods 1986.
    """
    within("temperature", temperature_c, -2, 35, "degC")
    within("pressure", pressure_dbar, 0, 10_000, "dbar")
    within("conductivity", ratio * STANDARD_MS_CM, 0, _MAX_RATIO * STANDARD_MS_CM, "mS/cm")
    salinity = _salinity(ratio, temperature_c, pressure_dbar)
    if salinity > MAX_SALINITY:
        raise ValueError(
            f"conductivity {ratio * STANDARD_MS_CM:g} mS/cm at {temperature_c:g} degC is salinity "
            f"{salinity:.1f}, outside 0 to 42"
        )
    return salinity


def _salinity(ratio: float, temperature_c: float, pressure_dbar: float = 0.0) -> float:
    t, p = temperature_c * T68_PER_T90, pressure_dbar
    lift = p * (2.070e-5 + p * (-6.370e-10 + p * 3.989e-15))
    pressure = 1 + lift / (1 + t * (3.426e-2 + t * 4.464e-4) + (4.215e-1 - 3.107e-3 * t) * ratio)
    at_35 = 0.6766097 + t * (2.00564e-2 + t * (1.104259e-4 + t * (-6.9698e-7 + t * 1.0031e-9)))
    r = ratio / (pressure * at_35)
    x = sqrt(r)
    f = (t - 15) / (1 + 0.0162 * (t - 15))
    salinity = sum((a + f * b) * x**n for n, (a, b) in enumerate(zip(_A, _B, strict=True)))
    if salinity < 2:
        low, y = 400 * r, 100 * r
        salinity -= 0.0080 / (1 + 1.5 * low + low**2)
        salinity -= 0.0005 * f / (1 + sqrt(y) + y + y * sqrt(y))
    return max(salinity, 0.0)


def salinity_from_conductivity(conductivity_ms_cm: float, temperature_c: float) -> float:
    """Return practical salinity from the conductivity of the water as it is (not compensated).

    Args:
        conductivity_ms_cm: In situ, mS/cm; 0 up to that of salinity 42.
        temperature_c: Of the same water, -2 to 35 degC.

    Returns:
        Practical salinity.

    Raises:
        ValueError: Outside the range; above 1000 the number was probably in uS/cm.

    Source: PSS-78, UNESCO 44, 1983.
    """
    return salinity_from_ratio(conductivity_ms_cm / STANDARD_MS_CM, temperature_c)


def salinity_from_conductivity_25(conductivity_25_ms_cm: float) -> float:
    """Return practical salinity from the conductivity at 25 degC ("specific conductance"), mS/cm.

    Exact only when the meter compensates along the sea-water curve; `compensation_error` says
    how far a linear compensation goes wrong.

    Raises:
        ValueError: Outside the range.

    Source: PSS-78 at 25 degC.
    """
    return salinity_from_conductivity(conductivity_25_ms_cm, 25.0)


def conductivity_ms_cm(
    temperature_c: float, practical_salinity: float, pressure_dbar: float = 0.0
) -> float:
    """Return the in-situ conductivity of sea water.

    Args:
        temperature_c: -2 to 35 degC.
        practical_salinity: 0 to 42.
        pressure_dbar: Sea pressure, 0 to 10000 dbar.

    Returns:
        Conductivity in mS/cm.

    Raises:
        ValueError: Outside the range.

    Source: inverse of PSS-78.
    """
    within("temperature", temperature_c, -2, 35, "degC")
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    within("pressure", pressure_dbar, 0, 10_000, "dbar")
    ratio = root(
        lambda r: _salinity(r, temperature_c, pressure_dbar) - practical_salinity, 0, _MAX_RATIO
    )
    return ratio * STANDARD_MS_CM


def compensation_error(
    temperature_c: float, practical_salinity: float, coefficient_per_c: float
) -> float:
    """Return the error in salinity of a meter that compensates to 25 degC along a straight line.

    Args:
        temperature_c: Of the water, -2 to 35 degC.
        practical_salinity: The true one, 0 to 42.
        coefficient_per_c: The meter's setting, 0 to 0.03 per degC (1.91 % is 0.0191).

    Returns:
        Shown salinity minus the true one.

    Raises:
        ValueError: Outside the range.

    Source: C25 = C / (1 + a (t - 25)), read as PSS-78 at 25 degC.
    """
    within("compensation", coefficient_per_c, 0, 0.03, "per degC")
    true = conductivity_ms_cm(temperature_c, practical_salinity)
    shown = true / (1 + coefficient_per_c * (temperature_c - 25))
    return _salinity(shown / STANDARD_MS_CM, 25.0) - practical_salinity
