"""In how many places the entries of a day lie: this laptop, others, and the addresses of syncs.

An address counts by what it listed in the last month. Another laptop counts for what it wrote and
for what its newest header says it had seen, while it has been heard within two weeks. Both are
memory, not a look: it is said as "safe in", and the weekly look at an address keeps it honest.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Final

from msgspec import Struct

from rounds.records.admission import newest_headers
from rounds.records.entry import Open, instant
from rounds.records.layout import SealedFile, listed, open_files, sealed_tree
from rounds.records.memory import recall_all
from rounds.records.segment import header

HERE: Final = "this laptop"
_MONTH_S: Final = 30 * 24 * 3600.0
_IN_USE: Final = timedelta(days=14)


class Safe(Struct, frozen=True):
    """Where all entries of one day lie."""

    day: str
    places: tuple[str, ...]
    """This laptop first, then other laptops by their writer ids, then addresses."""


def safe(folder: Path, own: str | None, days: int = 7, now_s: float | None = None) -> list[Safe]:
    """Tell where the entries of the last days lie.

    Args:
        folder: The site's folder.
        own: This laptop's writer id.
        days: How many days with entries, the newest first.
        now_s: Seconds since 1970; the present where left out.

    Raises:
        OSError: The records cannot be listed.
    """
    records = folder / "records"
    tree = sealed_tree(records)
    now = time.time() if now_s is None else now_s
    running = []
    for one in open_files(records):
        with suppress(FileNotFoundError):  # sealed meanwhile, and listed as such below
            first = header(one.path(records))
            running.append(first.day.replace("-", "") if first else "")
    files = listed(tree).files
    there = {
        memory.address: set(memory.files)
        for memory in recall_all(folder)
        if 0 <= now - memory.done < _MONTH_S
    }
    heads = newest_headers(tree, {file.writer for file in files})
    newest = max((instant(head.t) for head in heads.values()), default=None)
    others = {
        writer: _seen(head)
        for writer, head in heads.items()
        if writer != own and newest is not None and newest - instant(head.t) <= _IN_USE
    }
    found = []
    all_days = sorted({file.day for file in files} | set(filter(None, running)), reverse=True)
    for day in all_days[:days]:
        touching = _touching(files, day)
        places = {HERE} | others.keys() | there.keys()
        for file in touching:
            places &= _holders(file, others, there)
        if day in running:
            places = {HERE}
        order = sorted(places - {HERE}, key=lambda place: (place in there, place))
        found.append(Safe(_iso(day), (HERE, *order)))
    return found


def _seen(head: Open) -> dict[str, int]:
    seen = {head.writer: head.seg}
    for writer, named in head.seen.items():
        number = named.partition(":")[0]
        if number.isascii() and number.isdecimal():
            seen[writer] = int(number)
    return seen


def _touching(files: tuple[SealedFile, ...], day: str) -> list[SealedFile]:
    """Return the files begun on a day, and of each laptop the last one before: it may go on."""
    before: dict[str, SealedFile] = {}
    begun = []
    for file in files:
        if file.day == day:
            begun.append(file)
        elif file.day < day:
            before[file.writer] = file
    return [*begun, *before.values()]


def _holders(
    file: SealedFile,
    others: Mapping[str, Mapping[str, int]],
    there: Mapping[str, set[SealedFile]],
) -> set[str]:
    laptops = {one for one, seen in others.items() if seen.get(file.writer, 0) >= file.seg}
    return {HERE} | laptops | {address for address, held in there.items() if file in held}


def _iso(day: str) -> str:
    return f"{day[:4]}-{day[4:6]}-{day[6:]}"
