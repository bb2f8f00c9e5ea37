"""A dose of alkali for a body of water: how much today, in what portions, and what it will do."""

from __future__ import annotations

from typing import Final

from msgspec.structs import replace

from rounds.dosing.advice import Advice
from rounds.dosing.alkalis import HOW, KEEP_APART, alkali, dose_g_m3_per_mg_l, dose_mass_g
from rounds.dosing.portions import PH_CEILING, PH_READ_AFTER_MIN, PH_RISE_PER_PORTION
from rounds.dosing.prediction import Case, Expected
from rounds.reason import Reason, Reasons
from rounds.units import Amount
from rounds.water.carbonate import co2
from rounds.water.equilibrium import ImpossiblePair
from rounds.water.ph_scale import LEAST_SALINITY, Buffers
from rounds.water.ranges import within

DAILY_RISE_MG_L: Final = 20.0  # common practice: at most 20 to 25 mg/L CaCO3 a day
AMMONIA_LIMIT_MG_L: Final = 0.05  # as nitrogen; common practice
HOURS_OVER: Final = 5.0  # a day's dose is spread over four to six hours; common practice
HARDLY: Final = 0.05  # of pH: what a handheld meter cannot tell apart; common practice


class AlkalinityDose(Advice, frozen=True, kw_only=True):
    """A dose for one day. Refused or not needed: no portions and 0 g.

    `first` is closed water after the first portion, `whole` after all of it, `settled` when CO2
    is back at its present level. `left_mg_l` is what remains for another day.
    """

    product: str
    total_g: float
    portions_g: tuple[float, ...]
    hours_between: float
    left_mg_l: float
    now: Expected | None
    first: Expected | None
    whole: Expected | None
    settled: Expected | None

    @property
    def after(self) -> dict[str, float]:
        """What the meters should show after all of it; pH with the site's buffers."""
        if self.first is None or self.whole is None or self.settled is None:
            return {}
        figures = {
            "alkalinity_mg_l": self.whole.alkalinity_mg_l,
            "ph": self.whole.ph,
            "ph_after_first_portion": self.first.ph,
            "ph_settled": self.settled.ph,
            "co2_mg_l": self.whole.co2_mg_l,
            "unionised_ammonia_n_mg_l": self.whole.ammonia_mg_l,
            "unionised_ammonia_n_cautious_mg_l": _most_ammonia(self.whole, self.settled),
        }
        return {name: value for name, value in figures.items() if value is not None}

    @property
    def expected(self) -> tuple[str, ...]:
        """What to expect, one sentence each."""
        after = self.after
        if not after:
            return (self.expect,) if self.expect else ()
        said = [
            f"Alkalinity {after['alkalinity_mg_l']:.0f} mg/L CaCO3.",
            self.expect,
            f"CO2 {after['co2_mg_l']:.1f} mg/L before the air takes or brings any.",
        ]
        if (most := after.get("unionised_ammonia_n_cautious_mg_l")) is not None:
            said.append(f"NH3-N at most {most:.3f} mg/L (cautious value).")
        return tuple(said)


def _most_ammonia(whole: Expected, settled: Expected) -> float | None:
    found = (whole.ammonia_cautious_mg_l, settled.ammonia_cautious_mg_l)
    return max((value for value in found if value is not None), default=None)


