"""Sync with an address: the union of sealed segments, nothing else.

Only new names are written, on both sides; a name holds the digest of the bytes, so nothing is
ever compared or merged. What comes in is admitted whole or put aside. The one thing that is
replaced is a file whose bytes are not those its name was made from, by those that are.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Iterator, Sequence
from contextlib import closing, suppress
from itertools import chain
from pathlib import Path
from typing import Final

from msgspec import Struct, field

from rounds.address import Address
from rounds.records import bundles, identity, mending, reaching, versions
from rounds.records.admission import (
    Newcomer,
    Waiting,
    belonging,
    is_what_it_says,
    newcomers,
    refusal,
    take_in,
)
from rounds.records.aside import shown_name
from rounds.records.carrying import Carrier, NoWay, side_by_side
from rounds.records.durable import NotPlain, make_folder, read_plain, sweep, write_new
from rounds.records.hearing import newest_times
from rounds.records.layout import (
    Listing,
    SealedFile,
    checked_site_id,
    listed,
    open_files,
    sealed_tree,
    writer_folders,
)
from rounds.records.locks import folder_lock
from rounds.records.memory import Memory, recall, remember
from rounds.records.reaching import SyncFailed, reach, said, same_disk
from rounds.records.refusing import Refusals, Refused, State
from rounds.records.sealing import seal_dead, waiting
from rounds.records.segment import MAX_FILE
from rounds.records.versions import SiteFiles

_DAY_S: Final = 24 * 3600.0
_LOCK_S: Final = 5.0


class SyncReport(Struct):
    """What a sync did, and while it runs, how far it is."""

    sent: int = 0
    fetched: int = 0
    set_aside: list[Refused] = field(default_factory=list)
    """Files at the address that were refused now."""
    refused_more: int = 0
    """Further ones, not named."""
    unseen: bool = False
    """Not all files there were looked at: there was too much junk for one sync."""
    refused_before: int = 0
    """Files refused by an earlier sync and unchanged since."""
    strangers: tuple[str, ...] = ()
    """Names at the address that are no segments, as examples of `strange`."""
    strange: int = 0
    damaged: list[Refused] = field(default_factory=list)
    """Segments here that are no longer what was sealed, and are not whole there either."""
    waiting: int = 0
    """Entries of programs still open here: they travel once those are closed."""
    heard: dict[str, str] = field(default_factory=dict)
    """The time of the newest entry of each laptop."""
    safe_to_remove: bool = False
    """All is written and was read back: of a folder, which may be a stick."""
    same_disk: bool = False
    """The folder lies on the disk that the site lies on: it is no second place."""
    address: str = ""
    to_send: int = 0
    to_fetch: int = 0
    mended: int = 0
    """Damaged files there that were replaced by the whole ones from here."""
    healed: int = 0
    """Damaged files here that were replaced by the whole ones from there."""
    newcomers: tuple[Newcomer, ...] = ()
    """Laptops that wait to be taken in; their entries lie aside."""
    renamed: bool = False
    """This laptop found entries under its name that it has not: it takes another name."""
    versions: int = 0
    """Versions of the site's files that came or went."""
    stays: str = ""
    """Why the site's files of this laptop do not travel; empty when they do."""

    def so_far(self) -> str:
        """Say what a sync that fails has done."""
        return f" {self.fetched} fetched and {self.sent} sent before that are safe."


def sync(
    folder: Path,
    site_id: str,
    address: Address | Path | str,
    *,
    site_files: SiteFiles | None = None,
    into: SyncReport | None = None,
    asked: bool = True,
) -> SyncReport:
    """Make this laptop and an address hold the same sealed segments.

    Args:
        folder: The site's folder.
        site_id: Its id; the segments lie in `<address>/<site id>/`.
        address: A folder that is there (a stick, a mounted share), or a URL.
        site_files: The site's files as they are here, to travel too.
        into: The report to fill, for whoever watches meanwhile.
        asked: By a person, who may fill an address anew that was emptied, after being told so.

    Returns:
        What was sent, fetched and refused.

    Raises:
        NotThere: The address does not answer; nothing was done.
        SyncFailed: The address or the disk failed; nothing is lost or half written.
        ValueError: The site id is none.
    """
    checked_site_id(site_id)
    report = into or SyncReport()
    found = reaching.read(address)
    report.address = found.text
    memory = recall(folder, found.text)
    memory.tried = time.time()
    try:
        carrier = reach(folder, site_id, found)
        with closing(carrier), said("This laptop's disk", report.so_far):
            _exchange(folder, site_id, carrier, memory, site_files, report, asked=asked)
        memory.same_disk = report.same_disk = same_disk(folder, found)
        memory.done, memory.failed = time.time(), ""
    except SyncFailed as error:
        memory.failed = str(error)
        raise
    finally:
        remember(folder, memory)
    return report


