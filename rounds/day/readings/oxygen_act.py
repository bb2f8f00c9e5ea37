"""Oxygen to act on is over only when it was read well, or read better twice."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.readings.inputs import OXYGEN, Inputs, oxygen_reads
from rounds.day.readings.judgement import RANK, Word, as_word, with_unit, word_of, worst
from rounds.day.when import clock, spoken
from rounds.reason import Reason
from rounds.site.model import Place, Site
from rounds.water.oxygen import from_percent_mg_l, percent

LOOKED_BACK: Final = timedelta(hours=6)
"""How far back the lowest oxygen counts, and how far after it what it is worked out with."""
_NOT_OVER: Final = timedelta(hours=24)
"""An act longer ago than this asks for no second reading (common practice)."""
APART: Final = timedelta(minutes=30)
"""Two readings above act, this far apart, end an act (common practice)."""


class Unsettled(Struct, frozen=True):
    """An act on oxygen that one better reading has not ended: what is said of it, and why."""

    says: str
    reason: Reason


def both_forms(
    farm: Farm, place: Place, read: Read, now: datetime
) -> tuple[float | None, float | None, list[str]]:
    """Return oxygen in mg/L and in percent as it was when it was read, and what is missing.

    A round reads oxygen first: salinity and temperature that were read after it serve it too.
    """
    then = Inputs(farm, place, read.at)
    after = Inputs(farm, place, min(now, read.at + LOOKED_BACK))
    found = {m: then.find(m) or after.find(m) for m in ("temperature", "salinity")}
    temperature, salinity = found.values()
    missing = [after.lacks(measure) for measure, one in found.items() if one is None]
    other: float | None = None
    if temperature is not None and salinity is not None:
        turn = percent if read.measure == "oxygen" else from_percent_mg_l
        try:
            other = turn(read.value, temperature.value, salinity.value, then.pressure_hpa())
        except ValueError as error:
            missing.append(str(error))
    if read.measure == "oxygen":
        return read.value, other, missing
    return other, read.value, missing


def unsettled(site: Site, farm: Farm, place: Place, now: datetime) -> Unsettled | None:
    """Tell whether an act on oxygen is not over though the newest reading is above act.

    It ends with a reading that is ok, or with two above act, half an hour apart: one better
    reading a few minutes later may be the probe, or air that was turned up for a moment.

    Args:
        site: The site, with today's limits.
        farm: The farm.
        place: Where.
        now: The present; nothing read after it counts.

    Returns:
        What to say of it; None where the newest reading is an act itself or ends it.
    """
    latest = oxygen_reads(farm, place, now)
    if not latest or _word(site, farm, place, latest[0], now) != "watch":
        return None
    reads = [r for m in OXYGEN for r in farm.between(place.code, m, now - _NOT_OVER, now)]
    since: list[Read] = []
    for read in sorted(reads, key=lambda one: (one.at, one.id), reverse=True):
        word = _word(site, farm, place, read, now)
        if word == "ok":
            return None
        if word == "act":
            break
        since.append(read)
    else:
        return None
    if not since or since[0].at - since[-1].at >= APART:
        return None
    zone = site.timezone
    says = (
        f"Oxygen was {with_unit(read.typed, read.unit)} ({spoken(read.at, now, zone)}): not over, "
        f"read it again from {clock(since[-1].at + APART, zone)}"
    )
    reason = "An act on oxygen ends with a reading that is OK, or two above act half an hour apart"
    return Unsettled(says, Reason(reason, {}, "common practice"))


def _word(site: Site, farm: Farm, place: Place, read: Read, now: datetime) -> Word:
    """Return the worse of a reading's verdict as it was kept and of both forms as they are."""
    mg_l, share, _ = both_forms(farm, place, read, now)
    words = [
        word_of(site, place, measure, value, read.at)
        for measure, value in zip(OXYGEN, (mg_l, share), strict=True)
        if value is not None
    ]
    kept = as_word(read.verdict)
    return worst((*words, kept if RANK[kept] > RANK["unknown"] else "ok"))
