"""Fish that may be sick, or are in quarantine: they stay where they are unless somebody permits it.

What was found stands until it is found otherwise: a count of the dead until they are counted again,
a suspected disease for a week.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.lots.deaths import COUNT_STANDS, call_vet, last_counts
from rounds.day.readings.judgement import RANK, Judgement
from rounds.records.entry import Moved, Stocked
from rounds.site.model import Place

QUARANTINE_DAYS: Final = 28
"""New fish stay apart so long (common practice: 14 to 28 days)."""
ACCIDENTS: Final = ("handling", "jumped", "injury", "oxygen")
"""Causes of death that do not go from fish to fish."""
TREATED: Final = ("treat", "medic", "antibiot", "vaccin", "formalin", "withdrawal", "drug")
"""Beginnings of words that speak of a treatment."""
ASK: Final = "only if the supervisor or the vet permits it"


def of_treatment(text: str) -> bool:
    """Tell whether words speak of a treatment."""
    words = text.casefold()
    return any(begins in words for begins in TREATED)


def sick(farm: Farm, place: Place, now: datetime) -> Judgement | None:
    """Return what speaks of sick fish in a place, the worst of it; None where nothing does.

    Args:
        farm: The farm.
        place: Where.
        now: The present.

    Returns:
        Deaths to act on, a call for the veterinarian, or a suspected disease.
    """
    found = call_vet(farm, place, now)
    dead = [one for one in farm.dead(place.code, now - COUNT_STANDS) if one.count and one.at <= now]
    if any(one.cause.casefold() not in ACCIDENTS for one in dead):
        found += [one for one in last_counts(farm, place, now) if one.verdict == "act"]
    return max(found, key=_rank, default=None)


def _rank(judgement: Judgement) -> int:
    return RANK[judgement.verdict]


def quarantined_days(farm: Farm, place: Place, now: datetime) -> int | None:
    """Return the days since fish last came into a quarantine with fish; None of other places."""
    here = farm.stocks.get(place.code, ())
    if place.stage != "quarantine" or not here:
        return None
    return (now - max(_came(farm, stock, now) for stock in here)) // timedelta(days=1)


def _came(farm: Farm, stock: Stock, now: datetime) -> datetime:
    came = (
        entry.at
        for entry in farm.lots.get(stock.lot, ())
        if entry.at <= now
        and (
            (isinstance(entry, Stocked) and entry.place == stock.place)
            or (isinstance(entry, Moved) and entry.target == stock.place)
        )
    )
    return max(came, default=stock.stocked_at)


def held_in(farm: Farm, place: Place, now: datetime) -> str:
    """Return why fish must not leave a place without leave; empty where they may.

    Args:
        farm: The farm.
        place: Where they are.
        now: The present.
    """
    found = []
    if (judged := sick(farm, place, now)) is not None:
        found.append(judged.says)
    if (days := quarantined_days(farm, place, now)) is not None:
        found.append(f"in quarantine for {days} day{'s' * (days != 1)} of {QUARANTINE_DAYS}")
    return f"{place.code}: {'; '.join(found)}" if found else ""


def kept_out(farm: Farm, place: Place, now: datetime) -> str:
    """Return why no fish should come into a place; empty where they may."""
    judged = sick(farm, place, now)
    return "" if judged is None else f"{place.code}: {judged.says}"
