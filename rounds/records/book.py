"""The book of a site: append an entry, read all entries, see what other programs wrote.

Each run of the program writes its own segment, made when the first entry comes. An entry is on
the disk when `append` returns. Nothing is ever rewritten: a correction is an entry like any other.
"""

from __future__ import annotations

import errno
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import datetime, tzinfo
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self, TypeVar

from rounds.records import ballast, identity
from rounds.records.aside import TORN, Problem, labels
from rounds.records.decoding import fields
from rounds.records.entry import Entry, instant, stamp
from rounds.records.gaps import missing
from rounds.records.index import Index
from rounds.records.layout import checked_site_id, open_files
from rounds.records.locks import folder_lock
from rounds.records.reading import Reader
from rounds.records.sealing import seal_dead
from rounds.records.segment import LineTooLong
from rounds.records.taking import Facts
from rounds.records.writing import Writer, steady_s, utc_now

if TYPE_CHECKING:
    from tinydb.queries import QueryLike

_E = TypeVar("_E", bound=Entry)


class NotSaved(Exception):
    """An entry is not on the disk. The message is a sentence or two for the person."""


class Book:
    """The book of one site, as one run of the program sees it. Safe to use from threads."""

    def __init__(self, folder: Path, site_id: str) -> None:
        self._folder = folder
        self._records = folder / "records"
        self._site_id = checked_site_id(site_id)
        self._writing = threading.Lock()
        self._reading = threading.Lock()
        self._reader = Reader(self._records, site_id)
        self._writer: Writer | None = None

    @classmethod
    def open(
        cls,
        folder: Path,
        site_id: str,
        site_digest: str,
        *,
        tz: tzinfo,
        clock: Callable[[], datetime] = utc_now,
        steady: Callable[[], float] = steady_s,
        read_only: bool = False,
    ) -> Self:
        """Open the book of a site. Whatever its files hold, this does not fail.

        Args:
            folder: The site's folder, where site.toml lies.
            site_id: Its id, 8 characters.
            site_digest: A digest of the site's files, kept in the header of each segment.
            tz: The site's time zone; gives entries their day and offset.
            clock: Tells the time, aware.
            steady: Seconds of a clock that nobody sets.
            read_only: Write nothing under records/, not even what dead runs left to seal.

        Returns:
            The book; use it in a `with`, or `close` it.

        Raises:
            ValueError: `site_id` is not 8 characters of a-z and 0-9.
        """
        book = cls(folder, site_id)
        if not read_only:
            book._writer = Writer(
                folder, site_id, site_digest, tz, clock, steady, tell=book._is_ours
            )
            book._seal_dead()
        return book

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def writer(self) -> str | None:
        """The id of this laptop; None before it has written on this site."""
        return identity.writer_id(self._folder, self._site_id)

    @property
    def unknown(self) -> Mapping[str, int]:
        """How many entries of which kind this version does not know, in what was read."""
        return dict(self._reader.unknown)

    def append(self, entry: _E) -> _E:
        """Write an entry. It is on the disk when this returns.

        Args:
            entry: The entry; `id`, `t`, `off`, `mono`, `h` are given here, `day` too if empty.

        Returns:
            The entry as it was written, and as every reader will see it.

        Raises:
            NotSaved: It is not saved: say so, do not tick it. The next call tries anew.
            ValueError: A time or number in it is none.
        """
        with self._writing:
            if self._writer is None:
                raise NotSaved("Not saved: the book was opened for reading only.")
            try:
                written = self._writer.append(entry)
            except LineTooLong as error:
                raise NotSaved("Not saved: the text is too long, shorten it.") from error
            except OSError as error:
                raise NotSaved(self._sentence(error)) from error
            if self._writer.full:
                self._seal()
            return written

    def entries(self) -> Iterator[Entry]:
        """Read every entry of every laptop, each once, in no order that means anything."""
        self._reader = Reader(self._records, self._site_id)
        return self._reader.fresh()

    def new_entries(self) -> tuple[Entry, ...]:
        """Return what other programs and laptops wrote since the last reading."""
        with self._reading:
            return tuple(self._reader.fresh())

    # -- what an earlier run knew ----------------------------------------------------------------

    @property
    def cache(self) -> Path:
        """Where things lie that can be made again at will."""
        return self._folder / "cache"

    @property
    def index(self) -> Index:
        """Which days each sealed segment touches, of those that were read."""
        return self._reader.index

    def resume(self) -> Iterator[tuple[str, Iterable[Entry]]]:
        """Take up the index of an earlier run, and read what it does not know.

        Returns:
            A file at a time: the day in the name of a sealed one, "20261124", by which they come,
            empty for an open one; its entries.
        """
        self._reader = Reader(self._records, self._site_id)
        self._reader.resume(self.cache)
        return self._reader.batches()

    @property
    def listed(self) -> int:
        """How many sealed files `resume` is going through."""
        return self._reader.listed

    def between(self, first: str, last: str) -> list[Entry]:
        """Read the entries of the segments that touch some days; more than those days, as a rule.

        Args:
            first: The first day, site-local, "2026-11-24".
            last: The last day.

        Returns:
            Every sealed entry of these days that the index knows, and what corrects it; some may
            come twice.
        """
        return list(self._reader.reread(self.index.touching(first, last)))

    def reread(self, known: Facts) -> Iterator[Entry]:
        """Read the entries of a segment of the index."""
        return self._reader.reread([known])

    def opened(self) -> list[Entry]:
        """Read the entries of all open segments."""
        return list(self._reader.opened())

    def written(self, since: datetime, until: datetime) -> list[Entry]:
        """Read the entries that were written after an instant and until another."""
        found = self._reader.reread(self.index.written(stamp(since), stamp(until)))
        return [entry for entry in found if since < instant(entry.t) <= until]

    def search(self, query: QueryLike) -> Iterator[dict[str, Any]]:
        """Filter all entries with a TinyDB query, as `where("measure") == "oxygen"`.

        Args:
            query: A query over documents; a key that holds its default is absent.

        Returns:
            The documents that match.
        """
        documents = map(fields, Reader(self._records, self._site_id).fresh())
        return (document for document in documents if query(document))

    def problems(self) -> tuple[Problem, ...]:
        """Return what could not be read: in what was read, what lies aside, and files not there."""
        aside = (
            Problem(label.file, label.line, label.reason)
            for label in labels(self._records)
            if label.line and label.reason != TORN
        )
        return tuple(
            dict.fromkeys((*self._reader.problems.values(), *aside, *missing(self._records)))
        )

    def declare(self, by: str) -> None:
        """Say, by a header without entries, with which site files this laptop works; it is sealed.

        Raises:
            OSError: It cannot be written.
        """
        with self._writing:
            if self._writer is not None:
                self._writer.begin(by)
                self._seal()

    def seal(self) -> None:
        """Seal what this run wrote, so that it can travel. A later entry opens a new segment."""
        with self._writing:
            self._seal()

    def close(self) -> None:
        """Seal what this run wrote."""
        self.seal()

    def _seal(self) -> None:
        if self._writer is not None:
            self._writer.close()
            self._seal_dead()

    def _seal_dead(self) -> None:
        """Seal what ended runs left. What cannot be sealed now stays readable until the next."""
        with suppress(OSError):
            if open_files(self._records):
                with folder_lock(self._records) as held:
                    if held:
                        seal_dead(self._records, self._site_id)

    def _is_ours(self, entry_id: str, body: bytes) -> None:
        self._reader.given.add(entry_id, body)

    def _sentence(self, error: OSError) -> str:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            if ballast.free(self._folder):
                return (
                    "Not saved: the disk is full. Room was kept back for this round: save again, "
                    "then free some space."
                )
            return "Not saved: the disk is full. Free some space, then save again."
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
            return (
                f"Not saved: {self._records} cannot be written. Take off its write protection, or "
                "ask whose folder it is."
            )
        if error.errno == errno.ENOENT:
            return (
                f"Not saved: {self._folder} is gone. Put the stick back or connect the share, then "
                "save again."
            )
        return (
            f"Not saved: the disk answered '{error.strerror or error}'. Save again; if it fails "
            "twice, write on paper and call the supervisor."
        )
