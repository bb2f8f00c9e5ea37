"""Density and salinity of sea water, and what is dissolved in it.

Salinity is practical salinity throughout. A person's "g/kg" or "ppt" is taken as practical
salinity: the reference salinity is 0.47 % larger, at most 0.18 at 38, below what a handheld shows.
"""

from __future__ import annotations

from math import sqrt
from typing import Final

from rounds.water.ranges import root, within

T68_PER_T90: Final = 1.00024
MAX_SALINITY: Final = 42.0
GLASS_EXPANSION_PER_C: Final = 2.5e-5  # cubic, soda glass; from memory
CHLORINITY_PER_SALINITY: Final = 1 / 1.80655  # g/kg; Wooster, Lee & Dietrich 1969


def density_kg_m3(temperature_c: float, practical_salinity: float) -> float:
    """Return the density of sea water at one atmosphere.

    Args:
        temperature_c: -2 to 40 degC (ITS-90).
        practical_salinity: 0 to 42.

    Returns:
        Density in kg/m3.

    Raises:
        ValueError: Outside the range.

    Source: Millero & Poisson 1981; UNESCO Technical Papers in Marine Science 44, 1983, Eqs 13-14.
    """
    within("temperature", temperature_c, -2, 40, "degC")
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    return _density(temperature_c, practical_salinity)


def _density(temperature_c: float, s: float) -> float:
    t = temperature_c * T68_PER_T90
    pure = 999.842594 + t * (
        6.793952e-2 + t * (-9.095290e-3 + t * (1.001685e-4 + t * (-1.120083e-6 + t * 6.536332e-9)))
    )
    a = 0.824493 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)))
    b = -5.72466e-3 + t * (1.0227e-4 - t * 1.6546e-6)
    return pure + s * (a + b * sqrt(s) + 4.8314e-4 * s)


def reference_salinity_g_kg(practical_salinity: float) -> float:
    """Return the reference (absolute) salinity, g/kg, of a practical salinity of 0 to 42.

    Raises:
        ValueError: Outside the range.

    Source: Millero et al. 2008, Deep-Sea Research I 55:50-72.
    """
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    return practical_salinity * 35.16504 / 35


def g_l_from_g_kg(salinity_g_kg: float, temperature_c: float) -> float:
    """Return salt in g/L from g/kg (0 to 42) at -2 to 40 degC.

    Raises:
        ValueError: Outside the range.

    Source: mass balance with the density of `density_kg_m3`.
    """
    return salinity_g_kg * density_kg_m3(temperature_c, salinity_g_kg) / 1000


def g_kg_from_g_l(salt_g_l: float, temperature_c: float) -> float:
    """Return salt in g/kg from g/L (0 to 43) at -2 to 40 degC.

    Raises:
        ValueError: Outside the range.

    Source: inverse of `g_l_from_g_kg`.
    """
    within("salt", salt_g_l, 0, g_l_from_g_kg(MAX_SALINITY, temperature_c), "g/L")
    return root(lambda s: g_l_from_g_kg(s, temperature_c) - salt_g_l, 0, MAX_SALINITY)


def specific_gravity(
    temperature_c: float, practical_salinity: float, reference_c: float = 20.0
) -> float:
    """Return the density of the water over that of pure water at the instrument's temperature.

    Args:
        temperature_c: Of the sample, -2 to 40 degC.
        practical_salinity: 0 to 42.
        reference_c: What is printed on the instrument, 0 to 40 degC (60 degF is 15.556).

    Returns:
        Specific gravity, such as 1.0264.

    Raises:
        ValueError: Outside the range.

    Source: UNESCO 44, 1983, Eqs 13-14.
    """
    within("reference temperature", reference_c, 0, 40, "degC")
    return density_kg_m3(temperature_c, practical_salinity) / _density(reference_c, 0)


