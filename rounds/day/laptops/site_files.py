"""The exchange between laptops, as the site knows it: addresses, site files, who works with which.

Site files travel as versions a person adopts: nothing of a site changes by itself.
"""

from __future__ import annotations

import tempfile
from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from rounds.address import Address
from rounds.day.laptops.difference import difference
from rounds.day.laptops.unheard import FORGOTTEN_AFTER
from rounds.day.when import spoken
from rounds.records import versions
from rounds.records.book import Book
from rounds.records.durable import NotPlain, make_folder, read_plain, sync_folder, write_new
from rounds.records.entry import Open, instant, stamp
from rounds.records.identity import writer_id
from rounds.records.reaching import SyncFailed, read
from rounds.records.sync import SyncReport, sync
from rounds.records.versions import SiteFiles
from rounds.site.files import FILE, site_files
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.reading import SiteErrors
from rounds.site.versions import MAX_VERSION, Version, VersionError, changes, pack, unpack

_WORKS = {True: "works with newer", False: "still works with older", None: "works with other"}


class NotAdopted(Exception):
    """Site files stay as they are; the message says why in a sentence."""


class Offer(Struct, frozen=True):
    """Site files another laptop works with, or one that was kept."""

    digest: str
    writers: tuple[str, ...]
    """Who works with them."""
    since: str
    """When the first of these laptops changed over to them; where nobody knows, when the newest
    wrote with them; empty where none does."""
    changes: tuple[str, ...]
    """What they change here, a line a file; addresses of syncs they bring are named."""
    lines: tuple[str, ...]
    """The lines that differ, as `difference` tells them."""
    here: bool
    """Whether they have come, and can be adopted."""
    newer: bool | None = None
    """Whether they came after those of this laptop; None where nobody can tell."""
    by: str = ""
    """Code of who began to write with them, where that is known."""


def exchange(
    site: Site,
    address: Address | Path | str,
    into: SyncReport | None = None,
    *,
    asked: bool = True,
    by: str = "",
) -> SyncReport:
    """Sync entries and site files with an address.

    Args:
        site: The site.
        address: Where to.
        into: The report to fill, for whoever watches meanwhile.
        asked: By a person, not by the clock.
        by: Code of who sits here, where that is known.

    Raises:
        SyncFailed: It did not end; what was carried stays.
    """
    report = into or SyncReport()
    try:
        version = pack(site.folder)
        carried = SiteFiles(version.name, version.data, _fits)
        if version.digest == site.digest:
            _declare(site, by)
    except (VersionError, OSError) as error:
        carried = SiteFiles("", b"", _fits)
        report.stays = str(error) if isinstance(error, VersionError) else "they cannot be read"
    return sync(site.folder, site.id, address, site_files=carried, into=report, asked=asked)


def addresses(site: Site, remembered: str = "") -> tuple[tuple[str, str, float], ...]:
    """Return where this laptop syncs: name, address, minutes between two looks.

    Args:
        site: The site, with its [[sync]] tables.
        remembered: A folder named by hand on this laptop; it is looked at only when asked.
    """
    found = [(one.name, read(one.address).text, one.every_min) for one in site.sync]
    with suppress(SyncFailed):
        by_hand = read(remembered).text if remembered else ""
        if by_hand and by_hand not in (address for _, address, _ in found):
            found.append(("folder", by_hand, 0.0))
    return tuple(found)


def differing(
    site: Site, now: datetime, here: str = "", retired: Collection[str] = ()
) -> tuple[str, ...]:
    """Tell which laptops work with other site files than this one.

    Args:
        site: The site as loaded here.
        now: The present.
        here: The writer of this laptop, left out.
        retired: Laptops no longer in use, left out.

    Returns:
        One sentence a laptop heard within two weeks.
    """
    sentences = []
    for offer in offers(site, now, here, retired, told=False):
        for writer in offer.writers:
            which = f"({offer.digest[:6]}), {offer.since}"
            sentences.append(f"Laptop {writer} {_WORKS[offer.newer]} site files {which}.")
    return tuple(sorted(sentences))


def offers(
    site: Site, now: datetime, here: str = "", retired: Collection[str] = (), *, told: bool = True
) -> tuple[Offer, ...]:
    """Return the site files other laptops work with, the older ones last, then those kept here.

    Args:
        site: The site as loaded here.
        now: The present.
        here: The writer of this laptop.
        retired: Laptops no longer in use, left out.
        told: Whether to say what they change, which takes longest.
    """
    held = versions.held(site.folder / "records")
    used = versions.used(site.folder / "records")
    users: dict[str, dict[str, Open]] = {}
    for writer, first in used.items():
        if writer not in (here, *retired) and now - instant(first.t) <= FORGOTTEN_AFTER:
            users.setdefault(first.site_digest, {})[writer] = first
    users.pop(site.digest, None)
    found = [
        _offer(site, now, digest, those, held.get(digest) if told else None,
               newer=_newer(site, now, here, digest, used))
        for digest, those in sorted(users.items(), key=lambda one: _latest(one[1]), reverse=True)
    ]  # fmt: skip
    kept = [digest for digest in held if told and digest not in users and digest != site.digest]
    return (
        *sorted(found, key=lambda one: one.newer is False),
        *(_offer(site, now, digest, {}, held[digest]) for digest in kept),
    )


