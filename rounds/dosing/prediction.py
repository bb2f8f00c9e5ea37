"""What a dose of alkali will do: closed water, settled water, and the largest dose within limits.

Closed water: no CO2 leaves or arrives while the dose mixes in. Settled water: CO2 back at the
level it has now. The worse of the two has to keep every limit.
"""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from typing import Final

from msgspec import Struct

from rounds.dosing.alkalis import Alkali, alkali
from rounds.dosing.portions import portions
from rounds.water.ammonia import un_ionised
from rounds.water.carbonate import Carbonate, co2, from_co2, from_dic
from rounds.water.forms import CACO3_MG_MEQ
from rounds.water.ph_scale import LEAST_SALINITY, Buffers
from rounds.water.ranges import within
from rounds.water.seawater import density_kg_m3

PH_RISE_PER_DAY: Final = 0.5  # common practice: 0.2 to 0.3, never more than 0.5
MOST_PORTIONS: Final = 12  # common practice


class Expected(Struct, frozen=True):
    """What the meters should show: alkalinity as CaCO3, pH with the site's buffers, the rest mg/L.

    The ammonia figures are None when total ammonia nitrogen is not known.
    """

    alkalinity_mg_l: float
    ph: float
    co2_mg_l: float
    ammonia_mg_l: float | None
    ammonia_cautious_mg_l: float | None


def after_dose(
    alkalinity_mg_l: float,
    ph: float,
    temperature_c: float,
    practical_salinity: float,
    product: str,
    dose_g_m3: float,
    purity: float = 1.0,
    ph_buffers: Buffers = "nbs",
    phosphate_mg_l: float | None = None,
) -> Carbonate:
    """Return the carbonate system of closed water after a dose has mixed in.

    Args:
        alkalinity_mg_l: Before, 0 to 600 mg/L as CaCO3.
        ph: The meter's reading before, 4 to 11.
        temperature_c: 0 to 40 degC.
        practical_salinity: 5 to 42.
        product: A key of `ALKALIS`.
        dose_g_m3: Grams of the product per cubic metre, 0 to 2000.
        purity: Mass fraction, 0.05 to 1.
        ph_buffers: "nbs" or "total".
        phosphate_mg_l: Phosphate as mg P/L, when known.

    Returns:
        pH, CO2 and the rest; no CO2 lost, nothing precipitated.

    Raises:
        ImpossiblePair: pH too high for the alkalinity before the dose.
        ValueError: Outside the range; alkalinity after the dose above 600 mg/L.

    Source: equivalents and carbon of the product added, then `carbonate.from_dic`.
    """
    within("salinity", practical_salinity, LEAST_SALINITY, 42)
    within("dose", dose_g_m3, 0, 2000, "g/m3")
    within("purity", purity, 0.05, 1)
    added = alkali(product)
    before = co2(alkalinity_mg_l, ph, temperature_c, practical_salinity, ph_buffers, phosphate_mg_l)
    mmol_l = dose_g_m3 * purity / added.molar_mass
    mmol_kg = mmol_l / density_kg_m3(temperature_c, practical_salinity) * 1000
    return from_dic(
        alkalinity_mg_l + mmol_l * added.equivalents * CACO3_MG_MEQ,
        before.dic_mmol_kg + mmol_kg * added.carbon,
        temperature_c,
        practical_salinity,
        phosphate_mg_l,
    )


class Case(Struct, frozen=True):
    """The water, the product and the limits of one question."""

    volume_m3: float
    alkalinity_mg_l: float
    ph: float
    temperature_c: float
    practical_salinity: float
    product: Alkali
    purity: float
    tan_mg_l: float | None
    ph_buffers: Buffers
    phosphate_mg_l: float | None
    ph_rise_per_portion: float
    ph_ceiling: float
    ammonia_limit_mg_l: float

    def expected(self, water: Carbonate) -> Expected:
        """What the meters show in this state of the water."""
        ph = water.ph(self.ph_buffers)
        value = cautious = None
        if self.tan_mg_l is not None:
            ammonia = un_ionised(  # a prediction beyond pH 4 to 11 breaks the ceiling anyhow
                self.tan_mg_l,
                self.temperature_c,
                self.practical_salinity,
                min(max(ph, 4.0), 11.0),
                self.ph_buffers,
            )
            value, cautious = ammonia.value_mg_l, ammonia.cautious_mg_l
        return Expected(water.alkalinity_mg_l, ph, water.co2_mg_l, value, cautious)

    def closed(self, grams: float) -> Expected:
        """After so many grams, before any CO2 leaves or arrives."""
        return self.expected(
            after_dose(
                self.alkalinity_mg_l,
                self.ph,
                self.temperature_c,
                self.practical_salinity,
                self.product.formula,
                grams / self.volume_m3,
                self.purity,
                self.ph_buffers,
                self.phosphate_mg_l,
            )
        )

    def settled(self, alkalinity_mg_l: float, co2_mg_l: float) -> Expected:
        """With the alkalinity raised and CO2 back where it is now."""
        return self.expected(
            from_co2(
                alkalinity_mg_l,
                co2_mg_l,
                self.temperature_c,
                self.practical_salinity,
                self.phosphate_mg_l,
            )
        )

    def split(self, grams: float) -> tuple[float, ...]:
        """As few portions as keep each step of pH within its limit; none if too many."""
        rise = max(self.closed(grams).ph - self.ph, 0.0)
        least = max(2, ceil(rise / self.ph_rise_per_portion - 1e-9))
        for count in range(least, MOST_PORTIONS + 1):
            parts = portions(grams, count)
            given, levels = 0.0, [self.ph]
            for part in parts:
                given += part
                levels.append(self.closed(given).ph)
            if all(b - a <= self.ph_rise_per_portion + 1e-9 for a, b in pairwise(levels)):
                return parts
        return ()

    def broken(self, grams: float, now: Expected) -> str:
        """Which limit a dose of so many grams would break, in words; empty if none."""
        whole = self.closed(grams)
        settled = self.settled(whole.alkalinity_mg_l, max(now.co2_mg_l, 1e-3))
        ph = max(whole.ph, settled.ph)
        if ph > self.ph_ceiling:
            return f"pH {ph:.2f}, over {self.ph_ceiling:.1f}"
        cautious = max(whole.ammonia_cautious_mg_l or 0.0, settled.ammonia_cautious_mg_l or 0.0)
        if cautious > self.ammonia_limit_mg_l:
            return (
                f"un-ionised ammonia {cautious:.3f} mg N/L (cautious value), "
                f"over {self.ammonia_limit_mg_l:g}"
            )
        if whole.ph - now.ph > PH_RISE_PER_DAY:
            return f"pH up by {whole.ph - now.ph:.2f} in a day, over {PH_RISE_PER_DAY:g}"
        if portions(grams, 1) and not self.split(grams):
            return f"more than {MOST_PORTIONS} portions"
        return ""

    def largest(self, grams: float, now: Expected) -> tuple[float, str]:
        """The largest dose up to `grams` that breaks no limit, and what stopped a larger one."""
        why = self.broken(grams, now)
        if not why:
            return grams, ""
        low, high = 0.0, grams
        for _ in range(12):
            middle = (low + high) / 2
            low, high = (low, middle) if self.broken(middle, now) else (middle, high)
        return low, why
