"""The farm as an earlier run left it: checkpoints of ended days, and the pages of those days.

All of it lies in the cache and can be made again at will. A checkpoint is named by its day and by
a mark of all it was made of: the sealed segments that touch this day or an earlier one, the site's
files, this version. Where one of these differs it is not found, and an earlier one is taken.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import date, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import msgspec
from msgspec import Struct

from rounds import __version__
from rounds.day.fold.carried import Carried
from rounds.day.fold.closing import Days
from rounds.day.fold.farm import Farm, fold
from rounds.day.fold.history import Past, Sifted, day_before, sifted
from rounds.day.fold.page import Page, paged
from rounds.day.when import local_day
from rounds.records.book import Book
from rounds.records.entry import Correction, Entry
from rounds.records.index import got, put
from rounds.records.taking import Facts
from rounds.site.model import Site

SHAPE: Final = "9"
"""Raised whenever what is carried, or how days are folded, changes: older ones are passed over."""
PAGES_DAYS: Final = 92
"""Days before today of which pages are made ahead: the longest that judgement looks back."""
_LATER: Final = 2
"""Days after which nothing more is awaited of a day while all is read anew."""
_DAILY: Final = 10
_WEEKLY: Final = 10
_OPEN_PAGES: Final = 48

_PAGE: Final = msgspec.msgpack.Decoder(Page)
_CARRIED: Final = msgspec.msgpack.Decoder(Carried)
_ENCODER: Final = msgspec.msgpack.Encoder()


class Pages:
    """The days that are over, read from their pages, which are made from the book when missing."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._folder = book.cache / "days"
        self._pages: OrderedDict[str, Page] = OrderedDict()
        self._days: OrderedDict[str, Sifted] = OrderedDict()

    def series(self, day: str, kind: str, name: str) -> list[Any]:
        """Return a series of a day."""
        try:
            return self._page(day).records(kind, name)
        except (ValueError, RecursionError, IndexError, TypeError):  # sound, and yet none of ours
            return self._anew(day).records(kind, name)

    def day(self, day: str) -> Sifted:
        """Return the entries of a day."""
        found = self._days.get(day)
        if found is None:
            found = sifted(self._book.between(day, day)).parted(day_before(day), day)
            _remember(self._days, day, found, 4)
        return found

    def days_of(self, entry_id: str) -> tuple[str, ...]:
        """Return the days among which an entry is to be looked for."""
        return tuple(day for one in self._book.index.holding(entry_id) for day in one.days)

    def written(self, since: datetime, until: datetime) -> list[Entry]:
        """Return the entries written in a span of time, whichever day they belong to."""
        return self._book.written(since, until)

    def keep(self, day: str, data: bytes) -> None:
        """Write the page of a day; where it cannot be written it is made again when asked for."""
        with suppress(OSError):
            put(self._path(day), data)

    def thin(self) -> None:
        """Drop the pages for which a later one of the same day stands."""
        with suppress(OSError):
            of_day: dict[str, list[Path]] = {}
            for path in self._folder.iterdir():
                of_day.setdefault(path.name[:10], []).append(path)
            for paths in of_day.values():
                if len(paths) > 1:
                    for path in sorted(paths, key=lambda one: one.stat().st_mtime_ns)[:-1]:
                        path.unlink()

    def _path(self, day: str) -> Path:
        return self._folder / f"{day}-{_mark(self._book.index.mark_of(day))}.mp"

    def _page(self, day: str) -> Page:
        page = self._pages.get(day)
        if page is None:
            page = self._read(day)
            if page is None:
                return self._anew(day)
            _remember(self._pages, day, page, _OPEN_PAGES)
        return page

    def _anew(self, day: str) -> Page:
        data = paged(self.day(day).shelf())
        self.keep(day, data)
        page = _PAGE.decode(data)
        _remember(self._pages, day, page, _OPEN_PAGES)
        return page

    def _read(self, day: str) -> Page | None:
        with suppress(OSError, ValueError, RecursionError):
            return _PAGE.decode(got(self._path(day)))
        return None


def _nobody(_done: int, _of: int) -> None:
    pass


def how_far(done: int, of: int) -> str:
    """Say how far the reading of the book is.

    Args:
        done: Files read.
        of: Files to read.
    """
    if done >= of:
        return "Reading the book"
    return f"Reading the book: {done:,} of {of:,} files".replace(",", " ")


class Ended(Struct, frozen=True):
    """Days that are over since the last checkpoint, and what they are to be named by."""

    past: Past | None
    entries: list[Entry]
    last: str
    """The last of them."""
    mark: str


