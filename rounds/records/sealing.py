"""Sealing: a dead run's open segment becomes an immutable file named by its digest.

The sealed bytes are the whole lines as they were written. A damaged line goes aside; a `damage`
entry takes its place and its number, and the lines after it are chained anew, so that what is
sealed is always whole. With what lies aside the old file can be put together again. Sealing twice
makes the same bytes and the same name.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Final

from rounds.records.aside import TORN, Label, set_aside
from rounds.records.decoding import encode
from rounds.records.durable import NotPlain, make_folder, sync_folder, write_new
from rounds.records.entry import FORMAT, Damage, Entry, Open, stamp
from rounds.records.layout import OpenFile, SealedFile, open_files, sealed_tree
from rounds.records.locks import taken
from rounds.records.segment import Scan, chained, scan
from rounds.records.taking import misplaced

_LATEST_S: Final = 2**32
"""The year 2106: a file that claims to be younger has lost its time."""


def seal_dead(records: Path, site_id: str) -> None:
    """Seal the segments of runs that have ended; whoever can take a run's lock may do it.

    Hold the folder lock. A segment that cannot be sealed holds up no other: it stays open and
    readable as it is, and the next start tries again.

    Raises:
        OSError: The open segments cannot be listed.
    """
    for file in open_files(records):
        with suppress(OSError, NotPlain):
            lock = taken(file.lock_path(records))
            if lock is None:
                continue
            try:
                _seal(records, file, site_id)
            finally:
                with suppress(OSError):
                    file.lock_path(records).unlink()
                lock.release()


def waiting(records: Path) -> int:
    """Return how many entries stand in open segments, which do not travel."""
    count = 0
    for file in open_files(records):
        with suppress(OSError, NotPlain):
            count += sum(not isinstance(x.entry, Open) for x in scan(file.path(records)).lines)
    return count


def _seal(records: Path, file: OpenFile, site_id: str) -> None:
    path = file.path(records)
    changed = datetime.fromtimestamp(min(max(0, path.stat().st_mtime), _LATEST_S), UTC)
    found = scan(path)
    if misplaced(found, file, site_id):
        return
    for bad in found.bad:
        set_aside(records, Label(file.name, bad.reason, bad.number), bad.raw)
    if found.torn:
        line = len(found.lines) + len(found.bad) + 1
        set_aside(records, Label(file.name, TORN, line), found.torn)
    header, bodies = _mended(found, file, site_id, changed)
    data = chained(bodies)
    sealed = SealedFile(
        file.writer, file.seg, header.day.replace("-", ""), sha256(data).hexdigest()[:32]
    )
    target = sealed.path(sealed_tree(records))
    make_folder(target.parent)
    write_new(target, data, mode=0o444)
    path.unlink()
    sync_folder(path.parent)


def _mended(
    found: Scan, file: OpenFile, site_id: str, changed: datetime
) -> tuple[Open, list[bytes]]:
    """Return the header and the bodies of a whole segment, whatever is left of the old one."""
    header = found.header or _header(found, file, site_id, changed)
    bodies = [] if found.header else [encode(header)]
    last: Entry = header
    n, number = _n(header.id), 1
    for line in found.lines:
        gone = [bad.number for bad in found.bad if number < bad.number < line.number]
        for free, lost in zip(range(n + 1, line.n), gone, strict=False):
            bodies.append(_damage(last, file, free, lost))
        bodies.append(line.body)
        n, number = line.n, line.number
        last = line.entry if isinstance(line.entry, Entry) else last
    gone = [bad.number for bad in found.bad if bad.number > number]
    if gone:
        bodies.append(_damage(last, file, n + 1, gone[0]))
    return header, bodies


def _header(found: Scan, file: OpenFile, site_id: str, changed: datetime) -> Open:
    """Make line 1 again from the file's name and the first line that can be read."""
    n, t, off, day, mono = 0, stamp(changed), "+00:00", f"{changed:%Y-%m-%d}", 0.0
    if found.lines:
        first = found.lines[0]
        n = max(0, first.n - first.number + 1)
        if isinstance(first.entry, Entry):
            t, off, day = first.entry.t, first.entry.off, first.entry.day
            mono = first.entry.mono
    return Open(
        id=f"{file.writer}-{file.run}-{n}",
        t=t,
        off=off,
        day=day,
        mono=mono,
        format=FORMAT,
        site=site_id,
        site_digest="",
        writer=file.writer,
        seg=file.seg,
        prev="",
        seen={},
        app="",
    )


def _damage(last: Entry, file: OpenFile, n: int, line: int) -> bytes:
    return encode(
        Damage(
            id=f"{file.writer}-{file.run}-{n}",
            t=last.t,
            off=last.off,
            day=last.day,
            mono=last.mono,
            file=file.name,
            line=line,
        )
    )


def _n(entry_id: str) -> int:
    return int(entry_id.rpartition("-")[2])
