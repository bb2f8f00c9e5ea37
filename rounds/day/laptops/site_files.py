"""The exchange between laptops, as the site knows it: addresses, site files, who works with which.

Site files travel as versions a person adopts: nothing of a site changes by itself.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from msgspec import Struct

from rounds.address import Address
from rounds.day.laptops.difference import difference
from rounds.day.laptops.unheard import FORGOTTEN_AFTER
from rounds.day.when import spoken
from rounds.records import versions
from rounds.records.durable import NotPlain, make_folder, read_plain, sync_folder, write_new
from rounds.records.entry import instant
from rounds.records.reaching import SyncFailed, read
from rounds.records.sync import SyncReport, sync
from rounds.records.versions import SiteFiles
from rounds.site.files import FILE, site_files
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.reading import SiteErrors
from rounds.site.versions import MAX_VERSION, Version, VersionError, changes, pack, unpack


class NotAdopted(Exception):
    """Site files stay as they are; the message says why in a sentence."""


class Offer(Struct, frozen=True):
    """Site files another laptop works with, or one that was kept."""

    digest: str
    writers: tuple[str, ...]
    """Who works with them."""
    since: str
    """When the newest of these laptops began to write with them; empty where none does."""
    changes: tuple[str, ...]
    """What they change here, a line a file; addresses of syncs they bring are named."""
    lines: tuple[str, ...]
    """The lines that differ, as `difference` tells them."""
    here: bool
    """Whether they have come, and can be adopted."""


def exchange(
    site: Site,
    address: Address | Path | str,
    into: SyncReport | None = None,
    *,
    asked: bool = True,
) -> SyncReport:
    """Sync entries and site files with an address.

    Args:
        site: The site.
        address: Where to.
        into: The report to fill, for whoever watches meanwhile.
        asked: By a person, not by the clock.

    Raises:
        SyncFailed: It did not end; what was carried stays.
    """
    report = into or SyncReport()
    try:
        version = pack(site.folder)
        carried = SiteFiles(version.name, version.data, _fits)
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


def differing(site: Site, now: datetime, here: str = "") -> tuple[str, ...]:
    """Tell which laptops work with other site files than this one.

    Args:
        site: The site as loaded here.
        now: The present.
        here: The writer of this laptop, left out.

    Returns:
        One sentence a laptop heard within two weeks.
    """
    sentences = []
    for writer, (digest, at) in sorted(_used(site.folder).items()):
        if writer == here or digest == site.digest or now - at > FORGOTTEN_AFTER:
            continue
        when = spoken(at, now, site.timezone)
        sentences.append(f"Laptop {writer} works with other site files ({digest[:6]}), {when}.")
    return tuple(sentences)


def offers(site: Site, now: datetime, here: str = "") -> tuple[Offer, ...]:
    """Return the site files other laptops work with, the newest first, then those kept here.

    Args:
        site: The site as loaded here.
        now: The present.
        here: The writer of this laptop.
    """
    held = versions.held(site.folder / "records")
    users: dict[str, list[tuple[datetime, str]]] = {}
    for writer, (digest, at) in _used(site.folder).items():
        if writer != here and digest != site.digest and now - at <= FORGOTTEN_AFTER:
            users.setdefault(digest, []).append((at, writer))
    kept = [digest for digest in held if digest not in users and digest != site.digest]
    digests = [*sorted(users, key=lambda one: max(users[one]), reverse=True), *kept]
    return tuple(_offer(site, now, one, users.get(one, []), held.get(one)) for one in digests)


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


def _used(folder: Path) -> dict[str, tuple[str, datetime]]:
    """Return which site files each laptop worked with last, and when it began to."""
    found = versions.used(folder / "records").items()
    return {writer: (digest, instant(t)) for writer, (digest, t) in found}


def _offer(
    site: Site, now: datetime, digest: str, users: Iterable[tuple[datetime, str]], path: Path | None
) -> Offer:
    told: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    if path is not None:
        try:
            old, new = pack(site.folder), _came(path)
            told, lines = _told(old, new, site), difference(old, new)
        except (VersionError, OSError):
            path = None
    known = sorted(users)
    since = spoken(known[-1][0], now, site.timezone) if known else ""
    return Offer(digest, tuple(writer for _, writer in known), since, told, lines, path is not None)


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
