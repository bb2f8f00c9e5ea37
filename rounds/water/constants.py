"""Equilibrium constants of sea water, mol per kg of sea water, pH on the total scale.

The set used throughout is Waters, Millero & Woosley 2014 for carbonic acid, which covers the whole
range of salinity without a step; two older pairs serve as cross-checks.
"""

from __future__ import annotations

from math import exp, log, pow, sqrt
from typing import Final, Literal

from msgspec import Struct

from rounds.water.ranges import within
from rounds.water.seawater import CHLORINITY_PER_SALINITY

CarbonicSet = Literal["waters", "lueker", "millero"]
_RANGES: Final[dict[str, tuple[float, float, float, float]]] = {
    # set: least and greatest salinity, least and greatest temperature in degC
    "waters": (1, 50, 0, 50),
    "lueker": (19, 43, 2, 35),
    "millero": (1, 50, 0, 50),
}


class Constants(Struct, frozen=True):
    """Constants and totals at one temperature and salinity, one atmosphere.

    k1, k2, kb, kw and kp1 to kp3 are on the total scale; ks and kf on the free scale; k0 in
    mol/kg/atm; boron, sulphate and fluoride are totals in mol/kg; fugacity is fCO2 / pCO2.
    """

    k0: float
    k1: float
    k2: float
    kb: float
    kw: float
    ks: float
    kf: float
    kp1: float
    kp2: float
    kp3: float
    boron: float
    sulphate: float
    fluoride: float
    fugacity: float

    @property
    def total_per_free(self) -> float:
        """Hydrogen ion on the total scale over that on the free scale."""
        return 1 + self.sulphate / self.ks

    @property
    def seawater_per_free(self) -> float:
        """Hydrogen ion on the sea-water scale over that on the free scale."""
        return self.total_per_free + self.fluoride / self.kf


def constants(
    temperature_c: float, practical_salinity: float, carbonic: CarbonicSet = "waters"
) -> Constants:
    """Return every constant of the carbonate system.

    Args:
        temperature_c: 0 to 45 degC; "lueker" 2 to 35.
        practical_salinity: 1 to 45; "lueker" 19 to 43.
        carbonic: K1 and K2 of Waters, Millero & Woosley 2014 (Mar. Chem. 165:66-67), Lueker,
            Dickson & Keeling 2000 (Mar. Chem. 70:105-119) or Millero 2010 (Mar. Freshw. Res.
            61:139-142).

    Returns:
        The constants.

    Raises:
        ValueError: Outside the range of the set.

    Source: Weiss 1974 (K0, fugacity); Dickson 1990 (KB, KS); Dickson & Riley 1979 (KF); Millero
    1995 (KW); Yao & Millero 1995 (phosphate); Lee et al. 2010 (boron); Morris & Riley 1966
    (sulphate), Riley 1965 (fluoride).
    """
    s_low, s_high, t_low, t_high = _RANGES[carbonic]
    within("salinity", practical_salinity, s_low, min(s_high, 45))
    within("temperature", temperature_c, t_low, min(t_high, 45), "degC")
    t, s = temperature_c + 273.15, practical_salinity
    ks, kf = _sulphate_fluoride(t, s)
    sulphate = 0.14 / 96.062 * s * CHLORINITY_PER_SALINITY
    fluoride = 0.000067 / 18.998 * s * CHLORINITY_PER_SALINITY
    free_to_total = 1 + sulphate / ks
    to_total = free_to_total / (free_to_total + fluoride / kf)
    k1, k2 = _carbonic(t, s, carbonic)
    if carbonic != "lueker":
        k1, k2 = k1 * to_total, k2 * to_total
    kp1, kp2, kp3 = (k * to_total for k in _phosphoric(t, s))
    return Constants(
        k0=_k0(t, s),
        k1=k1,
        k2=k2,
        kb=_boric(t, s),
        kw=_water(t, s) * to_total,
        ks=ks,
        kf=kf,
        kp1=kp1,
        kp2=kp2,
        kp3=kp3,
        boron=0.0004326 * s / 35,
        sulphate=sulphate,
        fluoride=fluoride,
        fugacity=_fugacity(t),
    )


