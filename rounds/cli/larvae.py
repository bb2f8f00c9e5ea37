"""`rounds larvae`: larval tanks, their number, food and age; then cultures, hatches, enrichment."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import Any

from rounds.cli import live_food
from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import emit, row, say
from rounds.day import cultures, larvae
from rounds.day.larvae import Asked, Sheet


def run(asked: argparse.Namespace) -> int:
    """Print the sheets of larval tanks and live food, or of the place named; keep a number."""
    typed = Asked(
        asked.food or "", _counts(asked.counts), asked.volume_ml, asked.dilution, asked.target,
        asked.culture, asked.hours, asked.day, _counts(asked.columns), asked.column_volume,
        asked.precision,
    )  # fmt: skip
    if asked.keep and not typed.columns:
        raise Failure("--keep keeps the number of column samples: give --columns '12 9 14'")
    with opened(asked, writes=asked.keep) as farm:
        places = tuple(farm.site.places.values())
        if asked.place is not None:
            places = (farm.site.places[place_code(farm.site, asked.place)],)
        elif typed.counts or typed.columns:
            raise Failure("say which tank was counted: rounds larvae PLACE --counts '4 6 5'")
        args = farm.site, farm.farm
        sheets = [
            larvae.sheet(*args, place, farm.now, typed)
            for place in places
            if place.stage == "larval" and (asked.place or farm.farm.stocks.get(place.code))
        ]
        kept = [
            found
            for place in places
            if place.kind == "culture"
            and (found := cultures.culture(*args, place, farm.now, asked.left)) is not None
        ]
        if asked.place is not None and not sheets and not kept:
            raise Failure(f"{asked.place} is no larval tank, and no culture counted these days")
        food = live_food.gather(farm, asked)
        if asked.keep:
            sheets = [_keep(farm, one, typed) for one in sheets]
        if getattr(asked, "json", False):
            rows: list[Any] = [
                *({**row(one, farm.site.display_units), "kept": asked.keep} for one in sheets),
                *kept, *food,
            ]  # fmt: skip
            emit("larvae", farm.site.id, farm.now, rows, farm.site.display_units)
            return 0
        for one in sheets:
            _tank(farm, one, kept=asked.keep)
        live_food.show(farm, kept, food)
        if not sheets and not kept and not food:
            say("No larvae and no counted culture on record.")
    return 0


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


def _tank(farm: Opened, one: Sheet, *, kept: bool) -> None:
    age = "" if one.days_after_hatch is None else f", day {one.days_after_hatch}"
    about = "about " if one.larvae_estimated else ""
    stop = "  NO FEED" if one.no_feed else ""
    say(f"{one.place}  {about}{one.larvae} larvae{age}, {one.food}{stop}")
    if one.number is not None:
        ends = f"{one.number.low:.0f} to {one.number.high:.0f}, 95 %"
        told = "Kept" if kept else "not kept: --keep"
        say(f"  by columns {one.number.fish:.0f} ({ends}); {told}", hang=2)
    if one.per_ml is not None:
        span = "" if one.low_per_ml is None else f" ({one.low_per_ml:.2f} to {one.high_per_ml:.2f})"
        say(f"  in the tank {one.per_ml:.2f} per mL{span}, target {one.target_per_ml or '-'}")
    for what, poured, rinsed in (
        ("to the target", one.add_culture_l, one.add_rinsed_l),
        ("until the next", one.add_culture_until_next_l, one.add_rinsed_until_next_l),
    ):
        if rinsed is not None:
            pour = "-" if poured is None else f"{poured:.1f} L"
            say(f"  {what}: pour in {pour} of culture, or {rinsed:.1f} L rinsed", hang=2)
    if one.eaten_until_next is not None:
        say(f"  eaten until the next top-up, at most: {one.eaten_until_next:.3g}")
    if one.survival is not None:
        say(f"  {_survival(one, one.survival)}, {_growth(one)}", hang=2)
    elif one.weight_now_g is not None:
        say(f"  survival not known, {_growth(one)}", hang=2)
    for text in one.look.says if one.look else ():
        say(f"  {text}", hang=2)
    for food in one.weaning:
        say(f"  day {food.from_day} to {food.to_day}: {food.food} ({food.source})", hang=2)
    for screen in one.screens:
        days = f"day {screen.from_day} to {screen.to_day}"
        say(f"  {days}: outlet screen {screen.mesh_um:g} um ({screen.source})", hang=2)
    say(f"  {one.skimmer}", hang=2)
    for text in one.coming:
        say(f"  soon, {text}", hang=2)
    live_food.rest(farm, one)


def _survival(one: Sheet, share: float) -> str:
    if one.survival_low is None or one.survival_high is None:
        return f"survival {100 * share:.0f} %"
    ends = f"{100 * one.survival_low:.0f} to {100 * one.survival_high:.0f}"
    return f"survival {100 * share:.0f} % ({ends})"


def _growth(one: Sheet) -> str:
    if one.weight_now_g is None:
        return "growth not known: none weighed since stocking"
    each = "" if one.growth_percent_day is None else f", {one.growth_percent_day:.1f} % a day"
    return f"growth {one.weight_start_g:.3g} to {one.weight_now_g:.3g} g{each}"
