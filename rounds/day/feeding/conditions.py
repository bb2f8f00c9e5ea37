"""What stops or reduces a meal in a place now: water, appetite, deaths, and what was not read.

The rules themselves stand in `fish.conditions`; here the farm's readings and the site's limits are
put into them. A reading to act on stops feeding until it is read again, however long ago it was.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from functools import partial
from typing import Final

from rounds.day.feeding.fasting import fast_of
from rounds.day.feeding.held_back import Conditions
from rounds.day.feeding.meal_water import clock_ahead, water
from rounds.day.fold.farm import Farm
from rounds.day.lots.deaths import call_vet, judge_deaths
from rounds.day.readings.derived import figure
from rounds.day.readings.inputs import Inputs, fresh
from rounds.day.readings.judgement import aim, judge, word_of
from rounds.day.when import local_day, spoken
from rounds.fish import conditions as rules
from rounds.fish.conditions import Multiplier
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site, Species
from rounds.units import Amount

RATION_DAYS: Final = 3
"""The ration's temperature is the mean of the minima and maxima of these last days."""
LOOK_STANDS: Final = timedelta(hours=24)
"""How long fish that were seen in need get nothing, where nobody looked again."""
APPETITE_LOOKED_BACK: Final = timedelta(hours=48)
"""A last meal older than this says nothing of the next one (common practice)."""
IN_A_ROW: Final = timedelta(days=7)
"""How far back meals refused in a row are counted."""
_AGREED: Final = "Has the supervisor or the veterinarian agreed?"
FOODS: Final = {"rotifers": "rotifer_density", "nauplii": "nauplii_density"}
"""Live food of larvae, and the measure that counts it."""


def conditions(
    site: Site, farm: Farm, place: Place, now: datetime, *, over: bool = False
) -> Conditions:
    """Gather what stops or reduces a meal in a place.

    Args:
        site: The site, with today's limits.
        farm: The farm.
        place: Where.
        now: The instant; nothing read, given or counted after it counts.
        over: Whether it is an instant of the past, after which readings are no wonder.

    Returns:
        The conditions, with the reasons in the order they were applied.
    """
    held, inputs = Conditions(), Inputs(farm, place, now)
    if not over:
        clock_ahead(farm, place, now, held)
    water(site, inputs, held)
    _look(farm, place, now, held)
    species = site.species_of(place)
    if species is not None and place.stage != "larval":
        _temperature(site, farm, place, species, now, held)
    for measure in ("temperature", "ph", "chlorine"):
        read = farm.latest(place.code, measure, now)
        if read is not None and word_of(site, place, measure, read.value, read.at) == "act":
            held.act(judge(site, place, measure, read.value, read.at).says)
    co2 = figure(site, inputs, "co2").judgement
    if co2 is not None and co2.verdict == "act":
        held.act(co2.says)
    _appetite(farm, place, now, held)
    if place.stage != "larval":  # larvae are never fasted
        _handling(site, farm, place, now, held)
    _deaths(site, farm, place, now, held)
    _withheld(farm, place, now, held)
    return held


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


def _look(farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    """Stop feeding fish that looked in need when they were looked at last."""
    last = farm.latest_answer(place.code, "look", now)
    if last is not None and last.verdict == "act" and now - last.at <= LOOK_STANDS:
        when = spoken(last.at, now, farm.site.timezone)
        held.act(f"Fish {last.value} ({when}): look again before feeding")


def _appetite(farm: Farm, place: Place, now: datetime, held: Conditions) -> None:
    looked = [
        fed
        for fed in farm.fed(place.code, now - IN_A_ROW)
        if fed.at <= now and fed.left_g is not None and fed.amount_g > 0
    ]
    if not looked or now - looked[-1].at > APPETITE_LOOKED_BACK:
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
    for called in call_vet(farm, place, now):
        if called.verdict == "act" and not held.doubt:
            held.doubt = f"{called.says}. {_AGREED}"
    midnight = datetime.combine(local_day(now, site.timezone), time(), site.timezone)
    for at in (now, midnight - timedelta(seconds=1)):
        day = local_day(at, site.timezone)
        found = [one for one in farm.dead(place.code, at - timedelta(days=2)) if one.at <= at]
        lots = {one.lot for one in found if local_day(one.at, site.timezone) == day}
        for stock in farm.stocks.get(place.code, ()):
            if stock.lot not in lots:
                continue
            judged = judge_deaths(farm, place, stock.lot, 0, at)
            if judged.verdict in ("watch", "act"):
                held.reasons += judged.reasons
                held.cautions.append(f"{judged.says}: look at the fish before feeding")
                if judged.verdict == "act":
                    held.doubt = f"{judged.says}. {_AGREED}"
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
    held.stop = f"{says}; {held.stop}" if held.stop else says
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
    said = []
    for measure in FOODS.values():
        info, read = MEASURES[measure], farm.latest(place.code, measure, now)
        limits = site.limits_at(measure, place, now)
        if read is None and limits is None:
            continue
        aimed = aim(limits, info.unit)
        goal = f", {aimed}" if aimed else ""
        if read is not None and fresh(read, now):
            when = spoken(read.at, now, site.timezone)
            said.append(f"{info.name} left {read.value:g} per mL ({when}){goal}.")
        else:
            said.append(f"Count the {info.name.lower()} left in the tank{goal or ', per mL'}.")
    return tuple(said) or ("Count the rotifers or nauplii left in the tank, per mL.",)
