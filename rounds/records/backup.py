"""A site's folder in one archive that proves itself, and back from it.

The archive is a plain zip, so that any computer opens it. Its last member, `backup.json`, holds
the digest of every other one and the heads of the book. Nothing is overwritten, either way.
"""

from __future__ import annotations

import os
import re
import shutil
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager, suppress
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import IO, Final
from zlib import error as ZlibError

import msgspec
from msgspec import Struct

from rounds import __version__
from rounds.records import identity
from rounds.records.durable import (
    PART,
    NotPlain,
    drop_cached,
    make_folder,
    name_new,
    read_plain,
    sweep,
    sync_file,
    sync_folder,
)
from rounds.records.entry import stamp
from rounds.records.gaps import missing
from rounds.records.layout import checked_site_id, listed, sealed_tree
from rounds.records.locks import folder_lock
from rounds.records.reaching import sentence
from rounds.records.sealing import seal_dead, waiting
from rounds.records.verifying import Report, verify

FORMAT: Final = 2
"""1 where it holds none of the loose files, so that earlier versions restore it."""
_MANIFEST: Final = "backup.json"
_TOP: Final = ("site.toml", "checklists", "feeds", "species", "reports", "records")
"""What of a site's folder is kept, besides the loose files in it; the cache is made again."""
_NOT: Final = ("records/open",)
_WORD: Final = re.compile(r"\w(?:[\w .()+-]{0,98}[\w)])?")
"""A part of a member's name: no way up, no drive, no end that Windows drops."""
_RESERVED: Final = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)
_MAX_FILE: Final = 32 * 1024 * 1024
_MAX_MANIFEST: Final = 256 * 1024 * 1024
_MAX_ALL: Final = 16 * 1024**3
_MAX_FILES: Final = 1_000_000
_INSTEAD: Final = (
    "Nothing was restored. Another backup may do, or the site's folder from another laptop."
)
_LOCK_S: Final = 5.0
_DAY_S: Final = 24 * 3600.0


class BackupFailed(Exception):
    """No backup was made, or none restored. The message is a sentence or two."""


class _Manifest(msgspec.Struct, frozen=True):
    format: int
    site: str
    made: str
    app: str
    heads: dict[str, str]
    files: dict[str, str]


class BackedUp(Struct, frozen=True):
    """What lies in an archive that was written and read back."""

    file: Path
    files: int
    size: int
    heads: Mapping[str, str]
    damaged: tuple[str, ...]
    """Files in it that are not what their name says; kept as they are."""
    missing: tuple[str, ...]
    """Files of which others tell that they were there: "8mcr27/: segment 13 is missing: sync"."""
    left_out: tuple[str, ...]
    """Files that cannot be in it: links, giants, names that other systems refuse."""
    waiting: int
    """Entries of programs still open, which are not in it."""


class Restored(Struct, frozen=True):
    """A site's folder made from an archive."""

    folder: Path
    files: int
    made: str
    """When the archive was made, UTC."""
    report: Report


def backup(folder: Path, site_id: str, target: Path, now: datetime) -> BackedUp:
    """Write a site's files and sealed entries into one new archive, and read it back.

    Args:
        folder: The site's folder.
        site_id: Its id.
        target: The new file.
        now: The time, aware.

    Returns:
        What is in it. It is whole and on the disk.

    Raises:
        BackupFailed: `target` is there, lies in the site's folder, cannot be written, or was not
            read back whole, or a file of the site cannot be read; nothing is left.
    """
    checked_site_id(site_id)
    if target.exists() or target.is_symlink():
        raise BackupFailed(f"{target} is there already: nothing is overwritten, name a new file.")
    if target.resolve().is_relative_to(folder.resolve()):
        raise BackupFailed(f"{target} lies in the site's own folder: name a stick or another disk.")
    sweep(target.absolute().parent, "backup", _DAY_S)
    part = target.with_name(f"{PART}backup-{os.urandom(6).hex()}")
    try:
        with _at_rest(folder / "records", site_id):
            with part.open("xb") as file:
                manifest, damaged, left_out = _packed(folder, site_id, file, now)
                file.flush()
                sync_file(file.fileno())
            gone = tuple(f"{one.file}: {one.says}" for one in missing(folder / "records"))
            with _reading(folder / "records" / "open"):
                behind = waiting(folder / "records")
        drop_cached(part)
        if _proved(part) != manifest:
            raise BackupFailed(f"{target} does not hold what was written: use another stick.")
        size = part.stat().st_size
        name_new(part, target)
        sync_folder(target.absolute().parent)
    except OSError as error:
        raise BackupFailed(sentence(str(target), error, "back up again")) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return BackedUp(
        target, len(manifest.files), size, manifest.heads, damaged, gone, left_out, behind
    )  # fmt: skip


