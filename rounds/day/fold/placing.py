"""Where an entry goes among the series of its shelf: one function a kind, in a table by kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from rounds.day.fold.shelf import Shelf, key
from rounds.day.fold.state import (
    AnswerAt,
    DeadAt,
    DosedAt,
    ExchangedAt,
    FedAt,
    NoteAt,
    Read,
    SkipAt,
    amount,
)
from rounds.records.entry import (
    Answer,
    Calibrated,
    Died,
    Dosed,
    Entry,
    Exchanged,
    Fed,
    Note,
    Reading,
    Skipped,
)
from rounds.site.measures import MEASURES

DEAD_STEP: Final = "dead"
"""Step code under which dead fish are counted; a `died` entry has no step key of its own."""


def _reading(shelf: Shelf, entry: Reading) -> None:
    shelf.step(entry, entry.step)
    measure = MEASURES.get(entry.measure)
    value = amount(entry.value, entry.unit, measure.unit if measure else entry.unit)
    if value is None:
        return
    place = entry.place or ""
    read = Read(
        entry.id, place, entry.measure, value, entry.value, entry.unit, entry.at, entry.day,
        entry.by, entry.walk, entry.step, entry.verdict, entry.confirmed,
        entry.id.partition("-")[0],
    )  # fmt: skip
    shelf.put("reads", key(place, entry.measure), read)


def _answer(shelf: Shelf, entry: Answer) -> None:
    shelf.step(entry, entry.step)
    place = entry.place or ""
    answer = AnswerAt(
        entry.id, place, entry.step, entry.value, entry.verdict, entry.at, entry.day, entry.walk,
        entry.by,
    )  # fmt: skip
    shelf.put("answers", key(place, entry.step), answer)


def _calibrated(shelf: Shelf, entry: Calibrated) -> None:
    shelf.step(entry, entry.step)


def _skipped(shelf: Shelf, entry: Skipped) -> None:
    shelf.step(entry, entry.step)
    skip = SkipAt(
        entry.id, entry.place or "", entry.step, entry.reason, entry.at, entry.day, entry.walk,
        entry.by,
    )  # fmt: skip
    shelf.put("skips", "", skip)


def _note(shelf: Shelf, entry: Note) -> None:
    note = NoteAt(entry.id, entry.place, entry.loop, entry.text, entry.about, entry.at, entry.by)
    shelf.put("notes", "", note)


def _died(shelf: Shelf, entry: Died) -> None:
    shelf.step(entry, DEAD_STEP)
    place = entry.place or ""
    dead = DeadAt(
        entry.id, entry.lot or "", place, entry.at, entry.day, max(0, entry.count), entry.cause,
        entry.by,
    )  # fmt: skip
    shelf.put("dead", place, dead)


def _fed(shelf: Shelf, entry: Fed) -> None:
    given = amount(entry.amount, entry.unit, "g")
    if given is None:
        return
    place = entry.place or ""
    fed = FedAt(
        entry.id, place, entry.at, entry.day, entry.product, given,
        amount(entry.left, entry.unit, "g"), entry.meal,
        amount(entry.advised, entry.unit, "g"), entry.why, entry.by,
        amount(entry.minutes, "1", "1"),
    )  # fmt: skip
    shelf.put("fed", place, fed)


def _dosed(shelf: Shelf, entry: Dosed) -> None:
    given = amount(entry.amount, entry.unit, "g")
    if given is None:
        return
    loop = entry.loop or ""
    dosed = DosedAt(
        entry.id, loop, entry.at, entry.day, entry.product, given, entry.portion,
        amount(entry.advised, entry.unit, "g"), entry.why, entry.by,
    )  # fmt: skip
    shelf.put("dosed", loop, dosed)


def _exchanged(shelf: Shelf, entry: Exchanged) -> None:
    out = amount(entry.volume_out, entry.unit, "m^3")
    into = amount(entry.volume_in, entry.unit, "m^3")
    loop = entry.loop or ""
    exchanged = ExchangedAt(
        entry.id, loop, entry.at, entry.day, out or 0.0, into or 0.0,
        amount(entry.salinity_in, "g/kg", "g/kg"), entry.by,
    )  # fmt: skip
    shelf.put("exchanged", loop, exchanged)


PLACE: Final[dict[type[Entry], Callable[[Shelf, Any], None]]] = {
    Reading: _reading, Answer: _answer, Calibrated: _calibrated, Skipped: _skipped, Note: _note,
    Died: _died, Fed: _fed, Dosed: _dosed, Exchanged: _exchanged,
}  # fmt: skip
