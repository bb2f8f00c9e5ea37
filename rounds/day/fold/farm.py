"""The state of the farm: a pure fold over a set of entries, in whatever order they arrive.

Days that are over are carried as a state; what lies in them is looked up when asked for. The rest
is folded upon it, and comes out as a fold of all. The fold never sees the clock; whoever asks for
the latest value says what `now` is, and an entry from the future never counts as latest.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from copy import copy
from datetime import datetime, timedelta
from itertools import chain
from typing import Any, Final, cast

from msgspec import Struct, field

from rounds.day.fold.carried import Carried, Lot
from rounds.day.fold.history import Past, sifted
from rounds.day.fold.placing import PLACE
from rounds.day.fold.shelf import Shelf, by_time, key, last_until, within
from rounds.day.fold.state import (
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
    SignedAt,
    SkipAt,
    Stock,
    WalkAt,
)
from rounds.day.fold.stock import LEDGER_KINDS
from rounds.day.fold.waters import loop_water, station_pressure
from rounds.reason import Reason
from rounds.records.entry import Correction, Entry, instant
from rounds.site.model import Site

LOOKS_BACK: Final = timedelta(days=60)
"""How far back a last value, a habit or a dose is looked for, where nothing says otherwise."""

_LOOKED_BACK: Final = (timedelta(days=3), timedelta(days=30), timedelta(days=365), None)
"""How far, further and further, the last value before an instant is looked for."""


class Earlier(Exception):
    """An entry belongs to the days that are over: the farm must be folded from before them."""


class Farm(Struct):
    """What the book says of the farm. Read it; change it only through `add`."""

    site: Site
    past: Past | None = None
    """The days that are over."""
    entries: dict[str, Entry] = field(default_factory=dict)
    """Every entry of the days since, by id, corrections included, as written."""
    unknown: int = 0
    """How many entries of the book are of kinds this version does not know."""
    now: Carried = field(default_factory=Carried)
    """The days that are over, and what came since."""
    stocks: Mapping[str, tuple[Stock, ...]] = field(default_factory=dict)
    shelf: Shelf = field(default_factory=Shelf)
    """The series of the days since."""
    _effective: dict[str, Entry | None] = field(default_factory=dict)
    _corrections: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _ledger: dict[str, dict[str, Entry]] = field(default_factory=dict)
    """By day, the entries of the accounts of fish."""

    @property
    def size(self) -> int:
        """Number of entries folded."""
        return len(self.entries) + (self.past.carried.count if self.past else 0)

    def takes(self, entry: Entry) -> bool:
        """Tell whether an entry touches no day that is over."""
        if self.past is None:
            return True
        if isinstance(entry, Correction):
            return entry.of in self.entries
        return entry.day > self.past.day

    def add(self, entry: Entry) -> Farm:
        """Return the farm with one more entry; the same as a fold of all of them.

        Entries are put in their place; one of the accounts of fish leaves this farm as it is and
        returns another. A correction, which changes what earlier ones mean, makes a new fold of
        the days since.

        Raises:
            Earlier: It touches a day that is over.
        """
        known = self.entries.get(entry.id)
        if known is not None and known.h <= entry.h:
            return self
        if not self.takes(entry):
            raise Earlier(entry.id)
        if known is not None or isinstance(entry, Correction) or entry.id in self._corrections:
            return fold(self.site, [*self.entries.values(), entry], self.past, self.unknown)
        farm = self._copied() if isinstance(entry, LEDGER_KINDS) else self
        farm.entries[entry.id] = farm._effective[entry.id] = entry
        farm.now.hear((entry,))
        farm._place(entry)
        if isinstance(entry, LEDGER_KINDS):
            farm._account()
        return farm

    def _copied(self) -> Farm:
        new = copy(self)
        new.entries, new._effective = dict(self.entries), dict(self._effective)
        new.now, new.shelf = self.now.copied(), self.shelf.copied(("fed", "dead"))
        new._ledger = {day: dict(found) for day, found in self._ledger.items()}
        return new

    def _place(self, entry: Entry) -> None:
        place = PLACE.get(type(entry))
        if place is not None:
            place(self.shelf, entry)
        self.now.take(self.site, entry)
        if isinstance(entry, LEDGER_KINDS):
            self._ledger.setdefault(entry.day, {})[entry.id] = entry

    def _account(self) -> None:
        """Carry the accounts of fish through the days since."""
        accounts = self.past.carried.accounts if self.past else Carried().accounts
        self.now.accounts = accounts.copied()
        for _, done in sorted(self._ledger.items()):
            self.now.accounts.take(self.site, [done[name] for name in sorted(done)])
        self.stocks = self.now.accounts.stocks(self.site.timezone)

    # -- what is carried -------------------------------------------------------------------------

    @property
    def lots(self) -> Mapping[str, list[Lot]]:
        """What was done to each lot's fish, as corrections leave it, oldest first."""
        return self.now.lots

    @property
    def walks(self) -> Mapping[str, WalkAt]:
        """The walks of the last two weeks."""
        return self.now.walks

    @property
    def matters(self) -> list[OpenMatter]:
        """The matters nobody has settled, oldest first."""
        return self.now.matters

    @property
    def incidents(self) -> list[IncidentAt]:
        """What is broken and nobody has said is repaired, oldest first."""
        return self.now.incidents

    @property
    def handoffs(self) -> list[HandoffAt]:
        """The last shifts handed on, oldest first, with who took them over."""
        return self.now.handoffs

    @property
    def heard(self) -> Mapping[str, Heard]:
        """The newest entry of each laptop."""
        return self.now.heard

    @property
    def retired(self) -> frozenset[str]:
        """The laptops that are no longer in use, and wrote nothing since somebody said so."""
        return frozenset(
            writer
            for writer, one in self.now.laptops.items()
            if one.event == "retired"
            and ((heard := self.heard.get(writer)) is None or heard.at <= one.last)
        )

    @property
    def conflicts(self) -> list[Conflict]:
        """Corrections that do not agree."""
        return self.now.conflicts

    @property
    def hatches(self) -> list[HatchAt]:
        """The cysts hatched, oldest first."""
        return self.now.hatches

    @property
    def enriched(self) -> list[EnrichedAt]:
        """The live food taken out of its enrichment, oldest first."""
        return self.now.enriched

    @property
    def signed(self) -> list[SignedAt]:
        """Who was signed off for what, oldest first."""
        return self.now.signed

    # -- what was read ---------------------------------------------------------------------------

    def _series(
        self, kind: str, name: str, since: datetime | None, until: datetime | None = None
    ) -> tuple[Any, ...]:
        recent = within(self.shelf.series[kind].get(name, []), since, until)
        if self.past is None:
            return tuple(recent)
        older = within(self.past.series(kind, name, since, until), since, until)
        if not older or not recent or by_time(older[-1]) <= by_time(recent[0]):
            return (*older, *recent)
        return tuple(sorted((*older, *recent), key=by_time))

    def reads(self, place: str, measure: str, since: datetime | None = None) -> tuple[Read, ...]:
        """Return the readings of a measure in a place, all or from `since` on, oldest first."""
        return self._series("reads", key(place, measure), since)

    def between(
        self, place: str, measure: str, since: datetime, until: datetime
    ) -> tuple[Read, ...]:
        """Return the readings from `since` to `until`, both included, oldest first."""
        return self._series("reads", key(place, measure), since, until)

    def latest(self, place: str, measure: str, now: datetime) -> Read | None:
        """Return the newest reading not from the future, or None."""
        name = key(place, measure)
        last = self.past.carried.last_read.get(name) if self.past else None
        return cast(Read | None, self._last("reads", name, now, last))

    def latest_answer(self, place: str, step: str, now: datetime) -> AnswerAt | None:
        """Return the newest answer to a step in a place not from the future, or None."""
        name = key(place, step)
        last = self.past.carried.last_answer.get(name) if self.past else None
        return cast(AnswerAt | None, self._last("answers", name, now, last))

    def _last(self, kind: str, name: str, now: datetime, carried: Any) -> Any:
        found = last_until(self.shelf.series[kind].get(name, ()), now)
        if carried is None or self.past is None:
            return found
        if carried.at <= now:
            return carried if found is None else max(found, carried, key=by_time)
        for back in _LOOKED_BACK:
            since = None if back is None else now - back
            older = last_until(self.past.series(kind, name, since), now)
            if older is not None:
                return older if found is None else max(found, older, key=by_time)
        return found

    def first_read(self, place: str, measure: str) -> datetime | None:
        """Return when a measure was first read in a place, or None."""
        name = key(place, measure)
        recent = self.shelf.series["reads"].get(name)
        firsts = [recent[0].at] if recent else []
        if self.past is not None and (first := self.past.carried.first_at.get(name)) is not None:
            firsts.append(first)
        return min(firsts, default=None)

    def latest_in_loop(self, loop: str, measure: str, now: datetime) -> Read | None:
        """Return the newest reading of a measure in any place of a loop that shares its water."""
        found = [
            read
            for place in self.site.places_of(loop)
            if self.state_of(place.code) == "in service"
            and (read := self.latest(place.code, measure, now)) is not None
        ]
        return max(found, key=by_time, default=None)

    def answers(self, place: str, step: str, since: datetime | None = None) -> tuple[AnswerAt, ...]:
        """Return the answers to a step in a place, all or from `since` on, oldest first."""
        return self._series("answers", key(place, step), since)

    def calibrations(self, measure: str) -> tuple[CalibratedAt, ...]:
        """Return the checks of the meters of a measure, oldest first."""
        return tuple(sorted(chain.from_iterable(self.checks(measure)), key=by_time))

    def checks(self, measure: str) -> list[list[CalibratedAt]]:
        """Return the same, each way of checking each meter for itself."""
        return [checks for _, checks in sorted(self.now.calibrations.get(measure, {}).items())]

    def skips(self, since: datetime | None = None) -> tuple[SkipAt, ...]:
        """Return the steps not done, all or from `since` on, oldest first."""
        return self._series("skips", "", since)

    def notes(self, since: datetime | None = None) -> tuple[NoteAt, ...]:
        """Return the notes, all or from `since` on, oldest first."""
        return self._series("notes", "", since)

    # -- what was given and taken ----------------------------------------------------------------

    def fed(self, place: str, since: datetime | None = None) -> tuple[FedAt, ...]:
        """Return the feed given in a place, all or from `since` on, oldest first."""
        return self._series("fed", place, since)

    def fed_on(self, place: str, day: str) -> tuple[FedAt, ...]:
        """Return the meals that belong to a site-local day, oldest first."""
        if self.past is not None and day <= self.past.day:
            return tuple(self.past.of_day("fed", place, day))
        return tuple(fed for fed in self.shelf.series["fed"].get(place, ()) if fed.day == day)

    def dosed(self, loop: str, since: datetime | None = None) -> tuple[DosedAt, ...]:
        """Return the doses given to a loop, all or from `since` on, oldest first."""
        return self._series("dosed", loop, since)

    def exchanged(self, loop: str, since: datetime | None = None) -> tuple[ExchangedAt, ...]:
        """Return the exchanges and top-ups of a loop, all or from `since` on, oldest first."""
        return self._series("exchanged", loop, since)

    def dead(self, place: str, since: datetime | None = None) -> tuple[DeadAt, ...]:
        """Return the counts of dead fish in a place, all or from `since` on, oldest first."""
        return self._series("dead", place, since)

    # -- the water -------------------------------------------------------------------------------

    def state_of(self, place: str) -> str:
        """Return "in service", "isolated" or "drained"."""
        state = self.now.states.get(place)
        return state.state if state else "in service"

    def loop_water(self, loop: str) -> LoopWater:
        """Return the water of a loop as it is today."""
        return loop_water(self.site, loop, self.now.states)

    def pressure_hpa(self, now: datetime) -> tuple[float, Reason]:
        """Return the station pressure and its reason: a fresh reading, else the elevation."""
        houses = [p.code for p in self.site.places.values() if p.kind == "house"]
        reads = [r for code in houses if (r := self.latest(code, "pressure", now)) is not None]
        return station_pressure(self.site, max(reads, key=lambda r: r.at, default=None), now)

    # -- single entries --------------------------------------------------------------------------

    def written(self, since: datetime, until: datetime) -> list[Entry]:
        """Return the entries written after `since` and until `until`, by their ids, as written."""
        older = self.past.library.written(since, until) if self.past else []
        recent = (one for one in self.entries.values() if since < instant(one.t) <= until)
        found = {one.id: one for one in (*older, *recent)}
        return [found[name] for name in sorted(found)]

    def as_written(self, entry_id: str) -> Entry | None:
        """Return an entry as it was written, whatever corrects it; None when it is not there."""
        if entry_id in self.entries or self.past is None:
            return self.entries.get(entry_id)
        found = self.past.found(entry_id)
        return found.written[entry_id] if found else None

    def entry(self, entry_id: str) -> Entry | None:
        """Return an entry as its corrections leave it; None when void or not there."""
        if entry_id in self.entries or self.past is None:
            return self._effective.get(entry_id)
        found = self.past.found(entry_id)
        return found.effective.get(entry_id) if found else None

    def at_step(self, walk: str, place: str, step: str) -> Entry | None:
        """Return the newest entry kept for a step of a walk, corrections applied, or None."""
        found = self.shelf.steps.get((walk, place, step))
        older = self.past.step(walk, place, step) if self.past else None
        last = max(filter(None, (found, older)), default=None)
        return self.entry(last[1]) if last else None

    def corrections_of(self, entry_id: str) -> tuple[str, ...]:
        """Return the ids of all corrections of an entry, for the `after` of the next one."""
        if entry_id in self.entries or self.past is None:
            return self._corrections.get(entry_id, ())
        found = self.past.found(entry_id)
        return found.corrections.get(entry_id, ()) if found else ()


def fold(
    site: Site,
    entries: Iterable[Entry],
    past: Past | None = None,
    unknown: int = 0,
) -> Farm:
    """Fold a set of entries into the state of the farm.

    Args:
        site: The site the entries belong to.
        entries: Entries in any order, of later days than the past; doubles are passed over.
        past: The days that are over; None to begin from nothing.
        unknown: How many entries of unknown kinds there are besides.

    Returns:
        The farm. The same set gives the same farm, whatever the order, and however much of it
        lies in the past.
    """
    farm = Farm(site, past, unknown=unknown)
    found = sifted(entries)
    farm.entries, farm._effective = found.written, found.effective
    farm._corrections = found.corrections
    farm.now = past.carried.copied() if past else Carried()
    farm.now.conflicts += found.conflicts
    farm.now.hear(found.written.values())
    for current in found.effective.values():
        if current is not None:
            farm._place(current)
    farm._account()
    return farm