def _sulphate_fluoride(t: float, s: float) -> tuple[float, float]:
    ionic = 19.924 * s / (1000 - 1.005 * s)
    root = sqrt(ionic)
    per_kg_seawater = 1 - 0.001005 * s
    ks = exp(
        -4276.1 / t
        + 141.328
        - 23.093 * log(t)
        + (-13856 / t + 324.57 - 47.986 * log(t)) * root
        + (35474 / t - 771.54 + 114.723 * log(t)) * ionic
        - 2698 / t * ionic * root
        + 1776 / t * ionic**2
    )
    kf = exp(1590.2 / t - 12.641 + 1.525 * root)
    return ks * per_kg_seawater, kf * per_kg_seawater


def _k0(t: float, s: float) -> float:
    return exp(
        -60.2409
        + 93.4517 * 100 / t
        + 23.3585 * log(t / 100)
        + s * (0.023517 - 0.023656 * t / 100 + 0.0047036 * (t / 100) ** 2)
    )


def _boric(t: float, s: float) -> float:
    root = sqrt(s)
    return exp(
        (-8966.9 - 2890.53 * root - 77.942 * s + 1.728 * s * root - 0.0996 * s**2) / t
        + 148.0248
        + 137.1942 * root
        + 1.62142 * s
        + (-24.4344 - 25.085 * root - 0.2474 * s) * log(t)
        + 0.053105 * root * t
    )


def _water(t: float, s: float) -> float:
    return exp(
        148.9802
        - 13847.26 / t
        - 23.6521 * log(t)
        + (-5.977 + 118.67 / t + 1.0495 * log(t)) * sqrt(s)
        - 0.01615 * s
    )


def pure_water_pk1(temperature_c: float) -> float:
    """Return pK1 of carbonic acid in pure water, at 0 to 50 degC.

    Raises:
        ValueError: Outside the range.

    Source: the salinity-zero limit of Millero 2010, Mar. Freshw. Res. 61:139-142.
    """
    within("temperature", temperature_c, 0, 50, "degC")
    t = temperature_c + 273.15
    return -126.34048 + 6320.813 / t + 19.568224 * log(t)


def _carbonic(t: float, s: float, carbonic: CarbonicSet) -> tuple[float, float]:
    ln_t, root = log(t), sqrt(s)
    if carbonic == "lueker":
        pk1 = 3633.86 / t - 61.2172 + 9.6777 * ln_t - 0.011555 * s + 0.0001152 * s**2
        pk2 = 471.78 / t + 25.929 - 3.16967 * ln_t - 0.01781 * s + 0.0001122 * s**2
        return pow(10, -pk1), pow(10, -pk2)
    pk1 = pure_water_pk1(t - 273.15)
    pk2 = -90.18333 + 5143.692 / t + 14.613358 * ln_t
    if carbonic == "waters":
        pk1 += 13.409160 * root + 0.031646 * s - 5.1895e-5 * s**2
        pk1 += (-531.3642 * root - 5.713 * s) / t - 2.0669166 * root * ln_t
        pk2 += 21.225890 * root + 0.12450870 * s - 3.7243e-4 * s**2
        pk2 += (-779.3444 * root - 19.91739 * s) / t - 3.3534679 * root * ln_t
    else:
        pk1 += 13.4038 * root + 0.03206 * s - 5.242e-5 * s**2
        pk1 += (-530.659 * root - 5.8210 * s) / t - 2.0664 * root * ln_t
        pk2 += 21.3728 * root + 0.1218 * s - 3.688e-4 * s**2
        pk2 += (-788.289 * root - 19.189 * s) / t - 3.374 * root * ln_t
    return pow(10, -pk1), pow(10, -pk2)


def _phosphoric(t: float, s: float) -> tuple[float, float, float]:
    ln_t, root = log(t), sqrt(s)
    return (
        exp(
            -4576.752 / t
            + 115.54
            - 18.453 * ln_t
            + (-106.736 / t + 0.69171) * root
            + (-0.65643 / t - 0.01844) * s
        ),
        exp(
            -8814.715 / t
            + 172.1033
            - 27.927 * ln_t
            + (-160.34 / t + 1.3566) * root
            + (0.37335 / t - 0.05778) * s
        ),
        exp(
            -3070.75 / t - 18.126 + (17.27039 / t + 2.81197) * root + (-44.99486 / t - 0.09984) * s
        ),
    )


def _fugacity(t: float) -> float:
    virial = -1636.75 + 12.0408 * t - 0.0327957 * t**2 + 3.16528e-5 * t**3
    return exp((virial + 2 * (57.7 - 0.118 * t)) * 1.01325 / (83.1446 * t))
