"""The days before: what was carried out of them, and their series, taken down when asked for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final, Protocol

from msgspec import Struct, field

from rounds.day.fold import corrections
from rounds.day.fold.carried import Carried
from rounds.day.fold.placing import PLACE
from rounds.day.fold.shelf import Shelf, by_time
from rounds.day.fold.state import Conflict
from rounds.records.entry import Correction, Entry

_EVER: Final = datetime.min.replace(tzinfo=UTC)
_NEVER: Final = datetime.max.replace(tzinfo=UTC)


class Sifted(Struct):
    """Entries each once, and what their corrections leave of them."""

    written: dict[str, Entry]
    """By id, corrections included, in the order of the ids."""
    effective: dict[str, Entry | None] = field(default_factory=dict)
    """By id, corrections left out; None where taken back."""
    corrections: dict[str, tuple[str, ...]] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)

    def shelf(self) -> Shelf:
        """Return the series of these entries."""
        shelf = Shelf()
        for entry in self.effective.values():
            if entry is not None and (place := PLACE.get(type(entry))) is not None:
                place(shelf, entry)
        return shelf

    def parted(self, after: str, until: str = "~") -> Sifted:
        """Return what belongs to the days after one and until another; both site-local.

        A correction belongs to the day of what it corrects, if that is among these.
        """
        day_of = {
            key: self.written[target].day
            for target, keys in self.corrections.items()
            if target in self.written
            for key in keys
        }
        inside = {
            key
            for key, entry in self.written.items()
            if after < day_of.get(key, entry.day) <= until
        }
        return Sifted(
            {key: entry for key, entry in self.written.items() if key in inside},
            {key: entry for key, entry in self.effective.items() if key in inside},
            {of: keys for of, keys in self.corrections.items() if keys and keys[0] in inside},
            [one for one in self.conflicts if one.of in inside],
        )


def sifted(entries: Iterable[Entry]) -> Sifted:
    """Return entries each once, and as their corrections leave them, whatever their order."""
    found: dict[str, Entry] = {}
    for entry in entries:
        if entry.id not in found or entry.h < found[entry.id].h:
            found[entry.id] = entry
    one = Sifted(dict(sorted(found.items())))
    by_target = corrections.by_target(one.written.values())
    for entry in one.written.values():
        if isinstance(entry, Correction):
            continue
        of_it = by_target.get(entry.id)
        if of_it is None:
            one.effective[entry.id] = entry
            continue
        one.effective[entry.id], conflict = corrections.effective(entry, of_it)
        if conflict is not None:
            one.conflicts.append(conflict)
    one.corrections = {target: tuple(c.id for c in group) for target, group in by_target.items()}
    return one


class Library(Protocol):
    """Where the days before are found."""

    def series(self, day: str, kind: str, name: str) -> list[Any]:
        """Return a series of a day."""

    def day(self, day: str) -> Sifted:
        """Return the entries of a day."""

    def days_of(self, entry_id: str) -> tuple[str, ...]:
        """Return the days among which an entry is to be looked for."""

    def written(self, since: datetime, until: datetime) -> list[Entry]:
        """Return the entries written in a span of time, whichever day they belong to."""


class Past:
    """The farm until the end of a day."""

    def __init__(self, carried: Carried, library: Library) -> None:
        self.carried = carried
        self.library = library
        self._series: dict[tuple[str, str], tuple[str, datetime, list[Any]]] = {}
        """By kind and name: from which day on, from which instant on, and the records."""
        self._steps: dict[str, dict[tuple[str, str, str], tuple[datetime, str]]] = {}

    @property
    def day(self) -> str:
        """Its last day."""
        return self.carried.day

    def series(
        self, kind: str, name: str, since: datetime | None, until: datetime | None = None
    ) -> list[Any]:
        """Return a series from an instant on, or all of it; it may begin earlier."""
        had, since_when, found = self._series.get((kind, name), ("~", _NEVER, []))
        if (since or _EVER) >= since_when:
            return found
        begun = self.carried.first_day
        if kind == "reads":
            began = self.carried.first_at.get(name)
            begun = max(begun, day_of(began, -1)) if began is not None else "~"
        first = begun if since is None else max(begun, day_of(since, -1))
        if first < had:
            days = list(days_from(first, min(self.day, day_before(had) if had != "~" else "~")))
            if had == "~":
                days += [odd for odd in self.carried.odd if odd < first]
            more = [one for day in days for one in self.library.series(day, kind, name)]
            known = {one.id for one in found}
            found = sorted([*found, *(one for one in more if one.id not in known)], key=by_time)
        known_from = _EVER
        if first > begun:
            known_from = datetime.fromisoformat(day_before(first, -1)).replace(tzinfo=UTC)
        self._series[kind, name] = min(had, first), min(since_when, known_from), found
        return found

    def of_day(self, kind: str, name: str, day: str) -> list[Any]:
        """Return the records of a series that belong to a day."""
        return self.library.series(day, kind, name)

    def step(self, walk: str, place: str, step: str) -> tuple[datetime, str] | None:
        """Return when and with which entry a step of a walk was kept last."""
        known = self.carried.walks.get(walk)
        if known is None:
            return None
        if walk not in self._steps:
            found: dict[tuple[str, str, str], tuple[datetime, str]] = {}
            for day in days_from(known.day, min(self.day, day_before(known.day, -1))):
                for at, new in self.library.day(day).shelf().steps.items():
                    found[at] = max(found.get(at, new), new)
            self._steps[walk] = found
        return self._steps[walk].get((walk, place, step))

    def found(self, entry_id: str) -> Sifted | None:
        """Return the entries of the day of one of them."""
        for day in self.library.days_of(entry_id):
            if day <= self.day and entry_id in (found := self.library.day(day)).written:
                return found
        return None


def day_of(at: datetime, more: int = 0) -> str:
    """Return the UTC date of an instant, some days later."""
    return (at.date() + timedelta(days=more)).isoformat()


def day_before(day: str, days: int = 1) -> str:
    """Return the date some days before."""
    return (date.fromisoformat(day) - timedelta(days=days)).isoformat()


def days_from(first: str, last: str) -> Iterable[str]:
    """Return the dates from the first to the last, both included."""
    day, end = date.fromisoformat(first), date.fromisoformat(last)
    while day <= end:
        yield day.isoformat()
        day += timedelta(days=1)