def alkalinity_dose(
    *,
    volume_m3: float,
    alkalinity_mg_l: float,
    target_mg_l: float,
    ph: float,
    temperature_c: float,
    practical_salinity: float,
    product: str,
    purity: float,
    tan_mg_l: float | None = None,
    ph_buffers: Buffers = "nbs",
    phosphate_mg_l: float | None = None,
    stocked: bool = True,
    risen_today_mg_l: float = 0.0,
    daily_rise_limit_mg_l: float = DAILY_RISE_MG_L,
    ph_rise_per_portion: float = PH_RISE_PER_PORTION,
    ph_ceiling: float = PH_CEILING,
    ammonia_limit_mg_l: float = AMMONIA_LIMIT_MG_L,
    daily_need_g: float | None = None,
) -> AlkalinityDose:
    """Return today's dose of an alkali for a body of water, with what it will do.

    Args:
        volume_m3: The water as it is today, 0.01 to 100,000 m3.
        alkalinity_mg_l: Now, 0 to 600 mg/L as CaCO3.
        target_mg_l: Wanted, 0 to 300 mg/L as CaCO3.
        ph: The meter's reading, 4 to 11.
        temperature_c: 0 to 40 degC.
        practical_salinity: 0 to 40; below 5 every dose is refused, as pH cannot be predicted.
        product: A key of `alkalis.ALKALIS`.
        purity: Mass fraction on the label, 0.05 to 1.
        tan_mg_l: Total ammonia nitrogen, mg N/L; soda ash into a stocked loop needs it.
        ph_buffers: "nbs" or "total".
        phosphate_mg_l: Phosphate as mg P/L, when known.
        stocked: Fish in the loop.
        risen_today_mg_l: What earlier doses of the day have already brought, mg/L as CaCO3.
        daily_rise_limit_mg_l: The site's, 1 to 100 mg/L as CaCO3.
        ph_rise_per_portion: The site's, 0.02 to 0.5.
        ph_ceiling: No dose that brings pH over it, 7 to 9.
        ammonia_limit_mg_l: Where the site acts, mg NH3-N/L, 0.001 to 1.
        daily_need_g: What the feed of a day uses up, in grams of this product; a dose above it is
            cautioned, not refused.

    Returns:
        The dose; refused or not needed gives 0 g and says why.

    Raises:
        ValueError: An argument outside its range.

    Source: `alkalis.dose_mass_g`, `prediction.after_dose`, `ammonia.un_ionised`; limits: common
    practice.
    """
    within("volume", volume_m3, 0.01, 100_000, "m3")
    within("alkalinity", alkalinity_mg_l, 0, 600, "mg/L CaCO3")
    within("target", target_mg_l, 0, 300, "mg/L CaCO3")
    within("salinity", practical_salinity, 0, 40)
    within("risen today", risen_today_mg_l, 0, 600, "mg/L CaCO3")
    within("daily rise limit", daily_rise_limit_mg_l, 1, 100, "mg/L CaCO3")
    within("pH rise per portion", ph_rise_per_portion, 0.02, 0.5)
    within("pH ceiling", ph_ceiling, 7, 9)
    within("ammonia limit", ammonia_limit_mg_l, 0.001, 1, "mg N/L")
    added = alkali(product)
    rise = target_mg_l - alkalinity_mg_l
    none = AlkalinityDose(
        product=product,
        total_g=0.0,
        portions_g=(),
        hours_between=0.0,
        left_mg_l=max(rise, 0.0),
        now=None,
        first=None,
        whole=None,
        settled=None,
        expect="",
        how=(),
        measure_after=("Test alkalinity again tomorrow, before feeding.",),
        cautions=(),
        refused=(),
        reasons=(
            Reason(
                "Alkalinity {now:.0f}, wanted {target:.0f} mg/L CaCO3",
                {"now": alkalinity_mg_l, "target": target_mg_l},
            ),
        ),
    )
    if practical_salinity < LEAST_SALINITY:
        return _refused(none, "Below salinity 5 pH after a dose cannot be predicted: ask first.")
    case = Case(
        volume_m3,
        alkalinity_mg_l,
        ph,
        temperature_c,
        practical_salinity,
        added,
        purity,
        tan_mg_l,
        ph_buffers,
        phosphate_mg_l,
        ph_rise_per_portion,
        ph_ceiling,
        ammonia_limit_mg_l,
    )
    try:
        before = co2(
            alkalinity_mg_l, ph, temperature_c, practical_salinity, ph_buffers, phosphate_mg_l
        )
    except ImpossiblePair as error:
        return _refused(none, f"{error}.")
    now = case.expected(before)
    none = replace(none, now=now, reasons=(*none.reasons, *before.reasons))
    if rise <= 0:
        return replace(none, expect="No dose needed: alkalinity is at or above what is wanted.")
    if before.doubtful:
        return _refused(none, "CO2 works out above 60 mg/L: measure pH and alkalinity again.")
    if added.kind == "hydroxide" and stocked:
        return _refused(none, f"No {added.name} into a loop with fish: use bicarbonate.")
    if added.kind == "carbonate" and stocked and tan_mg_l is None:
        return _refused(none, f"TAN is not known: test it before {added.name}, or use bicarbonate.")
    today = min(rise, daily_rise_limit_mg_l - risen_today_mg_l)
    if today <= 0:
        return replace(none, expect="No more today: the day's rise has been given.")
    return _plan(case, none, now, today, rise, daily_need_g, stocked)


def _refused(dose: AlkalinityDose, why: str) -> AlkalinityDose:
    return replace(dose, refused=(why,))


