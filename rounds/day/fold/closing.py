"""Ending days one after another: the state that is carried on, from entries as they come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from operator import attrgetter
from typing import Final

from msgspec import Struct, field

from rounds.day.fold.carried import Carried
from rounds.day.fold.history import Sifted, day_before, sifted
from rounds.day.fold.placing import PLACE
from rounds.day.fold.shelf import Shelf, by_time, key
from rounds.day.fold.state import amount
from rounds.day.fold.stock import LEDGER_KINDS
from rounds.records.entry import Correction, Entry, Reading
from rounds.site.measures import MEASURES
from rounds.site.model import Site

_STAMP: Final = 24
"""Letters of a time as `stamp` writes it: such times sort as texts."""


def close(site: Site, carried: Carried, day: str, found: Sifted) -> Shelf:
    """End a day.

    Args:
        site: The site.
        carried: The state at the end of the day before; goes on to the end of this one.
        day: The day, site-local.
        found: All that belongs to it.

    Returns:
        The series of the day.
    """
    shelf = found.shelf()
    _go_on(site, carried, found)
    carried.close(day, shelf)
    return shelf


def _go_on(site: Site, carried: Carried, found: Sifted) -> None:
    for entry in found.written.values():
        carried.hear(entry)
    left = [entry for entry in found.effective.values() if entry is not None]
    for entry in left:
        carried.take(site, entry)
    carried.accounts.take(site, (entry for entry in left if isinstance(entry, LEDGER_KINDS)))
    carried.conflicts += found.conflicts
    carried.count += len(found.written)


class Days(Struct):
    """Entries waiting for the end of their day."""

    site: Site
    carried: Carried
    waiting: dict[str, list[Entry]] = field(default_factory=dict)
    fixes: dict[str, Correction] = field(default_factory=dict)
    tails: dict[str, tuple[str, str, Reading]] = field(default_factory=dict)
    """The last reading of each series, of days that were ended without a look at the others."""

    def settle(self) -> Carried:
        """Return the state at the end of the last ended day."""
        shelf = Shelf()
        for _, _, entry in self.tails.values():
            PLACE[Reading](shelf, entry)
        self.tails.clear()
        for name, (read,) in shelf.series["reads"].items():
            last = self.carried.last_read.get(name, read)
            self.carried.last_read[name] = max(last, read, key=by_time)
        if self.carried.day:
            self.carried.forget()
        return self.carried

    def take(self, entries: Iterable[Entry]) -> None:
        """Let entries wait; those of days that are over are passed over."""
        found = list(entries)
        self.fixes.update((entry.id, entry) for entry in found if type(entry) is Correction)
        others = [entry for entry in found if type(entry) is not Correction]
        days = {entry.day for entry in others}
        for day in days:
            if day > self.carried.day:
                of_day = others if len(days) == 1 else [e for e in others if e.day == day]
                self.waiting.setdefault(day, []).extend(of_day)

    def until(self, last: str, shelved: str) -> Iterator[tuple[str, Shelf | None]]:
        """End every day that waits, until the last.

        Args:
            last: The last day to end.
            shelved: From which day on the series are wanted.

        Returns:
            Each day as it ended, with its series where they are wanted.
        """
        fixed = [fix.day for fix in self.fixes.values()]
        for day in sorted({day for day in (*self.waiting, *fixed) if day <= last}):
            if day <= self.carried.day:
                continue
            entries = self.waiting.pop(day, [])
            if day < shelved and self._quick(day, entries):
                yield day, None
                continue
            found = self._of(day, entries)
            yield day, close(self.site, self.carried, day, found)

    def rest(self) -> list[Entry]:
        """Return what still waits."""
        waiting = [entry for found in self.waiting.values() for entry in found]
        return [*waiting, *self.fixes.values()]

    def _of(self, day: str, entries: list[Entry]) -> Sifted:
        """Return what belongs to a day, and let go of the corrections that do."""
        found = sifted([*entries, *self.fixes.values()])
        found = found.parted(day_before(day), day)
        for target, names in found.corrections.items():
            for name in names if target in found.written else ():
                self.fixes.pop(name, None)
        return found

    def _quick(self, day: str, entries: list[Entry]) -> bool:
        """End a day whose series nobody wants, looking only at the last reading of each."""
        fixed = {fix.of for fix in self.fixes.values()}
        plain = [e for e in entries if type(e) is Reading and e.id not in fixed]
        when = [e.read_at or e.t for e in plain]
        if len({e.id for e in plain}) < len(plain) or {*map(len, when)} - {_STAMP}:
            return False
        if not all(e.value for e in plain) or not all(
            map(_known, {(e.measure, e.unit) for e in plain})
        ):
            return False  # a value that is none: look at all of them
        if when:
            first, last = min(when)[:10], max(when)[:10]
            if first < day_before(day) or last > day_before(day, -1):
                return False
        shelf, begun = Shelf(), self.carried.first_at
        timed = sorted(zip(when, [e.id for e in plain], plain, strict=True))
        names = {(entry.place or "", entry.measure): new for new in timed for entry in (new[2],)}
        for (place, measure), new in names.items():
            name = key(place, measure)
            old = self.tails.get(name)
            if old is None or new[:2] > old[:2]:
                self.tails[name] = new
        unknown = {at for at in names if key(*at) not in begun}
        if unknown:
            for entry in plain:
                if (entry.place or "", entry.measure) in unknown:
                    PLACE[Reading](shelf, entry)
        found = self._of(day, [e for e in entries if type(e) is not Reading or e.id in fixed])
        for kind, series in found.shelf().series.items():
            for name, records in series.items():
                for record in records:
                    shelf.put(kind, name, record)
        newest = {e.id[:6]: e for e in sorted(plain, key=attrgetter("t", "by"))}
        for entry in newest.values():
            self.carried.hear(entry)
        self.carried.count += len(plain)
        _go_on(self.site, self.carried, found)
        self.carried.close(day, shelf)
        return True


@cache
def _known(measure_unit: tuple[str, str]) -> bool:
    measure, unit = measure_unit
    info = MEASURES.get(measure)
    return info is None or amount("1", unit, info.unit) is not None
