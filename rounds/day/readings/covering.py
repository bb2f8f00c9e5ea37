"""Values to watch that an open matter covers: known, in somebody's hands, quiet.

A matter about a measure or step of a place covers its verdict to watch until its end, as long as
the value is not worse than said. A verdict to act on is never covered.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import OpenMatter
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import Judgement, Word
from rounds.day.readings.until import end_of
from rounds.day.when import spoken
from rounds.site.measures import MEASURES
from rounds.text import NumberError, number
from rounds.units import UNITS, convert

ONLY_ACT: Final = "X ACT NOW"
"""Again only when it is one to act on: it is so for every matter."""
_AGAIN: Final = re.compile(r"(above|below)\s+(\S+)\s*(.*)")


def covering(
    farm: Farm, place: str, about: str, verdict: Word, value: float | None, now: datetime
) -> OpenMatter | None:
    """Return the open matter that covers a verdict; None where it is to be told as it is.

    Args:
        farm: The farm.
        place: Where.
        about: The measure, or the step of an answer.
        verdict: Of the value; only one to watch is ever covered.
        value: In the measure's unit; None of an answer in words.
        now: The present.
    """
    if verdict != "watch":
        return None
    for matter in farm.matters:
        if (matter.place, matter.about) != (place, about) or matter.at > now:
            continue
        end = end_of(matter, farm.site.timezone)
        if end is not None and now < end and not _worse(matter, about, value):
            return matter
    return None


def covered(farm: Farm, judgement: Judgement, now: datetime) -> OpenMatter | None:
    """Return the open matter that covers a judgement, see `covering`."""
    return covering(
        farm, judgement.place, judgement.measure, judgement.verdict, judgement.value, now
    )


def known(farm: Farm, matter: OpenMatter, says: str, now: datetime) -> str:
    """Return a covered value in words: "A2: pH 8.60, above 8.40. Known: Rui has it until ..."."""
    return f"{matter.place}: {says}. Known: {in_hand(farm, matter, now)}"


def in_hand(farm: Farm, matter: OpenMatter, now: datetime) -> str:
    """Return who has a matter, until when and what makes it urgent again, and what it is."""
    zone = farm.site.timezone
    end = end_of(matter, zone)
    until = f" until {spoken(end, now, zone)}" if end else ""
    again = f", again if {matter.again_if}" if matter.again_if else ""
    return f"{named(farm, matter.owner or matter.by)} has it{until}{again}: {matter.text}"


def _worse(matter: OpenMatter, about: str, value: float | None) -> bool:
    """Tell whether a value is worse than its matter says; what cannot be read is."""
    if matter.again_if in ("", ONLY_ACT):
        return False
    edge = worse_than(matter.again_if, about)
    if edge is None or value is None:
        return True
    side, limit, step = edge
    return value > limit + step if side == "above" else value < limit - step


def worse_than(again_if: str, about: str) -> tuple[str, float, float] | None:
    """Read "above 8.6" or "below 4.5 mg/L": side, limit in the measure's unit, half a last digit.

    None where it cannot be read, or is not of this measure.
    """
    found, info = _AGAIN.fullmatch(again_if.strip()), MEASURES.get(about)
    if found is None or info is None:
        return None
    try:
        typed = float(number(found[2]))
    except NumberError:
        return None
    unit = found[3].strip() or info.unit
    if unit not in UNITS or UNITS[unit].dimension != UNITS[info.unit].dimension:
        return None
    decimals = len(found[2].replace(",", ".").partition(".")[2])
    half = abs(
        convert(typed + 0.5 * 10**-decimals, unit, info.unit) - convert(typed, unit, info.unit)
    )
    return found[1], convert(typed, unit, info.unit), half
