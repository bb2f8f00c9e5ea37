"""Writing: one run's segments, their numbers and headers, and what an entry gets when written."""

from __future__ import annotations

import errno
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypeVar, cast

import msgspec

from rounds import __version__
from rounds.records import ballast, identity
from rounds.records.decoding import Unreadable, check, cleaned, encode, fields
from rounds.records.durable import make_folder
from rounds.records.entry import FORMAT, Clock, Entry, Open, stamp
from rounds.records.layout import (
    LAST_SEG,
    OpenFile,
    SealedFile,
    open_files,
    sealed_tree,
    writer_files,
    writer_folders,
)
from rounds.records.locks import taken
from rounds.records.segment import MAX_FILE, MAX_LINE, header

if TYPE_CHECKING:
    from filelock import BaseFileLock

    from rounds.records.storage import Segment, SegmentStorage

_E = TypeVar("_E", bound=Entry)

FULL: Final = 512
"""Entries in a segment before the next one begins."""
_JUMP_S: Final = 2.0
_SEEN: Final = 60
"""Other laptops named in a header."""
_LOOKED_AT: Final = 64
"""Own segments, from the newest, that a header may have to name."""


class _NoNumber(Exception):
    """No number is left under a name."""


def utc_now() -> datetime:
    """Return the time now, aware, UTC."""
    return datetime.now(UTC)


def steady_s() -> float:
    """Return seconds of a clock that nobody sets and that runs on while the laptop sleeps."""
    for name in ("CLOCK_BOOTTIME", "CLOCK_MONOTONIC"):
        if hasattr(time, name):
            return time.clock_gettime(getattr(time, name))
    return time.monotonic()


class Writer:
    """What one run of the program writes. Its user holds a lock around each call."""

    def __init__(
        self,
        folder: Path,
        site_id: str,
        site_digest: str,
        tz: tzinfo,
        clock: Callable[[], datetime],
        steady: Callable[[], float],
        tell: Callable[[str, bytes], None],
    ) -> None:
        self._folder = folder
        self._records = folder / "records"
        self._had_records = self._records.is_dir()
        self._site_id = site_id
        self._site_digest = site_digest
        self._tz = tz
        self._clock = clock
        self._steady = steady
        self._tell = tell
        self._run = identity.token()
        self._n = 0
        self._began = steady()
        self._drift: float | None = None
        self._writer = ""
        self._segment: Segment | None = None
        self._lock: BaseFileLock | None = None

    def append(self, entry: _E) -> _E:
        """Write an entry, after a `clock` entry if the clock jumped.

        Raises:
            OSError: It may not be on the disk; its segment is closed for ever.
            LineTooLong: It does not fit in a line; nothing was written.
            ValueError: A time or number in it is none.
        """
        now, mono = self._clock(), self._steady() - self._began
        drift = now.timestamp() - mono
        jump = 0.0 if self._drift is None else drift - self._drift
        try:
            segment = self._segment  # never by its truth: that would read the whole segment
            if segment is None:
                segment = self._open(now, mono, entry.by)
            if abs(jump) > _JUMP_S:
                self._write(segment, Clock(jump_s=round(jump, 1)), now, mono)
            if abs(jump) > _JUMP_S or self._drift is None:
                self._drift = drift
            return self._write(segment, entry, now, mono)
        except OSError:
            self.close()
            raise

    def begin(self, by: str) -> None:
        """Begin a segment without an entry: its header says what this laptop works with.

        Raises:
            OSError: It may not be on the disk.
        """
        if self._segment is None:
            self._open(self._clock(), self._steady() - self._began, by)

    @property
    def full(self) -> bool:
        """Whether the segment has had its number of entries."""
        if self._segment is None:
            return False
        storage = _storage(self._segment)
        return storage.count > FULL or storage.size > MAX_FILE - 4 * MAX_LINE

    def close(self) -> None:
        """Close the segment for ever and let go of it, so that it can be sealed."""
        segment, self._segment = self._segment, None
        lock, self._lock = self._lock, None
        if segment is not None:
            with suppress(OSError):
                segment.close()
        if lock is not None:
            with suppress(OSError):
                lock.release()

    def _open(self, now: datetime, mono: float, by: str) -> Segment:
        from rounds.records.storage import Segment

        if self._had_records and not self._records.is_dir():  # a stick that was pulled
            raise OSError(errno.ENOENT, "its folder is gone", str(self._records))
        make_folder(self._records / "open")
        self._had_records = True
        if not self._writer:  # once a run: what was given back to a full disk stays with it
            ballast.keep(self._folder)
        self._writer = identity.make_writer_id(self._folder, self._site_id)
        try:
            file, self._lock = _reserved(self._records, self._writer, self._run)
        except _NoNumber:  # of a million; or who wrote under this name left none
            identity.forget_writer_id(self._folder, self._site_id)
            self._writer = identity.make_writer_id(self._folder, self._site_id)
            file, self._lock = _reserved(self._records, self._writer, self._run)
        segment = Segment(file.path(self._records))
        since, before, who = self._changed_over(now, by)
        first = Open(
            format=FORMAT,
            site=self._site_id,
            site_digest=self._site_digest,
            writer=self._writer,
            seg=file.seg,
            prev=_previous(sealed_tree(self._records), self._writer),
            seen=_seen(sealed_tree(self._records), self._writer),
            app=__version__,
            site_since=since,
            site_before=before,
            site_by=who,
        )
        self._write(segment, first, now, mono)
        self._segment = segment
        return segment

    def _changed_over(self, now: datetime, by: str) -> tuple[str, str, str]:
        """Return when this laptop changed over to the site files of now, from which, and who."""
        tree, first = sealed_tree(self._records), None
        with suppress(OSError):
            for file in _sealed(tree, self._writer)[-1:]:
                first = header(file.path(tree))
        if first is None or not first.site_digest:
            return "", "", ""
        if first.site_digest == self._site_digest:
            return first.site_since, first.site_before, first.site_by
        return stamp(now), first.site_digest, by

    def _write(self, segment: Segment, entry: _E, now: datetime, mono: float) -> _E:
        local = now.astimezone(self._tz)
        written = msgspec.structs.replace(
            cleaned(entry),
            id=f"{self._writer}-{self._run}-{self._n}",
            t=stamp(now),
            off=local.isoformat()[-6:],
            day=entry.day or f"{local:%Y-%m-%d}",
            mono=round(mono, 3),
            h="",
        )
        try:
            check(written)
        except Unreadable as error:
            raise ValueError(f"{fields(entry)['kind']} entry: {error}") from error
        self._n += 1
        self._tell(written.id, encode(written))
        segment.insert(fields(written))
        msgspec.structs.force_setattr(written, "h", _storage(segment).head)
        return written


