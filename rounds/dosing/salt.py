"""Salt and fresh water: raising and lowering salinity, and topping up what evaporates.

Mass balances on practical salinity taken as g/kg; the mass of water is volume times density.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3

# g of each salt in a kilogram of artificial sea water: anhydrous ones as they are, and the
# hydrated ones with the water they carry. Kester, Duedall, Connors & Pytkowicz 1967, Limnol.
# Oceanogr. 12:176-179, Table 1; molar masses from IUPAC abridged atomic weights.
KESTER_1967: Final[dict[str, tuple[float, float]]] = {
    # salt: (g per kg, share of it that is water of hydration)
    "NaCl": (23.926, 0.0),
    "Na2SO4": (4.008, 0.0),
    "KCl": (0.677, 0.0),
    "NaHCO3": (0.196, 0.0),
    "KBr": (0.098, 0.0),
    "H3BO3": (0.026, 0.0),
    "NaF": (0.003, 0.0),
    "MgCl2.6H2O": (0.05327 * 203.295, 108.09 / 203.295),
    "CaCl2.2H2O": (0.01033 * 147.008, 36.03 / 147.008),
    "SrCl2.6H2O": (0.00009 * 266.61, 108.09 / 266.61),
}


def dissolved_fraction(recipe: Mapping[str, tuple[float, float]]) -> float:
    """Return the mass fraction of a salt mixture that is sea salt, not water of hydration.

    Args:
        recipe: For each salt its mass and the share of it that is water, as `KESTER_1967`.

    Returns:
        Fraction, 0 to 1.

    Raises:
        ValueError: A mass below 0 or a share outside 0 to 1; an empty recipe.

    Source: masses of the salts.
    """
    for name, (mass, water) in recipe.items():
        within(f"mass of {name}", mass, 0, 1e9, "g")
        within(f"water in {name}", water, 0, 1)
    total = sum(mass for mass, _ in recipe.values())
    within("mass of the recipe", total, 1e-9, 1e12, "g")
    return sum(mass * (1 - water) for mass, water in recipe.values()) / total


def water_kg(volume_m3: float, temperature_c: float, practical_salinity: float) -> float:
    """Return the mass of a body of water (0 to 100,000 m3), in kg.

    Raises:
        ValueError: Outside the range, or that of `seawater.density_kg_m3`.

    Source: UNESCO 44, 1983.
    """
    within("volume", volume_m3, 0, 100_000, "m3")
    return volume_m3 * density_kg_m3(temperature_c, practical_salinity)


def salt_to_add_kg(
    volume_m3: float, temperature_c: float, salinity: float, target: float, salt_fraction: float
) -> float:
    """Return the salt that raises the salinity of a body of water.

    Args:
        volume_m3: Before, 0 to 100,000 m3.
        temperature_c: -2 to 40 degC.
        salinity: Now, 0 to 42 g/kg.
        target: Wanted, from `salinity` to 42 g/kg.
        salt_fraction: Mass fraction of the product that is dissolved sea salt, 0.3 to 1.

    Returns:
        Product in kg.

    Raises:
        ValueError: Outside the range.

    Source: m = M (S2 - S1) / (1000 f - S2).
    """
    within("salt fraction", salt_fraction, 0.3, 1)
    mass = water_kg(volume_m3, temperature_c, salinity)
    within("target salinity", target, salinity, 42, "g/kg")
    return mass * (target - salinity) / (1000 * salt_fraction - target)


def salinity_with_salt(
    mass_kg: float, salinity: float, salt_kg: float, salt_fraction: float
) -> float:
    """Return the salinity, g/kg, after salt has dissolved: the inverse of `salt_to_add_kg`.

    Raises:
        ValueError: Outside the range; salt 0 to 1e8 kg, water above 0 to 1e9 kg.

    Source: salt is conserved.
    """
    within("mass", mass_kg, 1e-9, 1e9, "kg")
    within("salinity", salinity, 0, 42, "g/kg")
    within("salt", salt_kg, 0, 1e8, "kg")
    within("salt fraction", salt_fraction, 0.3, 1)
    return (mass_kg * salinity + 1000 * salt_fraction * salt_kg) / (mass_kg + salt_kg)


def fresh_water_to_add_kg(
    volume_m3: float, temperature_c: float, salinity: float, target: float, fresh_salinity: float
) -> float:
    """Return the water that lowers salinity when it is added and none is drained.

    Args:
        volume_m3: Before, 0 to 100,000 m3.
        temperature_c: -2 to 40 degC.
        salinity: Now, 0 to 42 g/kg.
        target: Wanted, above `fresh_salinity`, at most `salinity`.
        fresh_salinity: Of the added water, 0 to 42 g/kg.

    Returns:
        Water in kg; the volume grows by it.

    Raises:
        ValueError: Outside the range, or a target the added water cannot bring.

    Source: m = M (S1 - S2) / (S2 - Sf).
    """
    mass = water_kg(volume_m3, temperature_c, salinity)
    _between(salinity, target, fresh_salinity)
    return mass * (salinity - target) / (target - fresh_salinity)


def fraction_to_replace(salinity: float, target: float, fresh_salinity: float) -> float:
    """Return the part of the water, by mass, to drain and refill so that salinity falls.

    Args:
        salinity: Now, 0 to 42 g/kg.
        target: Wanted, above `fresh_salinity`, at most `salinity`.
        fresh_salinity: Of the new water, 0 to 42 g/kg.

    Returns:
        Fraction, 0 to 1.

    Raises:
        ValueError: Outside the range, or a target the new water cannot bring.

    Source: x = (S1 - S2) / (S1 - Sf).
    """
    _between(salinity, target, fresh_salinity)
    return (salinity - target) / (salinity - fresh_salinity)


def _between(salinity: float, target: float, fresh: float) -> None:
    within("salinity", salinity, 0, 42, "g/kg")
    within("salinity of the new water", fresh, 0, 42, "g/kg")
    within("target salinity", target, fresh, salinity, "g/kg")
    if target == fresh:
        raise ValueError(f"target salinity {target:g} g/kg is that of the new water: out of reach")


def salinity_after_evaporation(
    mass_kg: float,
    salinity: float,
    evaporated_kg: float,
    top_up_kg: float = 0.0,
    top_up_salinity: float = 0.0,
) -> float:
    """Return the salinity after water has evaporated and some has been added back.

    Args:
        mass_kg: Water before, above 0 to 1e9 kg.
        salinity: Before, 0 to 42 g/kg.
        evaporated_kg: 0 to below `mass_kg`.
        top_up_kg: Added, 0 to 1e9 kg.
        top_up_salinity: Of what is added, 0 to 42 g/kg.

    Returns:
        Salinity in g/kg; never lower than before when nothing is added.

    Raises:
        ValueError: Outside the range.

    Source: salt stays, water leaves.
    """
    within("mass", mass_kg, 1e-9, 1e9, "kg")
    within("salinity", salinity, 0, 42, "g/kg")
    within("evaporated", evaporated_kg, 0, mass_kg * (1 - 1e-9), "kg")
    within("top-up", top_up_kg, 0, 1e9, "kg")
    within("salinity of the top-up", top_up_salinity, 0, 42, "g/kg")
    salt = mass_kg * salinity + top_up_kg * top_up_salinity
    return salt / (mass_kg - evaporated_kg + top_up_kg)


def evaporated_kg(mass_now_kg: float, salinity_now: float, salinity_before: float) -> float:
    """Return the water that has evaporated, from the rise in salinity alone.

    Args:
        mass_now_kg: 0 to 1e9 kg.
        salinity_now: From `salinity_before` to 60 g/kg.
        salinity_before: 0.5 to 42 g/kg.

    Returns:
        kg; what leaked is not in it, as it takes its salt along.

    Raises:
        ValueError: Outside the range; evaporation cannot lower salinity.

    Source: salt is conserved.
    """
    within("mass", mass_now_kg, 0, 1e9, "kg")
    within("salinity before", salinity_before, 0.5, 42, "g/kg")
    within("salinity now", salinity_now, salinity_before, 60, "g/kg")
    return mass_now_kg * (salinity_now / salinity_before - 1)


def salinity_creep(
    mass_kg: float,
    salinity: float,
    evaporated_kg_day: float,
    top_up_salinity: float,
    days: float,
) -> float:
    """Return the salinity after days of replacing evaporation with water that holds salt.

    Args:
        mass_kg: Of the loop, kept constant, above 0 to 1e9 kg.
        salinity: At the start, 0 to 42 g/kg.
        evaporated_kg_day: 0 to `mass_kg`.
        top_up_salinity: 0 to 42 g/kg.
        days: 0 to 3650.

    Returns:
        Salinity in g/kg.

    Raises:
        ValueError: Outside the range.

    Source: S = S0 + n e Sm / M.
    """
    within("mass", mass_kg, 1e-9, 1e9, "kg")
    within("salinity", salinity, 0, 42, "g/kg")
    within("evaporated", evaporated_kg_day, 0, mass_kg, "kg/day")
    within("salinity of the top-up", top_up_salinity, 0, 42, "g/kg")
    within("days", days, 0, 3650)
    return salinity + days * evaporated_kg_day * top_up_salinity / mass_kg
