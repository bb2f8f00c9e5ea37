"""In how many places the entries of a day lie: this laptop, others, and the addresses of syncs.

This laptop counts once, whatever names this machine had. An address counts by what it listed in the
last month, unless it lies on the site's own disk. Another laptop counts for what it wrote and for
what its newest header says it had seen, while it has been heard within two weeks and nobody retired
it. Both are memory, not a look: it is said as "safe in", and the weekly look at an address keeps it
honest.

A laptop says only the newest segment of each that it has. Where two laptops wrote under one name,
as after a copy, it may lack what the other wrote: from the first number given twice on, it counts
for that one segment and no other.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from typing import Final

from msgspec import Struct

from rounds.records import identity
from rounds.records.admission import newest_headers
from rounds.records.entry import instant
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


def safe(
    folder: Path, site_id: str, days: int = 7, now_s: float | None = None,
    retired: Collection[str] = (),
) -> list[Safe]:  # fmt: skip
    """Tell where the entries of the last days lie.

    Args:
        folder: The site's folder.
        site_id: Its id.
        days: How many days with entries, the newest first.
        now_s: Seconds since 1970; the present where left out.
        retired: Laptops no longer in use, by their writer ids.

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
    last = {file.writer: file for file in files}
    heads = newest_headers(tree, last)
    newest = max((instant(head.t) for head in heads.values()), default=None)
    gone = {*identity.own_names(site_id), *retired}
    laptops = {
        writer: _held(files, head.seen | {writer: last[writer].head})
        for writer, head in heads.items()
        if writer not in gone and newest is not None and newest - instant(head.t) <= _IN_USE
    }
    there = {
        memory.address: set(memory.files)
        for memory in recall_all(folder)
        if 0 <= now - memory.done < _MONTH_S and not memory.same_disk
    }
    found = []
    all_days = sorted({file.day for file in files} | set(filter(None, running)), reverse=True)
    for day in all_days[:days]:
        touching = _touching(files, day)
        others = [*sorted(laptops.items()), *sorted(there.items())] if day not in running else []
        places = [place for place, held in others if held.issuperset(touching)]
        found.append(Safe(f"{day[:4]}-{day[4:6]}-{day[6:]}", (HERE, *places)))
    return found


def _held(files: tuple[SealedFile, ...], seen: Mapping[str, str]) -> set[SealedFile]:
    """Return what a laptop holds that says these are the newest it has seen, of each laptop."""
    until = {file.writer: file.seg for file in files if seen.get(file.writer) == file.head}
    for file, twin in pairwise(files):
        if (file.writer, file.seg) == (twin.writer, twin.seg) and file.writer in until:
            until[file.writer] = min(until[file.writer], file.seg - 1)
    return {
        file
        for file in files
        if file.seg <= until.get(file.writer, 0) or seen.get(file.writer) == file.head
    }


def _touching(files: tuple[SealedFile, ...], day: str) -> set[SealedFile]:
    """Return the files begun on a day, and of each laptop the last one before: it may go on."""
    last = {file.writer: file.seg for file in files if file.day < day}
    return {
        file
        for file in files
        if file.day == day or (file.day < day and file.seg == last[file.writer])
    }
