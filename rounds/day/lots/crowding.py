"""More fish in the water of a tank than are wanted there."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.waters import water_m3
from rounds.day.readings.judgement import Judgement
from rounds.reason import Reason
from rounds.site.model import Place, Site

_DO: Final = "Move or split them to a tank with room; read oxygen and ammonia often until then."


def part_of_limit(site: Site, farm: Farm, place: Place, more_kg: float = 0.0) -> float | None:
    """Return the mass of fish in a place, and some more, as a part of what its water may hold.

    Args:
        site: The site: the density wanted.
        farm: The farm.
        place: Where.
        more_kg: Fish that would come, kg, 0 or more.

    Returns:
        Above 1 where they are too many; None where no density or no volume is known.
    """
    most, _ = site.density_for(place)
    volume_m3 = water_m3(place, farm.now.states)
    if not most or not volume_m3:
        return None
    there_kg = math.fsum(stock.biomass_kg for stock in farm.stocks.get(place.code, ()))
    return (there_kg + more_kg) / (volume_m3 * most)


def crowded(site: Site, farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return the judgement of a place with more fish than are wanted; none in most places."""
    part = part_of_limit(site, farm, place) if farm.stocks.get(place.code) else None
    if part is None or part <= 1:
        return []
    most, source = site.density_for(place)
    density = part * (most or 0.0)
    says = f"{density:.1f} kg/m3 of fish, {most:g} wanted"
    reason = Reason("{part:.0%} of the density limit, {most:g} kg/m3",
                    {"part": part, "most": most or 0.0}, source)  # fmt: skip
    return [Judgement("crowding", place.code, "watch", says, now, _DO, (reason,), density, "kg/m3")]
