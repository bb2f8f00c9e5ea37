"""TinyDB's storage of one segment, and its table, to which one can only append.

Loaded at a run's first entry: reading needs none of it.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn

import msgspec
from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Table

from rounds.records.durable import NotPlain, sync_file, sync_folder
from rounds.records.segment import MAX_LINE, Line, LineTooLong, ended, link, scan


class AppendOnly(Exception):
    """What is written stays: nothing here changes or removes an entry."""


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
        line = ended(body, h)
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
