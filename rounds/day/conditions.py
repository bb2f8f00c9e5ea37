"""What stops or reduces a meal in a place now: water, appetite, deaths, and what was not read.

The rules themselves stand in `fish.conditions`; here the farm's readings and the site's limits are
put into them. A reading to act on stops feeding until it is read again, however long ago it was.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time, timedelta
from functools import partial
from typing import Final

from msgspec import Struct, field

from rounds.day.deaths import judge_deaths
from rounds.day.derived import figure
from rounds.day.farm import Farm
from rounds.day.fasting import fast_of
from rounds.day.inputs import OXYGEN, Inputs, fresh, oxygen_reads
from rounds.day.judgement import aim, judge
from rounds.day.state import Read
from rounds.day.when import local_day, spoken
from rounds.fish import conditions as rules
from rounds.fish.conditions import Multiplier
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Limits, Place, Site, Species
from rounds.units import Amount, convert
from rounds.water.oxygen import from_percent_mg_l, percent

OXYGEN_LOOKED_BACK: Final = timedelta(hours=6)
RATION_DAYS: Final = 3
"""The ration's temperature is the mean of the minima and maxima of these last days."""
APPETITE_LOOKED_BACK: Final = timedelta(hours=48)
"""Meals older than this say nothing of the next one (common practice)."""
FOODS: Final = {"rotifers": "rotifer_density", "nauplii": "nauplii_density"}
"""Live food of larvae, and the measure that counts it."""


class Conditions(Struct):
    """The state of a place's water and fish as a meal sees it.

    `stop` says why nothing may be fed; empty when nothing forbids it. `missing` names what to
    measure before a ration may rise above yesterday's.
    """

    stop: str = ""
    oxygen_read: bool = False
    """Oxygen was read, not too long ago for a meal."""
    temperature_c: float | None = None
    """Mean of the last days' minima and maxima; None when too little was read."""
    multipliers: list[Multiplier] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)

    @property
    def smallest(self) -> Multiplier:
        """The multiplier that governs."""
        return rules.smallest(self.multipliers)

    def add(self, rule: Callable[[], Multiplier]) -> None:
        """Apply a rule; a value outside its range is named as something to measure again."""
        try:
            found = rule()
        except ValueError as error:
            self.missing.append(f"{error}: measure it again")
            return
        self.multipliers.append(found)
        self.reasons.append(found.reason)
        if found.factor == 0 and not self.stop:
            self.stop = found.reason.says.format(**found.reason.values)

    def act(self, says: str) -> None:
        """Stop feeding; the first reason found is the one told."""
        self.stop = self.stop or says


def conditions(site: Site, farm: Farm, place: Place, now: datetime) -> Conditions:
    """Gather what stops or reduces a meal in a place.

    Args:
        site: The site, with today's limits.
        farm: The farm.
        place: Where.
        now: The present; nothing read, given or counted after it counts.

    Returns:
        The conditions, with the reasons in the order they were applied.
    """
    held = Conditions()
    _oxygen(site, farm, place, now, held)
    _ammonia(site, farm, place, now, held)
    _nitrite(site, farm, place, now, held)
    species = site.species_of(place)
    if species is not None and place.stage != "larval":
        _temperature(site, farm, place, species, now, held)
    for measure in ("temperature", "ph"):
        read = farm.latest(place.code, measure, now)
        if read is not None:
            judged = judge(site, place, measure, read.value, read.at)
            if judged.verdict == "act":
                held.act(judged.says)
    co2 = figure(site, farm, place, "co2", now).judgement
    if co2 is not None and co2.verdict == "act":
        held.act(co2.says)
    _appetite(farm, place, now, held)
    if place.stage != "larval":  # larvae are never fasted
        _handling(site, farm, place, now, held)
    _deaths(site, farm, place, now, held)
    _withheld(farm, place, now, held)
    return held


# -- water -----------------------------------------------------------------------------------------


