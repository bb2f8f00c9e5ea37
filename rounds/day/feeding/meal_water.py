"""What the water says against a meal: supplies that are out, oxygen, ammonia, nitrite.

A reading to act on stops feeding until it is read again, however long ago it was.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from msgspec.structs import replace

from rounds.day.feeding.held_back import Conditions
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.loops.air import after_meal_mg_l
from rounds.day.readings.derived import figure
from rounds.day.readings.inputs import (
    OXYGEN,
    Inputs,
    ahead,
    fresh,
    oxygen_reads,
    tested_elsewhere,
)
from rounds.day.readings.judgement import in_words, judge, with_unit, word_of
from rounds.day.readings.outages import outage
from rounds.day.readings.oxygen_act import LOOKED_BACK, both_forms, unsettled
from rounds.day.when import clock
from rounds.fish import conditions as rules
from rounds.fish.conditions import Multiplier
from rounds.reason import Reason, Value, render
from rounds.site.model import Place, Site
from rounds.units import Amount

_Band = tuple[float, float]
_FULL: Final[tuple[_Band, _Band]] = ((5.0, 4.0), (75.0, 60.0))
"""What the rule is told of a form that has no limits: any, for its reading is left out too."""


def water(site: Site, inputs: Inputs, held: Conditions) -> None:
    """Put into `held` what supplies, oxygen, ammonia and nitrite say against a meal.

    Args:
        site: The site, with today's limits.
        inputs: Of the place and instant; nothing read after it counts.
        held: What is gathered.
    """
    farm, place, now = inputs.farm, inputs.place, inputs.now
    _outage(farm, place, now, held)
    _oxygen(site, farm, place, now, held)
    _ammonia(site, inputs, held)
    _nitrite(site, inputs, held)


def _outage(farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    """Stop feeding while power, pump or air is out; live food in a larval tank may stay."""
    if says := outage(farm, place, now):
        says = f"{says[0].upper()}{says[1:]}"
        held.reasons.append(Reason("{says}", {"says": says}, "digestion takes oxygen"))
        if place.stage == "larval":
            held.cautions.append(f"{says}: give no more live food than is eaten at once")
        else:
            held.act(f"{says}: feed when it runs and oxygen was read again")


def clock_ahead(farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    """Stop feeding on what a laptop with a clock ahead read to act on, until it is read again."""
    for read in ahead(farm, place, now):
        value = f"{in_words(read.measure)} {with_unit(read.typed, read.unit)}"
        at = clock(read.at, farm.site.timezone)
        held.act(f"{value}, dated {at} by a clock that is ahead: read it again")


def _oxygen(site: Site, farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    latest = oxygen_reads(farm, place, now)
    held.oxygen_read = bool(latest) and fresh(latest[0], now)
    if not latest:
        return
    points = [
        both_forms(farm, place, read, now)
        for measure in OXYGEN
        for read in farm.between(place.code, measure, now - LOOKED_BACK, now)
    ]
    for last in latest:
        mg_l, share, lacking = both_forms(farm, place, last, now)
        held.missing += lacking
        for measure, value in (("oxygen", mg_l), ("oxygen_percent", share)):
            if value is not None:
                acts = word_of(site, place, measure, value, last.at) == "act"
                if acts or (last.measure == measure and last.verdict == "act"):
                    held.act(judge(site, place, measure, value, last.at).says)
    if place.stage != "larval" and (not_over := unsettled(site, farm, place, now)) is not None:
        held.reasons.append(not_over.reason)
        held.act(not_over.says)
    bands = [_band(site, place, measure, now, rising=False) for measure in OXYGEN]
    if bands == [None, None]:
        held.missing.append(_lacks("oxygen"))
        return
    # a form without limits says nothing, as if it had not been read
    mg_read = [mg for mg, _, _ in points if mg is not None and bands[0]]
    share_read = [share for _, share, _ in points if share is not None and bands[1]]
    least_mg, least_share = min(mg_read, default=None), min(share_read, default=None)
    if least_mg is None and least_share is None:
        return
    (watch_mg, act_mg), (watch_share, act_share) = bands[0] or _FULL[0], bands[1] or _FULL[1]
    # beyond act only the newest reading stops a meal; an older one reduces it as far as act does
    if held.oxygen_read and place.stage != "larval":
        for last in latest:
            mg_l, share, _ = both_forms(farm, place, last, now)
            _digesting(farm, place, mg_l, share, last, now, bands, held)
    low_mg = max(_or(least_mg, watch_mg), act_mg)
    low_share = max(_or(least_share, watch_share), act_share)
    forms = ((least_mg, ".1f", "mg/L"), (least_share, ".0f", "%"))
    least = ", ".join(
        f"{value:{digits}} {unit}" for value, digits, unit in forms if value is not None
    )
    held.reasons.append(Reason("Lowest oxygen of the last 6 h: {least}", {"least": least}))

    def rule() -> Multiplier:
        found = rules.oxygen(low_share, low_mg, watch_share, act_share, watch_mg, act_mg)
        if _or(least_mg, act_mg) < act_mg or _or(least_share, act_share) < act_share:
            says = "oxygen fell to {least}, below where one acts: x{factor:.2f}"
        elif least_mg is not None and least_share is not None:
            return found
        elif found.factor < 1:  # the form that was not read, or has no limits, is not named
            says = "oxygen {least}, below its target band: x{factor:.2f}"
        else:
            says = "oxygen {least}, in its target band"
        reason = Reason(says, {"least": least, "factor": found.factor}, found.reason.source)
        return replace(found, reason=reason)

    held.add(rule)


def _digesting(
    farm: Farm, place: Place, mg_l: float | None, share: float | None, read: Read, now: datetime,
    bands: list[_Band | None], held: Conditions,
) -> None:  # fmt: skip
    """Stop a meal that would take oxygen below where one acts: half as much again is breathed."""
    if mg_l is None or not share:
        return
    full = 100 * mg_l / share
    then = after_meal_mg_l(farm, place, mg_l, full, read.at, now, fed_now=True)
    found = zip((then, 100 * then / full), bands, strict=True)
    if any(band is not None and value < band[1] for value, band in found):
        says = "A meal would take oxygen from {mg:.1f} ({share:.0f} %) to {then:.1f} ({part:.0f} %)"
        values: dict[str, Value] = {"mg": Amount(mg_l, "mg/L"), "share": share}
        values["then"] = Amount(then, "mg/L")
        values["part"] = 100 * then / full
        reason = Reason(says, values, "half as much again within 6 h of a meal, from memory")
        held.reasons.append(reason)
        plain = render(replace(reason, source=""))
        held.act(f"{plain}: raise oxygen and read it again, then feed")


def _ammonia(site: Site, inputs: Inputs, held: Conditions) -> None:
    farm, place, now = inputs.farm, inputs.place, inputs.now
    value, judged_act, missing = _ammonia_at(site, inputs)
    if value is None:
        held.missing += missing
        held.act(_last_ammonia_act(site, inputs))
        return
    if (
        judged_act
        and place.stage == "larval"
        and (where := tested_elsewhere(farm, place, "tan", now))
    ):
        held.cautions.append(
            f"{judged_act}, tested in {where}: test TAN here now, exchange, keep the prey count"
        )
        return
    if judged_act:
        held.act(judged_act)
    if (band := _band(site, place, "ammonia", now, rising=True)) is None:
        held.missing.append(_lacks("ammonia"))
        return
    held.add(lambda: rules.ammonia(value, *band))


def _last_ammonia_act(site: Site, inputs: Inputs) -> str:
    """Return what an act said when ammonia could last be worked out; empty if it was none."""
    reads = [inputs.newest(measure) for measure in ("tan", "ph", "temperature")]
    for at in sorted({read.at for read in reads if read is not None}, reverse=True):
        value, said, _ = _ammonia_at(site, Inputs(inputs.farm, inputs.place, at))
        if value is not None:
            return said
    return ""


def _ammonia_at(site: Site, inputs: Inputs) -> tuple[float | None, str, list[str]]:
    """Return the cautious value, what an act says, and what is missing to work it out."""
    one = figure(site, inputs, "ammonia")
    lacking = [*one.missing, *([f"{one.doubtful}: measure again"] if one.doubtful else [])]
    judged = one.judgement
    act = judged.says if judged is not None and judged.verdict == "act" else ""
    return (one.value if one.cautious is None else one.cautious), act, lacking


def _nitrite(site: Site, inputs: Inputs, held: Conditions) -> None:
    inputs, place, now = inputs.anew(), inputs.place, inputs.now
    value, read = inputs.take("nitrite"), inputs.newest("nitrite")
    held.missing += inputs.missing
    if read is not None and word_of(site, place, "nitrite", read.value, read.at) == "act":
        held.act(judge(site, place, "nitrite", read.value, read.at).says)
    if (band := _band(site, place, "nitrite", now, rising=True)) is None:
        held.cautions.append(f"{_lacks('nitrite')}.")
    elif value is not None:
        held.add(lambda: rules.nitrite(value, *band))


def _band(site: Site, place: Place, measure: str, now: datetime, *, rising: bool) -> _Band | None:
    """Return watch and act of a measure; None where the site does not set both."""
    limits = site.limits_at(measure, place, now)
    if limits is None:
        return None
    pairs = ((limits.target_low, limits.act_low), (limits.target_high, limits.act_high))
    watch, act = pairs[rising]
    if watch is None or act is None:
        return None
    return (watch, act) if watch != act else (watch, watch * (1.001 if rising else 0.999))


def _lacks(name: str) -> str:
    return f"No {name} limits here, watch and act: put them into site.toml"


def _or(value: float | None, other: float) -> float:
    return other if value is None else value
