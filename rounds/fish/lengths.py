"""Length and weight: curves, their units, and condition.

Say which length: total, fork and standard differ, and mixing them changes condition by 10 to 30 %
(from memory). The curves here are of wild fish; farmed fish are heavier at a length.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from msgspec import Struct

from rounds.units import convert
from rounds.water.ranges import within


def a_to_g_cm(
    a: float, b: float, length_unit: Literal["mm", "cm"], weight_unit: Literal["mg", "g", "kg"]
) -> float:
    """Return the a of W = a L^b changed to grams and centimetres.

    Args:
        a: As printed, above 0.
        b: Exponent, 2 to 4 (2.5 to 3.5 is usual).
        length_unit: Unit of L in print.
        weight_unit: Unit of W in print.

    Returns:
        a for g and cm.

    Raises:
        ValueError: An argument is out of range, or a unit is not one of those.

    Source: FishBase manual, length-weight table.
    """
    within("a", a, 1e-20, 1e6)
    within("b", b, 2, 4)
    grams = convert(1, weight_unit, "g")
    return a * grams * math.pow(convert(1, "cm", length_unit), b)


def a_from_ln_kg_cm(ln_a: float) -> float:
    """Return a in g and cm from a printed natural log of a in kg and cm.

    Args:
        ln_a: -20 to 0.

    Returns:
        a for g and cm.

    Raises:
        ValueError: The logarithm is out of range.

    Source: FishBase manual, length-weight table, a(g, cm) = 1000 a(kg, cm).
    """
    within("ln a", ln_a, -20, 0)
    return 1000 * math.exp(ln_a)


def lognormal_mean(typical_g: float, sigma_ln: float) -> float:
    """Return the mean weight behind a typical one from a curve fitted on logs, g.

    Args:
        typical_g: Weight by the curve, g, 0.00001 to 50,000.
        sigma_ln: Spread about the curve on the natural log scale, 0 to 1.

    Returns:
        g; the curve alone reads low.

    Raises:
        ValueError: An argument is out of range.

    Source: mean of a log-normal distribution.
    """
    within("weight", typical_g, 1e-5, 50_000, "g")
    within("spread on the log scale", sigma_ln, 0, 1)
    return typical_g * math.exp(sigma_ln**2 / 2)


class LengthWeight(Struct, frozen=True):
    """W = a L^b in g and cm, for the lengths it was fitted to, with its spread on the log scale."""

    a: float
    b: float
    lengths_cm: tuple[float, float]
    sigma_ln: float
    source: str

    def weight_g(self, length_cm: float) -> float:
        """Return the typical weight at a length, g.

        Raises:
            ValueError: The length is outside the curve.
        """
        within("length", length_cm, *self.lengths_cm, "cm")
        return self.a * math.pow(length_cm, self.b)

    def mean_weight_g(self, length_cm: float) -> float:
        """Return the mean weight at a length, g.

        Raises:
            ValueError: The length is outside the curve.
        """
        return lognormal_mean(self.weight_g(length_cm), self.sigma_ln)

    def length_cm(self, weight_g: float) -> float:
        """Return the length at a weight, cm.

        Raises:
            ValueError: The weight, or the length it leads to, is outside the curve.
        """
        within("weight", weight_g, 1e-3, 50_000, "g")
        length_cm = math.pow(weight_g / self.a, 1 / self.b)
        within("length", length_cm, *self.lengths_cm, "cm")
        return length_cm


_BEET: Final = "Beet 2024 after Wigley, McBride & McHugh 2003 (NMFS-NE-171), wild fish"
# the ranges of length are from memory
BLACK_SEA_BASS: Final = LengthWeight(
    a_from_ln_kg_cm(-11.2011653), 2.9928935, (2, 70), 0.15682, _BEET
)
STRIPED_BASS: Final = LengthWeight(a_from_ln_kg_cm(-11.42915), 3.0300128, (2, 140), 0.1085, _BEET)


def condition_k(weight_g: float, length_cm: float) -> float:
    """Return Fulton's condition factor.

    Args:
        weight_g: Weight, g, 0.0001 to 50,000.
        length_cm: Length, cm, 0.2 to 250.

    Returns:
        100 W / L^3; about 0.7 to 2 for fish of usual shape.

    Raises:
        ValueError: An argument is out of range, or the factor outside 0.02 to 20: units mixed up.

    Source: Fulton; the sanity range is common practice.
    """
    within("weight", weight_g, 1e-4, 50_000, "g")
    within("length", length_cm, 0.2, 250, "cm")
    k = 100 * weight_g / length_cm**3
    within("condition (is the length in cm, the weight in g?)", k, 0.02, 20)
    return k


def condition_from_curve(a: float, b: float, length_cm: float) -> float:
    """Return the mean condition factor that a length-weight curve gives at a length.

    Args:
        a: In g and cm, 0.00001 to 10.
        b: Exponent, 2 to 4.
        length_cm: Length, cm, 0.2 to 250.

    Returns:
        100 a L^(b-3).

    Raises:
        ValueError: An argument is out of range.

    Source: Froese 2006, J. Appl. Ichthyol. 22:241-253.
    """
    within("a", a, 1e-5, 10)
    within("b", b, 2, 4)
    within("length", length_cm, 0.2, 250, "cm")
    return 100 * a * math.pow(length_cm, b - 3)
