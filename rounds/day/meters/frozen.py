"""A value that stands still: the same digits again and again, where noise would change them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import takewhile
from math import ceil, erf, log, sqrt
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.meters.doubt import FIRST, MeterDoubt
from rounds.day.readings.judgement import in_words, with_unit
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Site
from rounds.units import convert

PROBES: Final = ("oxygen", "oxygen_percent", "temperature", "salinity", "ph")
CHANCE: Final = 1e-5
"""Of a run of equal digits by chance, at which one is told (common practice)."""
ACROSS: Final = 1e-3
"""The same for a run over two waters, which do not read alike anyway (common practice)."""
_LEAST: Final = 4
"""No shorter run is told: no probe's digits are that fine."""
_MOST: Final = 40
"""A run longer than this is never waited for: the digits typed are too coarse to tell."""
_LOOKED_BACK: Final = timedelta(days=14)


def runs_needed(read: Read, chance: float = CHANCE) -> int | None:
    """Return after how many equal readings in a row a meter stands still; None if none can tell.

    A meter's noise, half its accuracy as a standard deviation, and the last digit typed give how
    often a reading of unchanged water shows its commonest digits.
    """
    info = MEASURES[read.measure]
    digits = len(read.typed.partition(".")[2])
    last = abs(convert(10.0**-digits, read.unit, info.unit) - convert(0.0, read.unit, info.unit))
    sigma = info.accuracy_at(read.value) / 2
    if sigma <= 0:
        return None
    same = erf(last / (2 * sqrt(2) * sigma))  # of the digits nearest to the truth
    if not 0 < same < 1:
        return None
    needed = max(_LEAST, 1 + ceil(log(chance) / log(same)))
    return needed if needed <= _MOST else None


def frozen(site: Site, farm: Farm, now: datetime) -> Iterator[MeterDoubt]:
    """Yield the measures that stand still in a place, or in places of different waters.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
    """
    for measure in PROBES:
        everywhere: list[Read] = []
        told = []
        for place in site.places.values():
            reads = farm.between(place.code, measure, now - _LOOKED_BACK, now)
            everywhere += reads
            if (run := _run(reads, now)) is not None:
                told.append(_doubt(run, (place.code,), f"in {place.code}"))
        everywhere.sort(key=lambda read: (read.at, read.id))
        run = _run(everywhere, now, ACROSS)
        if run is not None and len(waters := _waters(site, run)) > 1:
            codes = tuple(dict.fromkeys(read.place for read in run))
            told = [_doubt(run, codes, f"in {len(codes)} places of {len(waters)} waters", ACROSS)]
        yield from told


def _run(reads: Sequence[Read], now: datetime, chance: float = CHANCE) -> list[Read] | None:
    """Return the run of equal digits a series ends in, where it is too long for chance."""
    if not reads or now - reads[-1].at > timedelta(hours=24):
        return None
    last = reads[-1]
    same = (last.typed, last.unit)
    run = list(takewhile(lambda read: (read.typed, read.unit) == same, reversed(reads)))
    if len(run) < _LEAST:  # spares the working out
        return None
    needed = runs_needed(last, chance)
    return run if needed is not None and len(run) >= needed else None


def _waters(site: Site, run: Sequence[Read]) -> set[str]:
    places = [site.places[read.place] for read in run if read.place in site.places]
    return {place.loop or place.code for place in places}


def _doubt(
    run: list[Read], codes: tuple[str, ...], where: str, chance: float = CHANCE
) -> MeterDoubt:
    last, info = run[0], MEASURES[run[0].measure]
    needed = runs_needed(last, chance) or len(run)
    says = (
        f"Check the {in_words(info.code)} meter, it shows {with_unit(last.typed, last.unit)} "
        f"{where} {len(run)} times running: move the probe to other water and look whether the "
        f"figure changes; read, do not copy. {FIRST}"
    )
    reason = Reason(
        "{n} readings of {typed} in a row; noise of half the accuracy of {accuracy:.2g} makes "
        "{needed} one chance in {odds:.0f}",
        {
            "n": len(run), "typed": last.typed, "accuracy": info.accuracy_at(last.value),
            "needed": needed, "odds": 1 / chance,
        },
        "common practice",
    )  # fmt: skip
    return MeterDoubt(
        "frozen", info.code, codes, says, run[-1].at,
        f"told after {needed} equal readings, in a row or over two waters", (reason,),
    )  # fmt: skip