def adopt(site: Site, digest: str) -> tuple[str, ...]:
    """Make site files that have come the ones of this laptop; those in use are kept.

    Args:
        site: The site as loaded here.
        digest: Which, or how its digest begins.

    Returns:
        What changed, a line a file. Whoever has the site open loads it anew.

    Raises:
        NotAdopted: Nothing has changed.
    """
    records = site.folder / "records"
    held = versions.held(records)
    matching = [one for one in held if digest and one.startswith(digest)]
    if len(matching) != 1:
        many = "several" if matching else "no"
        raise NotAdopted(f"Here lie {many} site files that begin with {digest!r}: sync, then look.")
    try:
        old, new = pack(site.folder), _came(held[matching[0]])
        versions.keep(records, old.name, old.data)
        _try(site, new)
        _write(site.folder, new)
    except VersionError as error:
        raise NotAdopted(f"Nothing was changed: {error}.") from None
    except OSError as error:
        raise NotAdopted(
            f"The disk answered '{error.strerror or error}': adopt again, the old files are kept."
        ) from None
    return changes(old, new)


def _declare(site: Site, by: str) -> None:
    """Let the others hear of site files that were changed here since this laptop last wrote."""
    own = writer_id(site.folder, site.id)
    last = versions.used(site.folder / "records").get(own or "")
    if last is not None and last.site_digest != site.digest:
        with (
            suppress(OSError),
            Book.open(site.folder, site.id, site.digest, tz=site.timezone) as book,
        ):
            book.declare(by)


def _latest(users: Mapping[str, Open]) -> str:
    return max(first.t for first in users.values())


def _newer(
    site: Site, now: datetime, here: str, digest: str, used: Mapping[str, Open]
) -> bool | None:
    """Tell whether site files came after those of this laptop.

    By what each had before; else by when a laptop changed over to them first.
    """
    mine, since = used.get(here), {digest: "", site.digest: ""}
    if mine is not None and mine.site_digest != site.digest:  # changed here, and not written since
        before, since[site.digest] = mine.site_digest, stamp(now)
    else:
        before = mine.site_before if mine else ""
    for first in used.values():
        if first.site_digest in since and first.site_since:
            known = since[first.site_digest]
            since[first.site_digest] = min(known or first.site_since, first.site_since)
    after = any(f.site_digest == digest and f.site_before == site.digest for f in used.values())
    if after != (before == digest):
        return after
    return None if since[digest] == since[site.digest] else since[digest] > since[site.digest]


def _offer(
    site: Site, now: datetime, digest: str, users: Mapping[str, Open], path: Path | None,
    *, newer: bool | None = None,
) -> Offer:  # fmt: skip
    told: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    if path is not None:
        try:
            old, new = pack(site.folder), _came(path)
            told, lines = _told(old, new, site), difference(old, new)
        except (VersionError, OSError):
            path = None
    changed = min((one for one in users.values() if one.site_since), default=None, key=_since)
    first = changed or max(users.values(), default=None, key=lambda one: one.t)
    since = spoken(instant(first.site_since or first.t), now, site.timezone) if first else ""
    writers = tuple(sorted(users, key=lambda writer: (users[writer].t, writer)))
    by = first.site_by if first else ""
    return Offer(digest, writers, since, told, lines, path is not None, newer, by)


def _since(first: Open) -> str:
    return first.site_since


def _told(old: Version, new: Version, site: Site) -> tuple[str, ...]:
    known = {one.address.text for one in site.sync}
    try:
        brought = {one.address.text for one in _loaded(new).sync}
    except SiteErrors as error:
        return (*changes(old, new), f"it cannot be used: {error.problems[0]}")
    return (
        *changes(old, new),
        *(f"it syncs with {address}" for address in sorted(brought - known)),
        *(f"it no longer syncs with {address}" for address in sorted(known - brought)),
    )


def _try(site: Site, version: Version) -> None:
    try:
        trial = _loaded(version)
    except SiteErrors as error:
        raise NotAdopted(f"These site files cannot be used: {error.problems[0]}.") from None
    if trial.id != site.id:
        raise NotAdopted("These are the files of another site.")


def _loaded(version: Version) -> Site:
    with tempfile.TemporaryDirectory(prefix="rounds-") as place:
        folder = Path(place)
        for name, text in version.files.items():
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_bytes(text.encode())
        return load(folder)


def _write(folder: Path, version: Version) -> None:
    """Write a version's files, each one whole, site.toml last; then take away what it lacks."""
    for name in sorted(version.files, key=lambda name: name == FILE):
        path, data = folder / name, version.files[name].encode()
        if not path.is_file() or path.read_bytes() != data:
            make_folder(path.parent, 0o755)
            write_new(path, data, mode=0o644)
    for name, path in site_files(folder):
        if name not in version.files:
            path.unlink()
            sync_folder(path.parent)


def _came(path: Path) -> Version:
    try:
        return unpack(read_plain(path, MAX_VERSION), path.name)
    except NotPlain as error:
        raise VersionError(f"the file that came {error}") from None


def _fits(name: str, data: bytes) -> bool:
    try:
        unpack(data, name)
    except VersionError:
        return False
    return True
