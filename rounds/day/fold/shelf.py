"""What was read, answered, given and taken: series by place or loop, each in the order of time."""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from operator import attrgetter
from typing import Any, Final, Protocol

from rounds.day.fold.state import (
    AnswerAt,
    DeadAt,
    DosedAt,
    ExchangedAt,
    FedAt,
    NoteAt,
    Read,
    SkipAt,
)
from rounds.records.entry import Entry

RECORDS: Final = {
    "reads": Read, "answers": AnswerAt, "fed": FedAt, "dosed": DosedAt, "exchanged": ExchangedAt,
    "dead": DeadAt, "skips": SkipAt, "notes": NoteAt,
}  # fmt: skip
"""The kinds of series, and what stands in each."""


class Record(Protocol):
    """What stands in a series."""

    @property
    def at(self) -> datetime: ...  # noqa: D102 - the instant it belongs to

    @property
    def id(self) -> str: ...  # noqa: D102 - the entry it was made of


def key(place: str, name: str) -> str:
    """Return the name of a series that belongs to a place and a measure or step."""
    return f"{place}\t{name}"


by_time: Final[Callable[[Record], tuple[datetime, str]]] = attrgetter("at", "id")
"""What series are sorted by."""


class Shelf:
    """The series of some entries, and where each step of a walk was kept last."""

    def __init__(self) -> None:
        self.series: dict[str, dict[str, list[Any]]] = {kind: {} for kind in RECORDS}
        self.steps: dict[tuple[str, str, str], tuple[datetime, str]] = {}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Shelf) and (self.series, self.steps) == (
            other.series,
            other.steps,
        )

    __hash__ = None  # type: ignore[assignment]

    def put(self, kind: str, name: str, record: Record) -> None:
        """Put a record in its place by time; most come in the order they were made."""
        records = self.series[kind].setdefault(name, [])
        if not records or by_time(records[-1]) <= by_time(record):
            records.append(record)
        else:
            insort(records, record, key=by_time)

    def step(self, entry: Entry, step: str) -> None:
        """Note that an entry was kept for a step of a walk."""
        if entry.walk and step:
            at, new = (entry.walk, entry.place or "", step), (entry.at, entry.id)
            self.steps[at] = max(self.steps.get(at, new), new)

    def copied(self, kinds: Iterable[str]) -> Shelf:
        """Return a shelf to which records of these kinds can be added without changing this one."""
        new = Shelf()
        new.series, new.steps = dict(self.series), dict(self.steps)
        for kind in kinds:
            new.series[kind] = {name: list(found) for name, found in new.series[kind].items()}
        return new


def within(records: list[Any], since: datetime | None, until: datetime | None) -> list[Any]:
    """Return the records from `since` to `until`, both included."""
    first = 0 if since is None else bisect_left(records, since, key=lambda one: one.at)
    last = len(records) if until is None else bisect_right(records, until, key=lambda one: one.at)
    return records[first:last]


def last_until(records: Sequence[Any], until: datetime) -> Any:
    """Return the last record up to an instant, or None."""
    index = bisect_right(records, until, key=lambda one: one.at)
    return records[index - 1] if index else None
