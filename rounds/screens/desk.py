"""What all screens share: the site, the book, the farm as it stands, and who is writing."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from msgspec.structs import replace

from rounds.day.farm import Farm, fold
from rounds.day.state import HandoffAt
from rounds.day.when import clock
from rounds.records.book import Book
from rounds.records.entry import Entry
from rounds.records.identity import state_folder
from rounds.screens.bounce import Bounce
from rounds.site.model import Site


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
    ) -> None:
        self.site = site
        self.book = book
        self.by = by or ""
        self.here = here
        self.now = now
        self.farm: Farm = fold(site, book.entries())
        self.unread = len(book.problems())
        """Lines and files of the book that could not be read and lie aside."""
        self.saved = ""
        self.state: Path = state_folder(site.folder, site.id)
        """What this laptop knows of itself on this site, outside the site's folder."""
        self.half: dict[str, tuple[str, str, str]] = {}
        """By walk: the place and step it was left at and what was half typed there."""
        self.bounce = Bounce(steady)
        """Shared by all screens: a bounce must not answer what the first press opened."""
        self.words = ""
        """What the shift wants to say in the hand-off it has not signed yet."""
        self._turn = asyncio.Lock()

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
            NotSaved: It is not on disk; nothing has changed.
        """
        if not draft.by:
            draft = replace(draft, by=self.by)
        async with self._turn:
            entry = await asyncio.to_thread(self.book.append, draft)
            self.farm = self.farm.add(entry)
        self.here = self.here or entry.id.partition("-")[0]
        self.saved = f"saved {clock(self.now(), self.site.timezone)}"
        return entry

    async def listen(self) -> int:
        """Fold what other programs and laptops have written since; return how much it was."""
        async with self._turn:
            entries = await asyncio.to_thread(self.book.new_entries)
            if len(entries) > 1:  # a stick brings a day of them: one fold, beside the keys
                known = [*self.farm.entries.values(), *entries]
                self.farm = await asyncio.to_thread(fold, self.site, known, self.farm.unknown)
            elif entries:
                self.farm = self.farm.add(entries[0])
            if entries:
                self.unread = len(await asyncio.to_thread(self.book.problems))
        return len(entries)
