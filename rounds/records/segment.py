"""One segment: JSON lines, each chained to the one before by a hash, only ever appended to.

`h`, last in a line, is the SHA-256 (32 hex digits) of the `h` before it and of the line without
`h`. `scan` is the one reader of segments; `storage.SegmentStorage` is their one writer.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path
from typing import Final

from msgspec import Struct

from rounds.records.decoding import Unreadable, decode
from rounds.records.durable import NotPlain, read_plain, read_start
from rounds.records.entry import FORMAT, Entry, Open, Unknown

MAX_FILE: Final = 4 * 1024 * 1024
MAX_LINE: Final = 8 * 1024
_TAIL: Final = re.compile(rb',"h":"([0-9a-f]{32})"\}')
_TAIL_LENGTH: Final = 40
_NO_HASH: Final = "has no hash at its end"
_CHANGED: Final = "does not match its hash: changed, moved or doubled, or the one before is gone"
_UNCHECKED: Final = "cannot be checked, because the line before it cannot be read"


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
        lines.append(ended(body, h))
    return b"".join(lines)


def ended(body: bytes, h: str) -> bytes:
    """Return a whole line of a body and its hash."""
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