def salinity_from_specific_gravity(
    gravity: float, temperature_c: float, reference_c: float = 20.0
) -> float:
    """Return the salinity of water whose true specific gravity is known.

    Args:
        gravity: As `specific_gravity` gives it, within the range of salinity 0 to 42.
        temperature_c: Of the sample, -2 to 40 degC.
        reference_c: Of the pure water compared with, 0 to 40 degC.

    Returns:
        Practical salinity.

    Raises:
        ValueError: Outside the range; a reading such as 24 or 1024 is one of these.

    Source: inverse of `specific_gravity`.
    """
    low = specific_gravity(temperature_c, 0, reference_c)
    high = specific_gravity(temperature_c, MAX_SALINITY, reference_c)
    if not low <= gravity <= high:
        raise ValueError(
            f"specific gravity {gravity:g} is outside {low:.4f} to {high:.4f} "
            f"(salinity 0 to 42 at {temperature_c:g} degC)"
        )
    return root(
        lambda s: specific_gravity(temperature_c, s, reference_c) - gravity, 0, MAX_SALINITY
    )


def salinity_from_hydrometer(
    reading: float,
    temperature_c: float,
    reference_c: float = 20.0,
    glass_expansion_per_c: float = GLASS_EXPANSION_PER_C,
) -> float:
    """Return the salinity from a glass hydrometer's reading, the glass's own expansion removed.

    Args:
        reading: As read at the float, such as 1.0240.
        temperature_c: Of the sample, -2 to 40 degC.
        reference_c: Printed on the instrument, 0 to 40 degC.
        glass_expansion_per_c: Cubic expansion of the glass, 0 to 1e-4 per degC.

    Returns:
        Practical salinity.

    Raises:
        ValueError: Outside the range.

    Source: rho = reading * rho_pure(reference) * (1 - gamma (t - reference)), then UNESCO 44.
    """
    within("glass expansion", glass_expansion_per_c, 0, 1e-4, "per degC")
    true = reading * (1 - glass_expansion_per_c * (temperature_c - reference_c))
    return salinity_from_specific_gravity(true, temperature_c, reference_c)


def heat_capacity_j_kg_k(temperature_c: float, practical_salinity: float) -> float:
    """Return the specific heat of sea water at one atmosphere, J/kg/K.

    Args:
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 42 (the fit was made for 4 to 40).

    Raises:
        ValueError: Outside the range.

    Source: Millero, Perron & Desnoyers 1973; UNESCO 44, 1983, Eq. 26.
    """
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    t, s = temperature_c * T68_PER_T90, practical_salinity
    pure = 4217.4 + t * (-3.720283 + t * (0.1412855 + t * (-2.654387e-3 + t * 2.093236e-5)))
    a = -7.643575 + t * (0.1072763 - t * 1.38385e-3)
    b = 0.1770383 + t * (-4.07718e-3 + t * 5.148e-5)
    return pure + s * (a + b * sqrt(s))


def chloride_mg_kg(practical_salinity: float) -> float:
    """Return chloride, mg/kg, of diluted or concentrated sea water of salinity 0 to 42.

    Raises:
        ValueError: Outside the range.

    Source: 0.99889 x chlorinity (Millero 2013, from memory), S = 1.80655 Cl (Wooster et al. 1969).
    """
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    return 0.99889 * 1000 * practical_salinity * CHLORINITY_PER_SALINITY


def calcium_mg_kg(practical_salinity: float) -> float:
    """Return calcium, mg/kg, of sea water of salinity 0 to 42, not of a plain salt brine.

    Raises:
        ValueError: Outside the range.

    Source: Riley & Tongudai 1967, Ca/Cl = 0.02128.
    """
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    return 0.02128 * 1000 * practical_salinity * CHLORINITY_PER_SALINITY


def magnesium_mg_kg(practical_salinity: float) -> float:
    """Return magnesium, mg/kg, of real sea water of salinity 0 to 42.

    Raises:
        ValueError: Outside the range.

    Source: 1.284 g/kg at salinity 35, Millero et al. 2008 (from memory).
    """
    within("salinity", practical_salinity, 0, MAX_SALINITY)
    return 1284.0 * practical_salinity / 35


def hardness_mg_kg_caco3(practical_salinity: float) -> float:
    """Return calcium and magnesium together, mg/kg as CaCO3, of real sea water of salinity 0 to 42.

    Raises:
        ValueError: Outside the range.

    Source: `calcium_mg_kg` and `magnesium_mg_kg` with molar masses 40.078, 24.305 and 100.086.
    """
    calcium = calcium_mg_kg(practical_salinity) / 40.078
    return 100.086 * (calcium + magnesium_mg_kg(practical_salinity) / 24.305)
