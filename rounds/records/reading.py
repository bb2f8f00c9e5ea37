"""Reading the whole book: every readable entry of every writer, once, and what came since."""

from __future__ import annotations

import os
import time
from array import array
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from functools import partial
from heapq import merge
from itertools import chain
from pathlib import Path
from threading import Lock
from typing import Final, TypeVar

from rounds.records.aside import Problem
from rounds.records.durable import NotPlain
from rounds.records.entry import Entry
from rounds.records.index import Index, Stamp, stamp
from rounds.records.layout import (
    OpenFile,
    SealedFile,
    open_files,
    sealed_tree,
    told_apart,
    writer_folders,
)
from rounds.records.segment import scan
from rounds.records.taking import Facts, Taken, facts, misplaced, seen, taken

__all__ = ["Given", "Reader", "misplaced"]

_T = TypeVar("_T")

_SETTLED_NS: Final = 4_000_000_000
"""A folder that changed less long ago may change again and keep the time of its last change."""


class Given:
    """Which entries there have been, and a mark of their bytes: 12 bytes an entry."""

    def __init__(self) -> None:
        self._runs: dict[str, tuple[array[int], array[int]]] = {}
        self._turn = Lock()

    def add(self, entry_id: str, body: bytes) -> bool | None:
        """Take an entry in; None when it is new, else whether it was the same before."""
        run, _, number = entry_id.rpartition("-")
        n, mark = int(number), hash(body)
        with self._turn:
            if run not in self._runs:
                self._runs[run] = array("I"), array("q")
            numbers, marks = self._runs[run]
            at = len(numbers) if not numbers or numbers[-1] < n else bisect_left(numbers, n)
            if at < len(numbers) and numbers[at] == n:
                return marks[at] == mark
            numbers.insert(at, n)
            marks.insert(at, mark)
            return None

    def knows(self, run: str) -> bool:
        """Tell whether an entry of a run was taken in one by one."""
        return run in self._runs


