"""`rounds ration`: today's rations, and what was given, left, chosen or withheld."""

from __future__ import annotations

import argparse
from decimal import Decimal
from typing import Final

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, place_code
from rounds.cli.out import block, say, why
from rounds.cli.quantities import amount
from rounds.day.feeding import rations
from rounds.day.feeding.fasting import feed_again, withhold
from rounds.day.feeding.meals import last_today, looked, next_number
from rounds.day.feeding.opinions import CHOICES, choose
from rounds.day.feeding.rations import Ration
from rounds.day.fold.corrections_draft import void
from rounds.day.fold.state import FedAt
from rounds.day.laptops.unheard import unheard
from rounds.day.when import clock
from rounds.reports.feed_table import about, drawn, in_use
from rounds.text import NumberError, number
from rounds.units import Amount, shown, shown_unit

_WRITES: Final = ("give", "take_back", "choose", "withhold", "feed_again", "look")


def run(asked: argparse.Namespace) -> int:
    """Print rations, draw their tables, or record what happened to one place's feed."""
    seen = asked.left is not None or asked.minutes is not None
    asked.look = seen and asked.give is None
    what = [name for name in _WRITES if getattr(asked, name) not in (None, False, "")]
    what += ["give"] if asked.give == "" else []
    options = [f"--{'left' if name == 'look' else name.replace('_', '-')}" for name in what]
    if len(what) > 1:
        raise Failure(f"{' or '.join(options)}, one at a time")
    if what and asked.place is None:
        raise Failure(f"say which place: rounds ration PLACE {options[0]}")
    with opened(asked, writes=bool(what)) as farm:
        place = None if asked.place is None else place_code(farm.site, asked.place)
        found = _today(farm, place)
        if what:
            _DO[what[0]](farm, found[0], asked)
            found = _today(farm, place)
        if asked.table:
            _tables(farm, found, asked)
        elif asked.json:
            farm.emit("ration", found)
        elif not what:
            for line in unheard(farm.farm, farm.now, farm.here):
                say(f"! {line}", hang=2)
            _show(farm, found, single=place is not None)
    return 0


def _today(farm: Opened, place: str | None) -> tuple[Ration, ...]:
    found = rations.today(farm.site, farm.farm, farm.now)
    if place is None:
        return found
    found = tuple(one for one in found if one.place == place)
    if not found:
        raise Failure(f"{place} has no fish on record")
    return found


# -- what is written -------------------------------------------------------------------------------


def _give(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    meal = ration.next_meal
    if meal is None and ration.meals:
        raise Failure(f"all {len(ration.meals)} meals of {ration.place} are given today")
    given = _grams("--give", asked.give) if asked.give else None
    number_of = next_number(farm.farm, ration, farm.now)
    draft = rations.fed(ration, number_of, given, asked.why, *_seen(asked), confirmed=asked.confirm)
    farm.write(draft)
    _kept(asked, f"{ration.place}, meal {number_of}, {draft.amount} g of {draft.product}.")


def _look(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    left, minutes = _seen(asked)
    last = _last(farm, ration)
    kept = looked(farm.farm, last.id, left, minutes)
    farm.write(kept)
    took = f", gone in {kept.set['minutes']} min" if kept.set["minutes"] else ""
    _kept(asked, f"{ration.place}, meal {last.meal}, {kept.set['left']} left{took}.")


def _choose(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    name = CHOICES[asked.choose]
    known = {one.name for one in ration.opinions if one.decides and one.g_day is not None}
    if name not in known:
        told = ", ".join(sorted(known)) or "none"
        raise Failure(f"{ration.place} has no ration by {name}: {told}")
    if not ration.apart:
        raise Failure(f"{ration.place}: {ration.governs_why}, there is nothing to choose")
    farm.write(choose(ration.place, asked.choose, asked.why))
    _kept(asked, f"{ration.place} is fed by {name} for three days where opinions differ.")


def _withhold(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    kept = withhold(farm.farm, ration.place, asked.withhold, asked.why, farm.now, farm.by)
    farm.write(kept)
    _kept(asked, f"{ration.place} is not fed until {kept.until}: {kept.text}.")


def _feed_again(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    farm.write(feed_again(farm.farm, ration.place, asked.why, farm.now))
    _kept(asked, f"{ration.place} is fed again: {asked.why.strip()}.")


def _take_back(farm: Opened, ration: Ration, asked: argparse.Namespace) -> None:
    last = _last(farm, ration)
    farm.write(void(farm.farm, last.id, asked.why))
    at = clock(last.at, farm.site.timezone)
    said = f"{ration.place}, meal {last.meal}, {last.amount_g:g} g, {last.by} {at}."
    _kept(asked, said, "Taken back")


_DO: Final = {
    "give": _give, "look": _look, "choose": _choose, "withhold": _withhold,
    "feed_again": _feed_again, "take_back": _take_back,
}  # fmt: skip


def _last(farm: Opened, ration: Ration) -> FedAt:
    last = last_today(farm.farm, ration.place, farm.now)
    if last is None:
        raise Failure(f"nothing was fed in {ration.place} today")
    return last


def _kept(asked: argparse.Namespace, says: str, word: str = "Kept") -> None:
    if not asked.json:
        say(f"{word}: {says}", hang=2)


def _seen(asked: argparse.Namespace) -> tuple[Decimal | None, Decimal | None]:
    left = None if asked.left is None else _grams("--left", asked.left)
    if asked.minutes is None:
        return left, None
    try:
        return left, number(asked.minutes)
    except NumberError as error:
        raise Failure(f"--minutes: {error}") from None


def _grams(option: str, text: str) -> Decimal:
    try:
        return Decimal(f"{amount('g')(text):g}")
    except argparse.ArgumentTypeError as error:
        raise Failure(f"{option}: {error}") from None


# -- what is printed -------------------------------------------------------------------------------


def _tables(farm: Opened, found: tuple[Ration, ...], asked: argparse.Namespace) -> None:
    tables = in_use(farm.site, found)
    if asked.json:
        farm.emit("ration", tables)
        return
    for one in tables:
        say(f"{about(one)}.", hang=2)
        block("\n".join(drawn(one)))
    if not tables:
        say("No feed table is in use today.")


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
            _alone(one, display)
    for source in dict.fromkeys(one.unverified for one in found if one.unverified):
        say(f"Feed table unverified: {source}.", hang=2)


def _alone(one: Ration, display: str) -> None:
    for opinion in one.opinions:
        grams = "-" if opinion.g_day is None else f"{opinion.g_day:.0f} g"
        mark = ">" if opinion.name == one.governs else " "
        say(f"     {mark} by {opinion.name}: {grams}, {opinion.says}", hang=7)
    if one.governs_why:
        say(f"       {one.governs_why}", hang=2)
    meals = ", ".join(
        f"{m.number}: {m.advised_g:g} g{' given' if m.given else ''}" for m in one.meals
    )
    say(f"Meals: {meals}" if meals else "No meals in grams.", "Why:", hang=2)
    why(one.reasons, display)