def restore(archive: Path, folder: Path) -> Restored:
    """Make a site's folder from an archive, checked before and after.

    The laptop takes a new writer id: what it wrote after the backup may lie on other laptops.

    Args:
        archive: A file that `backup` wrote.
        folder: A folder that is not there yet, or is empty.

    Returns:
        The folder, and what `verify` says of it.

    Raises:
        BackupFailed: The archive is none, damaged or cannot be read, or the folder holds
            something or cannot be written; nothing is left.
    """
    if folder.is_symlink() or (folder.exists() and not _empty(folder)):
        raise BackupFailed(f"{folder} is not empty: nothing is overwritten, name a new folder.")
    if not archive.exists():
        raise BackupFailed(f"{archive} is not there: put the stick in, or name the file anew.")
    try:
        manifest = _proved(archive)
    except BackupFailed as error:
        raise BackupFailed(f"{error} {_INSTEAD}") from error
    except OSError as error:
        raise BackupFailed(sentence(str(archive), error, "restore again")) from error
    parent = folder.absolute().parent
    part = parent / f"{PART}restore-{os.urandom(6).hex()}"
    try:
        make_folder(parent)
        part.mkdir(mode=0o700)
        _unpacked(archive, part, manifest)
        report = verify(part, manifest.site)
        if dict(report.heads) != manifest.heads:
            raise BackupFailed(f"{archive} does not hold the entries it was made with.")
        identity.forget_writer_id(folder, manifest.site)  # before anybody can write there
        with suppress(FileNotFoundError):
            folder.rmdir()
        part.rename(folder)
        sync_folder(parent)
    except OSError as error:
        raise BackupFailed(sentence(str(folder), error, "restore again")) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return Restored(folder, len(manifest.files), manifest.made, report)


@contextmanager
def _at_rest(records: Path, site_id: str) -> Iterator[None]:
    """Seal what can be sealed and hold sync off; a folder that takes no writing rests already."""
    with ExitStack() as held:
        with suppress(OSError):
            make_folder(records)
            if not held.enter_context(folder_lock(records, _LOCK_S)):
                raise BackupFailed("A sync is running on this laptop: wait until it ends.")
            seal_dead(records, site_id)
        yield


def _packed(
    folder: Path, site_id: str, file: IO[bytes], now: datetime
) -> tuple[_Manifest, tuple[str, ...], tuple[str, ...]]:
    sealed = {f"records/sealed/{f.name}": f for f in listed(sealed_tree(folder / "records")).files}
    digests: dict[str, str] = {}
    damaged, left_out, known = [], [], set[str]()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
        for name, path in _files(folder):
            try:
                with _reading(path):
                    data = read_plain(path, _MAX_FILE)
            except NotPlain as error:
                left_out.append(f"{name} {error}")
                continue
            if not _allowed(name) or name.casefold() in known:
                left_out.append(f"{name}: no name for every computer")
                continue
            known.add(name.casefold())
            digests[name] = sha256(data).hexdigest()
            if name in sealed and not digests[name].startswith(sealed[name].digest):
                damaged.append(name)
            archive.writestr(_member(name), data)
        heads = {one.writer: one.head for name, one in sorted(sealed.items()) if name in digests}
        form = FORMAT if any(map(_loose, digests)) else 1
        manifest = _Manifest(form, site_id, stamp(now), __version__, heads, digests)
        archive.writestr(_member(_MANIFEST), msgspec.json.format(msgspec.json.encode(manifest)))
    return manifest, tuple(damaged), tuple(left_out)