class Reader:
    """Hands out every entry once. Open files grow and sealed names appear; both are new entries.

    Of two entries with one id and different bytes the first by file name is kept, on every laptop
    the same one; the other is a problem. What stands in the index is not handed out again.
    """

    def __init__(self, records: Path, site_id: str, index: Index | None = None) -> None:
        self.problems: dict[tuple[str, int], Problem] = {}
        self.unknown: Counter[str] = Counter()
        """Entries of kinds this version does not know."""
        self.index = index or Index(site_id)
        self.listed = 0
        """Sealed segments that the last look found new; all are read in one go."""
        self._records = records
        self._site_id = site_id
        self.given = Given()
        self._sizes: dict[str, int] = {}
        self._folders: dict[str, Stamp] = {}
        """The folders of which all names are known, as they were found then."""
        self._again: set[str] = set()
        """Damaged segments that were replaced, to be read anew."""
        self._single: set[str] = set()
        """Segments whose entries are among those given one by one."""

    def resume(self, cache: Path) -> None:
        """Take up what an earlier run knew of the sealed segments; they are not handed out."""
        tree = sealed_tree(self._records)
        began = time.time_ns()
        folders: dict[str, Stamp] = {}
        for writer in self._listed("sealed", lambda: writer_folders(tree)):
            with suppress(OSError):
                folders[writer] = stamp(tree / writer)

        def names(writer: str) -> list[str] | None:
            with suppress(OSError):
                return os.listdir(tree / writer)
            return None

        for writer in self.index.load(cache, tree, folders, names):
            self._rests(writer, folders[writer], began)
        for known in self.index.near.values():
            if known.unknown or known.problems:
                self.unknown.update(known.unknown)
                for line, says in known.problems:
                    self._tell(known.name, line, says)

    def fresh(self) -> Iterator[Entry]:
        """Hand out what was not handed out before: sealed segments first, then open ones."""
        return chain.from_iterable(entries for _, entries in self.batches())

    def batches(self) -> Iterator[tuple[str, Iterable[Entry]]]:
        """Hand out the same a file at a time.

        Returns:
            The day in a sealed segment's name, "20261124", by which they come, empty for an open
            one; its entries.
        """
        tree = sealed_tree(self._records)
        vanished: set[OpenFile] = set()
        again = True
        while again:
            again = False
            running = self._listed("open", lambda: open_files(self._records))
            for sealed in self._new_sealed(tree):
                found = self._taken(sealed, tree)
                if found is not None:
                    yield sealed.day, found
            for file in running:
                path = file.path(self._records)
                try:
                    size = path.stat().st_size
                    if self._sizes.get(file.name) != size:
                        grown = self._scanned(file, path)
                        if grown is not None:
                            self._sizes[file.name] = size
                            yield "", grown
                except FileNotFoundError:  # sealed while we read: its new name is listed next
                    again = again or file not in vanished
                    vanished.add(file)
                except OSError as error:
                    self._tell(file.name, 0, f"cannot be read: {error.strerror}")

    def reread(self, known: Iterable[Facts]) -> Iterator[Entry]:
        """Hand out the entries of segments of the index again, doubles too."""
        tree = sealed_tree(self._records)
        for one in known:
            found = self._read(_file_of(one.name), tree, sound=not (one.problems or one.unknown))
            yield from found.entries if found is not None else ()

    def opened(self) -> Iterator[Entry]:
        """Hand out the entries of all open segments again."""
        for file in self._listed("open", lambda: open_files(self._records)):
            try:
                found = scan(file.path(self._records))
            except (OSError, NotPlain):
                continue
            if not misplaced(found, file, self._site_id):
                yield from (x.entry for x in found.lines if isinstance(x.entry, Entry))

    def _listed(self, name: str, names: Callable[[], tuple[_T, ...]]) -> tuple[_T, ...]:
        try:
            return names()
        except OSError as error:
            self._tell(name, 0, f"cannot be listed: {error.strerror}")
            return ()

    def _new_sealed(self, tree: Path) -> Iterator[SealedFile]:
        """Yield the new names of all writers, by the day in them; those of a writer in order."""
        changed: dict[str, tuple[Stamp, tuple[SealedFile, ...]]] = {}
        began = time.time_ns()
        unlisted, self.index.unlisted = self.index.unlisted, {}  # trusted once
        for writer in self._listed("sealed", lambda: writer_folders(tree)):
            try:
                at = stamp(tree / writer)
            except OSError:
                continue
            if at not in (self._folders.get(writer), unlisted.get(writer)):
                self._look_again(writer, tree)
                changed[writer] = at, self._listed(writer, partial(self._new, tree, writer))
        self.listed = sum(len(files) for _, files in changed.values())
        yield from merge(*(files for _, files in changed.values()), key=lambda file: file.day)
        for writer, (at, files) in changed.items():
            self._folders.pop(writer, None)
            known = all(file.name in self.index.near for file in files)
            if known and self._again.isdisjoint(file.name for file in files):
                self._rests(writer, at, began)

    def _rests(self, writer: str, at: Stamp, looked: int) -> None:
        """Let a folder of which all names are known rest, unless it may keep its stamp and change.

        Args:
            writer: The writer.
            at: The folder as it was found.
            looked: When, ns.
        """
        if looked - at[1] > _SETTLED_NS:
            self._folders[writer] = at
            self.index.rests(writer, at)

    def _new(self, tree: Path, writer: str) -> tuple[SealedFile, ...]:
        """List the segments of a writer that are not in the index, in order."""
        with os.scandir(tree / writer) as items:
            there = {item.name: item for item in items}
        again = (name for name in there if f"{writer}/{name}" in self._again)
        new = [*self.index.strange(writer, list(there)), *again]
        plain = ((name, there[name].is_file(follow_symlinks=False)) for name in new)
        return told_apart(writer, plain).files

    def _look_again(self, writer: str, tree: Path) -> None:
        """Let damaged segments be read anew that were replaced since."""
        for known in list(self.index.near.values()):
            damaged = known.problems and known.name.startswith(f"{writer}/")
            if damaged and known.seen != seen(tree / known.name):
                self._again.add(known.name)
                for at in [at for at in self.problems if at[0] == known.name]:
                    del self.problems[at]

    def _read(self, file: SealedFile, tree: Path, *, sound: bool = False) -> Taken | None:
        """Read a sealed segment; None when it may be read later."""
        try:
            return taken(file.path(tree), file, self._site_id, sound=sound)
        except FileNotFoundError:
            says = "is gone"
        except NotPlain as error:
            says = f"cannot be read: {error}"
        except OSError as error:  # perhaps held by a virus scanner
            self._tell(file.name, 0, f"cannot be read: {error.strerror}")
            return None
        return Taken([], b"", Counter(), [(0, says)], says)

    def _taken(self, file: SealedFile, tree: Path) -> Sequence[Entry] | None:
        """Return what is new in a sealed segment; None when it is to be tried again."""
        was = seen(file.path(tree))
        found = self._read(file, tree)
        if found is None:
            return None
        self._again.discard(file.name)
        self.problems.pop((file.name, 0), None)
        known = facts(file, found, was)
        twice = self.index.add(known)
        if found.unknown:
            self.unknown.update(found.unknown)
        for line, says in found.problems:
            self._tell(file.name, line, says)
        if not twice and not self.given.knows(known.run):
            return found.entries
        for other in twice:
            self._one_by_one(other, tree)
        self._single.add(file.name)
        return self._once(file.name, zip(found.entries, found.bodies, strict=True))

    def _one_by_one(self, known: Facts, tree: Path) -> None:
        """Note the entries of a segment of the index among those given one by one."""
        if known.name not in self._single:
            self._single.add(known.name)
            found = self._read(_file_of(known.name), tree)
            for entry, body in zip(found.entries, found.bodies, strict=True) if found else ():
                self.given.add(entry.id, body)

    def _once(self, name: str, entries: Iterable[tuple[Entry, bytes]]) -> list[Entry]:
        new = []
        for entry, body in entries:
            same = self.given.add(entry.id, body)
            if same is None:
                new.append(entry)
            elif not same:
                self._tell(name, 0, f"{entry.id} was written twice, differently")
        return new

    def _scanned(self, file: OpenFile, path: Path) -> list[Entry] | None:
        """Return what is new in an open segment; None when it is to be tried again.

        Raises:
            OSError: It cannot be read now, or it was sealed meanwhile.
        """
        try:
            found = scan(path)
        except NotPlain as error:
            self._tell(file.name, 0, f"cannot be read: {error}")
            return []
        self.problems.pop((file.name, 0), None)
        if refused := misplaced(found, file, self._site_id):
            self._tell(file.name, 0, refused)
            return []
        for bad in found.bad:
            self._tell(file.name, bad.number, bad.reason)
        first = found.lines[0].entry.id if found.lines else ""
        for line in found.lines[:1] + found.lines[-1:]:
            for known in self.index.holding(line.entry.id) if first else ():
                self._one_by_one(known, sealed_tree(self._records))
        new: list[Entry] = []
        for line in found.lines:
            if isinstance(line.entry, Entry):
                new += self._once(file.name, [(line.entry, line.body)])
            elif self.given.add(line.entry.id, line.body) is None:
                self.unknown[line.entry.kind] += 1
        return new

    def _tell(self, file: str, line: int, says: str) -> None:
        self.problems.setdefault((file, line), Problem(file, line, says))


def _file_of(name: str) -> SealedFile:
    writer, _, base = name.partition("/")
    seg, day, digest = base.removesuffix(".jsonl").split("_")
    return SealedFile(writer, int(seg), day, digest)
