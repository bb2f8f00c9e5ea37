"""The live food of `rounds larvae`: cultures and their back-up, tins of cysts, hours to start."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import datetime, time, timedelta

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened
from rounds.cli.out import tell
from rounds.day.larvae import cultures, hatching
from rounds.day.larvae.cultures import Culture
from rounds.day.larvae.hatching import CystLot, Enrichment, Hatch
from rounds.reports import live_food as words
from rounds.reports.live_food import Food


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
    told = [*map(words.culture, kept), *(words.food(farm.site, one, farm.now) for one in food)]
    for one in told:
        tell(one, farm.site.display_units)