def _member(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o100644 << 16
    return info


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    """List the plain files and links to keep, by name, sorted.

    Raises:
        BackupFailed: A folder cannot be listed: what lies in it would be left out unsaid.
    """
    for top in _TOP:
        if not (folder / top).is_dir():
            if (folder / top).is_file() or (folder / top).is_symlink():
                yield top, folder / top
            continue
        for at, folders, files in sorted(os.walk(folder / top, onerror=_raised)):
            inside = Path(at).relative_to(folder).as_posix()
            if inside in _NOT:
                continue
            links = [name for name in folders if Path(at, name).is_symlink()]
            for name in sorted(files + links):
                if not name.startswith(PART) and not name.endswith(".lock"):
                    yield f"{inside}/{name}", Path(at, name)

    with _reading(folder):
        names = sorted(os.listdir(folder))
    for name in names:
        path = folder / name
        if _loose(name) and (path.is_file() or path.is_symlink()) and not name.endswith(".lock"):
            yield name, path


def _loose(name: str) -> bool:
    """Tell whether a name is of a file beside site.toml that is none of ours, such as a README."""
    return not ("/" in name or name.startswith(".") or name in (*_TOP, "cache"))


def _raised(error: OSError) -> None:
    with _reading(Path(error.filename)):
        raise error


@contextmanager
def _reading(path: Path) -> Iterator[None]:
    """Name what of the site cannot be read: the archive is not at fault."""
    try:
        yield
    except OSError as error:
        raise BackupFailed(
            f"{path} cannot be read ({error.strerror or error}), and no backup is made without it: "
            "sync, move it away, then back up again."
        ) from error


def _allowed(name: str) -> bool:
    first, *rest = name.split("/")
    words = all(_WORD.fullmatch(word) and not _RESERVED.fullmatch(word) for word in (first, *rest))
    ours = first in _TOP or (_loose(name) and name.casefold() != _MANIFEST)
    return words and ours and not name.startswith(_NOT)


def _proved(path: Path) -> _Manifest:
    """Read an archive whole and hold every byte to its manifest.

    Raises:
        BackupFailed: It is none of ours, or damaged.
        OSError: It cannot be read.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            infos = archive.infolist()
            names = [info.filename for info in infos]
            total = sum(info.file_size for info in infos)
            if not names or names[-1] != _MANIFEST:
                raise BackupFailed(f"{path} is no backup of rounds, or its end is missing.")
            if total > _MAX_ALL or len(infos) > _MAX_FILES:
                raise BackupFailed(f"{path} is larger than any backup.")
            if len({name.casefold() for name in names}) < len(names):
                raise BackupFailed(f"{path} holds a name twice.")
            manifest = msgspec.json.decode(_data(archive, infos[-1], path), type=_Manifest)
            if manifest.format > FORMAT:
                raise BackupFailed(f"{path} was made by a newer version: update this laptop.")
            checked_site_id(manifest.site)
            if set(names[:-1]) != set(manifest.files) or not all(map(_allowed, manifest.files)):
                raise BackupFailed(f"{path} holds other files than it says.")
            for info in infos[:-1]:
                data = _data(archive, info, path)
                if sha256(data).hexdigest() != manifest.files[info.filename]:
                    raise BackupFailed(f"{path} is damaged in {info.filename}.")
            return manifest
    except (zipfile.BadZipFile, ZlibError, EOFError, NotImplementedError, RuntimeError) as error:
        raise BackupFailed(f"{path} is no backup of rounds, or damaged.") from error
    except (ValueError, RecursionError) as error:
        raise BackupFailed(f"{path} is no backup of rounds: {_MANIFEST} cannot be read.") from error


def _data(archive: zipfile.ZipFile, info: zipfile.ZipInfo, path: Path) -> bytes:
    cap = _MAX_MANIFEST if info.filename == _MANIFEST else _MAX_FILE
    if info.file_size > cap:
        raise BackupFailed(f"{path} holds a giant, {info.filename}.")
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise BackupFailed(f"{path} is packed in a way that rounds does not use.")
    with closing(archive.open(info)) as member:
        return member.read(info.file_size)


def _unpacked(archive: Path, folder: Path, manifest: _Manifest) -> None:
    with zipfile.ZipFile(archive) as zipped:
        for info in zipped.infolist()[:-1]:
            data = _data(zipped, info, archive)
            if sha256(data).hexdigest() != manifest.files.get(info.filename):
                raise BackupFailed(f"{archive} changed while it was read.")
            path = folder / info.filename
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with path.open("xb") as file:
                file.write(data)
                file.flush()
                sync_file(file.fileno())
            path.chmod(0o444 if info.filename.startswith("records/sealed/") else 0o600)
    for at, _, _ in os.walk(folder):
        sync_folder(Path(at))


def _empty(folder: Path) -> bool:
    return folder.is_dir() and not any(folder.iterdir())
