"""Un-ionised ammonia: the part of total ammonia nitrogen (TAN) that harms fish.

Three equations by salinity: Emerson in fresh water (below 0.5), Clegg & Whitfield in salt water
(from 5), and between them Emerson's value as "at most". The cautious value is Bell's with the
meter's own pH; it lies near the tables most technicians know, and verdicts are given on it.
"""

from __future__ import annotations

from math import log10, pow, sqrt
from typing import Final

from msgspec import Struct

from rounds.reason import Reason, Reasons
from rounds.water.forms import nitrogen
from rounds.water.ph_scale import LEAST_SALINITY, Buffers, check_ph, nbs_from_total
from rounds.water.ranges import within

FRESH_BELOW: Final = 0.5


class Ammonia(Struct, frozen=True):
    """Un-ionised ammonia as nitrogen, mg/L. `at_most` says that the value is an upper bound."""

    value_mg_l: float
    cautious_mg_l: float
    fraction: float
    method: str
    at_most: bool
    reasons: Reasons


def pka_fresh(temperature_c: float) -> float:
    """Return pKa of ammonium in fresh water, 0 to 40 degC.

    Raises:
        ValueError: Outside the range.

    Source: Emerson, Russo, Lund & Thurston 1975, J. Fish. Res. Board Can. 32:2379-2383.
    """
    within("temperature", temperature_c, 0, 40, "degC")
    return 0.09018 + 2729.92 / (temperature_c + 273.15)


def pka_sea(
    temperature_c: float, practical_salinity: float, *, per_kg_water: bool = False
) -> float:
    """Return pKa of ammonium in sea water on the total scale.

    Args:
        temperature_c: -2 to 40 degC.
        practical_salinity: 0 to 40.
        per_kg_water: In mol per kg of pure water, as published, not per kg of sea water.

    Returns:
        The pKa.

    Raises:
        ValueError: Outside the range.

    Source: Clegg & Whitfield 1995, Geochim. Cosmochim. Acta 59:2403-2421, Eq. 18.
    """
    within("temperature", temperature_c, -2, 40, "degC")
    within("salinity", practical_salinity, 0, 40)
    t, s = temperature_c + 273.15, practical_salinity
    root, half = sqrt(t), sqrt(s)
    pka = (
        9.244605
        - 2729.33 * (1 / 298.15 - 1 / t)
        + (0.04203362 - 11.24742 / t) * sqrt(half)
        + (-13.6416 + 1.176949 * root - 0.02860785 * t + 545.4834 / t) * half
        + (-0.1462507 + 0.0090226468 * root - 0.0001471361 * t + 10.5425 / t) * s * half
        + (0.004669309 - 0.0001691742 * root - 0.5677934 / t) * s**2
        + (-2.354039e-5 + 0.009698623 / t) * s**2 * half
    )
    return pka if per_kg_water else pka - log10(1 - 0.001005 * s)


def pka_sea_free(temperature_c: float, practical_salinity: float) -> float:
    """Return pKa of ammonium on the free scale, per kg of pure water: a cross-check only.

    Args:
        temperature_c: -2 to 40 degC.
        practical_salinity: 0 to 40.

    Returns:
        The pKa.

    Raises:
        ValueError: Outside the range.

    Source: Clegg & Whitfield 1995, free-scale fit; public copies print 7.1047e-5 or 7.14045e-5 for
    one coefficient, which moves the pKa by 0.0005 at salinity 35.
    """
    within("temperature", temperature_c, -2, 40, "degC")
    within("salinity", practical_salinity, 0, 40)
    t, s = temperature_c + 273.15, practical_salinity
    return (
        9.244605
        - 2729.33 * (1 / 298.15 - 1 / t)
        + (0.0500616 - 9.412696 / t - 2.029559e-7 * t**2) * sqrt(s)
        + (-0.0142372 + 1.46041e-5 * t + 3.730005 / t) * s
        + (7.1047e-5 - 0.0229021 / t) * s**2
        + (-5.521278e-7 + 1.95413e-4 / t) * s**3
    )


def pka_bell(temperature_c: float, practical_salinity: float) -> float:
    """Return pKa of ammonium for a meter's pH used as it reads, 0 to 40 degC, salinity 0 to 40.

    Raises:
        ValueError: Outside the range.

    Source: Bell, Johnson, Jickells & Liss 2007, Environ. Chem. 4:183-186, corrigendum 2008 5:258.
    """
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", practical_salinity, 0, 40)
    return 10.0423 - 0.0315536 * temperature_c + 0.003071 * practical_salinity


def pka_epa(temperature_c: float, practical_salinity: float) -> float:
    """Return pKa of ammonium as the saltwater criteria use it, 0 to 40 degC, salinity 0 to 40.

    Raises:
        ValueError: Outside the range.

    Source: US EPA 1989, EPA 440/5-88-004, after Hampson 1977; one atmosphere.
    """
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", practical_salinity, 0, 40)
    t = temperature_c + 273.15
    ionic = 19.9273 * practical_salinity / (1000 - 1.005109 * practical_salinity)
    return 9.245 + 0.116 * ionic + 0.0324 * (298 - t) + 0.0415 / t