def _oxygen(site: Site, farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    latest = oxygen_reads(farm, place, now)
    held.oxygen_read = bool(latest) and fresh(latest[0], now)
    if not latest:
        return
    points = [
        _both_forms(farm, place, read, now)
        for measure in OXYGEN
        for read in farm.between(place.code, measure, now - OXYGEN_LOOKED_BACK, now)
    ]
    for last in latest:
        mg_l, share, lacking = _both_forms(farm, place, last, now)
        held.missing += lacking
        for measure, value in (("oxygen", mg_l), ("oxygen_percent", share)):
            if value is not None:
                judged = judge(site, place, measure, value, last.at)
                if judged.verdict == "act":
                    held.act(judged.says)
    least_mg = min((mg for mg, _, _ in points if mg is not None), default=None)
    least_share = min((share for _, share, _ in points if share is not None), default=None)
    at = now.astimezone(site.timezone).time()
    watch_mg, act_mg = _low(site.limits_for("oxygen", place, at), "mg/L", (5.0, 4.0))
    watch_share, act_share = _low(site.limits_for("oxygen_percent", place, at), "%", (75.0, 60.0))
    if least_mg is None and least_share is None:
        return
    # beyond act only the newest reading stops a meal; an older one reduces it as far as act does
    low_mg = max(_or(least_mg, watch_mg), act_mg)
    low_share = max(_or(least_share, watch_share), act_share)
    forms = ((least_mg, ".1f", "mg/L"), (least_share, ".0f", "%"))
    least = ", ".join(
        f"{value:{digits}} {unit}" for value, digits, unit in forms if value is not None
    )
    held.reasons.append(Reason("Lowest oxygen of the last 6 h: {least}", {"least": least}))
    held.add(lambda: rules.oxygen(low_share, low_mg, watch_share, act_share, watch_mg, act_mg))


def _both_forms(
    farm: Farm, place: Place, read: Read, now: datetime
) -> tuple[float | None, float | None, list[str]]:
    """Return oxygen in mg/L and in percent as it was when it was read, and what is missing.

    A round reads oxygen first: salinity and temperature that were read after it serve it too.
    """
    then = Inputs(farm, place, read.at)
    after = Inputs(farm, place, min(now, read.at + OXYGEN_LOOKED_BACK))
    temperature, salinity = (
        (then if then.find(measure) else after).take(measure)
        for measure in ("temperature", "salinity")
    )
    other: float | None = None
    if temperature is not None and salinity is not None:
        turn = percent if read.measure == "oxygen" else from_percent_mg_l
        try:
            other = turn(read.value, temperature, salinity, then.pressure_hpa())
        except ValueError as error:
            after.missing.append(str(error))
    if read.measure == "oxygen":
        return read.value, other, after.missing
    return other, read.value, after.missing


def _ammonia(site: Site, farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    value, judged_act, missing = _ammonia_at(site, farm, place, now)
    if value is None:
        held.missing += missing
        held.act(_last_ammonia_act(site, farm, place, now))
        return
    if judged_act:
        held.act(judged_act)
    at = now.astimezone(site.timezone).time()
    watch, act = _high(site.limits_for("ammonia", place, at), "mg/L", (0.02, 0.05))
    held.add(lambda: rules.ammonia(value, watch, act))


def _last_ammonia_act(site: Site, farm: Farm, place: Place, now: datetime) -> str:
    """Return what an act said when ammonia could last be worked out; empty if it was none."""
    inputs = Inputs(farm, place, now)
    reads = [inputs.newest(measure) for measure in ("tan", "ph", "temperature")]
    for at in sorted({read.at for read in reads if read is not None}, reverse=True):
        value, said, _ = _ammonia_at(site, farm, place, at)
        if value is not None:
            return said
    return ""


def _ammonia_at(
    site: Site, farm: Farm, place: Place, at: datetime
) -> tuple[float | None, str, list[str]]:
    """Return the cautious value, what an act says, and what is missing to work it out."""
    one = figure(site, farm, place, "ammonia", at)
    lacking = [*one.missing, *([f"{one.doubtful}: measure again"] if one.doubtful else [])]
    judged = one.judgement
    act = judged.says if judged is not None and judged.verdict == "act" else ""
    return (one.value if one.cautious is None else one.cautious), act, lacking


def _nitrite(site: Site, farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    inputs = Inputs(farm, place, now)
    value, read = inputs.take("nitrite"), inputs.newest("nitrite")
    held.missing += inputs.missing
    if read is not None:
        judged = judge(site, place, "nitrite", read.value, read.at)
        if judged.verdict == "act":
            held.act(judged.says)
    if value is not None:
        at = now.astimezone(site.timezone).time()
        watch, act = _high(site.limits_for("nitrite", place, at), "mg/L", (1.0, 10.0))
        held.add(lambda: rules.nitrite(value, watch, act))


def _low(limits: Limits | None, unit: str, default: tuple[float, float]) -> tuple[float, float]:
    """Return watch and act of a measure that harms by falling, in `unit`."""
    low = None if limits is None else _edge(limits, limits.target_low, unit)
    act = None if limits is None else _edge(limits, limits.act_low, unit)
    pair = _or(low, default[0]), _or(act, default[1])
    return pair if pair[1] < pair[0] else (pair[0], pair[0] * 0.999)


def _high(limits: Limits | None, unit: str, default: tuple[float, float]) -> tuple[float, float]:
    """Return watch and act of a measure that harms by rising, in `unit`."""
    high = None if limits is None else _edge(limits, limits.target_high, unit)
    act = None if limits is None else _edge(limits, limits.act_high, unit)
    pair = _or(high, default[0]), _or(act, default[1])
    return pair if pair[0] < pair[1] else (pair[1] * 0.999, pair[1])


def _edge(limits: Limits, value: float | None, unit: str) -> float | None:
    return None if value is None else convert(value, limits.unit, unit)


def _or(value: float | None, other: float) -> float:
    return other if value is None else value


# -- temperature -----------------------------------------------------------------------------------


def _temperature(
    site: Site, farm: Farm, place: Place, species: Species, now: datetime, held: Conditions
) -> None:
    zone, today = site.timezone, local_day(now, site.timezone)
    first = datetime.combine(today - timedelta(days=RATION_DAYS - 1), time(), zone)
    days: dict[int, list[float]] = {}
    for read in farm.between(place.code, "temperature", first, now):
        days.setdefault((today - local_day(read.at, zone)).days, []).append(read.value)
    new = all(now - s.stocked_at < timedelta(days=2) for s in farm.stocks.get(place.code, ()))
    if not days or min(days) > 1:
        held.missing.append("Temperature not read here since yesterday: measure it")
        return
    if len(days) == 1 and not new:
        held.missing.append(
            "Temperature read on one of the last three days only: read it each day, low and high"
        )
    ends = [edge for values in days.values() for edge in (min(values), max(values))]
    mean = sum(ends) / len(ends)
    held.temperature_c = mean
    held.reasons.append(
        Reason(
            "Ration temperature {mean:.1f}: mean of the minima and maxima of {count} days",
            {"mean": Amount(mean, "degC"), "count": len(days)},
        )
    )
    recent = farm.between(place.code, "temperature", now - timedelta(hours=24), now)
    latest = recent[-1].value if recent else mean
    fall = max((read.value for read in recent), default=latest) - latest

    def rule() -> Multiplier:
        by_value = (
            rules.temperature(
                value,
                species.feeding_low_c,
                species.optimum_high_c,
                species.upper_limit_c,
                min(fall, 30.0),
            )
            for value in (mean, latest)
        )
        return min(by_value, key=lambda one: one.factor)

    held.add(rule)


# -- fish ------------------------------------------------------------------------------------------


def _appetite(farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    looked = [
        fed
        for fed in farm.fed(place.code, now - APPETITE_LOOKED_BACK)
        if now - APPETITE_LOOKED_BACK <= fed.at <= now
        and fed.left_g is not None
        and fed.amount_g > 0
    ]
    if not looked:
        return
    refusals = 0
    for fed in reversed(looked):
        if (fed.left_g or 0.0) * rules.REFUSED_PART < fed.amount_g:
            break
        refusals += 1
    last = looked[-1]
    left_g = min(max(last.left_g or 0.0, 0.0), last.amount_g)
    held.add(lambda: rules.appetite(last.amount_g, left_g, refusals))
    if refusals >= 2:
        held.cautions.append(f"{refusals} meals refused in a row: look at the fish")


def _handling(site: Site, farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    """Rest the fish after they were moved, part was taken out, or some were weighed."""
    today = local_day(now, site.timezone)
    for stock in farm.stocks.get(place.code, ()):
        if stock.handled_at is not None and stock.handled_at <= now:
            after = (today - local_day(stock.handled_at, site.timezone)).days
            if rules.handling(after).factor < 1:
                held.add(partial(rules.handling, after))
                return
    weighed = (s.sampled.at for s in farm.stocks.get(place.code, ()) if s.sampled is not None)
    if any(at <= now and local_day(at, site.timezone) == today for at in weighed):
        held.add(rules.sampling)


def _deaths(site: Site, farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    """Half feed on the day of unusual deaths and on the day after."""
    midnight = datetime.combine(local_day(now, site.timezone), time(), site.timezone)
    for at in (now, midnight - timedelta(seconds=1)):
        for stock in farm.stocks.get(place.code, ()):
            judged = judge_deaths(farm, place, stock.lot, 0, at)
            if judged.verdict in ("watch", "act"):
                held.reasons += judged.reasons
                held.cautions.append(f"{judged.says}: look at the fish before feeding")
                held.add(lambda: rules.mortality(alarm=True))
                return


def _withheld(farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    """Stop feeding where somebody decided so, and tell the end of a fast that is over."""
    fast, zone = fast_of(farm, place.code, now), farm.site.timezone
    if fast is None:
        return
    says = fast.says(now, zone)
    if fast.over(now):
        held.cautions.append(f"{says[0].upper()}{says[1:]}")
        return
    held.act(says)
    held.reasons.append(Reason("{says}", {"says": says}, "a decision"))


def food_left(site: Site, farm: Farm, place: Place, now: datetime) -> tuple[str, ...]:
    """Say what live food to count in a larval tank, with the last count and what is aimed at.

    Args:
        site: The site.
        farm: The farm.
        place: A larval place.
        now: The present.

    Returns:
        One sentence a kind of live food that was ever counted here or has limits here; one for
        both kinds when there is none.
    """
    at, zone = now.astimezone(site.timezone).time(), site.timezone
    said = []
    for measure in FOODS.values():
        info, read = MEASURES[measure], farm.latest(place.code, measure, now)
        limits = site.limits_for(measure, place, at)
        if read is None and limits is None:
            continue
        aimed = aim(limits, info.unit)
        goal = f", {aimed}" if aimed else ""
        if read is not None and fresh(read, now):
            when = spoken(read.at, now, zone)
            said.append(f"{info.name} left {read.value:g} per mL ({when}){goal}.")
        else:
            said.append(f"Count the {info.name.lower()} left in the tank{goal or ', per mL'}.")
    return tuple(said) or ("Count the rotifers or nauplii left in the tank, per mL.",)
