"""Sync with a folder, a stick or a mounted share: the union of sealed segments, nothing else.

Only new names are written, on both sides; a name holds the digest of the bytes, so nothing is
ever compared, merged or overwritten. What comes in is admitted whole or put aside.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Final

import msgspec

from rounds import __version__
from rounds.records import identity
from rounds.records.aside import Label, labels, set_aside, shown_name
from rounds.records.carrying import FolderCarrier
from rounds.records.durable import NotPlain, make_folder, read_plain, sweep, write_new
from rounds.records.entry import Entry
from rounds.records.layout import (
    SealedFile,
    checked_site_id,
    listed,
    open_files,
    sealed_tree,
    writer_files,
    writer_folders,
)
from rounds.records.locks import folder_lock
from rounds.records.reading import misplaced
from rounds.records.sealing import seal_dead, waiting
from rounds.records.segment import MAX_FILE, scan, scan_bytes

_DAY_S: Final = 24 * 3600.0
_LOCK_S: Final = 5.0
_KEPT: Final = 16
"""Refused files, at most 4 MB each, of which a sync keeps the bytes too."""


class SyncFailed(Exception):
    """The sync did not end. The message is a sentence or two; what was carried stays."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that was not carried, and why."""

    name: str
    reason: str


@dataclass(slots=True)
class SyncReport:
    """What a sync did."""

    sent: int = 0
    fetched: int = 0
    set_aside: list[Refused] = field(default_factory=list)
    """Files at the address that were refused now."""
    refused_before: int = 0
    """Files refused by an earlier sync and unchanged since."""
    strangers: tuple[str, ...] = ()
    """Names at the address that are no segments, as examples of `strange`."""
    strange: int = 0
    damaged: list[Refused] = field(default_factory=list)
    """Segments of this laptop that are no longer what was sealed; they were not sent."""
    waiting: int = 0
    """Entries of programs still open here: they travel once those are closed."""
    heard: dict[str, str] = field(default_factory=dict)
    """The time of the newest entry of each laptop."""
    safe_to_remove: bool = False


def sync(folder: Path, site_id: str, address: Path | str) -> SyncReport:
    """Make this laptop and a folder elsewhere hold the same sealed segments.

    Args:
        folder: The site's folder.
        site_id: Its id; the segments lie in `<address>/<site id>/`.
        address: A folder that is there: a stick, a mounted share.

    Returns:
        What was sent, fetched and refused.

    Raises:
        SyncFailed: The address or the disk failed; nothing is lost or half written.
        ValueError: The site id is none.
    """
    place = Path(address)
    records = folder / "records"
    checked_site_id(site_id)
    if not _is_folder(place):
        raise SyncFailed(f"{place} is not there: put the stick in or connect the share, then sync.")
    if place.resolve().is_relative_to(folder.resolve()):
        raise SyncFailed(f"{place} lies in the site's own folder: name a stick or a share.")
    if (place / site_id).is_symlink():
        raise SyncFailed(f"{place / site_id} is a link: name the folder it stands for.")
    carrier = FolderCarrier(place / site_id, identity.machine())
    report = SyncReport()
    with _said("This laptop's disk", report):
        make_folder(records)
        with folder_lock(records, _LOCK_S) as held:
            if not held:
                raise SyncFailed("Another sync is running on this laptop: wait until it ends.")
            if open_files(records):
                seal_dead(records, site_id)
            with _said(str(place), report):
                there = carrier.listed()
            report.strangers = tuple(map(shown_name, there.strangers))
            report.strange = there.strange
            _fetch(folder, site_id, carrier, there.files, report)
            _send(records, carrier, there.files, report)
            report.waiting = waiting(records)
            report.heard = heard(folder)
            report.safe_to_remove = True
    return report


def _fetch(
    folder: Path,
    site_id: str,
    carrier: FolderCarrier,
    there: tuple[SealedFile, ...],
    report: SyncReport,
) -> None:
    records = folder / "records"
    tree = sealed_tree(records)
    here = set(listed(tree).files)
    own = identity.writer_id(folder, site_id)
    before = {(label.file, label.size, label.changed, label.app) for label in labels(records)}
    for file in there:
        if file in here:
            continue
        label = Label(file.name, "", app=__version__)
        try:
            size, changed = carrier.state(file)
            label = Label(file.name, "", size=size, changed=changed, app=__version__)
            if (file.name, size, changed, __version__) in before:
                report.refused_before += 1
                continue
            data = carrier.read(file)
        except NotPlain as error:
            _refuse(records, label, str(error), None, report)
            continue
        except OSError as error:
            with _said(str(carrier.root), report):
                carrier.check_there()
            report.set_aside.append(Refused(file.name, f"cannot be read: {error.strerror}"))
            continue
        if reason := refusal(data, file, site_id):
            _refuse(records, label, reason, data, report)
            continue
        make_folder(tree / file.writer)
        write_new(file.path(tree), data, mode=0o444)
        report.fetched += 1
        if file.writer == own:  # a copy of this laptop wrote it, or this one was restored
            identity.forget_writer_id(folder, site_id)


