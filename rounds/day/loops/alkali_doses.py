"""Alkalinity of a loop: one line a product, from readings carried forward by what was given."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from math import ceil
from typing import Final

from msgspec.structs import replace

from rounds.day.fold.state import DosedAt, Read
from rounds.day.loops.alkalis import Alkali, brought_mg_l, mild, offered, untold
from rounds.day.loops.dose_lines import Case, DoseLine
from rounds.day.loops.maintenance import replaced
from rounds.day.readings.judgement import judge
from rounds.day.readings.loop_readings import Choice
from rounds.day.when import local_day, spoken
from rounds.dosing.alkalinity import (
    AMMONIA_LIMIT_MG_L,
    AlkalinityDose,
    alkalinity_dose,
)
from rounds.dosing.alkalis import dose_g_m3_per_mg_l
from rounds.dosing.portions import PH_CEILING, PH_RISE_PER_PORTION, portions
from rounds.dosing.prediction import after_dose
from rounds.fish.respiration import bicarbonate_for_feed_g_day
from rounds.reason import Reason

EXCHANGE_COUNTS: Final = 0.02
"""Part of the water changed since a test from which the test no longer stands (common practice)."""

SAME_SIZE: Final = 0.05
"""Part of a portion by which the next may be larger for what rounding left."""


def alkali_lines(case: Case) -> list[DoseLine]:
    """Return a line for the loop's own alkali and for each other one the site has.

    Args:
        case: The loop; what is missing is noted in it.

    Returns:
        The loop's own product first; the others only where there is something to dose. Where the
        last test is too old, the loop's own alone, for what feed took since.
    """
    alkalis = offered(case)

    def risen(since: Read) -> float:
        return brought_mg_l(case, (dose for dose in case.dosed if dose.at > since.at))

    test = case.readings.choice("alkalinity", lambda read: read.value + risen(read))
    choices = {name: case.readings.choice(name) for name in ("ph", "temperature", "salinity")}
    water = {measure: choice for measure, choice in choices.items() if choice is not None}
    if len(water) < len(choices) or not alkalis:
        return []
    alkalis = mild(case, alkalis, water["ph"].newest[0])
    missing_before = len(case.readings.missing)
    tan = case.readings.choice("tan")
    del case.readings.missing[missing_before:]  # without TAN the dose itself says what it lacks
    if tan is not None:
        water["tan"] = tan
    if test is None:
        return _maintained(case, alkalis[0], water)
    tested = test.newest[0]
    strange = untold(case, (d for d in case.dosed if d.at > tested.at or case.today(d.at)))
    if strange:
        case.missing.append(
            f"alkalinity: {strange[-1]} was given, what it brings is not known: measure it again, "
            "dose no more today"
        )
        return []
    if case.changed_since(tested.at, EXCHANGE_COUNTS):
        case.missing.append("alkalinity: water was changed since the test, measure it again")
        return []
    if (brought := risen(tested)) > 0:
        case.cautions.append(
            f"Alkalinity {tested.typed} was tested {_when(case, tested)}; "
            f"what was given since brings it to about {test.newest[1]:.0f}: measure it again."
        )
    target = case.targets.get("alkalinity", case.loop.alkalinity_target_mg_l)
    own = alkalis[0]
    values = case.readings.settle(
        {"alkalinity": test, **water}, lambda tried: _dose(case, own, tried, target).total_g
    )
    carried = Reason(
        "Counted with alkalinity {value:.0f} mg/L CaCO3: the test, and {brought:.0f} given since",
        {"value": values["alkalinity"], "brought": brought},
    )
    lines = []
    for alkali in alkalis:
        plan = _dose(case, alkali, values, target)
        if alkali is own or plan.portions_g or plan.refused:
            line = _line(case, alkali, plan, values)
            lines.append(
                replace(line, reasons=(carried, *line.reasons) if brought else line.reasons)
            )
    give = sum(bool(line.portions) for line in lines)
    if give:
        case.first.append(_needed(case, tested, values["alkalinity"]))
    if give > 1:
        case.first.append("Give one of the alkalis, not both.")
    return lines


def _needed(case: Case, tested: Read, alkalinity_mg_l: float) -> str:
    """Say whether a dose is needed by the limits where alkalinity was tested, or only possible."""
    judged = judge(
        case.site, case.site.places[tested.place], "alkalinity", alkalinity_mg_l, case.now
    )
    if judged.unlimited:
        return f"{judged.says}: whether a dose is needed is for the supervisor to say."
    if judged.verdict == "ok":
        return f"{judged.says}: in its band. A dose is possible, not needed."
    return f"{judged.says}: a dose is needed."


def _maintained(case: Case, own: Alkali, water: Mapping[str, Choice]) -> list[DoseLine]:
    """Return the dose that gives back what feed took since the last test; none if not learnt."""
    feed = replaced(case)
    if feed is None:
        return []

    def dose(values: Mapping[str, float]) -> AlkalinityDose:
        return _dose(case, own, values, feed.target_mg_l)

    now = {"alkalinity": feed.alkalinity_mg_l}
    values = now | case.readings.settle(water, lambda tried: dose({**now, **tried}).total_g)
    line = _line(case, own, dose(values), values)
    says = feed.says if line.portions else "What was given covers what feed took since the test."
    expected = line.expected if line.portions else ()
    return [replace(line, expected=(says, *expected), reasons=(*feed.reasons, *line.reasons))]


def _dose(
    case: Case, alkali: Alkali, values: Mapping[str, float], target_mg_l: float
) -> AlkalinityDose:
    return alkalinity_dose(
        volume_m3=case.volume_m3,
        alkalinity_mg_l=values["alkalinity"],
        target_mg_l=target_mg_l,
        ph=values["ph"],
        temperature_c=values["temperature"],
        practical_salinity=values["salinity"],
        product=alkali.formula,
        purity=alkali.purity,
        tan_mg_l=values.get("tan"),
        ph_buffers=case.site.ph_buffers,
        stocked=case.stocked,
        risen_today_mg_l=brought_mg_l(case, (d for d in case.dosed if case.today(d.at))),
        daily_rise_limit_mg_l=case.loop.alkalinity_daily_rise_mg_l,
        ph_ceiling=_act_high(case, "ph", PH_CEILING, 7.0, 9.0),
        ammonia_limit_mg_l=_act_high(case, "ammonia", AMMONIA_LIMIT_MG_L, 0.001, 1.0),
        daily_need_g=_daily_need_g(case, alkali),
    )


def _when(case: Case, read: Read) -> str:
    return spoken(read.at, case.now, case.site.timezone)


def _act_high(case: Case, measure: str, default: float, low: float, high: float) -> float:
    """Return the strictest limit at which any place of the loop with fish acts.

    A loop without fish, a pond, goes by the limits of its places all the same.
    """
    acts = [
        limits.act_high
        for place in case.site.places_of(case.loop.code)
        if (case.farm.stocks.get(place.code) or not case.stocked)
        and (limits := case.site.limits_at(measure, place, case.now)) is not None
        and limits.act_high is not None
    ]
    return min(max(min(acts, default=default), low), high)


def _daily_need_g(case: Case, alkali: Alkali) -> float | None:
    """Return what yesterday's feed can use up, in grams of this product; None if not known."""
    yesterday = local_day(case.now - timedelta(days=1), case.site.timezone).isoformat()
    bicarbonate_g = 0.0
    for place in case.site.places_of(case.loop.code):
        for fed in case.farm.fed_on(place.code, yesterday):
            feed = case.site.products.get(fed.product)
            if feed is not None and feed.protein is not None:
                bicarbonate_g += bicarbonate_for_feed_g_day(fed.amount_g / 1000, feed.protein)
    if bicarbonate_g <= 0:
        return None
    grams_per_mg_l = dose_g_m3_per_mg_l(alkali.formula, alkali.purity)
    return bicarbonate_g * grams_per_mg_l / dose_g_m3_per_mg_l("NaHCO3")


