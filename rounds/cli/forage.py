"""`rounds forage`: what tanks would take from the pond, what it bears, and a crop given."""

from __future__ import annotations

import argparse
from decimal import Decimal

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.options import amount
from rounds.cli.out import emit, say, why
from rounds.day import forage_need, pond, rations
from rounds.day.forage_need import Asked, Need
from rounds.day.pond import Pond


def run(asked: argparse.Namespace) -> int:
    """Print need and pond; record a stock estimate or a crop."""
    marks = (asked.marked, asked.caught, asked.recaptured)
    estimates = any(one is not None for one in marks)
    if asked.give is not None and asked.place is None:
        raise Failure("say which tank: rounds forage PLACE --give AMOUNT")
    with opened(asked, writes=estimates or asked.give is not None) as farm:
        where, said = _pond(farm, asked.pond), list[str]()
        if estimates:
            if None in marks:
                raise Failure("an estimate needs --marked, --caught and --recaptured")
            lots = farm.farm.stocks.get(where, ())
            lot = lots[0].lot if lots else "FORAGE"
            draft = pond.estimate(where, lot, *marks)
            farm.write(draft)
            said.append(f"Kept: {where}, {draft.count} fish by mark-recapture.")
        place = None if asked.place is None else place_code(farm.site, asked.place)
        typed = Asked(
            asked.share, asked.length, asked.prey, asked.yield_, asked.r, asked.k, asked.breeding
        )
        needs = forage_need.needs(farm.site, farm.farm, farm.now, typed, place)
        if place is not None and not needs:
            raise Failure(f"{place} has no fish on record")
        found = _found(farm, where, typed, needs)
        if asked.give is not None and place is not None:
            said.append(_give(farm, place, asked, found))
        if getattr(asked, "json", False):
            emit("forage", farm.site.id, farm.now, [found, *needs], farm.site.display_units)
            return 0
        if said:
            say(*said)
        else:
            _show(farm, found, needs)
    return 0


def _pond(farm: Opened, typed: str | None) -> str:
    codes = [place.code for place in pond.ponds(farm.site)]
    code = codes[0] if codes and typed is None else typed and place_code(farm.site, typed)
    if code not in codes:
        raise Failure(f"there is no pond{f' {typed}' if typed else ' on this site'}")
    return str(code)


def _found(farm: Opened, where: str, typed: Asked, needs: tuple[Need, ...]) -> Pond:
    wet = sum(need.wet_kg_day or 0.0 for need in needs)
    return pond.pond(farm.site, farm.farm, farm.site.places[where], farm.now, typed, wet)


def _give(farm: Opened, place: str, asked: argparse.Namespace, found: Pond) -> str:
    try:
        grams = Decimal(f"{amount('g')(asked.give):g}")
    except argparse.ArgumentTypeError as error:
        raise Failure(f"--give: {error}") from None
    ration = next(
        one for one in rations.today(farm.site, farm.farm, farm.now) if one.place == place
    )
    draft = pond.crop(farm.site, farm.farm, farm.now, ration, grams, found, asked.why)
    farm.write(draft)
    return f"Kept: {place}, meal {draft.meal}, {draft.amount} g of {draft.product}, wet."


def _show(farm: Opened, found: Pond, needs: tuple[Need, ...]) -> None:
    say(f"{found.place}  {found.line}", hang=4)
    for name, kg in (
        ("by measured yield", found.by_yield_kg_day),
        ("by surplus production", found.by_surplus_kg_day),
    ):
        say(f"  {name}: {'not known' if kg is None else f'{kg * 1000:.0f} g a day'}")
    if found.fish is not None:
        span = "" if found.low_fish is None else f" ({found.low_fish:.0f} to {found.high_fish:.0f})"
        mass = "" if found.stock_kg is None else f", {found.stock_kg:.1f} kg"
        say(f"  stock {found.fish:.0f}{span}{mass}")
    _rest(found, farm)
    for need in needs:
        wet = (
            "not known" if need.wet_kg_day is None else f"{need.wet_kg_day * 1000:.0f} g wet a day"
        )
        number = "" if need.prey_a_day is None else f", {need.prey_a_day:.0f} fish"
        size = ""
        if need.window is not None:
            low, high = need.window.offer_mm
            size = f", prey of {low:.0f} to {high:.0f} mm"
        say(f"{need.place}  {wet}{number}{size}", hang=4)
        if len(needs) == 1:
            _rest(need, farm)


def _rest(one: Pond | Need, farm: Opened) -> None:
    for text in one.missing:
        say(f"  measure: {text}", hang=2)
    for text in one.cautions:
        say(f"  ! {text}", hang=2)
    why(one.reasons, farm.site.display_units)