def fraction(pka: float, ph: float) -> float:
    """Return the un-ionised fraction, 0 to 1; pKa and pH (3 to 12) on the same scale.

    Raises:
        ValueError: pH outside 3 to 12.

    Source: the law of mass action.
    """
    within("pH", ph, 3, 12)
    return 1 / (1 + pow(10, pka - ph))


def epa_total_limit_mg_l(
    ammonia_limit_mg_l: float, temperature_c: float, practical_salinity: float, ph: float
) -> float:
    """Return the total ammonia nitrogen at which un-ionised ammonia reaches a criterion.

    Args:
        ammonia_limit_mg_l: As NH3 (the criteria are 0.233 acute, 0.035 over four days), 0 to 10.
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 40.
        ph: 3 to 12, as it reads.

    Returns:
        TAN in mg N/L.

    Raises:
        ValueError: Outside the range.

    Source: US EPA 1989, EPA 440/5-88-004.
    """
    within("ammonia limit", ammonia_limit_mg_l, 0, 10, "mg/L")
    part = fraction(pka_epa(temperature_c, practical_salinity), ph)
    return nitrogen(ammonia_limit_mg_l, "NH3") / part


def un_ionised(
    tan_mg_l: float,
    temperature_c: float,
    practical_salinity: float,
    ph: float,
    ph_buffers: Buffers = "nbs",
) -> Ammonia:
    """Return un-ionised ammonia with the cautious value a verdict is given on.

    Args:
        tan_mg_l: Total ammonia nitrogen, 0 to 100 mg N/L.
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 40.
        ph: The meter's reading, 4 to 11.
        ph_buffers: "nbs" for 4/7/10 buffers, "total" for sea-water TRIS buffers.

    Returns:
        Value, cautious value (never below the value), method and reasons, as mg N/L.

    Raises:
        ValueError: Outside the range.

    Source: Clegg & Whitfield 1995 with pH brought to the total scale from salinity 5; Emerson et
    al. 1975 below; cautious: Bell et al. 2007 with the meter's pH.
    """
    within("TAN", tan_mg_l, 0, 100, "mg N/L")
    within("temperature", temperature_c, 0, 40, "degC")
    within("salinity", practical_salinity, 0, 40)
    check_ph(ph)
    start = Reason(
        "TAN {tan:.2f} mg N/L, pH {ph:.2f} ({buffers} buffers), {t:.1f} degC, salinity {s:.1f}",
        {
            "tan": tan_mg_l,
            "ph": ph,
            "buffers": ph_buffers,
            "t": temperature_c,
            "s": practical_salinity,
        },
    )
    if practical_salinity < LEAST_SALINITY:
        return _fresh(tan_mg_l, temperature_c, practical_salinity, ph, ph_buffers, start)
    shift = nbs_from_total(ph, temperature_c, practical_salinity) - ph
    total, nbs = (ph, ph + shift) if ph_buffers == "total" else (ph - shift, ph)
    part = fraction(pka_sea(temperature_c, practical_salinity), total)
    value = tan_mg_l * part
    cautious = max(value, tan_mg_l * fraction(pka_bell(temperature_c, practical_salinity), nbs))
    return Ammonia(
        value,
        cautious,
        part,
        "Clegg & Whitfield 1995",
        False,
        (
            start,
            Reason("pH on the total scale {ph:.2f}", {"ph": total}, "Takahashi et al. 1982"),
            Reason(
                "{part:.2f} % of TAN is un-ionised: {value:.4f} mg NH3-N/L",
                {"part": 100 * part, "value": value},
                "Clegg & Whitfield 1995, Eq. 18",
            ),
            Reason(
                "Cautious value for the verdict {value:.4f} mg NH3-N/L, with pH as the meter reads",
                {"value": cautious},
                "Bell et al. 2007",
            ),
        ),
    )


def _fresh(
    tan_mg_l: float, temperature_c: float, s: float, ph: float, ph_buffers: Buffers, start: Reason
) -> Ammonia:
    """Emerson's value; an upper bound from salinity 0.5, or with sea-water buffers."""
    nbs = ph
    if ph_buffers == "total":  # a sea-water calibration reads low here by about this much
        nbs = nbs_from_total(ph, temperature_c, LEAST_SALINITY)
    at_most = s >= FRESH_BELOW or ph_buffers == "total"
    part = fraction(pka_fresh(temperature_c), nbs)
    value = tan_mg_l * part
    says = "{part:.2f} % of TAN is un-ionised: {most}{value:.4f} mg NH3-N/L"
    values = {"part": 100 * part, "most": "at most " if at_most else "", "value": value}
    why = Reason(says, values, "Emerson et al. 1975")
    extra = (
        (Reason("Fresh-water equation in brackish water: the true value is lower"),)
        if at_most
        else ()
    )
    return Ammonia(value, value, part, "Emerson et al. 1975", at_most, (start, why, *extra))
