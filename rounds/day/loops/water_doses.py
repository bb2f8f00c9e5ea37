"""Salinity and level of a loop: salt up, fresh water down, the top-up, one partial exchange."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from rounds.day.fold.state import DosedAt, Read
from rounds.day.loops.dose_lines import Case, DoseLine, Kind
from rounds.day.readings.derived import figure
from rounds.day.readings.inputs import Inputs, fresh
from rounds.day.when import spoken
from rounds.dosing.exchange import WaterChange, partial_exchange
from rounds.dosing.salinity import lower_salinity, raise_salinity
from rounds.dosing.salinity import top_up as topped_up
from rounds.dosing.salt import salinity_with_salt, water_kg
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Product

EXCHANGE_PART: Final = 0.10
"""What one partial exchange replaces, unless asked otherwise (common practice)."""
CHANGED_COUNTS: Final = 0.01
NEW_WATER_LASTS: Final = timedelta(days=30)
"""How long the salinity of the last water let in stands for the next (common practice)."""
LEVEL_COUNTS: Final = 0.005
"""Part of the volume a loop may lack before a top-up is advised (common practice)."""


def water_lines(case: Case) -> list[DoseLine]:
    """Return the lines that move salinity and level, and one partial exchange.

    Args:
        case: The loop; what is missing is noted in it.

    Returns:
        Salt or fresh water only where salinity is off its target by more than an instrument reads.
    """
    warm = case.readings.choice("temperature")
    salt = case.readings.choice("salinity", lambda read: read.value + _salted(case, read))
    if warm is None or salt is None:
        return []
    read = salt.newest[0]
    if case.changed_since(read.at, CHANGED_COUNTS):
        case.missing.append("salinity: water was let in or out since it was read, measure it again")
        return []
    target = case.targets.get("salinity", case.loop.salinity_target)
    temperature_c = warm.newest[1]
    if (low_off := target - salt.low[1]) > 0 > target - salt.high[1]:
        case.cautions.append(
            f"Salinity is read both below and above {target:g} ({low_off:.1f} below at the "
            "least): measure it again before anything is added."
        )
    salinity = case.readings.settle({"salinity": salt}, lambda v: abs(v["salinity"] - target))[
        "salinity"
    ]
    off = MEASURES["salinity"].accuracy
    lines = []
    if salinity < target - off:
        lines += _salt(case, temperature_c, salinity, target)
    elif salinity > target + off:
        lines += _fresh(case, temperature_c, salinity, target)
    if top_up := _top_up(case, temperature_c, salinity, target):
        if lines:
            case.cautions.append(
                "First look at the level. Down: top up, then read salinity again. "
                "At the mark: no top-up."
            )
        lines = top_up + lines
    lines += _exchange(case, temperature_c, salinity, target)
    return lines


def _salts(case: Case) -> dict[str, Product]:
    return {p.code: p for p in case.site.products.values() if p.kind == "salt"}


def _salted(case: Case, since: Read) -> float:
    """Return what salt given since a reading has added to it."""
    return _added(case, tuple(dose for dose in case.dosed if dose.at > since.at), since.value)


def _added(case: Case, doses: tuple[DosedAt, ...], salinity: float) -> float:
    salts, risen = _salts(case), 0.0
    for dose in doses:
        share = salts[dose.product].dissolved_fraction if dose.product in salts else None
        if share is not None:
            mass_kg = water_kg(case.volume_m3, 20.0, salinity)
            after = salinity_with_salt(mass_kg, salinity, dose.amount_g / 1000, share)
            risen += after - salinity
    return risen


def _salt(case: Case, temperature_c: float, salinity: float, target: float) -> list[DoseLine]:
    product = _salts(case).get(case.loop.salt or "")
    if product is None:
        case.missing.append(f"salt of loop {case.loop.code}: name a product in site.toml")
        return []
    if product.dissolved_fraction is None:
        case.missing.append(
            f"dissolved part of {product.name}: read the label, set dissolved_fraction in site.toml"
        )
        return []
    given = tuple(d for d in case.dosed if d.product == product.code and case.today(d.at))
    plan = raise_salinity(
        volume_m3=case.volume_m3,
        temperature_c=temperature_c,
        practical_salinity=salinity,
        target_salinity=target,
        salt_fraction=product.dissolved_fraction,
        sea_salt=product.formula != "NaCl",
        stocked=case.stocked,
        living_filter=case.living_filter,
        risen_today=_added(case, given, salinity),
    )
    cautions = (*plan.cautions, *([product.caution] if product.caution and plan.portions_g else []))
    return [
        DoseLine(
            kind="salt",
            product=product.code,
            name=product.name,
            amount=plan.total_g,
            portions=plan.portions_g,
            hours_between=plan.hours_between,
            expected=(plan.expect,) if plan.expect else (),
            how=plan.how,
            cautions=cautions,
            refused=plan.refused,
            measure_after=plan.measure_after,
            reasons=plan.reasons,
            after=plan.after,
            given=given,
        )
    ]


# -- water -----------------------------------------------------------------------------------------


def _makeup(case: Case, measure: str) -> Read | None:
    """Return the newest reading of the make-up water: of the house or a store, on no loop."""
    found = [
        read
        for place in case.site.places.values()
        if not place.wet and not place.loop
        if (read := case.farm.latest(place.code, measure, case.now)) is not None
        and fresh(read, case.now)
    ]
    return max(found, key=lambda read: (read.at, read.id), default=None)


def _new_salinity(case: Case) -> float | None:
    """Return the salinity of the water let in: asked for, read, or written with the last one."""
    if "new_salinity" in case.targets:
        return case.targets["new_salinity"]
    if (read := _makeup(case, "salinity")) is not None:
        return read.value
    recent = [
        e.salinity_in
        for e in case.exchanged
        if e.salinity_in is not None and case.now - e.at <= NEW_WATER_LASTS
    ]
    return recent[-1] if recent else None


def _new_temperature(case: Case, temperature_c: float) -> tuple[float, tuple[str, ...]]:
    """Return the temperature of the water let in; where it is not known, it is to be matched."""
    if "new_temperature" in case.targets:
        return case.targets["new_temperature"], ()
    if (read := _makeup(case, "temperature")) is not None:
        return read.value, ()
    return temperature_c, (f"Bring the new water to {temperature_c:.1f} degC first: measure it.",)


def _fresh(case: Case, temperature_c: float, salinity: float, target: float) -> list[DoseLine]:
    new = _new_salinity(case)
    if new is None:
        case.missing.append("salinity of the fresh water: measure it before it is let in")
        return []
    warm, match = _new_temperature(case, temperature_c)
    if new >= target:
        why = f"Water of salinity {new:g} cannot bring salinity {salinity:.1f} to {target:g}."
        return [DoseLine("fresh water", unit="L", name="fresh water", refused=(why,))]
    change = lower_salinity(
        volume_m3=case.volume_m3,
        temperature_c=temperature_c,
        practical_salinity=salinity,
        target_salinity=target,
        in_salinity=new,
        in_temperature_c=warm,
        stocked=case.stocked,
        living_filter=case.living_filter,
    )
    return [_water(case, "fresh water", "fresh water, drained and filled", change, match, new)]


def _top_up(case: Case, temperature_c: float, salinity: float, target: float) -> list[DoseLine]:
    full_m3, now_m3, why = _level(case, salinity, target)
    if now_m3 >= full_m3 * (1 - LEVEL_COUNTS):
        return []
    new = _new_salinity(case)
    if new is None:
        case.missing.append("salinity of the top-up water: measure it before it is let in")
        return []
    warm, match = _new_temperature(case, temperature_c)
    change = topped_up(
        full_m3=full_m3,
        now_m3=max(now_m3, 0.01 * full_m3),
        temperature_c=temperature_c,
        practical_salinity=salinity,
        in_salinity=new,
        in_temperature_c=warm,
    )
    return [_water(case, "top-up", "top-up of what evaporated", change, (*why, *match), new)]


def _level(case: Case, salinity: float, target: float) -> tuple[float, float, tuple[str, ...]]:
    """Return the water at the mark and now, m3, by level where it was read, else by salinity."""
    full = case.loop.sump_volume_m3
    lacking, measured = 0.0, False
    for place in case.site.places_of(case.loop.code):
        if case.farm.state_of(place.code) != "in service":
            continue
        full += place.volume_m3 or 0.0
        read = case.farm.latest(place.code, "level", case.now)
        limits = case.site.limits_at("level", place, case.now)
        if read is None or not fresh(read, case.now) or not place.area_m2 or limits is None:
            continue
        if limits.target_low is not None:
            measured = True
            lacking += max(0.0, limits.target_low - read.value) / 100 * place.area_m2
    if measured:
        return full, full - lacking, ()
    if case.volume_m3 < full * (1 - LEVEL_COUNTS):
        return full, case.volume_m3, ()
    if salinity > target + MEASURES["salinity"].accuracy:
        now_m3 = full * target / salinity
        litres = (full - now_m3) * 1000
        why = (
            f"Worked out from salinity: top up only if the level is down by about {litres:.0f} L; "
            "at the mark, change water instead."
        )
        return full, now_m3, (why,)
    return full, full, ()


def _exchange(case: Case, temperature_c: float, salinity: float, target: float) -> list[DoseLine]:
    part = case.targets.get("exchange", EXCHANGE_PART)
    off = abs(salinity - target) > MEASURES["salinity"].accuracy
    new = case.targets.get("new_salinity", target if off else salinity)
    warm, match = _new_temperature(case, temperature_c)
    if "new_salinity" not in case.targets:
        why = ", where the loop is to go" if off else ""
        match = (f"Make the new water up to salinity {new:.1f} first{why}.", *match)
    match = (*_against_ammonia(case, part), *match)
    change = partial_exchange(
        volume_m3=case.volume_m3,
        fraction=part,
        temperature_c=temperature_c,
        practical_salinity=salinity,
        in_temperature_c=warm,
        in_salinity=new,
        stocked=case.stocked,
    )
    name = f"exchange of {100 * part:.0f} % of the water"
    return [_water(case, "exchange", name, change, match, new, _diluted(case, change))]


def _against_ammonia(case: Case, part: float) -> tuple[str, ...]:
    """Say how much water would bring ammonia below its act limit, where a tank stands above it.

    At unchanged pH a part x of new water without ammonia leaves 1 - x of it.
    """
    worst = (1.0, 0.0, 0.0, "")
    for place in case.site.places_of(case.loop.code):
        limits = case.site.limits_at("ammonia", place, case.now)
        act = limits.act_high if limits is not None else None
        if not act or not case.farm.stocks.get(place.code):
            continue
        found = figure(case.site, Inputs(case.farm, place, case.now), "ammonia")
        value = found.value if found.cautious is None else found.cautious
        if value is not None:
            worst = max(worst, (value / act, value, act, place.code))
    times, value, act, code = worst
    if not code:
        return ()
    told = f"NH3-N {value:.3f} mg/L in {code}, act above {act:.3f}: {100 * part:.0f} % leaves "
    told += f"{value * (1 - part):.3f}"
    if (needed := 1 - 1 / times) > part:
        told += (
            f"; to come below it takes about {100 * needed:.0f} % in all, in several exchanges: "
            "test TAN and pH before each next one"
        )
    return (f"{told}.",)


def _diluted(case: Case, change: WaterChange) -> tuple[str, ...]:
    """Say what a partial exchange leaves of what is dissolved, by the last tests of the loop."""
    said = []
    for measure, name in (("tan", "TAN"), ("nitrite", "Nitrite"), ("nitrate", "Nitrate")):
        read = case.farm.latest_in_loop(case.loop.code, measure, case.now)
        if read is not None and fresh(read, case.now):
            digits = MEASURES[measure].decimals
            when = spoken(read.at, case.now, case.site.timezone)
            said.append(
                f"{name} from {read.value:.{digits}f} ({when}) to "
                f"{read.value * change.kept_fraction:.{digits}f} mg/L, if the new water has none."
            )
    return tuple(said)


def _water(
    case: Case,
    kind: Kind,
    name: str,
    change: WaterChange,
    match: tuple[str, ...],
    new_salinity: float,
    expected: tuple[str, ...] = (),
) -> DoseLine:
    parts = change.portions_l
    new = Reason("New water of salinity {s:.1f}", {"s": new_salinity})
    chlorine = _makeup(case, "chlorine")
    if chlorine is not None and chlorine.value > 0:
        when = spoken(chlorine.at, case.now, case.site.timezone)
        told = (
            f"Chlorine {chlorine.typed} mg/L in the make-up water, {when}: take it out, test "
            "again until it is zero."
        )
        return DoseLine(kind, name=name, unit="L", refused=(told,), reasons=(new,))
    return DoseLine(
        kind=kind,
        name=name,
        amount=sum(parts),
        unit="L",
        portions=parts,
        hours_between=change.hours_between,
        expected=(*([change.expect] if change.expect else []), *expected),
        how=change.how,
        cautions=(*match, *change.cautions) if parts else change.cautions,
        refused=change.refused,
        measure_after=change.measure_after,
        reasons=(new, *change.reasons),
        after=change.after,
        given=tuple(
            e
            for e in case.exchanged
            if case.today(e.at) and (e.volume_out_m3 == 0) == (kind == "top-up")
        ),
        new_salinity=new_salinity,
    )
