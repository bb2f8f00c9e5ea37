"""What a pH meter's reading means in salt water: the NBS and total scales.

A meter set with the common 4, 7 and 10 buffers reads on the NBS (NIST) scale, in salt water about
0.10 to 0.17 above the total scale the constants are made for.
"""

from __future__ import annotations

from math import log10
from typing import Final, Literal

from rounds.water.constants import Constants, constants
from rounds.water.ranges import within

Buffers = Literal["nbs", "total"]
LEAST_SALINITY: Final = 5.0  # the activity coefficient below does not go to 1 in fresh water


def total_from_nbs(ph_nbs: float, temperature_c: float, practical_salinity: float) -> float:
    """Return pH on the total scale of a reading on the NBS scale.

    Args:
        ph_nbs: 4 to 11.
        temperature_c: 0 to 45 degC.
        practical_salinity: 5 to 45; below about 20 an extrapolation of a sea-water fit.

    Returns:
        pH, total scale; real electrodes differ by 0.02 to 0.05.

    Raises:
        ValueError: Outside the range.

    Source: Takahashi et al. 1982 (GEOSECS), activity coefficient fH; Dickson 1990 KS; Dickson &
    Riley 1979 KF.
    """
    check_ph(ph_nbs)
    return ph_nbs - nbs_above_total(temperature_c, practical_salinity)


def nbs_from_total(ph_total: float, temperature_c: float, practical_salinity: float) -> float:
    """Return the reading on the NBS scale of a pH on the total scale; see `total_from_nbs`.

    Raises:
        ValueError: Outside the range.

    Source: as `total_from_nbs`.
    """
    check_ph(ph_total)
    return ph_total + nbs_above_total(temperature_c, practical_salinity)


def nbs_above_total(temperature_c: float, practical_salinity: float) -> float:
    """Return how far the NBS scale reads above the total scale; ranges as `total_from_nbs`.

    Raises:
        ValueError: Outside the range.

    Source: as `total_from_nbs`.
    """
    within("salinity", practical_salinity, LEAST_SALINITY, 45)
    k: Constants = constants(temperature_c, practical_salinity)
    t, s = temperature_c + 273.15, practical_salinity
    activity = 1.2948 - 0.002036 * t + (0.0004607 - 1.475e-6 * t) * s**2
    return log10(k.total_per_free / k.seawater_per_free / activity)


def check_ph(ph: float) -> None:
    """Refuse a pH outside 4 to 11, where no water with fish in it lies.

    Raises:
        ValueError: Outside.
    """
    within("pH", ph, 4, 11)
