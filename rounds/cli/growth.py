"""`rounds growth`: how each lot grew, what it ate for it, and when it is where it should be."""

from __future__ import annotations

import argparse
from typing import Any

from msgspec.structs import asdict

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened
from rounds.cli.out import WIDTH, block, say, why
from rounds.day.lots.growth import Growth, growths
from rounds.day.lots.moving import Plan, plan, plan_lines
from rounds.day.lots.projection import Projection, project
from rounds.reports.growth_chart import growth_chart


def run(asked: argparse.Namespace) -> int:
    """Print growth of all lots, or of a lot or a place with reasons; nothing is written."""
    with opened(asked, writes=False) as farm:
        found = growths(farm.site, farm.farm, farm.now)
        if asked.what is not None:
            typed = asked.what.casefold()
            lots = {one.lot.casefold() for one in found}
            places = {code.casefold() for code in farm.site.places}
            found = tuple(
                one for one in found if typed in (one.lot.casefold(), one.place.casefold())
            )
            if not found and typed in places:
                raise Failure(f"{asked.what} has no fish on record")
            if not found:
                raise Failure(f"there is no lot or place {asked.what}: lots {', '.join(lots)}")
        told = [_ahead(farm, one) for one in found]
        if asked.json:
            rows = [_row(*pair) for pair in told]
            farm.emit("growth", rows)
        else:
            _show(farm, told, single=asked.what is not None)
            for one in found if asked.chart else ():
                draw(farm, one)
    return 0


def draw(farm: Opened, one: Growth) -> None:
    """Print the growth curve of a lot in a place."""
    block("\n".join(growth_chart(farm.site, farm.farm, one, farm.now, width=WIDTH)))


_Told = tuple[Growth, Projection, Plan]


def _ahead(farm: Opened, one: Growth) -> _Told:
    ahead = project(farm.site, farm.farm, one, farm.now)
    return one, ahead, plan(farm.site, farm.farm, one, ahead, farm.now)


def _row(growth: Growth, ahead: Projection, next_: Plan) -> dict[str, Any]:
    row = asdict(growth)
    return {**row, "projection": ahead, "plan": next_}


def _show(farm: Opened, told: list[_Told], *, single: bool) -> None:
    say("Place  Lot         Fish   Mean g  kg/m3  Days  SGR %  TGCx1000  FCR fed  eaten")
    for one, ahead, next_ in told:
        density = f"{one.density_kg_m3:.1f}" if one.density_kg_m3 is not None else "-"
        tgc = f"{one.tgc.x1000:.3f}" if one.tgc else "-"
        say(
            f"{one.place:<7}{one.lot:<11}{one.count:>5}{one.weight_g:>9.4g}{density:>7}"
            f"{one.days:>6.0f}{_or(one.sgr_percent_day, '.2f'):>7}{tgc:>10}"
            f"{_or(one.fcr_economic, '.2f'):>9}{_or(one.fcr_biological, '.2f'):>7}"
        )
        for missing in one.missing:
            say(f"       measure: {missing}", hang=2)
        if single:
            _all(farm, one, ahead, next_)
        elif ahead.ahead:
            say(f"       {ahead.market.says}", hang=2)
            if next_.split_by is not None:
                say(f"       {next_.split}", hang=2)
    if not told:
        say("No fish on record.")


def _all(farm: Opened, one: Growth, ahead: Projection, next_: Plan) -> None:
    for text in filter(None, (one.fcr_says, one.tgc_says)):
        say(f"       not said: {text}", hang=2)
    for caution in one.cautions:
        say(f"       caution: {caution}", hang=2)
    if ahead.ahead:
        say("", "Ahead      Mean g (between)            Mass kg (between)")
        for day in ahead.ahead:
            weight = f"{day.weight_g:.4g} ({day.low_g:.4g} to {day.high_g:.4g})"
            mass = f"{day.biomass_kg:.4g} ({day.low_kg:.4g} to {day.high_kg:.4g})"
            say(f"{day.days:>3} days   {weight:<28}{mass}")
    dates = {"Market size": ahead.market, "Density, warn": ahead.density_warn,
             "Density limit": ahead.density_limit, "Grading": ahead.grading}  # fmt: skip
    say("")
    for name, when in dates.items():
        say(f"{name + ':':<16}{when.says}", hang=16)
    say("Next:", *(f"  {text}" for text in plan_lines(next_)), hang=2)
    say("Why:")
    why((*one.reasons, *ahead.reasons, *next_.reasons), farm.site.display_units)
    say("")


def _or(value: float | None, spec: str) -> str:
    return "-" if value is None else format(value, spec)
