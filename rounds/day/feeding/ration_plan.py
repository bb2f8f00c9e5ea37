"""A day's ration as it stands at one instant: table, opinions, what holds it back, what caps it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct, field

from rounds.day.feeding.appetite import PastMeals, eager
from rounds.day.feeding.conditions import conditions
from rounds.day.feeding.feed_account import fed_on
from rounds.day.feeding.held_back import Conditions
from rounds.day.feeding.opinions import Opinions, opinions
from rounds.day.feeding.ration_words import to_choose
from rounds.day.fold.state import Stock
from rounds.day.when import local_day, spoken
from rounds.fish import ration as table
from rounds.fish.conditions import smallest
from rounds.reason import Reason, Value
from rounds.site.model import Site, Species
from rounds.units import Amount

WEIGHT_LASTS: Final = timedelta(days=30)
"""A mean weight not sampled for longer is too old to raise a ration on (common practice)."""


class Plan(Struct):
    """A day's ration as it stood at one instant."""

    total_g: float
    rate_percent: float | None
    temperature_c: float | None
    held: Conditions
    missing: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    capped: bool = False
    opinions: Opinions | None = None


def plan_of(
    past: PastMeals, stocks: tuple[Stock, ...], species: Species, now: datetime, *, over: bool
) -> Plan:
    """Work the ration out as it stands, or stood, at one instant.

    Args:
        past: The meals of the place.
        stocks: The fish as the day began.
        species: Their profile.
        now: The instant.
        over: Whether it is past: the plan that an earlier meal was given by.
    """
    site, farm, place = past.site, past.farm, past.place
    held = conditions(site, farm, place, now, over=over)
    plan = Plan(0.0, None, held.temperature_c, held)
    plan.missing += held.missing
    plan.cautions += held.cautions
    plan.reasons += [reason for stock in stocks for reason in stock.reasons]
    _old_weights(site, stocks, now, plan)
    yesterday = local_day(now - timedelta(days=1), site.timezone).isoformat()
    cap_g = sum(meal.amount_g for meal in fed_on(site, farm, place.code, yesterday))
    table_g = full_g = _by_table(stocks, species, plan)
    if table_g is not None and plan.temperature_c is not None:
        said = opinions(past, species, stocks, table_g, plan.temperature_c, now)
        plan.opinions, full_g = said, said.governs_g
        plan.reasons += said.reasons
        if said.choose:
            plan.cautions.append(to_choose(said))
        full_g = _bounded(past, stocks, species, plan, full_g, now)
    plan.reasons += held.reasons
    if full_g is None:
        full_g = cap_g
        says = "No ration can be worked out; yesterday {grams:.0f}"
        plan.reasons.append(Reason(says, {"grams": Amount(cap_g, "g")}))
    factor = held.smallest.factor
    plan.total_g = full_g * factor
    if plan.opinions is not None and plan.opinions.governs == "last accepted" and table_g:
        # what was refused is out of this opinion already: appetite is not taken off it twice
        others = smallest([one for one in held.multipliers if one.name != "appetite"])
        plan.total_g = min(max(table_g, full_g) * factor, full_g * others.factor)
    if factor < 1:
        says = "x {factor:.2f} ({name}, the smallest governs) = {total:.0f}"
        values: dict[str, Value] = {"factor": factor, "name": held.smallest.name}
        values["total"] = Amount(plan.total_g, "g")
        plan.reasons.append(Reason(says, values, "common practice"))
    if (plan.missing or not held.oxygen_read) and plan.total_g > cap_g:
        says = "Something is missing or too old: no more than yesterday's {cap:.0f}"
        plan.reasons.append(
            Reason(says, {"cap": Amount(cap_g, "g")}, "no default stands in for a measurement")
        )
        plan.total_g, plan.capped = cap_g, True
    if held.stop:
        plan.reasons.append(Reason("NO FEED: {why}", {"why": held.stop}))
        plan.total_g = 0.0
    return plan


def _bounded(
    past: PastMeals,
    stocks: tuple[Stock, ...],
    species: Species,
    plan: Plan,
    full_g: float,
    now: datetime,
) -> float:
    """Raise the table's ration for fish that clear it at once, and hold it to its largest."""
    held, said = plan.held, plan.opinions
    good = held.oxygen_read and not held.stop and held.smallest.factor == 1 and not plan.missing
    if good and said is not None and said.governs == "table":
        more = eager(past, species, stocks, full_g, now)
        full_g *= more.factor
        plan.reasons += [more.reason] if more.factor > 1 else []
    largest_g = sum(
        table.ration_g_day(s.biomass_kg, table.largest_percent(species.table, s.weight_g))
        for s in stocks
    )
    if full_g > largest_g:
        says = "never above the table's largest for these fish: {grams:.0f} a day"
        plan.reasons.append(Reason(says, {"grams": Amount(largest_g, "g")}, species.table.source))
    return min(full_g, largest_g)


def _by_table(stocks: tuple[Stock, ...], species: Species, plan: Plan) -> float | None:
    """Return biomass by table rate of all lots together, g a day; None without a temperature."""
    if plan.temperature_c is None:
        return None
    total_g, biomass_kg = 0.0, sum(stock.biomass_kg for stock in stocks)
    for stock in stocks:
        try:
            rate = table.rate(species.table, stock.weight_g, plan.temperature_c)
            grams = table.ration_g_day(stock.biomass_kg, rate.percent_day)
        except ValueError as error:
            plan.missing.append(f"ration of {stock.lot}: {error}")
            return None
        total_g += grams
        plan.cautions += [
            f"{name.capitalize()} is outside the feed table: held at its edge"
            for name in rate.clamped
        ]
        plan.reasons += rate.reasons
        plan.reasons.append(
            Reason(
                "{count} x {weight:.4g} = {biomass:.2f}; x {rate:.2f} % = {grams:.0f} a day",
                {
                    "count": stock.count,
                    "weight": Amount(stock.weight_g, "g"),
                    "biomass": Amount(stock.biomass_kg, "kg"),
                    "rate": rate.percent_day,
                    "grams": Amount(grams, "g"),
                },
                "biomass x rate",
            )
        )
    plan.rate_percent = total_g / biomass_kg / 10 if biomass_kg > 0 else None
    return total_g


def _old_weights(site: Site, stocks: tuple[Stock, ...], now: datetime, plan: Plan) -> None:
    for stock in stocks:
        if stock.weight_g <= 0:
            plan.missing.append(f"mean weight of {stock.lot}: weigh a sample")
        elif now - stock.weight_at > WEIGHT_LASTS:
            since = spoken(stock.weight_at, now, site.timezone)
            plan.missing.append(f"mean weight of {stock.lot} is from {since}: weigh a sample")
        if stock.recount:
            plan.cautions.append(
                f"{stock.lot}: sample and carried weight disagree: weigh again; the smaller counts"
            )
        if stock.estimated:
            plan.cautions.append(f"{stock.lot}: the number of fish is an estimate: count them")
