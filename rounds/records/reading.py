"""Reading the whole book: every readable entry of every writer, once, and what came since."""

from __future__ import annotations

import time
from array import array
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Generator, Iterator
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Final, TypeVar

from rounds.records.aside import Problem
from rounds.records.durable import NotPlain
from rounds.records.entry import Entry
from rounds.records.layout import (
    OpenFile,
    SealedFile,
    open_files,
    sealed_tree,
    writer_files,
    writer_folders,
)
from rounds.records.segment import Scan, scan

_T = TypeVar("_T")

_SETTLED_NS: Final = 4_000_000_000
"""A folder that changed less long ago may change again and keep the time of its last change."""


def misplaced(found: Scan, file: OpenFile | SealedFile, site_id: str) -> str:
    """Say why a segment does not belong under its name; empty when it does."""
    if found.newer:
        return "was written by a newer version of rounds: update this laptop"
    header = found.header
    if header is not None and header.site != site_id:
        return "belongs to another site"
    if found.run and found.writer != file.writer:
        return "holds the entries of another laptop"
    if found.run and isinstance(file, OpenFile) and found.run != f"{file.writer}-{file.run}":
        return "holds the entries of another run"
    if header is not None and (header.writer, header.seg) != (file.writer, file.seg):
        return "names another laptop or number in its first line"
    return ""


def _files(tree: Path, writer: str) -> tuple[SealedFile, ...]:
    return writer_files(tree, writer).files


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


class Reader:
    """Hands out every entry once. Open files grow and sealed names appear; both are new entries.

    Of two entries with one id and different bytes the first by file name is kept, on every laptop
    the same one; the other is a problem.
    """

    def __init__(self, records: Path, site_id: str) -> None:
        self.problems: dict[tuple[str, int], Problem] = {}
        self.unknown: Counter[str] = Counter()
        """Entries of kinds this version does not know."""
        self._records = records
        self._site_id = site_id
        self.given = Given()
        self._sizes: dict[str, int] = {}
        self._sealed: set[SealedFile] = set()
        self._folders: dict[str, int] = {}

    def fresh(self) -> Iterator[Entry]:
        """Hand out what was not handed out before: sealed segments first, then open ones."""
        tree = sealed_tree(self._records)
        vanished: set[OpenFile] = set()
        again = True
        while again:
            again = False
            running = self._listed("open", lambda: open_files(self._records))
            for sealed in self._new_sealed(tree):
                if (yield from self._file(sealed, sealed.path(tree))):
                    self._sealed.add(sealed)
            for file in running:
                path = file.path(self._records)
                try:
                    size = path.stat().st_size
                    grown = self._sizes.get(file.name) != size
                    if grown and (yield from self._file(file, path)):
                        self._sizes[file.name] = size
                except FileNotFoundError:  # sealed while we read: its new name is listed next
                    again = again or file not in vanished
                    vanished.add(file)
                except OSError as error:
                    self._tell(file.name, 0, f"cannot be read: {error.strerror}")

    def _listed(self, name: str, names: Callable[[], tuple[_T, ...]]) -> tuple[_T, ...]:
        try:
            return names()
        except OSError as error:
            self._tell(name, 0, f"cannot be listed: {error.strerror}")
            return ()

    def _new_sealed(self, tree: Path) -> Iterator[SealedFile]:
        for writer in self._listed("sealed", lambda: writer_folders(tree)):
            try:
                changed = (tree / writer).stat().st_mtime_ns
            except OSError:
                continue
            if self._folders.get(writer) == changed:
                continue
            files = self._listed(writer, partial(_files, tree, writer))
            settled = time.time_ns() - changed > _SETTLED_NS
            yield from (file for file in files if file not in self._sealed)
            settled = settled and self._sealed.issuperset(files)
            self._folders[writer] = changed if settled else -1

    def _file(self, file: OpenFile | SealedFile, path: Path) -> Generator[Entry, None, bool]:
        """Hand out what is new in a file; returns whether it need not be tried again as it is."""
        try:
            found = scan(path)
        except FileNotFoundError:
            if isinstance(file, OpenFile):
                raise
            self._tell(file.name, 0, "is gone")
            return True
        except NotPlain as error:
            self._tell(file.name, 0, f"cannot be read: {error}")
            return True
        except OSError as error:  # perhaps held by a virus scanner
            self._tell(file.name, 0, f"cannot be read: {error.strerror}")
            return False
        self.problems.pop((file.name, 0), None)
        if refused := misplaced(found, file, self._site_id):
            self._tell(file.name, 0, refused)
            return True
        for bad in found.bad:
            self._tell(file.name, bad.number, bad.reason)
        if isinstance(file, SealedFile) and found.digest != file.digest:
            self._tell(file.name, 0, "was changed after it was sealed")
        for line in found.lines:
            entry = line.entry
            same = self.given.add(entry.id, line.body)
            if same is None:
                if isinstance(entry, Entry):
                    yield entry
                else:
                    self.unknown[entry.kind] += 1
            elif not same:
                self._tell(file.name, line.number, f"{entry.id} was written twice, differently")
        return True

    def _tell(self, file: str, line: int, says: str) -> None:
        self.problems.setdefault((file, line), Problem(file, line, says))
