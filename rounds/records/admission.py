"""Who and what is let into the book: whole segments of laptops that belong to the site.

A laptop belongs once its segments lie in the sealed tree. They come there when a person takes it
in, here or on another laptop that belongs: the headers of a laptop name the others it holds, so
word of it travels with the records. A laptop that has nothing yet joins the site with its first
sync, and takes all. Until then a stranger's segments lie in records/aside/unknown, not folded.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Final

from msgspec import Struct

from rounds.records.durable import NotPlain, make_folder, read_plain, sync_folder, write_new
from rounds.records.entry import Entry, Open
from rounds.records.layout import (
    SealedFile,
    is_writer,
    listed,
    open_files,
    sealed_tree,
    writer_files,
    writer_folders,
)
from rounds.records.segment import MAX_FILE, header, scan, scan_bytes
from rounds.records.taking import misplaced
from rounds.text import clean

_ROOM: Final = 64 * 1024 * 1024
"""Bytes of strangers' segments kept here; more of them wait at the address."""
_MOST: Final = 2000
"""Strangers' segments kept here, however small."""
_NAMED: Final = 6


class Newcomer(Struct, frozen=True):
    """A laptop that waits to be taken in, and what it wrote."""

    writer: str
    files: int
    entries: int
    by: tuple[str, ...]
    """Codes of the people who wrote on it."""
    newest: str
    """The time of its newest entry."""


def is_what_it_says(data: bytes, file: SealedFile) -> bool:
    """Tell whether bytes are those their name was made from."""
    return sha256(data).hexdigest()[:32] == file.digest


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
            "is not what its name says: cut short or damaged. It is marked there, and a laptop "
            "that holds it sends it again"
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


def belonging(records: Path, own: str | None) -> set[str] | None:
    """Return the laptops whose segments are let in; None where this one joins and takes all.

    Args:
        records: The records folder.
        own: This laptop's writer id.
    """
    tree = sealed_tree(records)
    writers = set(writer_folders(tree))
    if not writers and not open_files(records):
        return None
    named: set[str] = set()
    for first in newest_headers(tree, writers).values():
        named.update(filter(is_writer, first.seen))
    return writers | named | ({own} if own else set())


def newest_headers(tree: Path, writers: Iterable[str]) -> dict[str, Open]:
    """Return line 1 of the newest segment of each laptop whose line 1 can be read."""
    found = {}
    for writer in writers:
        with suppress(OSError):
            files = writer_files(tree, writer).files
            first = header(files[-1].path(tree)) if files else None
            if first is not None:
                found[writer] = first
    return found


def unknown_tree(records: Path) -> Path:
    """Where the segments of strangers lie until a person takes their laptop in."""
    return records / "aside" / "unknown"


class Waiting:
    """The room for strangers' segments."""

    def __init__(self, records: Path) -> None:
        self._tree = unknown_tree(records)
        self.files = set(listed(self._tree).files)
        self._room = _ROOM
        for file in self.files:
            with suppress(OSError):
                self._room -= file.path(self._tree).stat().st_size

    def full(self) -> bool:
        """Tell whether no further segment is kept here."""
        return self._room <= 0 or len(self.files) >= _MOST

    def keep(self, file: SealedFile, data: bytes) -> None:
        """Keep a segment until a person decides."""
        make_folder(self._tree / file.writer)
        write_new(file.path(self._tree), data)
        self.files.add(file)
        self._room -= len(data)


def newcomers(records: Path) -> tuple[Newcomer, ...]:
    """Return the laptops that wait to be taken in."""
    tree = unknown_tree(records)
    by_writer: dict[str, list[SealedFile]] = {}
    for file in listed(tree).files:
        by_writer.setdefault(file.writer, []).append(file)
    return tuple(_newcomer(tree, writer, files) for writer, files in by_writer.items())


def _newcomer(tree: Path, writer: str, files: list[SealedFile]) -> Newcomer:
    people: dict[str, None] = {}
    entries, newest = 0, ""
    for file in files:
        with suppress(NotPlain, OSError):
            for line in scan(file.path(tree)).lines:
                if not isinstance(line.entry, Entry) or isinstance(line.entry, Open):
                    continue
                entries += 1
                newest = max(newest, line.entry.t)
                if line.entry.by and len(people) < _NAMED:
                    people[clean(line.entry.by, limit=40)] = None
    return Newcomer(writer, len(files), entries, tuple(people), newest)


def take_in(records: Path, site_id: str, writer: str) -> list[SealedFile]:
    """Let the segments of a laptop into the book; from now on it belongs to the site.

    Hold the folder lock.

    Args:
        records: The records folder.
        site_id: The site.
        writer: The laptop.

    Returns:
        The segments that came in.

    Raises:
        OSError: They cannot be written; those that came in stay.
    """
    waits, tree = unknown_tree(records), sealed_tree(records)
    came: list[SealedFile] = []
    if writer not in writer_folders(waits):
        return came
    for file in writer_files(waits, writer).files:
        path = file.path(waits)
        with suppress(NotPlain):
            data = read_plain(path, MAX_FILE)
            if not refusal(data, file, site_id):
                make_folder(tree / writer)
                write_new(file.path(tree), data, mode=0o444)
                came.append(file)
        path.unlink()
    with suppress(OSError):
        (waits / writer).rmdir()
        sync_folder(waits)
    return came
