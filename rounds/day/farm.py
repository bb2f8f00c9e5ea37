"""The state of the farm: a pure fold over a set of entries, in whatever order they arrive.

Readings are kept by the time they were read. The fold never sees the clock; whoever asks for the
latest value says what `now` is, and an entry from the future never counts as latest.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final

from rounds.day import corrections, stock
from rounds.day.placing import PLACE
from rounds.day.state import (
    AnswerAt,
    CalibratedAt,
    Conflict,
    DeadAt,
    DosedAt,
    EnrichedAt,
    ExchangedAt,
    FedAt,
    HandoffAt,
    HatchAt,
    Heard,
    IncidentAt,
    LoopWater,
    NoteAt,
    OpenMatter,
    Read,
    SkipAt,
    Stock,
    WalkAt,
)
from rounds.day.waters import WaterState, loop_water, station_pressure
from rounds.reason import Reason
from rounds.records.entry import (
    Answer,
    Calibrated,
    Correction,
    Counted,
    Died,
    Enriched,
    Entry,
    Hatch,
    Incident,
    Matter,
    Moved,
    Note,
    Reading,
    Removed,
    Skipped,
    Stocked,
    Takeover,
    Unknown,
    Walk,
    Weighed,
    instant,
)
from rounds.site.model import Site

_LIGHT: Final = (Reading, Answer, Skipped, Note, Walk, Calibrated, Hatch, Enriched)
"""Kinds that change nothing of what earlier entries mean."""
LOT_KINDS: Final = (Stocked, Moved, Removed, Counted, Died, Weighed)


@dataclass(slots=True, eq=True)
class Farm:
    """What the book says of the farm. Read it; change it only through `add`."""

    site: Site
    entries: dict[str, Entry] = field(default_factory=dict)
    """Every entry by id, corrections included, as written."""
    unknown: set[str] = field(default_factory=set)
    """Ids of entries of kinds this version does not know."""
    stocks: Mapping[str, tuple[Stock, ...]] = field(default_factory=dict)
    lots: dict[str, list[Entry]] = field(default_factory=dict)
    """What was done to each lot's fish, as corrections leave it, oldest first."""
    skips: list[SkipAt] = field(default_factory=list)
    notes: list[NoteAt] = field(default_factory=list)
    walks: dict[str, WalkAt] = field(default_factory=dict)
    hatches: list[HatchAt] = field(default_factory=list)
    enriched: list[EnrichedAt] = field(default_factory=list)
    matters: list[OpenMatter] = field(default_factory=list)
    incidents: list[IncidentAt] = field(default_factory=list)
    handoffs: list[HandoffAt] = field(default_factory=list)
    heard: dict[str, Heard] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)
    _effective: dict[str, Entry | None] = field(default_factory=dict)
    _corrections: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _reads: dict[tuple[str, str], list[Read]] = field(default_factory=dict)
    _answers: dict[tuple[str, str], list[AnswerAt]] = field(default_factory=dict)
    _calibrations: dict[str, list[CalibratedAt]] = field(default_factory=dict)
    _fed: dict[str, list[FedAt]] = field(default_factory=dict)
    _dosed: dict[str, list[DosedAt]] = field(default_factory=dict)
    _exchanged: dict[str, list[ExchangedAt]] = field(default_factory=dict)
    _dead: dict[str, list[DeadAt]] = field(default_factory=dict)
    _states: dict[str, WaterState] = field(default_factory=dict)
    _steps: dict[tuple[str, str, str], tuple[datetime, str]] = field(default_factory=dict)
    _takeovers: list[Takeover] = field(default_factory=list)

    @property
    def size(self) -> int:
        """Number of entries folded."""
        return len(self.entries) + len(self.unknown)

    def add(self, entry: Entry | Unknown) -> Farm:
        """Return the farm with one more entry; the same as a fold of all of them.

        Readings, answers, skips, notes and walks are put in their place; any other kind, which
        may change what earlier ones mean, makes a new fold.
        """
        if isinstance(entry, Unknown):
            self.unknown.add(entry.id)
            return self
        known = self.entries.get(entry.id)
        if known is not None and known.h <= entry.h:
            return self
        light = known is None and isinstance(entry, _LIGHT)
        if light and entry.id not in self._corrections:
            self.entries[entry.id] = entry
            _hear(self, entry)
            self._effective[entry.id] = entry
            PLACE[type(entry)](self, entry)
            return self
        return fold(self.site, [*self.entries.values(), entry], self.unknown)

    # -- what was read ---------------------------------------------------------------------------

    def reads(self, place: str, measure: str) -> tuple[Read, ...]:
        """Return every reading of a measure in a place, oldest first."""
        return tuple(self._reads.get((place, measure), ()))

    def latest(self, place: str, measure: str, now: datetime) -> Read | None:
        """Return the newest reading not from the future, or None."""
        reads = self._reads.get((place, measure), [])
        index = bisect_right(reads, now, key=lambda read: read.at)
        return reads[index - 1] if index else None

    def between(
        self, place: str, measure: str, since: datetime, until: datetime
    ) -> tuple[Read, ...]:
        """Return the readings from `since` to `until`, both included, oldest first."""
        reads = self._reads.get((place, measure), [])
        first = bisect_left(reads, since, key=lambda read: read.at)
        return tuple(reads[first : bisect_right(reads, until, key=lambda read: read.at)])

    def latest_in_loop(self, loop: str, measure: str, now: datetime) -> Read | None:
        """Return the newest reading of a measure in any place of a loop that shares its water."""
        found = [
            read
            for place in self.site.places_of(loop)
            if self.state_of(place.code) == "in service"
            and (read := self.latest(place.code, measure, now)) is not None
        ]
        return max(found, key=lambda read: (read.at, read.id), default=None)

    def answers(self, place: str, step: str) -> tuple[AnswerAt, ...]:
        """Return the answers given to a step in a place, oldest first."""
        return tuple(self._answers.get((place, step), ()))

    def calibrations(self, measure: str) -> tuple[CalibratedAt, ...]:
        """Return the checks of the meters of a measure, oldest first."""
        return tuple(self._calibrations.get(measure, ()))

    # -- what was given and taken ----------------------------------------------------------------

    def fed(self, place: str) -> tuple[FedAt, ...]:
        """Return the feed given in a place, oldest first."""
        return tuple(self._fed.get(place, ()))

    def dosed(self, loop: str) -> tuple[DosedAt, ...]:
        """Return the doses given to a loop, oldest first."""
        return tuple(self._dosed.get(loop, ()))

    def exchanged(self, loop: str) -> tuple[ExchangedAt, ...]:
        """Return the water exchanges and top-ups of a loop, oldest first."""
        return tuple(self._exchanged.get(loop, ()))

    def dead(self, place: str) -> tuple[DeadAt, ...]:
        """Return the counts of dead fish in a place, oldest first."""
        return tuple(self._dead.get(place, ()))

    # -- the water -------------------------------------------------------------------------------

    def state_of(self, place: str) -> str:
        """Return "in service", "isolated" or "drained"."""
        state = self._states.get(place)
        return state.state if state else "in service"

    def loop_water(self, loop: str) -> LoopWater:
        """Return the water of a loop as it is today."""
        return loop_water(self.site, loop, self._states)

    def water_changed(self, loop: str) -> datetime | None:
        """Return when a place of a loop was last isolated, drained or filled, or None."""
        codes = [place.code for place in self.site.places_of(loop)]
        return max((s.at for c in codes if (s := self._states.get(c)) is not None), default=None)

    def pressure_hpa(self, now: datetime) -> tuple[float, Reason]:
        """Return the station pressure and its reason: a fresh reading, else the elevation."""
        houses = [p.code for p in self.site.places.values() if p.kind == "house"]
        reads = [r for code in houses if (r := self.latest(code, "pressure", now)) is not None]
        return station_pressure(self.site, max(reads, key=lambda r: r.at, default=None), now)

    # -- single entries --------------------------------------------------------------------------

    def entry(self, entry_id: str) -> Entry | None:
        """Return an entry as its corrections leave it; None when void or not there."""
        return self._effective.get(entry_id)

    def at_step(self, walk: str, place: str, step: str) -> Entry | None:
        """Return the newest entry kept for a step of a walk, corrections applied, or None."""
        found = self._steps.get((walk, place, step))
        return self._effective.get(found[1]) if found else None

    def corrections_of(self, entry_id: str) -> tuple[str, ...]:
        """Return the ids of all corrections of an entry, for the `after` of the next one."""
        return self._corrections.get(entry_id, ())