def _line(
    case: Case, alkali: Alkali, plan: AlkalinityDose, values: Mapping[str, float]
) -> DoseLine:
    product = alkali.product
    given = tuple(d for d in case.dosed if d.product == product.code and case.today(d.at))
    parts = _rest(case, alkali, plan, values, given)
    cautions = list(plan.cautions)
    if parts and product.caution:
        cautions.append(product.caution)
    return DoseLine(
        kind="alkalinity",
        product=product.code,
        name=product.name,
        amount=sum(parts),
        portions=parts,
        hours_between=plan.hours_between,
        expected=plan.expected,
        after=plan.after,
        how=plan.how if parts else (),
        cautions=tuple(cautions),
        refused=plan.refused,
        measure_after=plan.measure_after,
        reasons=plan.reasons,
        given=given,
    )


def _rest(
    case: Case,
    alkali: Alkali,
    plan: AlkalinityDose,
    values: Mapping[str, float],
    given: tuple[DosedAt, ...],
) -> tuple[float, ...]:
    """Return the portions still to give: of the size begun with today, where pH allows it."""
    if not given or not plan.portions_g:
        return plan.portions_g
    size = given[0].amount_g if given[0].advised_g is None else given[0].advised_g
    count = max(1, ceil(plan.total_g / size - SAME_SIZE)) if size > 0 else len(plan.portions_g)
    if count >= len(plan.portions_g):
        return plan.portions_g
    parts = portions(plan.total_g, count)
    water = after_dose(
        values["alkalinity"],
        values["ph"],
        values["temperature"],
        values["salinity"],
        alkali.formula,
        max(parts) / case.volume_m3,
        alkali.purity,
        case.site.ph_buffers,
    )
    rise = water.ph(case.site.ph_buffers) - values["ph"]
    return parts if rise <= PH_RISE_PER_PORTION else plan.portions_g
