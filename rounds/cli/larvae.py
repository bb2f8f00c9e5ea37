"""`rounds larvae`: larval tanks, their number, food and age; then cultures, hatches, enrichment."""

from __future__ import annotations

import argparse
from typing import Any

from msgspec.structs import replace

from rounds.cli import live_food
from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import row, say, tell
from rounds.day.larvae import cultures
from rounds.day.larvae import live_food as day
from rounds.day.larvae import tanks as larvae
from rounds.day.larvae.tanks import Asked, Sheet
from rounds.reports.live_food import NOTHING, larval
from rounds.site.model import Place, Site

_KEEPS = (
    "--keep keeps the number of column samples of a tank, --columns '12 9 14', or a culture's "
    "count, --counts '15 18 13'"
)


def run(asked: argparse.Namespace) -> int:
    """Print the sheets of larval tanks and live food, or of the place named; keep a number."""
    typed = Asked(
        asked.food or "", _counts(asked.counts), asked.volume_ml, asked.dilution, asked.target,
        asked.culture, asked.hours, asked.day, _counts(asked.columns), asked.column_volume,
        asked.precision,
    )  # fmt: skip
    with opened(asked, writes=asked.keep) as farm:
        named = None if asked.place is None else place_code(farm.site, asked.place)
        if named is None and (typed.counts or typed.columns):
            raise Failure("say which tank was counted: rounds larvae PLACE --counts '4 6 5'")
        culture = named in _cultures(farm.site)
        if asked.keep and not (typed.counts if culture else typed.columns):
            raise Failure(_KEEPS)
        counted = _counted(farm, str(named), typed, keep=asked.keep) if culture else {}
        tanks = [p.code for p in farm.site.places.values() if p.stage == "larval"]
        if named is None:
            tanks = [code for code in tanks if farm.farm.stocks.get(code)]
        words = {code: typed for code in tanks if named in (None, code)}
        left = {} if asked.left is None else {_whose(farm.site, named): asked.left}
        sheets, kept = day.live_food(
            farm.site, farm.farm, farm.now, words, left, {} if asked.keep else counted
        )
        if named is not None:
            sheets = tuple(one for one in sheets if one.place == named)
            kept = tuple(one for one in kept if one.place == named)
        if named is not None and not sheets and not kept:
            raise Failure(_nothing(farm.site.places[named]))
        if (typed.columns or (typed.counts and not counted)) and not sheets:
            raise Failure(f"{named} is no larval tank: larvae are counted in one")
        food = live_food.gather(farm, asked)
        if asked.keep and not culture:
            sheets = tuple(_keep(farm, one, typed) for one in sheets)
        if asked.json:
            rows: list[Any] = [
                *({**row(one, farm.site.display_units), "kept": asked.keep} for one in sheets),
                *kept, *food,
            ]  # fmt: skip
            farm.emit("larvae", rows)
            return 0
        for one in sheets:
            tell(larval(one, kept=asked.keep), farm.site.display_units)
        live_food.show(farm, kept, food)
        for code, per_ml in counted.items():
            then = ", kept" if asked.keep else "; not kept: --keep"
            say(f"{code}: {per_ml:g} per mL counted{then}.")
        if not sheets and not kept and not food:
            say(NOTHING)
    return 0


def _whose(site: Site, named: str | None) -> str:
    """Return the culture that a count after the harvest is of."""
    known = _cultures(site)
    if named in known:
        return str(named)
    if len(known) != 1:
        raise Failure(f"--left of which culture? rounds larvae CULTURE --left: {', '.join(known)}")
    return known[0]


def _cultures(site: Site) -> list[str]:
    return [place.code for place in site.places.values() if place.kind == "culture"]


def _counted(farm: Opened, named: str, typed: Asked, *, keep: bool) -> dict[str, float]:
    """Return what counts of a culture say, and keep it where that is asked for."""
    if not typed.counts:
        return {}
    culture = farm.site.places[named]
    held = cultures.food_of(farm.farm, culture, farm.now)
    if typed.food and held and typed.food != held:
        raise Failure(f"{named} holds {held}, no {typed.food}")
    try:
        draft = cultures.count(
            farm.farm, culture, typed.counts, typed.volume_ml, typed.dilution, farm.now
        )
    except ValueError as error:
        raise Failure(str(error)) from None
    if keep:
        farm.write(draft)
    return {named: float(draft.value)}


def _nothing(place: Place) -> str:
    if place.kind != "culture":
        return f"{place.code} is no larval tank and no culture"
    if place.holds is None:
        return f"no live food was counted in {place.code}: put what it holds into site.toml"
    return f"{place.code} holds {place.holds}: what is harvested of it is not worked out"


def _counts(typed: str | None) -> tuple[int, ...]:
    try:
        found = tuple(int(part) for part in (typed or "").replace(",", " ").split())
    except ValueError:
        raise Failure(f"{typed} is not a row of counts, such as '4 6 5'") from None
    if any(count < 0 for count in found):
        raise Failure("a count is 0 or more")
    return found


def _keep(farm: Opened, one: Sheet, typed: Asked) -> Sheet:
    """Write the number of the columns as a count, and show the tank with it."""
    lots = farm.farm.stocks.get(one.place, ())
    if len(lots) != 1:
        held = ", ".join(stock.lot for stock in lots) or "no fish on record"
        raise Failure(f"{one.place} holds {held}: a number is kept for one lot")
    if one.number is None:
        raise Failure(f"no number of {one.place} to keep: {' '.join(one.missing)}")
    farm.write(larvae.counted(one, lots[0], typed))
    number, now = one.number, farm.now
    fresh = larvae.sheet(farm.site, farm.farm, farm.site.places[one.place], now, typed)
    return replace(fresh, number=number)
