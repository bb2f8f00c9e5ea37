"""The live food of `rounds larvae`: cultures and their back-up, tins of cysts, hours to start."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import datetime, time, timedelta

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened
from rounds.cli.out import say, why
from rounds.day import cultures, hatching
from rounds.day.cultures import Culture, Upkeep
from rounds.day.hatching import CystLot, Enrichment, Expiry, Hatch
from rounds.day.larvae import Sheet
from rounds.day.when import spoken

Food = Upkeep | CystLot | Expiry | Hatch | Enrichment


def gather(farm: Opened, asked: argparse.Namespace) -> list[Food]:
    """Return what is kept of live food, where no place is named, and what is asked to be planned.

    Raises:
        Failure: What was typed does not make a plan.
    """
    site, book, now = farm.site, farm.farm, farm.now
    lots = hatching.cyst_lots(book, now)
    found: list[Food] = []
    if asked.place is None:
        upkeep = cultures.upkeep(site, book, now)
        found += [*([upkeep] if upkeep else []), *lots, *hatching.expiries(site, book, now)]
    plan = _plan(farm, asked, lots)
    return [*found, *([plan] if plan else [])]


def _plan(
    farm: Opened, asked: argparse.Namespace, lots: Sequence[CystLot]
) -> Hatch | Enrichment | None:
    if asked.wanted is None:
        if asked.nauplii is not None or asked.cysts is not None:
            raise Failure("say for which hour with --wanted 08:00")
        return None
    at = _hour(farm, asked.wanted)
    if asked.nauplii is None:
        if asked.enrich is None:
            raise Failure("give --nauplii for a hatch, or --enrich for an enrichment")
        food = asked.food or "rotifers"
        return hatching.enrichment(farm.site, food, at, asked.enrich, farm.now)
    lot = _lot(asked, lots)
    enrich_h = asked.enrich or 0.0
    return hatching.hatch(
        farm.site, at, asked.nauplii, asked.nauplii_per_g, farm.now, enrich_h, lot
    )


def _lot(asked: argparse.Namespace, lots: Sequence[CystLot]) -> CystLot | None:
    """Return the tin named, else the one last hatched; none where a yield is typed."""
    if asked.nauplii_per_g is not None:
        return None
    if asked.cysts is not None:
        found = next((one for one in lots if one.cysts.casefold() == asked.cysts.casefold()), None)
        if found is None:
            names = ", ".join(one.cysts for one in lots) or "none"
            raise Failure(
                f"no hatch of {asked.cysts} is on record ({names}): give --nauplii-per-g, what "
                "the tin says"
            )
        return found
    return lots[0] if lots else None


def _hour(farm: Opened, typed: str) -> datetime:
    zone = farm.site.timezone
    try:
        if len(typed) <= 5:
            at = datetime.combine(farm.now.astimezone(zone).date(), time.fromisoformat(typed), zone)
            return at + timedelta(days=at <= farm.now)
        at = datetime.fromisoformat(typed)
    except ValueError:
        raise Failure(f"{typed} is no hour (08:00) and no date with one") from None
    return at if at.tzinfo else at.replace(tzinfo=zone)


def show(farm: Opened, kept: Sequence[Culture], food: Sequence[Food]) -> None:
    """Print cultures, then what is kept and planned of live food."""
    for one in kept:
        _culture(farm, one)
    for two in food:
        say(_headline(farm, two), hang=2)
        if isinstance(two, Hatch | Enrichment):
            _times(farm, two)
        for text in () if isinstance(two, Expiry) else two.cautions:
            say(f"  ! {text}", hang=2)
        why(two.reasons, farm.site.display_units)


def _headline(farm: Opened, one: Food) -> str:
    match one:
        case Upkeep():
            return f"{one.food.capitalize()}: alive {', '.join(one.alive) or 'none'}, back-up " + (
                one.backup
            )
        case CystLot():
            tin = "" if one.nominal_per_g is None else f", the tin says {one.nominal_per_g:.0f}"
            hatched = f"{one.hatches} hatch{'es' * (one.hatches > 1)}"
            return f"Cysts {one.cysts}: {one.nauplii_per_g:.0f} nauplii a gram ({hatched}){tin}"
        case Expiry():
            return f"{'! ' if one.expired else ''}{one.place}  {one.says}"
        case Hatch():
            start = spoken(one.start, farm.now, farm.site.timezone)
            return f"Hatch {one.cysts_g:.2f} g of cysts, start {start}"
        case Enrichment():
            return f"Enrich {one.food}, in {spoken(one.start, farm.now, farm.site.timezone)}"


def _times(farm: Opened, one: Hatch | Enrichment) -> None:
    """Print when it comes out of the enrichment, and until when it is fed."""
    at, zone = farm.now, farm.site.timezone
    if one.out is None or one.use_by_warm is None or one.use_by_cold is None:
        return
    warm, cold = spoken(one.use_by_warm, at, zone), spoken(one.use_by_cold, at, zone)
    say(f"  out {spoken(one.out, at, zone)}, fed by {warm}; held cold by {cold}", hang=2)


def _culture(farm: Opened, one: Culture) -> None:
    say(f"{one.place}  {one.food} {one.per_ml:.4g} per mL")
    if one.harvest_fraction is not None:
        litres = "" if one.harvest_l is None else f", {one.harvest_l:.0f} L"
        say(f"  may be harvested: {one.harvest_fraction * 100:.0f} %{litres}")
    if one.egg_state:
        say(f"  eggs: {one.egg_state}")
    rest(farm, one)


def rest(farm: Opened, one: Sheet | Culture) -> None:
    """Print what to measure, the cautions and the reasons."""
    for text in one.missing:
        say(f"  measure: {text}", hang=2)
    for text in one.cautions:
        say(f"  ! {text}", hang=2)
    why(one.reasons, farm.site.display_units)
