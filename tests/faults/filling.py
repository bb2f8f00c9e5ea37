"""Disks that are full or fail: no tick without an entry, and writing goes on afterwards."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any

from rounds.records.book import Book, NotSaved
from rounds.records.entry import Note
from tests.faults.devices import Disk, disk, impossible
from tests.faults.row import Row, book, skipped, texts, workplace

MARK = "0 lost, refused ones not there"


def rows(fills: int = 10, failures: int = 300, seed: int = 1) -> list[Row]:
    """Fill an ext4 and an XFS under the book, then let its disk calls fail at random."""
    found: list[Row] = []
    for kind in ("ext4", "xfs") if fills else ():
        what = f"disk full, {kind}, then freed"
        if why := impossible(kind):
            found.append(skipped(what, MARK, why))
            continue
        with workplace() as place, disk(kind, place) as mounted:
            os.environ["ROUNDS_STATE"] = str(mounted.at / "state")
            found.append(_full(what, mounted, fills, Random(seed)))
    found.append(_failing(failures, Random(seed)))
    return found


class _Tally:
    """What was ticked and what was refused, as a person would have it on paper."""

    def __init__(self) -> None:
        self.acked: list[str] = []
        self.refused: list[str] = []

    def say(self, writing: Book, text: str) -> bool:
        try:
            writing.append(Note(text=text))
        except NotSaved:
            self.refused.append(text)
            return False
        self.acked.append(text)
        return True

    def row(self, what: str, trials: int, there: list[str]) -> Row:
        lost = len(set(self.acked) - set(there))
        lies = len(set(self.refused) & set(there)) + len(there) - len(set(there))
        note = f"{lies} refused entries are there all the same" if lies else ""
        tried = bool(self.refused) and bool(self.acked)
        passed = tried and not lost and not lies
        return Row(what, trials, len(self.acked), lost, MARK, passed, note)


def _full(what: str, on: Disk, fills: int, chance: Random) -> Row:
    folder = on.at / "site"
    folder.mkdir()
    tally = _Tally()
    for fill in range(fills):
        with book(folder) as writing:
            tally.say(writing, f"{fill} before")
            filler = _fill(on, chance.randrange(4096, 200_000))
            refused = n = 0
            while refused < 5 and n < 400:
                refused += not tally.say(writing, f"{fill} {n}" + " long" * 300)
                n += 1
            filler.unlink()
            for more in range(5):
                tally.say(writing, f"{fill} after {more}")
    return tally.row(what, fills, texts(folder))


def _fill(on: Disk, left: int) -> Path:
    filler = on.at / "filler"
    size = on.free() - left
    with filler.open("wb") as file:
        while size > 0:
            try:
                os.posix_fallocate(file.fileno(), file.tell(), min(size, 1 << 20))
            except OSError:
                break
            file.seek(min(size, 1 << 20), os.SEEK_CUR)
            size -= 1 << 20
    return filler


def _failing(count: int, chance: Random) -> Row:
    tally = _Tally()
    with workplace() as place:
        folder = place / "site"
        folder.mkdir()
        failed = said = 0
        with _disk_calls(chance) as fails:
            while failed < count:
                fails.clear()
                with book(folder) as writing:
                    for _ in range(12):
                        fails.clear()
                        if chance.random() < 0.3:
                            call = chance.choice(("write", "fsync", "torn"))
                            fails[call] = chance.choice((errno.EIO, errno.ENOSPC, errno.EDQUOT))
                            failed += 1
                        said += 1
                        tally.say(writing, f"entry {said}")
                    fails.clear()
        return tally.row("write or fsync fails (EIO, full, torn)", count, texts(folder))


@contextmanager
def _disk_calls(chance: Random) -> Iterator[dict[str, int]]:
    """Make the next write or fsync of a segment fail as told; the cell is emptied by that."""
    fails: dict[str, int] = {}
    write, fsync = os.write, os.fsync

    def wrapped(real: Callable[..., Any], name: str) -> Callable[..., Any]:
        def call(fd: int, *data: bytes) -> Any:
            if name == "write" and "torn" in fails:
                del fails["torn"]
                return real(fd, data[0][: chance.randrange(len(data[0]))])
            if name in fails:
                code = fails.pop(name)
                raise OSError(code, os.strerror(code))
            return real(fd, *data)

        return call

    os.write, os.fsync = wrapped(write, "write"), wrapped(fsync, "fsync")
    try:
        yield fails
    finally:
        os.write, os.fsync = write, fsync
