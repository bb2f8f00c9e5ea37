"""Hydrogen sulphide: the poisonous part of total sulphide."""

from __future__ import annotations

from math import exp, log, pow, sqrt

from rounds.water.ph_scale import check_ph
from rounds.water.ranges import within


def hydrogen_sulphide_fraction(
    temperature_c: float, practical_salinity: float, ph_total: float
) -> float:
    """Return the part of total sulphide that is H2S.

    Args:
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 42.
        ph_total: On the total scale, 4 to 11.

    Returns:
        Fraction, 0 to 1.

    Raises:
        ValueError: Outside the range.

    Source: Millero et al. 1988; Yao & Millero 1995, first constant on the total scale.
    """
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", practical_salinity, 0, 42)
    check_ph(ph_total)
    t, s = temperature_c + 273.15, practical_salinity
    k = exp(225.838 - 13275.3 / t - 34.6435 * log(t) + 0.3449 * sqrt(s) - 0.0274 * s)
    return 1 / (1 + k * pow(10, ph_total))
