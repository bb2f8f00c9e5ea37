"""One segment: JSON lines, each chained to the one before by a hash, only ever appended to.

`h`, last in a line, is the SHA-256 (32 hex digits) of the `h` before it and of the line without
`h`. `scan` is the one reader of segments; `SegmentStorage` is their one writer.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, Final, NoReturn

import msgspec
from msgspec import Struct
from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Table

from rounds.records.decoding import Unreadable, decode
from rounds.records.durable import NotPlain, read_plain, read_start, sync_file, sync_folder
from rounds.records.entry import FORMAT, Entry, Open, Unknown

MAX_FILE: Final = 4 * 1024 * 1024
MAX_LINE: Final = 8 * 1024
_TAIL: Final = re.compile(rb',"h":"([0-9a-f]{32})"\}')
_TAIL_LENGTH: Final = 40
_NO_HASH: Final = "has no hash at its end"
_CHANGED: Final = "does not match its hash: changed, moved or doubled"
_UNCHECKED: Final = "cannot be checked, because the line before it cannot be read"


class AppendOnly(Exception):
    """What is written stays: nothing here changes or removes an entry."""


class LineTooLong(ValueError):
    """An entry does not fit in one line of a segment."""


def link(previous: str, body: bytes) -> str:
    """Return the hash of a line: of the hash before it and of the line without `h`."""
    return sha256(previous.encode() + body).hexdigest()[:32]


def chained(bodies: Iterable[bytes]) -> bytes:
    """Return a whole segment of these bodies, in this order."""
    lines = []
    h = ""
    for body in bodies:
        h = link(h, body)
        lines.append(_line(body, h))
    return b"".join(lines)


def _line(body: bytes, h: str) -> bytes:
    return b'%b,"h":"%b"}\n' % (body[:-1], h.encode())


class Line(Struct, frozen=True):
    """A line that is what its writer wrote."""

    number: int
    """From 1."""
    n: int
    """The entry's number in its run, last part of its id."""
    body: bytes
    entry: Entry | Unknown


class Bad(Struct, frozen=True):
    """A line that cannot be read."""

    number: int
    reason: str
    raw: bytes


class Scan(Struct, frozen=True):
    """What a segment's bytes hold. Nothing in them stops the reading of the rest."""

    lines: tuple[Line, ...] = ()
    bad: tuple[Bad, ...] = ()
    torn: bytes = b""
    """What stands after the last line end: writing stopped there, and it was never ticked."""
    digest: str = ""
    """SHA-256 of all bytes, 32 hex digits: a sealed segment's name."""
    newer: bool = False
    """Written in a newer format: its lines are left alone."""

    @property
    def header(self) -> Open | None:
        """Line 1, if it can be read."""
        first = self.lines[0] if self.lines else None
        return first.entry if first and isinstance(first.entry, Open) else None

    @property
    def run(self) -> str:
        """The "<writer>-<run>" all its entries carry; empty when no line can be read."""
        return self.lines[0].entry.id.rpartition("-")[0] if self.lines else ""

    @property
    def writer(self) -> str:
        """The laptop that wrote it; empty when no line can be read."""
        return self.run.partition("-")[0]


def scan(path: Path) -> Scan:
    """Read a segment.

    Raises:
        NotPlain: Not a plain file, or larger than 4 MB.
        OSError: It cannot be read.
    """
    return scan_bytes(read_plain(path, MAX_FILE))


def header(path: Path) -> Open | None:
    """Read line 1 of a segment only; None when it is no header, or the file no plain one.

    Raises:
        OSError: It cannot be read.
    """
    try:
        start = read_start(path, MAX_LINE)
    except NotPlain:
        return None
    return scan_bytes(start[: start.find(b"\n") + 1 or MAX_LINE]).header


def scan_bytes(data: bytes) -> Scan:
    """Read the bytes of a segment: a damaged line costs itself and at most the next."""
    digest = sha256(data).hexdigest()[:32]
    lines: list[Line] = []
    bad: list[Bad] = []
    *whole, torn = data.split(b"\n")
    if _TAIL.fullmatch(torn, max(0, len(torn) - 1 - _TAIL_LENGTH), len(torn) - 1):
        whole.append(torn[:-1])  # only its line end is damaged
        torn = b""
    previous: str | None = ""
    run = ""
    for number, raw in enumerate(whole, 1):
        if len(raw) >= MAX_LINE:
            bad.append(Bad(number, f"is longer than {MAX_LINE} bytes", raw))
            previous = None
            continue
        tail = _TAIL.fullmatch(raw, max(0, len(raw) - _TAIL_LENGTH))
        if tail is None:
            bad.append(Bad(number, _NO_HASH, raw))
            previous = None
            continue
        before, previous = previous, tail[1].decode()
        body = raw[:-_TAIL_LENGTH] + b"}"
        if before is None or link(before, body) != previous:
            bad.append(Bad(number, _UNCHECKED if before is None else _CHANGED, raw))
            continue
        try:
            line = _placed(number, body, decode(body, previous), lines, run)
        except Unreadable as error:
            bad.append(Bad(number, str(error), raw))
            continue
        if number == 1 and isinstance(line.entry, Open) and line.entry.format > FORMAT:
            return Scan((line,), digest=digest, newer=True)
        lines.append(line)
        run = run or line.entry.id.rpartition("-")[0]
    return Scan(tuple(lines), tuple(bad), torn, digest)


