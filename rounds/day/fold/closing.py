"""Ending days one after another: the state that is carried on, from entries as they come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from itertools import islice
from operator import attrgetter, itemgetter, lt
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

Series = tuple[str | None, str, str]
"""A place, a measure and a unit."""
Tail = tuple[str, str, Reading]
"""When something was read, the entry's id, the entry."""

_LEDGER: Final = frozenset(LEDGER_KINDS)
_SERIES: Final = attrgetter("place", "measure", "unit")
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
    carried.hear(found.written.values())
    left = [entry for entry in found.effective.values() if entry is not None]
    for entry in left:
        carried.take(site, entry)
    carried.accounts.take(site, (entry for entry in left if type(entry) in _LEDGER))
    carried.conflicts += found.conflicts
    carried.count += len(found.written)


class Days(Struct):
    """Entries waiting for the end of their day."""

    site: Site
    carried: Carried
    waiting: dict[str, list[Entry]] = field(default_factory=dict)
    fixes: dict[str, Correction] = field(default_factory=dict)
    tails: dict[Series, Tail] = field(default_factory=dict)
    """The last reading of each series, of days that were ended without a look at the others."""
    tailed: str = ""
    """When the last of them was read."""
    begun: set[Series] = field(default_factory=set)
    """The series of which no later day of this kind can hold an earlier reading than the first."""

    def settle(self) -> Carried:
        """Return the state at the end of the last ended day."""
        shelf = Shelf()
        for _, _, entry in self.tails.values():
            PLACE[Reading](shelf, entry)
        self.tails.clear()
        for name, reads in shelf.series["reads"].items():
            last = self.carried.last_read.get(name, reads[-1])
            self.carried.last_read[name] = max(last, reads[-1], key=by_time)
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
        """End a day whose series nobody wants, looking only at the last reading of each.

        What is done to every reading is done to all at once: there are a million.
        """
        fixed = {fix.of for fix in self.fixes.values()}
        plain: list[Reading] = [e for e in entries if type(e) is Reading]
        if fixed:
            plain = [e for e in plain if e.id not in fixed]
        ids, when = [e.id for e in plain], [e.read_at or e.t for e in plain]
        if {*map(len, when)} - {_STAMP} or "" in [e.value for e in plain]:
            return False
        rising = all(map(lt, when, islice(when, 1, None)))  # then none stands there twice
        if not rising and len(set(ids)) < len(ids):
            return False
        since, until = min(when, default=""), max(when, default="")
        if when and (since[:10] < day_before(day) or until[:10] > day_before(day, -1)):
            return False
        timed = [*zip(when, ids, plain, strict=True)]
        if not rising:
            timed.sort()
        names: dict[Series, Tail] = dict(zip([_SERIES(e) for _, _, e in timed], timed, strict=True))
        new = names.keys() - self.begun
        if not all(_known(measure, unit) for _, measure, unit in new):
            return False  # a value that is none: look at all of them
        self._tail(names, since, until)
        shelf, first_at = Shelf(), self.carried.first_at
        for at in new:
            first = first_at.get(key(at[0] or "", at[1]))
            if first is not None and f"{first:%Y-%m-%d}" < day_before(day):
                self.begun.add(at)
        unknown = {at[:2] for at in new - self.begun}
        for entry in plain if unknown else ():
            if (entry.place, entry.measure) in unknown:
                PLACE[Reading](shelf, entry)
        found = self._of(day, [e for e in entries if type(e) is not Reading or e.id in fixed])
        for kind, series in found.shelf().series.items():
            for name, records in series.items():
                for record in records:
                    shelf.put(kind, name, record)
        rising = rising and when == [e.t for e in plain]  # then each writer's last is the newest
        newest = dict(zip([name[:6] for name in ids], plain, strict=True))
        self.carried.hear(newest.values() if rising else plain)
        self.carried.count += len(plain)
        _go_on(self.site, self.carried, found)
        self.carried.close(day, shelf)
        return True

    def _tail(self, names: dict[Series, Tail], since: str, until: str) -> None:
        """Take in the last reading of each series of a day, read from one instant to another."""
        if since > self.tailed:
            self.tails.update(names)
        else:
            for name, new in names.items():
                self.tails[name] = max(self.tails.get(name, new), new, key=itemgetter(0, 1))
        self.tailed = max(self.tailed, until)


@cache
def _known(measure: str, unit: str) -> bool:
    info = MEASURES.get(measure)
    return info is None or amount("1", unit, info.unit) is not None
