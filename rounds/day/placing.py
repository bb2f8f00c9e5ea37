"""Where an entry goes in the farm: one function a kind, in a table by kind."""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from rounds.day.state import (
    AnswerAt,
    CalibratedAt,
    DeadAt,
    DosedAt,
    EnrichedAt,
    ExchangedAt,
    FedAt,
    HandoffAt,
    HatchAt,
    IncidentAt,
    NoteAt,
    OpenMatter,
    Read,
    SkipAt,
    WalkAt,
    amount,
)
from rounds.day.waters import WaterState
from rounds.records.entry import (
    Answer,
    Calibrated,
    Died,
    Dosed,
    Enriched,
    Entry,
    Exchanged,
    Fed,
    Handoff,
    Hatch,
    Incident,
    Matter,
    Note,
    Reading,
    Skipped,
    State,
    Takeover,
    Walk,
)
from rounds.site.measures import MEASURES

if TYPE_CHECKING:
    from rounds.day.farm import Farm

DEAD_STEP: Final = "dead"
"""Step code under which dead fish are counted; a `died` entry has no step key of its own."""


def _reading(farm: Farm, entry: Reading) -> None:
    _at_step(farm, entry, entry.step)
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
    _put(farm._reads.setdefault((place, entry.measure), []), read)


def _answer(farm: Farm, entry: Answer) -> None:
    _at_step(farm, entry, entry.step)
    place = entry.place or ""
    answer = AnswerAt(
        entry.id, place, entry.step, entry.value, entry.verdict, entry.at, entry.day, entry.walk,
        entry.by,
    )  # fmt: skip
    _put(farm._answers.setdefault((place, entry.step), []), answer)


def _calibrated(farm: Farm, entry: Calibrated) -> None:
    _at_step(farm, entry, entry.step)
    checked = CalibratedAt(
        entry.id, entry.measure, entry.step, entry.instrument, tuple(entry.points),
        amount(entry.slope, "%", "%"), amount(entry.offset, "1", "1"), entry.result == "good",
        entry.due, entry.at, entry.by,
    )  # fmt: skip
    _put(farm._calibrations.setdefault(entry.measure, []), checked)


def _hatch(farm: Farm, entry: Hatch) -> None:
    grams = amount(entry.amount, entry.unit, "g")
    if not grams or grams < 0:
        return
    hatch = HatchAt(
        entry.id, entry.place or "", entry.cysts, grams, entry.nauplii,
        amount(entry.nominal, "1", "1"), entry.at, entry.by,
    )  # fmt: skip
    _put(farm.hatches, hatch)


def _enriched(farm: Farm, entry: Enriched) -> None:
    hours = amount(entry.hours, "h", "h")
    enriched = EnrichedAt(
        entry.id, entry.place or "", entry.food, hours, entry.cold, entry.at, entry.by
    )
    _put(farm.enriched, enriched)


def _skipped(farm: Farm, entry: Skipped) -> None:
    _at_step(farm, entry, entry.step)
    skip = SkipAt(
        entry.id, entry.place or "", entry.step, entry.reason, entry.at, entry.day, entry.walk,
        entry.by,
    )  # fmt: skip
    _put(farm.skips, skip)


def _note(farm: Farm, entry: Note) -> None:
    note = NoteAt(entry.id, entry.place, entry.loop, entry.text, entry.about, entry.at, entry.by)
    _put(farm.notes, note)


def _walk(farm: Farm, entry: Walk) -> None:
    name = entry.walk or entry.id
    old = farm.walks.get(name)
    walk = old or WalkAt(name, entry.checklist, entry.day, entry.by, entry.at)
    if entry.event == "begun":
        walk = replace(
            walk, checklist=entry.checklist, day=entry.day, by=entry.by, begun_at=entry.at
        )
    elif entry.event == "left":
        walk = replace(walk, left_at=max(filter(None, (walk.left_at, entry.at))))
    else:
        walk = replace(walk, done_at=max(filter(None, (walk.done_at, entry.at))))
    farm.walks[name] = walk