def fold(site: Site, entries: Iterable[Entry | Unknown], unknown: Iterable[str] = ()) -> Farm:
    """Fold a set of entries into the state of the farm.

    Args:
        site: The site the entries belong to.
        entries: Entries in any order; doubles are passed over.
        unknown: Ids of entries of unknown kinds seen before.

    Returns:
        The farm. The same set gives the same farm, whatever the order.
    """
    farm = Farm(site, unknown=set(unknown))
    for entry in entries:
        if isinstance(entry, Unknown):
            farm.unknown.add(entry.id)
        elif entry.id not in farm.entries or entry.h < farm.entries[entry.id].h:
            farm.entries[entry.id] = entry
    farm.entries = dict(sorted(farm.entries.items()))
    by_target = corrections.by_target(farm.entries.values())
    for entry in farm.entries.values():
        _hear(farm, entry)
        if isinstance(entry, Correction):
            continue
        current, conflict = corrections.effective(entry, by_target.get(entry.id, ()))
        farm._effective[entry.id] = current
        if conflict is not None:
            farm.conflicts.append(conflict)
        place = PLACE.get(type(entry))
        if current is not None and place is not None:
            place(farm, current)
        if isinstance(current, LOT_KINDS):
            farm.lots.setdefault(current.lot or "", []).append(current)
    for done in farm.lots.values():
        done.sort(key=lambda e: (e.at, e.id))
    farm._corrections = {target: tuple(c.id for c in group) for target, group in by_target.items()}
    farm.stocks = stock.stocks(site, (e for e in farm._effective.values() if e is not None))
    _finish(farm)
    return farm


