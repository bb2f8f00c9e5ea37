"""`rounds ration`: today's rations with their reasons, and a meal recorded as given."""

from __future__ import annotations

import argparse
from decimal import Decimal

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.options import amount
from rounds.cli.out import emit, say, why
from rounds.day import rations
from rounds.day.corrections_draft import void
from rounds.day.opinions import CHOICES, choose
from rounds.day.rations import Ration
from rounds.day.unheard import unheard
from rounds.day.when import clock, local_day
from rounds.units import Amount, shown, shown_unit


def run(asked: argparse.Namespace) -> int:
    """Print rations, or record the next meal of one place."""
    gives, back = asked.give is not None, asked.take_back
    if (gives or back) and asked.place is None:
        raise Failure(
            f"say which place: rounds ration PLACE {'--give' if gives else '--take-back'}"
        )
    if gives and back:
        raise Failure("--give or --take-back, one at a time")
    if asked.choose and asked.place is None:
        raise Failure("say which place: rounds ration PLACE --choose table --why TEXT")
    with opened(asked, writes=gives or back or bool(asked.choose)) as farm:
        found = rations.today(farm.site, farm.farm, farm.now)
        if asked.choose:
            _choose(farm, place_code(farm.site, asked.place), found, asked)
            found = rations.today(farm.site, farm.farm, farm.now)
        if asked.place is not None:
            found = tuple(one for one in found if one.place == place_code(farm.site, asked.place))
            if not found:
                raise Failure(f"{asked.place} has no fish on record")
        if gives or back:
            (_give if gives else _take_back)(farm, found[0], asked)
            found = tuple(
                one
                for one in rations.today(farm.site, farm.farm, farm.now)
                if one.place == found[0].place
            )
        if getattr(asked, "json", False):
            emit("ration", farm.site.id, farm.now, found, farm.site.display_units)
            return 0
        if not (gives or back or asked.choose):
            for line in unheard(farm.farm, farm.now, farm.here):
                say(f"! {line}", hang=2)
            _show(farm, found, single=asked.place is not None)
    return 0


def _give(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    meal = ration.next_meal
    if meal is None and ration.meals:
        raise Failure(f"all {len(ration.meals)} meals of {ration.place} are given today")
    given = _grams("--give", asked.give) if asked.give else None
    left = _grams("--left", asked.left) if asked.left else None
    number = meal.number if meal else 1
    draft = rations.fed(ration, number, given, asked.why, left, confirmed=asked.confirm)
    farm.write(draft)
    say(f"Kept: {ration.place}, meal {number}, {draft.amount} g of {draft.product}.")


def _choose(farm: Opened, place: str, found: tuple[Ration, ...], asked: argparse.Namespace) -> None:
    name = CHOICES[asked.choose]
    known = {o.name for one in found if one.place == place for o in one.opinions if o.g_day}
    if name not in known:
        raise Failure(f"{place} has no ration by {name}: {', '.join(sorted(known)) or 'none'}")
    farm.write(choose(place, asked.choose, asked.why))
    if not getattr(asked, "json", False):
        say(f"Kept: {place} is fed by {name} for three days where opinions differ.")


def _take_back(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    today = local_day(farm.now, farm.site.timezone).isoformat()
    meals = [one for one in farm.farm.fed(ration.place) if one.day == today]
    if not meals:
        raise Failure(f"nothing was fed in {ration.place} today")
    last = meals[-1]
    farm.write(void(farm.farm, last.id, asked.why))
    at = clock(last.at, farm.site.timezone)
    say(f"Taken back: {ration.place}, meal {last.meal}, {last.amount_g:g} g, {last.by} {at}.")


def _grams(option: str, text: str) -> Decimal:
    try:
        return Decimal(f"{amount('g')(text):g}")
    except argparse.ArgumentTypeError as error:
        raise Failure(f"{option}: {error}") from None


def _show(farm: Opened, found: tuple[Ration, ...], *, single: bool) -> None:
    display = farm.site.display_units
    unit = shown_unit("kg", display)
    say(f"Place  Fish   Mean g  Mass {unit}  Rate %  Ration g  Next g  Held back")
    for one in found:
        mass = shown(Amount(one.biomass_kg, "kg"), display).value
        rate = f"{one.rate_percent:.2f}" if one.rate_percent is not None else "-"
        total = "NO FEED" if one.no_feed else f"{one.total_g:.0f}"
        say(
            f"{one.place:<6}{one.count:>5}{one.mean_weight_g:>9.4g}{mass:>9.1f}"
            f"{rate:>8}{total:>10}{one.next_meal_g:>8.4g}  {one.held_back}",
            hang=56,
        )
        for missing in one.missing:
            say(f"       measure: {missing}", hang=2)
        if one.choose and not single:
            say(f"       choose: {one.place} --choose, the opinions differ", hang=2)
        for caution in one.cautions if single else ():
            say(f"       caution: {caution}", hang=2)
        if single:
            meals = ", ".join(
                f"{m.number}: {m.advised_g:g} g{' given' if m.given else ''}" for m in one.meals
            )
            for opinion in one.opinions:
                grams = "-" if opinion.g_day is None else f"{opinion.g_day:.0f} g"
                mark = ">" if opinion.name == one.governs else " "
                say(f"     {mark} by {opinion.name}: {grams}, {opinion.says}", hang=7)
            say(f"Meals: {meals}" if meals else "No meals in grams.", "Why:", hang=2)
            why(one.reasons, display)
    for source in dict.fromkeys(one.unverified for one in found if one.unverified):
        say(f"Feed table unverified: {source}.", hang=2)
