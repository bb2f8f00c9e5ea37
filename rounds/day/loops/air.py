"""Minutes of air: how long each tank and loop lasts from now if air, flow or both stop.

An old reading is brought forward first: by what a meal since takes more, and by the time that an
outage on record has lasted. What is not known of a supply that goes on counts as nothing.
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read, Stock
from rounds.day.fold.waters import water_m3
from rounds.day.readings.inputs import OXYGEN, Inputs, fresh, oxygen_reads
from rounds.day.readings.outages import off_since
from rounds.day.when import spoken
from rounds.fish.air import Air, Off, alarm_uptake_mg_kg_h, minutes_of_air
from rounds.fish.respiration import nitrification_oxygen_g, tan_production_g_day
from rounds.reason import Reason, Reasons, Value
from rounds.site.model import Loop, Place, Site
from rounds.units import Amount
from rounds.water.oxygen import from_percent_mg_l, saturation_mg_l

CASES: Final[tuple[Off, ...]] = ("air", "flow", "both")
_LONG_MIN: Final = 600.0
"""Beyond this the board shows hours: nothing else stays as it is for so long."""
_BROUGHT_FORWARD: Final = timedelta(hours=24)
"""An oxygen reading older than this says nothing of now (common practice)."""


class Case(Struct, frozen=True):
    """One supply off: minutes to 60 % (must have acted by) and to 40 % (losses begin).

    A level that is never reached is None. `since` is when an incident on record stopped it.
    """

    off: Off
    to_act_min: float | None
    to_loss_min: float | None
    since: datetime | None
    reasons: Reasons


class AirLine(Struct, frozen=True):
    """Minutes of air of one tank, or of a loop whose water still goes round."""

    place: str
    kind: Literal["place", "loop"]
    text: str
    """For a column: "38 min", with the case named where the two differ: "38 min flow off";
    "~38 min" from an old reading; "38 min flow OFF" while an open fault has stopped it."""
    cases: tuple[Case, ...]
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons

    @property
    def shortest(self) -> Case | None:
        """The shorter of air off and flow off; what is off already governs."""
        now = [case for case in self.cases if case.since is not None]
        single = now or [case for case in self.cases if case.off != "both"]
        return min(single, key=_act, default=None)


def minutes(site: Site, farm: Farm, now: datetime) -> tuple[AirLine, ...]:
    """Work out the minutes of air of every stocked tank and loop, the shortest first.

    Args:
        site: The site.
        farm: The farm.
        now: The present: minutes count from here.

    Returns:
        One line a stocked place and a loop with fish; what cannot be worked out comes last and
        says what to measure.
    """
    lines = [
        of_place(site, farm, place, now)
        for place in site.places.values()
        if farm.stocks.get(place.code)
    ]
    lines += [line for loop in site.loops.values() if (line := _of_loop(site, farm, loop, now))]
    return tuple(sorted(lines, key=lambda line: _act(line.shortest)))


def of_place(site: Site, farm: Farm, place: Place, now: datetime) -> AirLine:
    """Work out the minutes of air of one stocked place.

    Args:
        site: The site.
        farm: The farm.
        place: A place with fish.
        now: The present.

    Returns:
        The three cases, or what to measure.
    """
    told = _Told([], [], [])
    volume_m3 = water_m3(place, farm.now.states)
    if volume_m3 is None:
        told.missing.append(f"volume of {place.code}: measure it and put it into site.toml")
    water = _water(farm, place, now, told)
    fish = _fish(farm, (place,), now, water[2] if water else None, told)
    if water is None or fish is None or volume_m3 is None:
        return _line(place.code, "place", (), told)
    (read, oxygen_mg_l, _, full_mg_l), (biomass_kg, uptake) = water, fish
    inflow_mg_l, flow_m3_h = _inflow(farm, place, now, told)
    found = []
    for off in CASES:
        since = off_since(farm, (place,), place.loop, off, now)
        try:
            air = minutes_of_air(
                volume_m3, biomass_kg, uptake, oxygen_mg_l, full_mg_l, off,
                flow_m3_h=flow_m3_h, inflow_mg_l=inflow_mg_l,
                air_per_h=place.aeration_per_h or 0.0, reading_age_min=_age_min(read, since, now),
            )  # fmt: skip
        except ValueError as error:
            told.missing.append(str(error))
            return _line(place.code, "place", (), told)
        found.append(_case(off, air, since))
    return _line(place.code, "place", tuple(found), told)


def _of_loop(site: Site, farm: Farm, loop: Loop, now: datetime) -> AirLine | None:
    """Work out a loop whose water still goes round while its air is off: all of it is shared."""
    places = tuple(p for p in site.places_of(loop.code) if farm.state_of(p.code) == "in service")
    stocked = tuple(place for place in places if farm.stocks.get(place.code))
    if len(stocked) < 2:
        return None
    told = _Told([], [], [])
    shared = farm.loop_water(loop.code)
    told.missing += shared.missing
    waters = [
        water
        for place in stocked
        if (water := _water(farm, place, now, told, label=f"{place.code}: ")) is not None
    ]
    warmest = max((water[2] for water in waters), default=None)
    fish = _fish(farm, stocked, now, warmest, told)
    name = f"loop {loop.code}"
    if len(waters) < len(stocked) or fish is None or shared.volume_m3 is None:
        return _line(name, "loop", (), told)
    read, oxygen_mg_l, _, full_mg_l = min(waters, key=lambda water: water[1] / water[3])
    told.reasons.append(Reason("Counted from the lowest of its tanks, {p}", {"p": read.place}))
    since = off_since(farm, places, loop.code, "air", now)
    try:
        air = minutes_of_air(
            shared.volume_m3, *fish, oxygen_mg_l, full_mg_l, "air",
            biofilter_g_h=_filters_g_h(site, farm, stocked, now, told),
            reading_age_min=_age_min(read, since, now),
        )  # fmt: skip
    except ValueError as error:
        told.missing.append(str(error))
        return _line(name, "loop", (), told)
    return _line(name, "loop", (_case("air", air, since),), told)


# -- what goes in ----------------------------------------------------------------------------------

_Water = tuple[Read, float, float, float]
"""The oxygen reading, then oxygen now mg/L, temperature degC, saturation mg/L."""


class _Told(Struct):
    missing: list[str]
    cautions: list[str]
    reasons: list[Reason]

    def once(self) -> Reasons:
        """Return the reasons in order, each of them once."""
        return tuple(r for i, r in enumerate(self.reasons) if r not in self.reasons[:i])


def _water(farm: Farm, place: Place, now: datetime, told: _Told, label: str = "") -> _Water | None:
    """Return a place's oxygen brought forward to now, or None with what to measure.

    A reading too old for its measure still counts for a day, as the lowest of that day.
    """
    inputs = Inputs(farm, place, now)
    newest = oxygen_reads(farm, place, now)
    temperature_c, salinity = inputs.take("temperature"), inputs.take("salinity")
    inputs.take(newest[0].measure if newest else "oxygen")
    told.missing += [f"{label}{text}" for text in inputs.missing]
    if temperature_c is None or salinity is None:
        return None
    if not newest or now - newest[0].at > _BROUGHT_FORWARD:
        return None
    pressure_hpa = inputs.pressure_hpa()
    old = not fresh(newest[0], now)
    reads = [r for m in OXYGEN for r in farm.between(place.code, m, now - _BROUGHT_FORWARD, now)]
    try:
        full_mg_l = saturation_mg_l(temperature_c, salinity, pressure_hpa)
        forms = [
            one.value
            if one.measure == "oxygen"
            else from_percent_mg_l(one.value, temperature_c, salinity, pressure_hpa)
            for one in (reads if old else newest)
        ]
    except ValueError as error:
        told.missing.append(f"{label}{error}")
        return None
    told.reasons += inputs.reasons
    if old:
        says = "{place}: the last reading is old: the lowest of 24 h, {lowest:.1f}, counts"
        values: dict[str, Value] = {"place": place.code, "lowest": Amount(min(forms), "mg/L")}
        told.reasons.append(Reason(says, values, "common practice"))
    oxygen_mg_l = _forward(farm, place, min(forms), full_mg_l, newest[0], now, told)
    return newest[0], oxygen_mg_l, temperature_c, full_mg_l


def _forward(
    farm: Farm, place: Place, oxygen_mg_l: float, full_mg_l: float, read: Read, now: datetime,
    told: _Told,
) -> float:  # fmt: skip
    """Bring a reading forward: a meal since makes fish take more, and the deficit grows with it."""
    forward = after_meal_mg_l(farm, place, oxygen_mg_l, full_mg_l, read.at, now)
    if forward == oxygen_mg_l:
        return oxygen_mg_l
    says = "Fed since that reading: {then:.1f} brought forward to {now:.1f}"
    values = {"then": Amount(oxygen_mg_l, "mg/L"), "now": Amount(forward, "mg/L")}
    told.reasons.append(Reason(says, values, "deficit in proportion to uptake; from memory"))
    return forward


def after_meal_mg_l(
    farm: Farm, place: Place, oxygen_mg_l: float, full_mg_l: float, read_at: datetime,
    now: datetime, *, fed_now: bool = False,
) -> float:  # fmt: skip
    """Return what a reading comes to once the fish digest a meal that they had after it.

    Args:
        farm: The farm.
        place: Where.
        oxygen_mg_l: The reading, mg/L.
        full_mg_l: Saturation, mg/L.
        read_at: When it was read.
        now: The present.
        fed_now: As if they were fed now.

    Returns:
        Oxygen in mg/L, the reading itself where they digested already; what is not known of their
        last meal counts as just fed.

    Source: deficit in proportion to uptake; from memory.
    """
    before, after = (
        _hours_fed(farm, place, read_at),
        0.0 if fed_now else _hours_fed(farm, place, now),
    )
    ratio = alarm_uptake_mg_kg_h(100, 25, after) / alarm_uptake_mg_kg_h(100, 25, before)
    if ratio <= 1 or oxygen_mg_l >= full_mg_l:
        return oxygen_mg_l
    return max(0.0, full_mg_l - (full_mg_l - oxygen_mg_l) * ratio)


def _hours_fed(farm: Farm, place: Place, at: datetime) -> float | None:
    """Return the hours since the last meal, None when no meal is on record or it was long ago."""
    fed = farm.fed(place.code, at - timedelta(days=14))
    meals = [one.at for one in fed if one.at <= at and one.amount_g > 0]
    return min((at - meals[-1]) / timedelta(hours=1), 10_000) if meals else None


def _fish(
    farm: Farm, places: tuple[Place, ...], now: datetime, temperature_c: float | None, told: _Told
) -> tuple[float, float] | None:
    """Return biomass in kg and its mean uptake in mg/kg/h, or None with what to measure."""
    stocks = [(place, stock) for place in places for stock in farm.stocks.get(place.code, ())]
    for _, stock in stocks:
        if stock.weight_g <= 0:
            told.missing.append(f"mean weight of {stock.lot}: weigh a sample")
        if stock.estimated:
            told.cautions.append(f"the number of {stock.lot} is an estimate")
    if temperature_c is None or any(stock.weight_g <= 0 for _, stock in stocks):
        return None
    biomass_kg, used_mg_h = 0.0, 0.0
    for place, stock in stocks:
        hours = _hours_fed(farm, place, now)
        try:
            uptake = alarm_uptake_mg_kg_h(stock.weight_g, temperature_c, hours)
        except ValueError as error:
            told.missing.append(str(error))
            return None
        told.reasons.append(_uptake_reason(stock, uptake, hours))
        biomass_kg += stock.biomass_kg
        used_mg_h += stock.biomass_kg * uptake
    return biomass_kg, used_mg_h / biomass_kg


def _uptake_reason(stock: Stock, uptake: float, hours: float | None) -> Reason:
    fed = "no meal on record, taken as just fed" if hours is None else f"fed {hours:.1f} h ago"
    return Reason(
        "{count} {lot} of {weight:.4g}, {fed}: {uptake:.0f} mg/kg/h",
        {
            "count": stock.count, "lot": stock.lot, "weight": Amount(stock.weight_g, "g"),
            "fed": fed, "uptake": uptake,
        },
        "Pirozzi & Booth 2009; half as much again within 6 h of a meal, from memory",
    )  # fmt: skip


def _inflow(
    farm: Farm, place: Place, now: datetime, told: _Told
) -> tuple[float | None, float]:  # fmt: skip
    """Return oxygen and flow of what comes in; only what was measured here counts."""
    if farm.state_of(place.code) != "in service":
        told.cautions.append(f"{place.code} is {farm.state_of(place.code)}: no flow reaches it")
        return None, 0.0
    inputs = Inputs(farm, place, now)
    inflow, flow = inputs.find("oxygen_in"), inputs.find("flow")
    flow_m3_h = flow.value if flow else place.flow_m3_h
    if inflow is None or inflow.place != place.code or flow_m3_h is None:
        said = "Oxygen of the inflow was not read: a flow that goes on counts as nothing"
        told.reasons.append(Reason(said))
        return None, 0.0
    when = spoken(inflow.at, now, farm.site.timezone)
    says = "Inflow of {flow:.1f} with {oxygen:.1f} ({when})"
    values = {"flow": Amount(flow_m3_h, "m^3/h"), "oxygen": Amount(inflow.value, "mg/L")}
    told.reasons.append(Reason(says, {**values, "when": when}, "reading"))
    return inflow.value, flow_m3_h


def _filters_g_h(
    site: Site, farm: Farm, places: tuple[Place, ...], now: datetime, told: _Told
) -> float:
    """Return the oxygen that a loop's filters use for the ammonia of the last day's feed."""
    tan_g = 0.0
    for place in places:
        for fed in farm.fed(place.code, now - timedelta(hours=24)):
            product = site.products.get(fed.product)
            if not now - timedelta(hours=24) <= fed.at <= now or product is None:
                continue
            if product.protein is None:
                told.cautions.append(f"protein of {product.code} is not set: put it into site.toml")
            else:
                tan_g += tan_production_g_day(fed.amount_g / 1000, product.protein)
    used_g_h = nitrification_oxygen_g(tan_g) / 24
    says = "Filters use {used:.1f} g of oxygen an hour for the ammonia of a day's feed"
    told.reasons.append(Reason(says, {"used": used_g_h}, "stoichiometry; TAN from memory"))
    return used_g_h


def _age_min(read: Read, since: datetime | None, now: datetime) -> float:
    return 0.0 if since is None else (now - max(read.at, since)) / timedelta(minutes=1)


# -- what comes out --------------------------------------------------------------------------------


def _case(off: Off, air: Air, since: datetime | None) -> Case:
    act, loss = (
        None if math.isinf(value) else value for value in (air.to_act_min, air.to_loss_min)
    )
    return Case(off, act, loss, since, air.reasons)


def _act(case: Case | None) -> float:
    if case is None:
        return math.inf
    return _LONG_MIN * 1000 if case.to_act_min is None else case.to_act_min


def _line(
    code: str, kind: Literal["place", "loop"], cases: tuple[Case, ...], told: _Told
) -> AirLine:
    line = AirLine(
        code, kind, "measure", cases, tuple(dict.fromkeys(told.missing)),
        tuple(dict.fromkeys(told.cautions)), told.once(),
    )  # fmt: skip
    shortest = line.shortest
    if shortest is None:
        return line
    others = {case.to_act_min for case in cases if case.off != "both"}
    named = f" {shortest.off} off" if len(others) > 1 else ""
    if shortest.since is not None:  # no "if": the clock runs
        named = f" {shortest.off} OFF"
    about = "~" if line.missing else ""
    return replace(line, text=f"{about}{in_minutes(shortest.to_act_min)}{named}")


def in_minutes(value: float | None) -> str:
    """Return minutes as people say them: "38 min", "over 10 h", "lasts" where never reached."""
    if value is None:
        return "lasts"
    return f"over {_LONG_MIN / 60:.0f} h" if value > _LONG_MIN else f"{math.floor(value)} min"
