"""An estimate of a pond's stock as an entry: kept with what was caught, read with its interval."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from rounds.fish.pond import StockEstimate, falls, mark_recapture, removal
from rounds.records.entry import Counted

_MARKS: Final = re.compile(r"mark-recapture: (\d+) marked, (\d+) caught, (\d+) recaptured")
_HAULS: Final = re.compile(r"seine hauls: (\d+(?: \d+)+)")


def by_marks(place: str, lot: str, marked: int, caught: int, recaptured: int) -> Counted:
    """Draft the entry of a stock estimate by mark and recapture.

    Raises:
        ValueError: A number is out of range.
    """
    found = mark_recapture(marked, caught, recaptured)
    method = f"mark-recapture: {marked} marked, {caught} caught, {recaptured} recaptured"
    return _estimate(place, lot, found, method)


def by_seine(place: str, lot: str, hauls: Sequence[int]) -> Counted:
    """Draft the entry of a stock estimate by seine hauls, their fish kept out until the last.

    Raises:
        ValueError: Too few hauls, or they do not fall beyond chance.
    """
    found, said = removal(hauls), " ".join(map(str, hauls))
    if not falls(hauls):
        raise ValueError(
            f"hauls of {said} do not fall more than chance: they deplete nothing, so tell no "
            "stock; seine on without putting any back, or mark fish"
        )
    return _estimate(place, lot, found, f"seine hauls: {said}")


def _estimate(place: str, lot: str, found: StockEstimate, method: str) -> Counted:
    count = round(found.fish)
    return Counted(place=place, lot=lot, count=count, method=method, estimated=True)


def interval_of(counted: Counted) -> StockEstimate | None:
    """Return the estimate with its interval that an entry holds; None for a plain count."""
    marks, hauls = _MARKS.search(counted.method), _HAULS.search(counted.method)
    try:
        if marks is not None:
            return mark_recapture(*(int(part) for part in marks.groups()))
        return removal([int(part) for part in hauls[1].split()]) if hauls is not None else None
    except ValueError:
        return None
