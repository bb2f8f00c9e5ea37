"""The equilibria of carbonate in sea water, in mol per kg, pH on the total scale."""

from __future__ import annotations

from math import log10, pow

from rounds.water.constants import Constants, constants
from rounds.water.ranges import root


class ImpossiblePair(ValueError):
    """A pH and an alkalinity that no water can have together: a number would mislead."""


def other_alkalinity(ph_total: float, k: Constants, phosphate: float = 0.0) -> float:
    """Return the alkalinity that is not carbonate, mol/kg: borate, hydroxide, acids, phosphate.

    Args:
        ph_total: 0 to 14, total scale.
        k: Constants of the water.
        phosphate: Total phosphate, mol/kg.

    Returns:
        Alkalinity in mol/kg; below zero in acid water.

    Source: Dickson 1981, the definition of total alkalinity.
    """
    h = pow(10, -ph_total)
    free = h / k.total_per_free
    base = k.boron * k.kb / (k.kb + h) + k.kw / h
    acid = free + k.sulphate / (1 + k.ks / free) + k.fluoride / (1 + k.kf / free)
    if phosphate:
        p1, p2, p3 = k.kp1, k.kp1 * k.kp2, k.kp1 * k.kp2 * k.kp3
        base += phosphate * (p2 * h + 2 * p3 - h**3) / (h**3 + p1 * h**2 + p2 * h + p3)
    return base - acid


def dic_from_ph(
    alkalinity_mol_kg: float, ph_total: float, k: Constants, phosphate: float = 0.0
) -> float:
    """Return dissolved inorganic carbon from total alkalinity and pH, all in mol/kg.

    Raises:
        ImpossiblePair: Nothing is left of the alkalinity for carbonate.

    Source: Dickson, Sabine & Christian 2007, PICES Special Publication 3.
    """
    carbonate = alkalinity_mol_kg - other_alkalinity(ph_total, k, phosphate)
    if carbonate <= 0:
        raise ImpossiblePair(
            f"pH too high for this alkalinity (pH {ph_total:.2f} on the total scale, "
            f"{1000 * alkalinity_mol_kg:.2f} meq/kg): measure both again, check the pH meter"
        )
    h = pow(10, -ph_total)
    return carbonate * (h**2 + k.k1 * h + k.k1 * k.k2) / (k.k1 * h + 2 * k.k1 * k.k2)


def ph_from_dic(
    alkalinity_mol_kg: float, dic_mol_kg: float, k: Constants, phosphate: float = 0.0
) -> float:
    """Return pH, total scale, from total alkalinity and inorganic carbon in mol/kg.

    Source: bisection; alkalinity rises with pH at fixed carbon.
    """

    def excess(ph: float) -> float:
        h = pow(10, -ph)
        share = (k.k1 * h + 2 * k.k1 * k.k2) / (h**2 + k.k1 * h + k.k1 * k.k2)
        return dic_mol_kg * share + other_alkalinity(ph, k, phosphate) - alkalinity_mol_kg

    return root(excess, 2, 12.5)


def ph_from_co2(
    alkalinity_mol_kg: float, co2_mol_kg: float, k: Constants, phosphate: float = 0.0
) -> float:
    """Return pH, total scale, from total alkalinity and dissolved CO2 in mol/kg.

    Source: bisection; alkalinity rises with pH at fixed CO2.
    """

    def excess(ph: float) -> float:
        h = pow(10, -ph)
        bound = co2_mol_kg * (k.k1 / h + 2 * k.k1 * k.k2 / h**2)
        return bound + other_alkalinity(ph, k, phosphate) - alkalinity_mol_kg

    return root(excess, 2, 12.5)


def neutral_ph_total(temperature_c: float, practical_salinity: float) -> float:
    """Return the pH, total scale, at which bicarbonate leaves pH where it is: (pK1 + pK2) / 2.

    Below it a dose of bicarbonate raises pH a little, above it lowers it. Ranges as
    `constants.constants`.

    Raises:
        ValueError: Outside the range.

    Source: one mole of bicarbonate brings one of alkalinity and one of carbon.
    """
    k = constants(temperature_c, practical_salinity)
    return -log10(k.k1 * k.k2) / 2