def _placed(number: int, body: bytes, entry: Entry | Unknown, before: list[Line], run: str) -> Line:
    """Hold a line to its place: the header first, one run in a segment, numbers that rise."""
    own, _, n = entry.id.rpartition("-")
    if isinstance(entry, Open) != (number == 1):
        raise Unreadable("is a header in the middle" if number > 1 else "is not a header")
    if run and own != run:
        raise Unreadable("carries the id of another run")
    if before and int(n) <= before[-1].n:
        raise Unreadable("carries a number that was used before")
    return Line(number, int(n), body, entry)


class SegmentStorage(Storage):
    """TinyDB's storage of one segment. Its file is made at the first line and is never reopened."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.head = ""
        """The hash of the last line."""
        self.size = 0
        self.count = 0
        self.closed = False
        self._fd: int | None = None

    def read(self) -> dict[str, dict[str, Any]] | None:
        """Return the entries as TinyDB wants them; damaged lines are left out."""
        try:
            lines = scan(self.path).lines
        except (FileNotFoundError, NotPlain):
            return None
        documents = enumerate(map(_document, lines), 1)
        return {TinyDB.default_table_name: {str(number): line for number, line in documents}}

    def write(self, data: Mapping[str, Any]) -> NoReturn:
        """Refuse: TinyDB's other calls rewrite a whole file.

        Raises:
            AppendOnly: Always.
        """
        raise AppendOnly("A segment is only appended to.")

    def append(self, document: Mapping[str, Any]) -> int:
        """Write one entry; it is on the disk when this returns.

        Args:
            document: The entry without `h`.

        Returns:
            Its number in the segment, from 1.

        Raises:
            LineTooLong: More than 8 KB; nothing was written.
            OSError: It may not be on the disk. This file is closed for ever.
        """
        if self.closed:
            raise OSError(errno.EBADF, "this segment is closed", str(self.path))
        body = msgspec.json.encode(document)
        h = link(self.head, body)
        line = _line(body, h)
        if len(line) > MAX_LINE:
            raise LineTooLong(f"An entry of {len(line)} bytes does not fit in {MAX_LINE}.")
        try:
            fresh = self._fd is None
            fd = self._fd = self._create() if self._fd is None else self._fd
            if os.write(fd, line) != len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(self.path))
            sync_file(fd)
            if not os.fstat(fd).st_nlink:
                raise OSError(errno.ENOENT, "its folder is gone", str(self.path))
            if fresh:
                sync_folder(self.path.parent)
        except OSError:
            self._forget_last()
            raise
        self.head, self.size, self.count = h, self.size + len(line), self.count + 1
        return self.count

    def close(self) -> None:
        """Close the file for ever."""
        self.closed = True
        if self._fd is not None:
            fd, self._fd = self._fd, None
            os.close(fd)

    def _create(self) -> int:
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        return os.open(self.path, flags, 0o600)

    def _forget_last(self) -> None:
        """Take back the line that was refused, as far as the disk still obeys, and close."""
        with suppress(OSError):
            if self._fd is not None:
                os.ftruncate(self._fd, self.size)
        with suppress(OSError):
            self.close()


def _document(line: Line) -> dict[str, Any]:
    document: dict[str, Any] = msgspec.to_builtins(line.entry)
    return document


class AppendOnlyTable(Table):
    """TinyDB's table with one way to write: `insert`, at the same cost whatever is in it."""

    def insert(self, document: Mapping[str, Any]) -> int:
        """Append an entry.

        Args:
            document: The entry without `h`.

        Returns:
            Its number in the segment.

        Raises:
            OSError: It may not be on the disk.
        """
        self.clear_cache()
        number: int = self.storage.append(document)  # type: ignore[attr-defined]
        return number

    def _update_table(self, updater: object) -> NoReturn:
        """Stand in the way of every other writing call of TinyDB: all go through here."""
        raise AppendOnly("An entry is never changed or removed: write a correction.")


class Segment(TinyDB):
    """One segment as a TinyDB: `Segment(path)`."""

    table_class = AppendOnlyTable
    default_storage_class = SegmentStorage  # type: ignore[assignment]
