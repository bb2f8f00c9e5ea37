"""What all screens share: the site, the book, the farm as it stands, and who is writing."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Sequence
from concurrent.futures import wait
from contextlib import suppress
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Final

from msgspec.structs import replace

from rounds.day.fold.farm import Farm, fold
from rounds.day.fold.snapshot import Snapshot
from rounds.day.fold.state import HandoffAt
from rounds.day.walking.plan import Reread, rereads
from rounds.day.when import clock
from rounds.records.book import Book, NotSaved
from rounds.records.durable import barred
from rounds.records.entry import Entry
from rounds.records.identity import state_folder
from rounds.screens.beside import begin
from rounds.screens.bounce import Bounce
from rounds.screens.halves import HalfTyped
from rounds.site.model import Site

if TYPE_CHECKING:
    from rounds.screens.guide import Guide


_MANY: Final = 5000
"""Entries since the checkpoint above which the farm is opened anew on a later one."""


def utc_now() -> datetime:
    """Return the present, aware."""
    return datetime.now(UTC)


class Desk:
    """The state of one run of the app. It keeps entries and hears those of others."""

    def __init__(
        self,
        site: Site,
        book: Book,
        by: str | None,
        here: str,
        now: Callable[[], datetime] = utc_now,
        steady: Callable[[], float] = time.monotonic,
        patience_s: float | None = None,
    ) -> None:
        """Open the farm.

        Args:
            site: The site.
            book: Its open book.
            by: Code of the person writing, None where it is not known yet.
            here: This laptop's writer code.
            now: Tells the present.
            steady: Seconds of a clock that nobody sets.
            patience_s: How long to wait for a farm that must be worked out anew, s; None to wait
                until it is there. After that it is worked out beside, until `ready`.
        """
        self.site = site
        self.book = book
        self.by = by or ""
        self.here = here
        self.now = now
        self.read = 0, 0
        """While the farm is worked out: files read, of how many."""
        self.snapshot = Snapshot(site, book, self._reads)
        self.farm = Farm(site)
        self.unread = 0
        """Lines and files of the book that could not be read or found."""
        self.barred = ""
        """Why nothing can be kept; empty where it can."""
        self._opening = begin(self._open)
        wait([self._opening], patience_s)
        self.saved = ""
        self.on_working: Callable[[], None] = lambda: None
        """Called when something begins that takes a while; what it is stands in `saved`."""
        self.state: Path = state_folder(site.folder, site.id)
        """What this laptop knows of itself on this site, outside the site's folder."""
        self.half = HalfTyped(self.state)
        self.bounce = Bounce(steady)
        """Shared by all screens: a bounce must not answer what the first press opened."""
        self._words: dict[str, str] = {}
        self.guide: Guide | None = None
        """The first five minutes, while somebody walks through them."""
        self._rereads: tuple[tuple[int, int], tuple[Reread, ...]] | None = None
        self._turn = asyncio.Lock()
        self._looked_at = ""
        """The hour in which ended days were looked for last."""

    @property
    def ready(self) -> bool:
        """Whether the farm is there; what kept it from being opened is raised here."""
        if self._opening.done():
            self._opening.result()
        return self._opening.done()

    def _open(self) -> None:
        self.farm = self.snapshot.open(self.now())
        self.barred = barred(self.site.folder)

    def count_unread(self) -> None:
        """Count what of the book could not be read or found; no first board waits for it."""
        self.unread = len(self.book.problems())

    def _reads(self, done: int, of: int) -> None:
        self.read = done, of

    @property
    def display(self) -> str:
        """The units this site reads: "metric" or "us"."""
        return self.site.display_units

    def first_start(self) -> bool:
        """Tell, once on this laptop, that rounds was never opened on this site before."""
        mark = self.state / "opened"
        try:
            self.state.mkdir(mode=0o700, parents=True, exist_ok=True)
            mark.touch(mode=0o600, exist_ok=False)
        except OSError:
            return False
        return True

    def recall(self, name: str) -> str:
        """Return what this laptop keeps under a name between runs; empty where it keeps none."""
        try:
            return (self.state / name).read_text("utf-8").strip()
        except (OSError, UnicodeDecodeError):
            return ""

    def remember(self, name: str, says: str) -> None:
        """Keep a line under a name for the next run.

        Raises:
            OSError: It could not be written.
        """
        self.state.mkdir(mode=0o700, parents=True, exist_ok=True)
        (self.state / name).write_text(says, "utf-8")

    @property
    def words(self) -> str:
        """What the person writing wants to say in the hand-off not signed yet; outlives a crash."""
        if self.by not in self._words:
            self._words[self.by] = self.recall(self._words_file)
        return self._words[self.by]

    @words.setter
    def words(self, says: str) -> None:
        self._words[self.by] = says
        with suppress(OSError):  # not kept on the disk, they are kept in this run
            self.remember(self._words_file, says)

    @property
    def _words_file(self) -> str:
        return f"words-{sha256(self.by.encode()).hexdigest()[:16]}"

    @property
    def invented(self) -> bool:
        """Whether this is a farm to try things on."""
        return "invented" in self.site.notice.casefold()

    def begin_guide(self) -> None:
        """Begin the first five minutes anew."""
        from rounds.screens.guide import Guide

        self.guide = Guide(self.farm.size)

    @property
    def rereads(self) -> tuple[Reread, ...]:
        """What is to be read again, looked up when the book or the minute moves on."""
        now = self.now()
        key = (self.farm.size, int(now.timestamp() // 60))
        if self._rereads is None or self._rereads[0] != key:
            self._rereads = key, rereads(self.site, self.farm, now)
        return self._rereads[1]

    @property
    def waiting(self) -> HandoffAt | None:
        """The last hand-off, if another person wrote it and nobody has taken it over."""
        last = self.farm.handoffs[-1] if self.farm.handoffs else None
        return last if last and last.taken_by is None and last.by != self.by else None

    def who(self) -> str:
        """Return the name of the person writing, or the code where the site does not know it."""
        person = self.site.people.get(self.by)
        return person.name if person else self.by

    async def keep(self, draft: Entry) -> Entry:
        """Append an entry to the book and fold it; returns only when it is durable.

        Args:
            draft: The entry, its `by` filled in where it is empty.

        Returns:
            The entry as it stands in the book.

        Raises:
            NotSaved: It is not on disk, or nobody is named; nothing has changed.
        """
        if not draft.by:
            draft = replace(draft, by=self.by)
        if not draft.by:
            raise NotSaved("Not saved: nobody is named; say who you are first.")
        async with self._turn:
            entry = await asyncio.to_thread(self.book.append, draft)
            await self._take((entry,))
        self.here = self.here or entry.id.partition("-")[0]
        self.saved = f"saved {clock(self.now(), self.site.timezone)}"
        return entry

    async def listen(self) -> int:
        """Fold what other programs and laptops have written since; return how much it was."""
        async with self._turn:
            entries = await asyncio.to_thread(self.book.new_entries)
            await self._take(entries)
            self.farm.unknown = sum(self.book.unknown.values())
            if entries:
                await asyncio.to_thread(self.count_unread)
            ended = None
            if self._looked_at != (hour := f"{self.now():%Y-%m-%d %H}"):
                self._looked_at = hour
                ended = await asyncio.to_thread(self.snapshot.ended, self.farm, self.now())
        if ended is not None:
            await asyncio.to_thread(self.snapshot.keep, ended, self.now())
            if len(self.farm.entries) > _MANY:  # an app that runs for weeks
                async with self._turn:
                    self.farm = await asyncio.to_thread(self.snapshot.open, self.now())
        return len(entries)

    async def _take(self, entries: Sequence[Entry]) -> None:
        """Fold new entries; where one touches a day that is over, from before that day on."""
        farm = self.farm
        if not all(farm.takes(entry) for entry in entries):
            self.saved = "working out again"
            self.on_working()
            self.farm = await asyncio.to_thread(self.snapshot.open, self.now())
            self.saved = ""
        elif len(entries) > 1:  # a stick brings a day of them: one fold, beside the keys
            known = [*farm.entries.values(), *entries]
            self.farm = await asyncio.to_thread(fold, self.site, known, farm.past, farm.unknown)
        elif entries:
            self.farm = farm.add(entries[0])
