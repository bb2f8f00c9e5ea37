"""`rounds forage`: what tanks would take from the pond, what it bears, its crops, forage fed."""

from __future__ import annotations

import argparse
from decimal import Decimal

from msgspec.structs import replace

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import row, say, tell
from rounds.cli.quantities import amount
from rounds.day.feeding import rations
from rounds.day.forage import need as forage_need
from rounds.day.forage import pond
from rounds.day.forage.need import Asked, Need
from rounds.day.forage.pond import Pond
from rounds.day.forage.pond_estimate import by_marks, by_seine
from rounds.day.lots.crops import ponds
from rounds.day.lots.forage_hold import Held, held
from rounds.records.entry import Counted
from rounds.reports import forage as words


def run(asked: argparse.Namespace) -> int:
    """Print need, pond and crops; record a stock estimate, or forage fed."""
    estimates = asked.hauls is not None or any(one is not None for one in _marks(asked))
    if asked.give is not None and asked.place is None:
        raise Failure("say which tank: rounds forage PLACE --give AMOUNT")
    with opened(asked, writes=estimates or asked.give is not None) as farm:
        where, said = _pond(farm, asked.pond), list[str]()
        if estimates:
            draft = _estimate(farm, where, asked)
            farm.write(draft)
            said.append(f"Kept: {where}, about {draft.count} fish, {draft.method}.")
        place = None if asked.place is None else place_code(farm.site, asked.place)
        typed = Asked(
            asked.share, asked.length, asked.prey, asked.yield_, asked.r, asked.k, asked.breeding
        )
        full = pond.of_pond(farm.farm, farm.site.places[where], farm.now, typed)
        needs = forage_need.needs(farm.site, farm.farm, farm.now, full, place)
        if place is not None and not needs:
            raise Failure(f"{place} has no fish on record")
        wet = forage_need.needed_kg_day(needs, typed, place)
        found = pond.pond(farm.site, farm.farm, farm.site.places[where], farm.now, typed, wet)
        if asked.give is not None and place is not None:
            said.append(_give(farm, place, asked, found))
        crops = held(farm.site, farm.farm, farm.now)
        if asked.json:
            display = farm.site.display_units
            rows = [{**row(found, display), "crops": row(crops, display)}, *needs]
            farm.emit("forage", rows)
            return 0
        if said:
            say(*said, hang=2)
        else:
            _show(farm, found, needs, crops)
    return 0


def _marks(asked: argparse.Namespace) -> tuple[int | None, int | None, int | None]:
    return asked.marked, asked.caught, asked.recaptured


def _estimate(farm: Opened, where: str, asked: argparse.Namespace) -> Counted:
    lots = farm.farm.stocks.get(where, ())
    lot = max(lots, key=lambda one: one.count).lot if lots else "FORAGE"
    marked, caught, recaptured = _marks(asked)
    if asked.hauls is not None:
        hauls = asked.hauls.split()
        if not all(haul.isdecimal() and len(haul) < 9 for haul in hauls):
            raise Failure("--hauls takes whole numbers: the fish of each haul, in order")
        return by_seine(where, lot, [int(haul) for haul in hauls])
    if marked is None or caught is None or recaptured is None:
        raise Failure("an estimate needs --marked, --caught and --recaptured, or --hauls")
    return by_marks(where, lot, marked, caught, recaptured)


def _pond(farm: Opened, typed: str | None) -> str:
    codes = [place.code for place in ponds(farm.site)]
    code = codes[0] if codes and typed is None else typed and place_code(farm.site, typed)
    if code not in codes:
        raise Failure(f"there is no pond{f' {typed}' if typed else ' on this site'}")
    return str(code)


def _give(farm: Opened, place: str, asked: argparse.Namespace, found: Pond) -> str:
    try:
        grams = Decimal(f"{amount('g')(asked.give):g}")
    except argparse.ArgumentTypeError as error:
        raise Failure(f"--give: {error}") from None
    ration = next(
        one for one in rations.today(farm.site, farm.farm, farm.now) if one.place == place
    )
    draft = pond.give(
        farm.site, farm.farm, farm.now, ration, grams, found, asked.why, lot=asked.lot
    )
    farm.write(draft)
    whence = f"crop {draft.feed_lot}" if draft.feed_lot else f"{found.place} itself, no crop"
    return (
        f"Kept: {place}, meal {draft.meal}, {draft.amount} g of {draft.product}, wet, from "
        f"{whence}. Count the live ones left tomorrow."
    )


def _show(farm: Opened, found: Pond, needs: tuple[Need, ...], crops: tuple[Held, ...]) -> None:
    display = farm.site.display_units
    tell(words.pond(found), display)
    for crop in crops:
        tell(words.crop(crop), display)
    for need in needs:
        told = words.need(need)
        tell(told if len(needs) == 1 else replace(told, says=(), reasons=()), display)