def _hear(farm: Farm, entry: Entry) -> None:
    writer = entry.id.partition("-")[0]
    before = farm.heard.get(writer)
    at = instant(entry.t)
    if before is None or (at, entry.by) > (before.at, before.by):
        farm.heard[writer] = Heard(writer, at, entry.by)


def _finish(farm: Farm) -> None:
    """Settle what depends on other entries: open matters, open incidents, who took over."""
    settled = {e.of for e in farm._effective.values() if isinstance(e, Matter) and e.of}
    farm.matters = [matter for matter in farm.matters if matter.id not in settled]
    ended: dict[tuple[str, str | None, str | None], datetime] = {}
    for entry in farm._effective.values():
        if isinstance(entry, Incident) and entry.event == "ended":
            key = (entry.about, entry.place, entry.loop)
            ended[key] = max(ended.get(key, entry.at), entry.at)
    farm.incidents = [
        incident
        for incident in farm.incidents
        if (end := ended.get((incident.about, incident.place, incident.loop))) is None
        or end < incident.at
    ]
    taken = {t.of: t for t in sorted(farm._takeovers, key=lambda t: (t.at, t.id), reverse=True)}
    farm.handoffs = [
        replace(h, taken_by=t.by, taken_at=t.at, seen=tuple(t.seen))
        if (t := taken.get(h.id))
        else h
        for h in farm.handoffs
    ]