def _plan(
    case: Case,
    none: AlkalinityDose,
    now: Expected,
    today: float,
    rise: float,
    daily_need_g: float | None,
    stocked: bool,
) -> AlkalinityDose:
    added = case.product
    if already := case.broken(0.0, now):
        do = "exchange water, no feed, measure again" if stocked else "read pH again at first light"
        return _refused(none, f"Not now, {already} before any dose: {do}.")
    wanted = dose_mass_g(added.formula, case.volume_m3, today, case.purity)
    grams, why = case.largest(wanted, now)
    parts = case.split(grams)
    if not parts:
        if why:
            return _refused(none, f"Even a small dose would mean {why}.")
        return replace(none, expect="No dose needed: it is less than a scale shows.")
    total = sum(parts)
    per_mg_l = dose_g_m3_per_mg_l(added.formula, case.purity)
    given = total / per_mg_l / case.volume_m3
    whole = case.closed(total)
    settled = case.settled(whole.alkalinity_mg_l, max(now.co2_mg_l, 1e-3))
    cautions = []
    if why:
        cautions.append(f"Less than wanted: the whole of {wanted:.0f} g would mean {why}.")
    if rise - given > 1:
        cautions.append(
            f"{given:.0f} of {rise:.0f} mg/L today; the rest another day, after a new test."
        )
    if daily_need_g is not None and total > daily_need_g:
        cautions.append(
            f"More than the feed of a day uses up ({daily_need_g:.0f} g): check the alkalinity "
            "test and the volume before giving it."
        )
    if case.tan_mg_l is None:
        cautions.append("TAN is not known, so ammonia after the dose is not either: test it.")
    cautions.append(KEEP_APART)
    hours = max(1.0, round(2 * HOURS_OVER / (len(parts) - 1)) / 2) if len(parts) > 1 else 0.0
    return replace(
        none,
        total_g=total,
        portions_g=parts,
        hours_between=hours,
        left_mg_l=max(rise - given, 0.0),
        first=case.closed(parts[0]),
        whole=whole,
        settled=settled,
        expect=_expect(case, now, whole, settled),
        how=HOW[added.kind],
        measure_after=(
            f"pH {PH_READ_AFTER_MIN} minutes after each portion: stop and call the supervisor if "
            f"it rose more than {case.ph_rise_per_portion:g} or stands over {case.ph_ceiling:.1f}.",
            "Stop at once if fish gasp, crowd or lie down.",
            f"Alkalinity and TAN 4 hours after the last portion: expect about "
            f"{whole.alkalinity_mg_l:.0f} mg/L CaCO3.",
        ),
        cautions=tuple(cautions),
        reasons=(*none.reasons, *_reasons(case, today, wanted, parts, now, whole, settled)),
    )


def _expect(case: Case, now: Expected, whole: Expected, settled: Expected) -> str:
    if case.product.kind != "bicarbonate":
        return (
            f"pH would rise from {now.ph:.2f} to {whole.ph:.2f} if no CO2 came in; "
            f"it settles near {settled.ph:.2f} as CO2 comes in."
        )
    if abs(whole.ph - now.ph) < HARDLY:
        return f"pH will hardly move now; it rises to about {settled.ph:.2f} as CO2 leaves."
    way = "rise" if whole.ph > now.ph else "fall"
    return f"pH will {way} to {whole.ph:.2f} now, and come to about {settled.ph:.2f} as CO2 leaves."


def _reasons(
    case: Case,
    today: float,
    wanted: float,
    parts: tuple[float, ...],
    now: Expected,
    whole: Expected,
    settled: Expected,
) -> Reasons:
    per_mg_l = dose_g_m3_per_mg_l(case.product.formula)
    reasons = [
        Reason(
            "{volume:.2f} raised by {rise:.1f} mg/L x {per:.3f} g / purity {purity:.2f} = "
            "{mass:.0f} of {name}",
            {
                "volume": Amount(case.volume_m3, "m^3"),
                "rise": today,
                "per": per_mg_l,
                "purity": case.purity,
                "mass": Amount(wanted, "g"),
                "name": case.product.name,
            },
            "molar mass / equivalents / 50.043",
        ),
        Reason(
            "{count} portions, together {total:.0f}: no step of pH over {step:.2f}",
            {
                "count": len(parts),
                "total": Amount(sum(parts), "g"),
                "step": case.ph_rise_per_portion,
            },
            "common practice",
        ),
        Reason(
            "All of it in closed water: pH {ph:.2f}, CO2 {co2:.2g} mg/L; with CO2 back at "
            "{now:.2g} mg/L: pH {settled:.2f}",
            {"ph": whole.ph, "co2": whole.co2_mg_l, "now": now.co2_mg_l, "settled": settled.ph},
            "Waters, Millero & Woosley 2014",
        ),
    ]
    if whole.ammonia_cautious_mg_l is not None and settled.ammonia_cautious_mg_l is not None:
        reasons.append(
            Reason(
                "Un-ionised ammonia, cautious: now {now:.3f}, at most {most:.3f} mg N/L; "
                "limit {limit:.3f}",
                {
                    "now": now.ammonia_cautious_mg_l or 0.0,
                    "most": max(whole.ammonia_cautious_mg_l, settled.ammonia_cautious_mg_l),
                    "limit": case.ammonia_limit_mg_l,
                },
                "Bell et al. 2007",
            )
        )
    return tuple(reasons)