def _died(farm: Farm, entry: Died) -> None:
    _at_step(farm, entry, DEAD_STEP)
    place = entry.place or ""
    dead = DeadAt(
        entry.id, entry.lot or "", place, entry.at, entry.day, max(0, entry.count), entry.cause,
        entry.by,
    )  # fmt: skip
    _put(farm._dead.setdefault(place, []), dead)


def _fed(farm: Farm, entry: Fed) -> None:
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
    _put(farm._fed.setdefault(place, []), fed)


def _dosed(farm: Farm, entry: Dosed) -> None:
    given = amount(entry.amount, entry.unit, "g")
    if given is None:
        return
    loop = entry.loop or ""
    dosed = DosedAt(
        entry.id, loop, entry.at, entry.day, entry.product, given, entry.portion,
        amount(entry.advised, entry.unit, "g"), entry.why, entry.by,
    )  # fmt: skip
    _put(farm._dosed.setdefault(loop, []), dosed)


def _exchanged(farm: Farm, entry: Exchanged) -> None:
    out = amount(entry.volume_out, entry.unit, "m^3")
    into = amount(entry.volume_in, entry.unit, "m^3")
    loop = entry.loop or ""
    exchanged = ExchangedAt(
        entry.id, loop, entry.at, entry.day, out or 0.0, into or 0.0,
        amount(entry.salinity_in, "g/kg", "g/kg"), entry.by,
    )  # fmt: skip
    _put(farm._exchanged.setdefault(loop, []), exchanged)


def _state(farm: Farm, entry: State) -> None:
    place = entry.place or ""
    new = WaterState(entry.id, entry.state, amount(entry.volume, entry.unit, "m^3"), entry.at)
    old = farm._states.get(place)
    if old is None or (new.at, new.id) > (old.at, old.id):
        farm._states[place] = new


def _incident(farm: Farm, entry: Incident) -> None:
    if entry.event == "began":
        incident = IncidentAt(
            entry.id, entry.about, entry.place, entry.loop, entry.text, entry.at, entry.by
        )
        _put(farm.incidents, incident)


def _matter(farm: Farm, entry: Matter) -> None:
    if not entry.of:
        matter = OpenMatter(
            entry.id, entry.text, entry.place, entry.loop, entry.owner, entry.until,
            entry.again_if, entry.at, entry.by, entry.about,
        )  # fmt: skip
        _put(farm.matters, matter)


def _handoff(farm: Farm, entry: Handoff) -> None:
    handoff = HandoffAt(entry.id, entry.at, entry.covers, entry.text, entry.by, entry.to)
    _put(farm.handoffs, handoff)


def _takeover(farm: Farm, entry: Takeover) -> None:
    farm._takeovers.append(entry)


def _put(records: list[Any], record: Any) -> None:
    """Put a record in its place by time; most come in the order they were made."""
    if not records or _by_time(records[-1]) <= _by_time(record):
        records.append(record)
    else:
        insort(records, record, key=_by_time)


def _by_time(record: object) -> tuple[datetime, str]:
    return record.at, record.id  # type: ignore[attr-defined]


def _at_step(farm: Farm, entry: Entry, step: str) -> None:
    if entry.walk and step:
        key, new = (entry.walk, entry.place or "", step), (entry.at, entry.id)
        farm._steps[key] = max(farm._steps.get(key, new), new)


PLACE: Final[dict[type[Entry], Callable[[Farm, Any], None]]] = {
    Reading: _reading, Answer: _answer, Skipped: _skipped, Note: _note, Walk: _walk, Died: _died,
    Fed: _fed, Dosed: _dosed, Exchanged: _exchanged, State: _state, Incident: _incident,
    Matter: _matter, Handoff: _handoff, Takeover: _takeover, Calibrated: _calibrated,
    Hatch: _hatch, Enriched: _enriched,
}  # fmt: skip