def _send(
    records: Path, carrier: FolderCarrier, there: tuple[SealedFile, ...], report: SyncReport
) -> None:
    tree = sealed_tree(records)
    known = set(there)
    for writer in writer_folders(tree):
        sweep(tree / writer, "local", _DAY_S)
        for file in writer_files(tree, writer).files:
            if file in known:
                continue
            try:
                data = _sealed_bytes(file.path(tree), file.digest)
            except NotPlain as error:
                report.damaged.append(Refused(file.name, str(error)))
                continue
            with _said(str(carrier.root.parent), report):
                carrier.put(file, data)
            report.sent += 1
    carrier.sweep(_DAY_S)


def refusal(data: bytes, file: SealedFile, site_id: str) -> str:
    """Say why bytes that came under a sealed name are not let in; empty when they are.

    Args:
        data: The bytes, at most 4 MB.
        file: The name they came under.
        site_id: The site they must belong to.
    """
    found = scan_bytes(data)
    if found.digest != file.digest:
        return (
            "is not what its name says: cut short or damaged. Delete it there, then sync from a "
            "laptop that holds it"
        )
    if reason := misplaced(found, file, site_id):
        return reason
    if found.bad:
        return f"line {found.bad[0].number} {found.bad[0].reason}"
    if data and not data.endswith(b"\n"):
        return "ends in the middle of a line"
    if found.header is None:
        return "is empty"
    return ""


def _sealed_bytes(path: Path, digest: str) -> bytes:
    data = read_plain(path, MAX_FILE)
    if sha256(data).hexdigest()[:32] != digest:
        raise NotPlain("is not what its name says: damaged on this laptop")
    return data


def _refuse(
    records: Path, label: Label, reason: str, data: bytes | None, report: SyncReport
) -> None:
    kept = data if len(report.set_aside) < _KEPT else None
    set_aside(records, msgspec.structs.replace(label, reason=reason), kept)
    report.set_aside.append(Refused(label.file, reason))


def heard(folder: Path) -> dict[str, str]:
    """Return the time of the newest entry of each laptop ("2026-11-24T07:02:35.323Z").

    Args:
        folder: The site's folder.

    Returns:
        By writer id; a laptop whose newest segment cannot be read is left out.

    Raises:
        OSError: The records folder cannot be listed.
    """
    records = folder / "records"
    tree = sealed_tree(records)
    newest: dict[str, list[Path]] = {}
    for writer in writer_folders(tree):
        files = writer_files(tree, writer).files
        newest[writer] = [f.path(tree) for f in files if f.seg == files[-1].seg]
    for file in open_files(records):
        newest.setdefault(file.writer, []).append(file.path(records))
    times = {writer: max(map(_last, paths), default="") for writer, paths in newest.items()}
    return {writer: t for writer, t in times.items() if t}


def _is_folder(place: Path) -> bool:
    try:
        return place.is_dir()
    except OSError:
        return False


def _last(path: Path) -> str:
    try:
        lines = scan(path).lines
    except (NotPlain, OSError):
        return ""
    return max((line.entry.t for line in lines if isinstance(line.entry, Entry)), default="")


@contextmanager
def _said(what: str, report: SyncReport) -> Iterator[None]:
    """Turn an error of the system into a sentence about what failed and what is safe."""
    try:
        yield
    except OSError as error:
        so_far = f" {report.fetched} fetched and {report.sent} sent before that are safe."
        raise SyncFailed(_sentence(what, error) + so_far) from error


def _sentence(what: str, error: OSError) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{what} is full: free some space, then sync again."
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return f"{what} cannot be written: take off its write protection or ask whose it is."
    if error.errno in (errno.ENOENT, errno.EIO, errno.ENODEV, errno.ENXIO, errno.ENOTCONN):
        return f"{what} is gone or failing: make sure it is there, then sync again."
    return f"{what} answered '{error.strerror or error}': sync again."
