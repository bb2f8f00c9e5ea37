"""Who must be asked before fish come in, are moved or sold: the question, and why it is asked."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.lots.crops import forage_lot
from rounds.day.lots.health import held_in, kept_out
from rounds.day.recording.asking import Answers, Field


def _move_needs(farm: Farm, answers: Answers, now: datetime) -> str:
    source, target = (farm.site.places.get(answers.get(key, "")) for key in ("from", "to"))
    why = held_in(farm, source, now) if source else ""
    shut = kept_out(farm, target, now) if target else ""
    return "; ".join(filter(None, (why, shut)))


def _stock_needs(farm: Farm, answers: Answers, now: datetime) -> str:
    place = farm.site.places.get(answers.get("place", ""))
    return kept_out(farm, place, now) if place else ""


def _sale_needs(farm: Farm, answers: Answers, now: datetime) -> str:
    place = farm.site.places.get(answers.get("place", ""))
    if place is None or answers.get("cause") != "sold":
        return ""
    forage = forage_lot(farm, answers.get("lot", ""), place.code, now)  # never sold, see `_removed`
    return "" if forage else held_in(farm, place, now)


_PERMIT: Final = Field("permit", "Who permits it, the supervisor or the vet", "text")
STOCK_PERMIT: Final = replace(_PERMIT, needed=_stock_needs)
MOVE_PERMIT: Final = replace(_PERMIT, needed=_move_needs)
SALE_PERMIT: Final = replace(_PERMIT, needed=_sale_needs)