def _exchange(
    folder: Path,
    site_id: str,
    carrier: Carrier,
    memory: Memory,
    site_files: SiteFiles | None,
    report: SyncReport,
    *,
    asked: bool,
) -> None:
    records = folder / "records"
    make_folder(records)
    with folder_lock(records, _LOCK_S) as held:
        if not held:
            raise SyncFailed("Another sync is running on this laptop: wait until it ends.")
        if open_files(records):
            seal_dead(records, site_id)
        now = time.time()
        whole = not 0 <= now - memory.whole < _DAY_S
        with said(carrier.shown, report.so_far):
            there = carrier.listed(memory.folders, whole=whole)
        _not_emptied(memory, there, carrier.shown, asked=asked)
        memory.whole = now if whole else memory.whole
        report.strangers = tuple(map(shown_name, there.strangers))
        report.strange = there.strange
        refusals = Refusals(records, memory, there.files)
        report.set_aside = refusals.named
        here = _fetch(folder, site_id, carrier, there, refusals, report)
        report.refused_more, report.refused_before = refusals.more, refusals.before
        report.unseen = bool(memory.look_next)
        sent = _send(records, carrier, sorted(here.difference(there.files)), report)
        with said(carrier.shown, report.so_far):
            if whole:
                _sweep(records, carrier)
                if carrier.at_once > 1:
                    bundles.offer(sealed_tree(records), carrier, here, now)
            if site_files is not None:
                report.versions = versions.exchange(records, carrier, site_files)
            answered = mending.answer_wants(sealed_tree(records), carrier, there)
            healed, left = mending.heal(folder, site_id, carrier, there, here)
            told = {one.name for one in report.damaged}
            report.damaged += [Refused(f.name, "") for f in left if f.name not in told]
            replaced = mending.scrub(sealed_tree(records), carrier, there, memory, now)
            report.mended, report.healed = answered + replaced[0], healed + replaced[1]
        memory.note(there, sent)
        report.waiting = waiting(records)
        report.heard = newest_times(records, here)
        report.newcomers = newcomers(records)
        report.safe_to_remove = carrier.proves


def _not_emptied(memory: Memory, there: Listing, shown: str, *, asked: bool) -> None:
    """Send nothing to what may be the bare folder where a share or stick is not there.

    Raises:
        SyncFailed: It held files and holds none, and nobody asked twice.
    """
    if not memory.count or there.files or there.wants:
        memory.emptied = 0
    elif asked and memory.emptied > 1:
        memory.folders, memory.emptied = {}, 0
    else:
        memory.emptied = 2 if asked else max(memory.emptied, 1)
        raise SyncFailed(
            f"{shown} held files at the last sync, {memory.count} of them, and holds none now: is "
            "the share connected, is it the right stick? Nothing was sent. If it was emptied, sync "
            "once more to fill it anew."
        )


def _fetch(
    folder: Path,
    site_id: str,
    carrier: Carrier,
    there: Listing,
    refusals: Refusals,
    report: SyncReport,
) -> set[SealedFile]:
    """Take in what may come in; return all that is here then."""
    records = folder / "records"
    tree = sealed_tree(records)
    own = identity.writer_id(folder, site_id)
    here = set(listed(tree).files)
    waits = Waiting(records)
    missing = [file for file in there.files if file not in here]
    wanted = set(there.wants)
    belong: set[str] | None = set()
    while missing or waits.files:
        belong, known = belonging(records, own), belong
        for writer in {file.writer for file in waits.files}:
            if belong is None or writer in belong:
                came = take_in(records, site_id, writer)
                here.update(came)
                report.fetched += len(came)
                waits.files = {file for file in waits.files if file.writer != writer}
        if belong == known:
            break
        left = {f for f in missing if belong is None or f.writer in belong} - here
        missing = [] if belong is None else [f for f in missing if f.writer not in belong]
        for file, data in chain(
            _bundled(carrier, left, site_id, report),
            _came(carrier, left, refusals, wanted, site_id, report),
        ):
            left.discard(file)
            if file.writer == own and not report.renamed:
                # A copy of this laptop wrote it, or this one was restored. The name goes first:
                # once the file is here no later sync would know.
                identity.forget_writer_id(folder, site_id)
                report.renamed = True
            make_folder(tree / file.writer)
            write_new(file.path(tree), data, mode=0o444)
            report.fetched += 1
            here.add(file)
    strangers = [] if waits.full() else [file for file in missing if file not in waits.files]
    for file, data in _came(carrier, strangers, refusals, wanted, site_id, report):
        waits.keep(file, data)
        if waits.full():
            break
    return here


