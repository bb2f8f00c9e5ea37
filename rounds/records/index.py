"""Which days each sealed segment touches: what lets a start read a few files of many.

It can be made again at will. What it says of a name never changes, since the name is the digest of
the bytes; so an old index, or one another program wrote, is incomplete at worst. The segments of
days long over stay folded up (`far`): a start holds their names to those that are there where their
folder changed since, and the first one of a day does so everywhere, and looks at the files too.
"""

from __future__ import annotations

import os
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import date
from itertools import accumulate
from pathlib import Path
from threading import RLock
from typing import Final
from zlib import crc32

import msgspec
from msgspec import structs

from rounds.records.durable import NotPlain, read_plain
from rounds.records.far import Far, folded
from rounds.records.taking import Facts, seen

FORM: Final = 3
"""Raised whenever facts change their meaning, or more is asked of a line: all is read anew."""
_NAME: Final = "segments.mp"
_MOST: Final = 256 * 1024 * 1024

Stamp = tuple[int, ...]
"""What of a folder is another as soon as a name in it is."""


class _Kept(msgspec.Struct, array_like=True):
    form: int
    site: str
    looked: str
    """The day on which each file was looked at, as this machine has it."""
    folders: dict[str, Stamp]
    near: list[Facts]
    far: Far


class Index:
    """What is known of the sealed segments that are there. Safe to ask from threads."""

    def __init__(self, site_id: str) -> None:
        self.changed = False
        """Something is in it that was not read from the cache."""
        self._site_id = site_id
        self.unlisted: dict[str, Stamp] = {}
        """The writers whose names nobody listed: their folders are as they were then."""
        self._looked = ""
        self._folders: dict[str, Stamp] = {}
        self._turn = RLock()
        self._begin({}, Far())

    def _begin(self, near: dict[str, Facts], far: Far) -> None:
        self._known = near, far
        """The segments by name, and those that are folded up still."""
        self._runs: dict[str, list[str]] | None = None
        self._fixing: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
        """By run of what they correct: what, and the segments of such corrections."""
        self._days: dict[str, list[str]] | None = None
        self._marks: tuple[list[str], list[int]] | None = None

    def __bool__(self) -> bool:
        """Tell whether a segment is known."""
        near, far = self._known
        return bool(near or far.count)

    @property
    def near(self) -> dict[str, Facts]:
        """The segments that are not folded up, by name: those with problems are among them."""
        return self._known[0]

    @property
    def files(self) -> dict[str, Facts]:
        """All segments, by name."""
        with self._turn:
            near, far = self._known
            if far.count:
                self._begin({one.name: one for one in far.unfolded()} | near, Far())
            return self._known[0]

    def load(
        self,
        cache: Path,
        tree: Path,
        folders: Mapping[str, Stamp],
        names: Callable[[str], Sequence[str] | None],
    ) -> list[str]:
        """Take over what an earlier run knew of the segments that are there still.

        Args:
            cache: The folder of what can be made again at will.
            tree: The folder of sealed segments.
            folders: The writers that have a folder there, and as what it is found.
            names: Lists the names in a writer's folder; None where it cannot be listed.

        Returns:
            The writers of whom nothing else is there.
        """
        today, looked = date.today().isoformat(), True
        listed: dict[str, Sequence[str] | None]
        rested: dict[str, Stamp] = {}
        try:
            kept = msgspec.msgpack.decode(got(cache / _NAME), type=_Kept)
            if (kept.form, kept.site) != (FORM, self._site_id):
                raise ValueError("of another form or site")
            near, far, looked = {one.name: one for one in kept.near}, kept.far, kept.looked == today
            if looked and _tells(cache, tree):
                rested = {w: at for w, at in kept.folders.items() if at and folders.get(w) == at}
            listed = {writer: names(writer) for writer in folders if writer not in rested}
            others = {w: None if n is None else far.others(w, n) for w, n in listed.items()}
            same = None not in others.values() and far.names.keys() <= folders.keys()
            gone = _gone(kept.near, tree)
            if gone or not same or not looked:
                old = far.unfolded()
                gone |= _gone(old, tree)
                if gone or not same:
                    near, far, others = {one.name: one for one in old} | near, Far(), listed
        except (OSError, ValueError, RecursionError):
            near, far, gone, rested = {}, Far(), set(), {}
            others = listed = {writer: names(writer) for writer in folders}
        near = {name: one for name, one in near.items() if name not in gone}
        for name in gone:
            rested.pop(name.partition("/")[0], None)
        self.changed = bool(gone) or not looked
        self._looked, self._folders, self.unlisted = today, dict(rested), rested
        self._begin(near, far)
        return [
            w for w, bases in others.items()
            if bases is not None and all(f"{w}/{base}" in near for base in bases)
        ]  # fmt: skip

    def rests(self, writer: str, at: Stamp) -> None:
        """Note that all names in a writer's folder are known, and as what it was found then."""
        if self._folders.get(writer) != at:
            self._folders[writer] = at
            self.changed = True

    def save(self, cache: Path, until: str) -> None:
        """Keep it for the next run.

        Args:
            cache: The folder of what can be made again at will.
            until: Segments of this day, site-local, and of earlier ones may be folded up.

        Raises:
            OSError: It cannot be written.
        """
        with self._turn:
            near, far = self._known
            if far.until != until:
                near, far = folded(self.files, until)
            kept = _Kept(
                FORM, self._site_id, self._looked, dict(self._folders), list(near.values()), far
            )
        put(cache / _NAME, msgspec.msgpack.encode(kept))
        self.changed = False

    def forget(self, names: Collection[str]) -> None:
        """Let segments be read anew: they are not what was read."""
        with self._turn:
            self._begin({n: one for n, one in self.files.items() if n not in names}, Far())
            for name in names:
                self._folders.pop(name.partition("/")[0], None)

    def strange(self, writer: str, bases: Sequence[str]) -> list[str]:
        """Return those names in a writer's folder that are of no segment known here."""
        near, far = self._known
        others = far.others(writer, bases)
        if others is None:
            near, others = self.files, bases
        return [base for base in others if f"{writer}/{base}" not in near]

    def add(self, new: Facts) -> list[Facts]:
        """Take in what is known of one more segment; returns others that hold entries of its ids.

        A segment touches the days of what its corrections correct: that is followed to the end,
        whichever came first.
        """
        with self._turn:
            return self._add(new)

    def _add(self, new: Facts) -> list[Facts]:
        twice = [
            other
            for other in self._of_run(new.run)
            if other.name != new.name
            and other.low <= new.high
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
            one = self.near[name]
            self._reach(one.run)
            fixers = self._fixing.get(one.run, ())
            tied = {fixer for target, fixer in fixers if _inside(target, one)}
            if name == new.name:
                tied.update(other.name for other in twice)
            for other_name in tied:
                other = self.near[other_name]
                more = {*other.days, *one.days}
                if len(more) > len(other.days):
                    self._set(structs.replace(other, days=tuple(sorted(more))))
                    grown.append(other_name)
        self.changed = True
        return twice

    def _set(self, one: Facts) -> None:
        runs, near = self._reach(one.run), self.near
        if one.name not in near or near[one.name].run != one.run:
            runs[one.run].append(one.name)
        near[one.name] = one
        self._days = self._marks = None

    def _reach(self, run: str) -> dict[str, list[str]]:
        """Return the segments by run, those folded up too where they have to do with this one."""
        near, far = self._known
        if far.has(run):
            near = self.files
        if self._runs is None:
            self._runs, self._fixing = defaultdict(list), defaultdict(list)
            for one in near.values():
                self._runs[one.run].append(one.name)
                for target in one.fixes:
                    self._fixing[target.rpartition("-")[0]].append((target, one.name))
        return self._runs

    def _of_run(self, run: str) -> list[Facts]:
        with self._turn:
            names = self._reach(run).get(run, ())
            return [one for name in names if (one := self.near[name]).run == run]

    def holding(self, entry_id: str) -> list[Facts]:
        """Return the segments that may hold an entry."""
        return [one for one in self._of_run(entry_id.rpartition("-")[0]) if _inside(entry_id, one)]

    def _back_to(self, day: str) -> list[Facts]:
        """Return the segments, those folded up too where one may touch this day or a later one."""
        near, far = self._known
        return list((self.files if day <= far.until else near).values())

    def after(self, day: str) -> list[Facts]:
        """Return the segments that touch a later day than this, by the first day they touch."""
        found = [one for one in self._back_to(day) if one.days and one.days[-1] > day]
        return sorted(found, key=_first_day)

    def touching(self, first: str, last: str) -> list[Facts]:
        """Return the segments that touch a day from the first to the last, both included."""
        return [
            one
            for one in self._back_to(first)
            if one.days and one.days[0] <= last and one.days[-1] >= first
        ]

    def written(self, since: str, until: str) -> list[Facts]:
        """Return the segments with entries written between two UTC times of entries."""
        near, far = self._known
        return [
            one
            for one in list((self.files if since[:19] <= far.newest else near).values())
            if one.since <= until[:19] and one.until >= since[:19]
        ]

    def mark(self, day: str) -> str:
        """Return a mark of the segments that touch this day or an earlier one, as read."""
        with self._turn:
            near, far = self._known
            if day < far.until:
                near, far = self.files, Far()
            if self._marks is None:
                known = sorted((one for one in near.values() if one.days), key=_first_day)
                sums = accumulate(one.mark for one in known)
                self._marks = [one.days[0] for one in known], list(sums)
            firsts, until = self._marks
            count = bisect_right(firsts, day)
            total = int(far.total, 16) + (until[count - 1] if count else 0)
            return f"{far.count + count}-{total % 2**128:032x}"

    def mark_of(self, day: str) -> str:
        """Return a mark of the segments that touch this day, as read."""
        with self._turn:
            known = self._back_to(day)
            if self._days is None:
                self._days = defaultdict(list)
                for one in known:
                    for touched in one.days:
                        self._days[touched].append(f"{one.mark:x}")
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


def got(path: Path) -> memoryview:
    """Return what was put into a file of the cache.

    Raises:
        OSError: It cannot be read.
        ValueError: It is not as it was written.
    """
    try:
        data = read_plain(path, _MOST)
    except NotPlain as error:
        raise ValueError(f"{path} {error}") from None
    kept = memoryview(data)[4:]
    if data[:4] != crc32(kept).to_bytes(4, "big"):
        raise ValueError(f"{path} is damaged")
    return kept


def stamp(folder: Path) -> Stamp:
    """Return what tells that a folder changed.

    Raises:
        OSError: There is none.
    """
    found = os.stat(folder, follow_symlinks=False)
    return found.st_ino, found.st_mtime_ns, found.st_ctime_ns


def _tells(cache: Path, tree: Path) -> bool:
    """Tell whether folders here change with what lies in them: not on every mounted service."""
    folder, kept = os.stat(cache), os.stat(cache / _NAME)
    return folder.st_mtime_ns >= kept.st_mtime_ns and folder.st_dev == os.stat(tree).st_dev


def _gone(known: Iterable[Facts], tree: Path) -> set[str]:
    """Return the names of which the files are not as they were read."""
    return {one.name for one in known if seen(f"{tree}/{one.name}") != one.seen}


def _inside(entry_id: str, one: Facts) -> bool:
    run, _, n = entry_id.rpartition("-")
    return run == one.run and n.isdecimal() and one.low <= int(n) <= one.high


def _first_day(one: Facts) -> tuple[str, str]:
    return one.days[0], one.name
