"""Whole sealed files that are missing: by their numbers, and by what other laptops saw."""

from __future__ import annotations

import os
import re
from collections import defaultdict
from contextlib import suppress
from pathlib import Path

from rounds.records.aside import Problem
from rounds.records.durable import NotPlain
from rounds.records.layout import SEALED_LETTERS, is_writer, open_files, sealed_tree, writer_folders
from rounds.records.segment import header

_SHOWN = 5
_SEG = re.compile(r"([0-9]{1,6}):")


def missing(records: Path) -> tuple[Problem, ...]:
    """Return the files of which others tell that they were there: few names, one look at each.

    Args:
        records: The records folder.

    Returns:
        One for each laptop of which files are missing; `verify` names what saw them.
    """
    numbers: dict[str, set[int]] = defaultdict(set)
    newest = {}
    try:
        running = open_files(records)  # first: what is sealed meanwhile is in both, not in neither
        tree = sealed_tree(records)
        for writer in writer_folders(tree):  # names by the thousand, at each start: one at a time
            there = os.listdir(tree / writer)
            names = [n for n in there if len(n) == SEALED_LETTERS and n[:6].isdecimal()]
            numbers[writer] = {int(name[:6]) for name in names}
            if names:
                newest[writer] = tree / writer / max(names)
    except OSError:
        return ()  # what cannot be listed is told where it is read
    for one in running:
        numbers[one.writer].add(one.seg)
    seen: dict[str, int] = {}
    for path in (*newest.values(), *(one.path(records) for one in running)):
        with suppress(OSError, NotPlain):
            if (opened := header(path)) is not None:
                for writer, head in opened.seen.items():
                    if is_writer(writer) and (seg := _SEG.match(head)):
                        seen[writer] = max(seen.get(writer, 0), int(seg[1]))
    found = ((w, absent(numbers[w], seen.get(w, 0))) for w in sorted(numbers.keys() | seen))
    return tuple(Problem(f"{w}/", 0, f"{named(lost)} missing: sync") for w, lost in found if lost)


def absent(numbers: set[int], seen: int = 0) -> list[int]:
    """Return the numbers up to the greatest, or to one that was seen, that are not there."""
    until = max(numbers, default=0)
    return [
        *sorted(set(range(1, until)) - numbers),
        *([seen] if seen > until else ()),
    ]


def named(lost: list[int]) -> str:
    """Say which segments: the first few by number."""
    more = f" and {len(lost) - _SHOWN} more" if len(lost) > _SHOWN else ""
    one = len(lost) == 1
    return f"segment{'' if one else 's'} {', '.join(map(str, lost[:_SHOWN]))}{more} " + (
        "is" if one else "are"
    )


def not_whole(unread: int) -> str:
    """Say that something of the records is not there for a reader; empty when all is."""
    if not unread:
        return ""
    what = "1 line or file" if unread == 1 else f"{unread} lines or files"
    return f"{what} of the records could not be read or found: rounds verify"
