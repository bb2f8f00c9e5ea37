"""The live food of a day: larval tanks, and the cultures they draw on."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from rounds.day.fold.farm import Farm
from rounds.day.larvae import cultures
from rounds.day.larvae import tanks as larvae
from rounds.day.larvae.cultures import Culture
from rounds.day.larvae.sheet import Asked, Sheet
from rounds.site.model import Site


def live_food(
    site: Site,
    farm: Farm,
    now: datetime,
    asked: Mapping[str, Asked] | None = None,
    left_per_ml: Mapping[str, float] | None = None,
    counted_per_ml: Mapping[str, float] | None = None,
) -> tuple[tuple[Sheet, ...], tuple[Culture, ...]]:
    """Return the larval tanks with larvae or asked about, and the cultures with what they ask.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        asked: What was typed, by the tank it is for.
        left_per_ml: What the harvest left in a culture, where it was counted, by its place.
        counted_per_ml: What was counted in a culture just now and is not on record.

    Raises:
        ValueError: A number is out of range.
    """
    asked, left, counted = asked or {}, left_per_ml or {}, counted_per_ml or {}
    sheets = tuple(
        larvae.sheet(site, farm, place, now, asked.get(place.code, Asked()))
        for place in site.places.values()
        if place.stage == "larval" and (place.code in asked or farm.stocks.get(place.code))
    )
    found = (
        cultures.culture(site, farm, place, now, left.get(place.code), counted.get(place.code))
        for place in site.places.values()
        if place.kind == "culture"
    )
    return sheets, tuple(
        cultures.shared(
            one, [(s.place, s.asks_l) for s in sheets if s.culture_place == one.place and s.asks_l]
        )
        for one in found
        if one is not None
    )