def _bundled(
    carrier: Carrier, lacking: set[SealedFile], site_id: str, report: SyncReport
) -> Iterator[tuple[SealedFile, bytes]]:
    """Yield what may be let in out of bundles, where many files would each cost their way."""
    if carrier.at_once == 1 or len(lacking) < bundles.LEAST:
        return
    report.to_fetch += len(lacking)
    with said(carrier.shown, report.so_far):
        for file, data in bundles.fetched(carrier, lacking):
            if not refusal(data, file, site_id):
                yield file, data
    report.to_fetch -= len(lacking)


def _came(
    carrier: Carrier,
    files: Collection[SealedFile],
    refusals: Refusals,
    wanted: set[SealedFile],
    site_id: str,
    report: SyncReport,
) -> Iterator[tuple[SealedFile, bytes]]:
    """Yield files from the address that may be let in; refuse the others, each once."""

    def look(file: SealedFile) -> tuple[State, bytes | str | None]:
        state = carrier.state(file.name)
        if refusals.knows(file, state):
            return state, None
        try:
            return state, carrier.read(file.name, MAX_FILE)
        except NotPlain as error:
            return state, str(error)

    report.to_fetch += len(files)
    for file, found in side_by_side(carrier.at_once, refusals.in_turn(files), look):
        if refusals.enough(file):
            return
        if isinstance(found, Exception):
            if not isinstance(found, OSError | NoWay):
                raise found
            with said(carrier.shown, report.so_far):
                carrier.check_there()
            why = found.strerror if isinstance(found, OSError) else found
            refusals.refuse(file, f"cannot be read: {why}")
            continue
        state, data = found
        if data is None:
            refusals.before += 1
        elif isinstance(data, str):
            refusals.refuse(file, data, state)
        elif not (reason := refusal(data, file, site_id)):
            yield file, data
        elif refusals.refuse(file, reason, state, data) and not (
            is_what_it_says(data, file) or file in wanted
        ):
            with suppress(OSError, NoWay):  # advice: a share that takes none stays as it is
                carrier.put(file.want, b"")


def _send(
    records: Path, carrier: Carrier, missing: Sequence[SealedFile], report: SyncReport
) -> list[SealedFile]:
    tree = sealed_tree(records)
    report.to_send += len(missing)
    sent = []

    def send(file: SealedFile) -> None:
        data = read_plain(file.path(tree), MAX_FILE)
        if not is_what_it_says(data, file):
            raise NotPlain("is not what its name says: damaged on this laptop")
        with said(carrier.shown, report.so_far):
            carrier.put(file.name, data)

    for file, failed in side_by_side(carrier.at_once, missing, send):
        if isinstance(failed, NotPlain):
            report.damaged.append(Refused(file.name, str(failed)))
        elif failed is not None:
            raise failed
        else:
            report.sent += 1
            sent.append(file)
    return sent


def _sweep(records: Path, carrier: Carrier) -> None:
    """Remove what was left half written long ago, here by anyone, there by this machine."""
    tree = sealed_tree(records)
    for writer in writer_folders(tree):
        sweep(tree / writer, "local", _DAY_S)
    carrier.sweep(_DAY_S)


def enrol(folder: Path, site_id: str, writer: str) -> int:
    """Take a laptop in that waits; its entries are in the book from now on.

    Args:
        folder: The site's folder.
        site_id: Its id.
        writer: The laptop, one of `newcomers`.

    Returns:
        How many of its files came in.

    Raises:
        SyncFailed: No such laptop waits, or the disk failed.
    """
    records = folder / "records"
    with said("This laptop's disk", str):
        if writer not in {one.writer for one in newcomers(records)}:
            raise SyncFailed(f"No laptop {shown_name(writer)} waits here: sync first.")
        with folder_lock(records, _LOCK_S) as held:
            if not held:
                raise SyncFailed("A sync is running on this laptop: wait until it ends.")
            return len(take_in(records, checked_site_id(site_id), writer))