class Snapshot:
    """Opens the farm of a book, and keeps what the next start needs."""

    def __init__(self, site: Site, book: Book, tell: Callable[[int, int], None] = _nobody) -> None:
        """Open and keep the farm of a book.

        Args:
            site: The site.
            book: Its book.
            tell: Is told now and then how many files of how many are read.
        """
        self.site = site
        self.book = book
        self._tell = tell
        self.read = 0
        """Entries that were read to open the farm."""
        self._folder = book.cache / "farm"

    # -- opening -------------------------------------------------------------------------------

    def open(self, now: datetime) -> Farm:
        """Return the farm: the newest checkpoint that is right, and the entries since.

        Args:
            now: The present: only days before it are over.
        """
        last = self._last(now, self.book.opened())
        batches = self._told(self.book.resume())
        if not self.book.index:
            days = Days(self.site, Carried())
            if self._read_all(days, batches, last, now):
                return self._upon(days.carried, days.rest())
            batches = self._told(self.book.resume())
        new = [entry for day, entries in batches if not day for entry in entries]
        last = min(last, self._last(now, new))
        carried = self._forward(self._newest(last), last, now)
        return self._upon(carried, [*new, *self._since(carried.day)])

    def _told(
        self, batches: Iterable[tuple[str, Iterable[Entry]]]
    ) -> Iterator[tuple[str, Iterable[Entry]]]:
        for done, batch in enumerate(batches, 1):
            self._tell(done, max(done, self.book.listed))
            yield batch

    def _last(self, now: datetime, opened: list[Entry]) -> str:
        """Return the last day that can be ended: it is over, and no open segment touches it."""
        yesterday = (local_day(now, self.site.timezone) - timedelta(days=1)).isoformat()
        first = min((entry.day for entry in opened), default="")
        return min(yesterday, day_before(first)) if first else yesterday

    def _since(self, day: str) -> list[Entry]:
        found = self.book.between(day_before(day, -1) if day else "", "~")
        self.read += len(found)
        return found

    def _upon(self, carried: Carried, entries: list[Entry]) -> Farm:
        later = {entry.id: entry for entry in entries if entry.day > carried.day}
        fixes = [e for e in entries if isinstance(e, Correction) and e.id not in later]
        while more := [fix for fix in fixes if fix.of in later and fix.id not in later]:
            later.update((fix.id, fix) for fix in more)
        since = [entry for entry in entries if entry.id in later]
        past = Past(carried, Pages(self.book)) if carried.day else None
        return fold(self.site, since, past, sum(self.book.unknown.values()))

    def _read_all(
        self, days: Days, batches: Iterator[tuple[str, Iterable[Entry]]], last: str, now: datetime
    ) -> bool:
        """End the days while all is read anew; False where something came too late for that."""
        index, newest = self.book.index, ""
        read: list[tuple[str, Facts, str]] = []

        def bounded() -> Iterator[tuple[str, list[Entry]]]:
            nonlocal newest
            for named, entries in batches:
                if named:
                    newest = max(newest, f"{named[:4]}-{named[4:6]}-{named[6:]}")
                    known = next(reversed(index.files.values()))
                    read.append((known.name, known, day_before(newest, _LATER + 1)))
                yield day_before(newest, _LATER) if newest else "", list(entries)

        ending = _Ending(self, days, now)
        ending.run(bounded(), last)
        late = [
            index.files[name].days[0]
            for name, known, over in read
            if index.files[name].days
            and (index.files[name].days[0] <= min(over, last) or index.files[name] != known)
        ]
        ending.write(min(late, default="~"))
        return not late

    def _forward(self, carried: Carried, last: str, now: datetime) -> Carried:
        """End the days until the last, a segment at a time, with what the index knows."""
        known = self.book.index.after(carried.day)
        if not known or day_before(max(known[0].days[0], carried.day), -_LATER) >= last:
            return carried
        days = Days(self.site, carried)
        ending = _Ending(self, days, now)
        ending.run(self._again(known), last)
        ending.write("~")
        return days.carried

    def _again(self, known: list[Facts]) -> Iterator[tuple[str, list[Entry]]]:
        for done, one in enumerate(known, 1):
            self._tell(done, len(known))
            yield one.days[0], list(self.book.reread(one))

    def _newest(self, last: str) -> Carried:
        """Return the newest checkpoint that is right, of this day or before; else an empty one."""
        try:
            names = sorted((path.name for path in self._folder.iterdir()), reverse=True)
        except OSError:
            return Carried()
        for name in names:
            day = name[:10]
            if day <= last and name == self.name(day):
                with suppress(OSError, ValueError, RecursionError):
                    found = _CARRIED.decode(got(self._folder / name))
                    if found.day == day:
                        return found
        return Carried()

    # -- keeping -------------------------------------------------------------------------------

    def ended(self, farm: Farm, now: datetime) -> Ended | None:
        """Return the days that are over and not kept yet; None where there are none.

        Ask it where no entry is taken in meanwhile; `keep` may run beside.
        """
        last = self._last(now, self.book.opened())
        kept = farm.past.day if farm.past else ""
        over = any(kept < entry.day <= last for entry in farm.entries.values())
        if not over and not self.book.index.changed:
            return None
        return Ended(farm.past, list(farm.entries.values()), last, self.name(last))

    def keep(self, ended: Ended, now: datetime) -> None:
        """Write what the next start needs; where it cannot be written nothing is lost."""
        days = Days(self.site, ended.past.carried.copied() if ended.past else Carried())
        ending = _Ending(self, days, now)
        ending.run(iter([("", ended.entries)]), ended.last)
        if self.name(ended.last) == ended.mark:
            ending.write("~")

    def write(self, marks: Mapping[str, bytes], over: str) -> None:
        """Write checkpoints and the index, and thin out those that are there.

        Args:
            marks: The checkpoints, by day.
            over: The day until which the index folds up what it knows.
        """
        with suppress(OSError):
            for day, data in marks.items():
                put(self._folder / self.name(day), data)
            if marks:
                self._thin()
            self.book.index.save(self.book.cache, over)

    def _thin(self) -> None:
        """Drop what a later checkpoint stands for: all of ten days, of ten weeks, of each month."""
        names = sorted(path.name for path in self._folder.iterdir() if len(path.name) > 10)
        newest = {name[:10]: name for name in names if name == self.name(name[:10])}
        days = sorted(newest, reverse=True)
        wanted = set(days[:_DAILY])
        wanted.update({_week(day): day for day in days[: _DAILY + 7 * _WEEKLY]}.values())
        wanted.update({day[:7]: day for day in days}.values())
        for name in names:
            if newest.get(name[:10]) != name or name[:10] not in wanted:
                with suppress(OSError):
                    (self._folder / name).unlink()

    def name(self, day: str) -> str:
        """Return the name of the checkpoint of a day, as things stand."""
        return f"{day}-{_mark(self.site.digest, self.book.index.mark(day))}.mp"


