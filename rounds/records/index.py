"""Which days each sealed segment touches: what lets a start read a few files of many.

It can be made again at will. What it says of a name never changes, since the name is the digest of
the bytes; so an old index, or one another program wrote, is incomplete at worst.
"""

from __future__ import annotations

import os
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import suppress
from itertools import accumulate
from pathlib import Path
from typing import Final
from zlib import crc32

import msgspec
from msgspec import structs

from rounds.records.durable import NotPlain, read_plain
from rounds.records.taking import Facts

FORM: Final = 1
"""Raised whenever facts change their meaning: an index of another form is made anew."""
_NAME: Final = "segments.mp"
_MOST: Final = 256 * 1024 * 1024


class _Kept(msgspec.Struct, array_like=True):
    form: int
    site: str
    files: list[Facts]


class Index:
    """What is known of the sealed segments that are there."""

    def __init__(self, site_id: str) -> None:
        self.files: dict[str, Facts] = {}
        self.changed = False
        """Something is in it that was not read from the cache."""
        self._site_id = site_id
        self._runs: dict[str, list[str]] | None = None
        self._fixing: dict[str, list[tuple[str, str]]] = {}
        """By run of what they correct: what, and the segments of such corrections."""
        self._days: dict[str, list[str]] | None = None
        self._marks: tuple[list[str], list[int]] | None = None

    def load(self, cache: Path, present: Mapping[str, tuple[int, int]]) -> None:
        """Take over what an earlier run knew of the segments that are there still.

        Args:
            cache: The folder of what can be made again at will.
            present: The names that are there, with size and time of the last change.
        """
        self.files, self._runs, self._days, self._marks = {}, None, None, None
        with suppress(OSError, ValueError, RecursionError):
            kept = msgspec.msgpack.decode(got(cache / _NAME), type=_Kept)
            if (kept.form, kept.site) == (FORM, self._site_id):
                self.files = {one.name: one for one in kept.files}
        gone = [name for name, one in self.files.items() if present.get(name) != one.seen]
        for name in gone:
            del self.files[name]
        self.changed = bool(gone)

    def save(self, cache: Path) -> None:
        """Keep it for the next run.

        Raises:
            OSError: It cannot be written.
        """
        data = msgspec.msgpack.encode(_Kept(FORM, self._site_id, list(self.files.values())))
        put(cache / _NAME, data)
        self.changed = False

    def add(self, new: Facts) -> list[Facts]:
        """Take in what is known of one more segment; returns others that hold entries of its ids.

        A segment touches the days of what its corrections correct: that is followed to the end,
        whichever came first.
        """
        runs = self._by_run()
        twice = [
            other
            for name in runs.get(new.run, ())
            if name != new.name
            and (other := self.files[name]).low <= new.high
            and new.low <= other.high
            and new.run
        ]
        days = set(new.days)
        for one in twice:
            days.update(one.days)
        for target in new.fixes:
            for one in self.holding(target):
                days.update(one.days)
        self._set(structs.replace(new, days=tuple(sorted(days))))
        for target in new.fixes:
            self._fixing[target.rpartition("-")[0]].append((target, new.name))
        grown = [new.name, *(one.name for one in twice)]
        while grown:
            name = grown.pop()
            one = self.files[name]
            fixers = self._fixing.get(one.run, ())
            tied = {fixer for target, fixer in fixers if _inside(target, one)}
            if name == new.name:
                tied.update(other.name for other in twice)
            for other_name in tied:
                other = self.files[other_name]
                more = {*other.days, *one.days}
                if len(more) > len(other.days):
                    self._set(structs.replace(other, days=tuple(sorted(more))))
                    grown.append(other_name)
        self.changed = True
        return twice

    def _set(self, one: Facts) -> None:
        if one.name not in self.files:
            self._by_run()[one.run].append(one.name)
        self.files[one.name] = one
        self._days = self._marks = None

    def _by_run(self) -> dict[str, list[str]]:
        if self._runs is None:
            self._runs, self._fixing = defaultdict(list), defaultdict(list)
            for one in self.files.values():
                self._runs[one.run].append(one.name)
                for target in one.fixes:
                    self._fixing[target.rpartition("-")[0]].append((target, one.name))
        return self._runs

    def holding(self, entry_id: str) -> Iterator[Facts]:
        """Yield the segments that may hold an entry."""
        for name in self._by_run().get(entry_id.rpartition("-")[0], ()):
            if _inside(entry_id, self.files[name]):
                yield self.files[name]

    def in_order(self) -> list[Facts]:
        """Return the segments by the first day they touch."""
        known = [one for one in self.files.values() if one.days]
        return sorted(known, key=lambda one: (one.days[0], one.name))

    def touching(self, first: str, last: str) -> list[Facts]:
        """Return the segments that touch a day from the first to the last, both included."""
        return [
            one
            for one in self.files.values()
            if one.days and one.days[0] <= last and one.days[-1] >= first
        ]

    def written(self, since: str, until: str) -> list[Facts]:
        """Return the segments with entries written between two UTC times of entries."""
        return [
            one
            for one in self.files.values()
            if one.since <= until[:19] and one.until >= since[:19]
        ]

    def mark(self, day: str) -> str:
        """Return a mark of the segments that touch this day or an earlier one, as read."""
        if self._marks is None:
            known = self.in_order()
            sums = accumulate((_digest(one) for one in known), lambda a, b: (a + b) % 2**128)
            self._marks = [one.days[0] for one in known], list(sums)
        firsts, sums_until = self._marks
        count = bisect_right(firsts, day)
        return f"{count}-{sums_until[count - 1] if count else 0:032x}"

    def mark_of(self, day: str) -> str:
        """Return a mark of the segments that touch this day, as read."""
        if self._days is None:
            self._days = defaultdict(list)
            for one in self.files.values():
                for touched in one.days:
                    self._days[touched].append(f"{_digest(one):x}")
        return "\n".join(sorted(self._days.get(day, ())))


def put(path: Path, data: bytes) -> None:
    """Write a file of the cache, whole or not at all; it need not outlive a power cut.

    Raises:
        OSError: It cannot be written.
    """
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    part = path.with_name(f".part-{os.getpid()}-{path.name}")
    try:
        part.write_bytes(crc32(data).to_bytes(4, "big") + data)
        part.replace(path)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


def got(path: Path) -> bytes:
    """Return what was put into a file of the cache.

    Raises:
        OSError: It cannot be read.
        ValueError: It is not as it was written.
    """
    try:
        data = read_plain(path, _MOST)
    except NotPlain as error:
        raise ValueError(f"{path} {error}") from None
    if data[:4] != crc32(data[4:]).to_bytes(4, "big"):
        raise ValueError(f"{path} is damaged")
    return data[4:]


def _inside(entry_id: str, one: Facts) -> bool:
    run, _, n = entry_id.rpartition("-")
    return run == one.run and n.isdecimal() and one.low <= int(n) <= one.high


def _digest(one: Facts) -> int:
    """Return the digest in a segment's name, and another while it holds less than that says."""
    digest = int(one.name[-38:-6], 16)
    return digest + crc32(repr(one.problems).encode()) if one.problems else digest