def _storage(segment: Segment) -> SegmentStorage:
    return cast("SegmentStorage", segment.storage)


def _reserved(records: Path, writer: str, run: str) -> tuple[OpenFile, BaseFileLock]:
    """Find the next free number of this laptop; holding its lock keeps other runs off it."""
    seg = 0
    while True:
        seg = max((seg, *_used(records, writer))) + 1
        if seg > LAST_SEG:
            raise _NoNumber
        file = OpenFile(writer, seg, run)
        lock = taken(file.lock_path(records))
        if lock is not None:
            if seg not in _used(records, writer):
                return file, lock
            lock.release()


def _used(records: Path, writer: str) -> set[int]:
    """Return the numbers in use; open ones first, since sealing moves them from there."""
    used = {file.seg for file in open_files(records) if file.writer == writer}
    return used | {file.seg for file in _sealed(sealed_tree(records), writer)}


def _sealed(tree: Path, writer: str) -> tuple[SealedFile, ...]:
    """List what can be listed: a folder that cannot be read must not stop the writing."""
    try:
        return writer_files(tree, writer).files
    except OSError:
        return ()


def _previous(tree: Path, writer: str) -> str:
    """Name the sealed segments of this laptop that no header names yet, joined by blanks.

    One, as a rule; more after two programs ran at once.
    """
    newest = _sealed(tree, writer)[-_LOOKED_AT:]
    named: set[str] = set()
    for file in newest:
        with suppress(OSError):
            first = header(file.path(tree))
            named.update(first.prev.split() if first else ())
    return " ".join(file.digest for file in newest if file.digest not in named)


def _seen(tree: Path, writer: str) -> dict[str, str]:
    """Name the newest segment seen of each other laptop."""
    with suppress(OSError):
        others = [_sealed(tree, other) for other in writer_folders(tree) if other != writer]
        newest = sorted((files[-1] for files in others if files), key=lambda file: file.day)
        return {file.writer: file.head for file in newest[-_SEEN:]}
    return {}