class _Ending:
    """Ends days one after another and gathers what is to be written of them."""

    def __init__(self, snapshot: Snapshot, days: Days, now: datetime) -> None:
        self._snapshot = snapshot
        self._days = days
        today = local_day(now, snapshot.site.timezone)
        self._shelved = (today - timedelta(days=PAGES_DAYS)).isoformat()
        self._daily = (today - timedelta(days=_DAILY)).isoformat()
        self._pages: list[tuple[str, bytes]] = []
        self._marks: dict[str, bytes] = {}
        self._began = days.carried.day

    def run(self, batches: Iterator[tuple[str, list[Entry]]], last: str) -> None:
        """Take in entries; before each batch stands the first day it and later ones touch."""
        for first, entries in batches:
            self._until(min(last, day_before(first)) if first else "")
            self._snapshot.read += len(entries)
            self._days.take(entries)
        self._until(last)
        if self._days.carried.day:
            self._marks[self._days.carried.day] = _ENCODER.encode(self._days.settle())

    def _until(self, last: str) -> None:
        days = self._days
        for day, shelf in days.until(last, self._shelved):
            if shelf is not None and day >= self._shelved:
                self._pages.append((day, paged(shelf)))
            if day >= self._daily or day.endswith("-01"):
                self._marks[day] = _ENCODER.encode(days.settle())
            holding = self._snapshot.book.index.holding
            for name, fix in list(days.fixes.items()):
                if fix.day <= day and not any(one.days[-1] > day for one in holding(fix.of)):
                    del days.fixes[name]

    def write(self, until: str) -> None:
        """Write the pages and checkpoints of days before one."""
        pages = Pages(self._snapshot.book)
        for day, data in self._pages:
            if day < until:
                pages.keep(day, data)
        if self._pages:
            pages.thin()
        new = {d: data for d, data in self._marks.items() if self._began < d < until}
        self._snapshot.write(new, day_before(f"{self._shelved[:7]}-01"))


def _mark(*parts: str) -> str:
    return sha256("\n".join((SHAPE, __version__, *parts)).encode()).hexdigest()[:16]


def _week(day: str) -> str:
    year, week, _ = date.fromisoformat(day).isocalendar()
    return f"{year}-{week}"


def _remember(kept: OrderedDict[str, Any], day: str, found: object, most: int) -> None:
    kept[day] = found
    while len(kept) > most:
        kept.popitem(last=False)
