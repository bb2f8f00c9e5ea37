"""Finds the site, the person and the book a command works with."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.cli.failure import Failure
from rounds.cli.out import emit
from rounds.day.fold import kept_site
from rounds.day.fold.farm import Farm
from rounds.day.fold.snapshot import Snapshot, how_far
from rounds.records.book import Book, NotSaved
from rounds.records.durable import barred
from rounds.records.entry import Entry
from rounds.site.files import FILE
from rounds.site.model import Site

if TYPE_CHECKING:
    import argparse

_MANY: Final = 2000
"""Entries to read at a start above which a command keeps what it made of them."""
_PATIENCE_S: Final = 0.5
"""After so long a start says how far it is, and again as often."""


class Opened(Struct):
    """A site with its book and the farm folded from it; `now` is the moment the command began."""

    site: Site
    book: Book
    farm: Farm
    snapshot: Snapshot
    now: datetime
    by: str

    @property
    def here(self) -> str:
        """This laptop's writer; empty before it has written."""
        return self.book.writer or ""

    @property
    def unread(self) -> int:
        """Number of lines and files of the records that could not be read or found."""
        return len(self.book.problems())

    def emit(self, command: str, rows: Iterable[object]) -> None:
        """Print rows as JSON."""
        emit(command, rows, self.site, self.now)

    def write(self, draft: Entry) -> Entry:
        """Append a draft; when this returns it is on the disk and in the farm.

        Raises:
            Failure: It is not saved.
        """
        try:
            entry = self.book.append(replace(draft, by=draft.by or self.by))
        except NotSaved as error:
            raise Failure(str(error)) from None
        self._take((entry,))
        return entry

    def hear(self) -> bool:
        """Take in what other programs and laptops wrote meanwhile; tells whether there was any."""
        fresh = self.book.new_entries()
        self._take(fresh)
        return bool(fresh)

    def _take(self, entries: Iterable[Entry]) -> None:
        """Fold new entries; where one touches a day that is over, from before that day on."""
        for entry in entries:
            if not self.farm.takes(entry):
                self.farm = self.snapshot.open(self.now)
                return
            self.farm = self.farm.add(entry)


class _Progress:
    """Tells a person at a terminal, on one line, how far a long reading of the book is."""

    def __init__(self) -> None:
        self._next = time.monotonic() + _PATIENCE_S
        self._shown = False

    def tell(self, done: int, of: int) -> None:
        """Say how far it is, not too often."""
        now = time.monotonic()
        if now >= self._next and sys.stderr.isatty():
            self._next, self._shown = now + _PATIENCE_S, True
            sys.stderr.write(f"\r{how_far(done, of)}\x1b[K")
            sys.stderr.flush()

    def end(self) -> None:
        """Take the line away."""
        if self._shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()


def present() -> datetime:
    """Return the time now, aware, UTC."""
    return datetime.now(UTC)


def site_folder(asked: argparse.Namespace) -> Path:
    """Return the site's folder: --site, else ROUNDS_SITE, else here or the nearest one above.

    Raises:
        Failure: There is none.
    """
    given: Path | str | None = asked.site or os.environ.get("ROUNDS_SITE")
    if given:
        folder = Path(given)
        if not (folder / FILE).is_file():
            raise Failure(f"no {FILE} in {folder}: give the site's folder, or make one with start")
        return folder
    here = Path.cwd()
    for folder in (here, *here.parents):
        if (folder / FILE).is_file():
            return folder
    raise Failure(
        f"no {FILE} here or above: give --site DIR, or make a site with rounds start DIR or "
        "rounds sample DIR"
    )


def the_site(asked: argparse.Namespace) -> Site:
    """Load the site a command is about.

    Raises:
        Failure: It cannot be found, or its files are wrong.
    """
    folder = site_folder(asked)
    site = kept_site.find(folder)
    if site is not None:
        return site
    from rounds.site.loading import load
    from rounds.site.reading import SiteErrors

    try:
        site = load(folder)
    except SiteErrors as error:
        count = len(error.problems)
        what = f"{count} things are wrong in {folder}" if count > 1 else str(error.problems[0])
        raise Failure(f"{what}: see rounds --site {folder} check") from None
    kept_site.keep(site)
    return site


def place_code(site: Site, typed: str) -> str:
    """Return the code of a place as the site writes it, whatever its capitals.

    Raises:
        Failure: There is no such place.
    """
    codes = {code.casefold(): code for code in site.places}
    code = codes.get(typed.casefold())
    if code is None:
        raise Failure(f"there is no place {typed}: {', '.join(site.places)}")
    return code


def who(asked: argparse.Namespace, site: Site) -> str:
    """Return who writes: --by, else ROUNDS_BY; empty when nobody is named.

    Raises:
        Failure: The code is not one of the site's people.
    """
    by = asked.by or os.environ.get("ROUNDS_BY", "")
    if by and site.people and by not in site.people:
        raise Failure(f"{by} is not one of the site's people: {', '.join(site.people)}")
    return str(by)


@contextmanager
def opened(asked: argparse.Namespace, *, writes: bool) -> Iterator[Opened]:
    """Open the site's book, for reading only unless the command writes.

    Raises:
        Failure: No site, or nobody named for a command that writes.
    """
    site = the_site(asked)
    by = who(asked, site)
    if writes and not by:
        people = f": {', '.join(site.people)}" if site.people else ""
        raise Failure(f"say who writes, with --by CODE or ROUNDS_BY{people}")
    if writes and (says := barred(site.folder)):
        raise Failure(says)
    with Book.open(
        site.folder, site.id, site.digest, tz=site.timezone, read_only=not writes
    ) as book:
        now, progress = present(), _Progress()
        snapshot = Snapshot(site, book, progress.tell)
        found = Opened(site, book, snapshot.open(now), snapshot, now, by)
        progress.end()
        yield found
        if snapshot.read > _MANY and (ended := snapshot.ended(found.farm, now)) is not None:
            snapshot.keep(ended, now)
