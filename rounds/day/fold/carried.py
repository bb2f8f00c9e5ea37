"""What is carried past the end of a day: all that later days need to know of the days before.

The accounts of fish go day by day. The rest comes out the same in whatever order entries arrive.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from typing import Any, Final, cast

from msgspec import Struct, field, structs

from rounds.day.fold.shelf import Shelf, by_time, key
from rounds.day.fold.state import (
    AnswerAt,
    CalibratedAt,
    Conflict,
    EnrichedAt,
    HandoffAt,
    HatchAt,
    Heard,
    IncidentAt,
    LaptopAt,
    OpenMatter,
    Read,
    SignedAt,
    WalkAt,
    amount,
)
from rounds.day.fold.stock import Accounts
from rounds.day.fold.waters import WaterState
from rounds.records.entry import (
    Calibrated,
    Counted,
    Died,
    Enriched,
    Entry,
    Fed,
    Handoff,
    Hatch,
    Incident,
    Laptop,
    Matter,
    Moved,
    Removed,
    Signed,
    State,
    Stocked,
    Takeover,
    Walk,
    Weighed,
    instant,
)
from rounds.site.model import Site

Lot = Stocked | Moved | Removed | Counted | Died | Weighed
_LOT: Final = frozenset((Stocked, Moved, Removed, Counted, Died, Weighed))
HANDOFFS: Final = 10
"""Hand-offs carried on, besides older ones in which a matter that is still open was seen."""
WALKS_DAYS: Final = 14
"""Days a walk is carried on: the longest it can be gone on with is the day after."""
GONE_DAYS: Final = 400
"""Days that the past of a lot of which no fish is left is carried on."""


class Carried(Struct):
    """The state of the farm at the end of a day."""

    day: str = ""
    """Every entry of this day and of earlier ones is in it; empty while none is."""
    accounts: Accounts = field(default_factory=Accounts)
    lots: dict[str, list[Lot]] = field(default_factory=dict)
    """What was done to each lot's fish, as corrections leave it, oldest first."""
    states: dict[str, WaterState] = field(default_factory=dict)
    walks: dict[str, WalkAt] = field(default_factory=dict)
    opened: list[OpenMatter] = field(default_factory=list)
    settled: set[str] = field(default_factory=set)
    began: list[IncidentAt] = field(default_factory=list)
    ended: dict[tuple[str, str, str], datetime] = field(default_factory=dict)
    handed: list[HandoffAt] = field(default_factory=list)
    taken: dict[str, Takeover] = field(default_factory=dict)
    heard: dict[str, Heard] = field(default_factory=dict)
    laptops: dict[str, LaptopAt] = field(default_factory=dict)
    """Who was taken in or retired last, by writer."""
    calibrations: dict[str, dict[str, list[CalibratedAt]]] = field(default_factory=dict)
    hatches: list[HatchAt] = field(default_factory=list)
    enriched: list[EnrichedAt] = field(default_factory=list)
    signed: list[SignedAt] = field(default_factory=list)
    forage: list[Fed] = field(default_factory=list)
    """Meals of forage that was taken from a pond without being a lot of its own."""
    conflicts: list[Conflict] = field(default_factory=list)
    first_at: dict[str, datetime] = field(default_factory=dict)
    """When a measure was read first in a place, by `shelf.key`; filled when a day is closed."""
    last_read: dict[str, Read] = field(default_factory=dict)
    last_answer: dict[str, AnswerAt] = field(default_factory=dict)
    odd: dict[str, tuple[datetime, datetime]] = field(default_factory=dict)
    """Days with records of another date than the day's or its neighbours': their span."""
    first_day: str = ""
    count: int = 0
    """Entries up to that day."""

    # -- what it says --------------------------------------------------------------------------

    @property
    def matters(self) -> list[OpenMatter]:
        """The matters nobody has settled, oldest first."""
        return [matter for matter in self.opened if matter.id not in self.settled]

    @property
    def incidents(self) -> list[IncidentAt]:
        """What is broken and nobody has said is repaired, oldest first."""
        return [
            one
            for one in self.began
            if (end := self.ended.get((one.about, one.place or "", one.loop or ""))) is None
            or end < one.at
        ]

    @property
    def handoffs(self) -> list[HandoffAt]:
        """The shifts handed on, oldest first, with who took them over."""
        return [
            structs.replace(one, taken_by=t.by, taken_at=t.at, seen=tuple(t.seen))
            if (t := self.taken.get(one.id))
            else one
            for one in self.handed
        ]

    # -- going on ------------------------------------------------------------------------------

    def copied(self) -> Carried:
        """Return a state that can go on without changing this one."""
        new = structs.replace(self, accounts=self.accounts.copied())
        for name in self.__struct_fields__:
            value = getattr(self, name)
            if isinstance(value, dict | list | set):
                setattr(new, name, value.copy())
        new.lots = {lot: done.copy() for lot, done in self.lots.items()}
        new.calibrations = {
            measure: {way: checks.copy() for way, checks in ways.items()}
            for measure, ways in self.calibrations.items()
        }
        return new

    def take(self, site: Site, entry: Entry) -> None:
        """Take in an entry, as corrections leave it, but for the accounts of fish."""
        kind = type(entry)
        take = _TAKE.get(kind)
        if take is not None:
            take(self, entry)
        if isinstance(entry, Fed) and not entry.feed_lot:
            product = site.products.get(entry.product)
            if product is not None and product.kind == "forage":
                _put(self.forage, entry)
        if kind in _LOT:
            done = self.lots.setdefault(entry.lot or "", [])
            done.append(cast(Lot, entry))
            if len(done) > 1 and by_time(done[-2]) > by_time(entry):
                done.sort(key=by_time)

    def hear(self, entries: Iterable[Entry]) -> None:
        """Note from which laptops entries came, corrections too."""
        newest: dict[tuple[str, int], Entry] = {}
        for entry in entries:  # by the thousand: times of one length sort as texts
            which = entry.id[:6], len(entry.t)
            other = newest.get(which)
            if other is None or (other.t, other.by) < (entry.t, entry.by):
                newest[which] = entry
        for (writer, _), entry in newest.items():
            before, at = self.heard.get(writer), instant(entry.t)
            if before is None or (at, entry.by) > (before.at, before.by):
                self.heard[writer] = Heard(writer, at, entry.by)

    def close(self, day: str, shelf: Shelf) -> None:
        """End a day: keep the first and last of each series.

        Args:
            day: The day, site-local.
            shelf: The series of that day.
        """
        self.day, self.first_day = day, self.first_day or day
        for name, reads in shelf.series["reads"].items():
            self.first_at[name] = min(self.first_at.get(name, reads[0].at), reads[0].at)
            self.last_read[name] = max(self.last_read.get(name, reads[-1]), reads[-1], key=by_time)
        for name, answers in shelf.series["answers"].items():
            last = self.last_answer.get(name, answers[-1])
            self.last_answer[name] = max(last, answers[-1], key=by_time)
        found = [s for kind in shelf.series.values() for s in kind.values()]
        since = min((one[0].at for one in found), default=None)
        until = max((one[-1].at for one in found), default=None)
        if since is not None and until is not None and not _even(day, since, until):
            self.odd[day] = since, until

    def forget(self) -> None:
        """Drop what no later day asks for."""
        day = self.day
        known = {matter.id for matter in self.opened}
        self.opened = self.matters
        self.settled -= known
        self.began = self.incidents
        still = {matter.id for matter in self.opened}
        self.handed = [
            *(one for one in self.handoffs[:-HANDOFFS] if still.intersection(one.seen)),
            *self.handed[-HANDOFFS:],
        ]
        handed = {one.id for one in self.handed}
        self.taken = {of: taken for of, taken in self.taken.items() if of in handed}
        walked = _before(day, WALKS_DAYS)
        self.walks = {name: one for name, one in self.walks.items() if one.day >= walked}
        alive = {row.lot for row in self.accounts.rows.values() if row.count > 0}
        gone = _before(day, GONE_DAYS)
        self.forage = [one for one in self.forage if one.day >= gone]
        for lot, done in self.lots.items():
            recent = done if lot in alive else [one for one in done if one.day >= gone]
            kept = [one for one in recent if not isinstance(one, Died) or one.count > 0]
            looks = {one.place: one for one in recent if isinstance(one, Died) and not one.count}
            kept += looks.values()
            kept += [one for one in done if isinstance(one, Stocked) and one.day < gone]
            self.lots[lot] = sorted({one.id: one for one in kept}.values(), key=by_time)


def _before(day: str, days: int) -> str:
    return (date.fromisoformat(day) - timedelta(days=days)).isoformat()


def _even(day: str, since: datetime, until: datetime) -> bool:
    return _before(day, 1) <= f"{since:%Y-%m-%d}" and f"{until:%Y-%m-%d}" <= _before(day, -1)


def _put(records: list[Any], record: Any) -> None:
    insort(records, record, key=by_time)


# -- one function a kind ---------------------------------------------------------------------------


def _walk(farm: Carried, entry: Walk) -> None:
    name, at = entry.walk or entry.id, entry.at
    begun = entry.event == "begun"
    new = WalkAt(
        name, entry.checklist, entry.day, entry.by, at,
        at if entry.event == "left" else None, at if entry.event == "done" else None, begun,
    )  # fmt: skip
    old = farm.walks.get(name)
    if old is not None:
        first = min(old, new, key=lambda one: (not one.begun, one.begun_at, one.by))
        left = max(filter(None, (old.left_at, new.left_at)), default=None)
        done = max(filter(None, (old.done_at, new.done_at)), default=None)
        new = structs.replace(first, left_at=left, done_at=done)
    farm.walks[name] = new


def _state(farm: Carried, entry: State) -> None:
    place = entry.place or ""
    new = WaterState(entry.id, entry.state, amount(entry.volume, entry.unit, "m^3"), entry.at)
    old = farm.states.get(place)
    if old is None or (new.at, new.id) > (old.at, old.id):
        farm.states[place] = new


def _incident(farm: Carried, entry: Incident) -> None:
    if entry.event == "began":
        incident = IncidentAt(
            entry.id, entry.about, entry.place, entry.loop, entry.text, entry.at, entry.by
        )
        _put(farm.began, incident)
    else:
        which = entry.about, entry.place or "", entry.loop or ""
        farm.ended[which] = max(farm.ended.get(which, entry.at), entry.at)


def _matter(farm: Carried, entry: Matter) -> None:
    if entry.of:
        farm.settled.add(entry.of)
        return
    matter = OpenMatter(
        entry.id, entry.text, entry.place, entry.loop, entry.owner, entry.until,
        entry.again_if, entry.at, entry.by, entry.about,
    )  # fmt: skip
    _put(farm.opened, matter)


def _handoff(farm: Carried, entry: Handoff) -> None:
    handoff = HandoffAt(entry.id, entry.at, entry.covers, entry.text, entry.by, entry.to)
    _put(farm.handed, handoff)


def _takeover(farm: Carried, entry: Takeover) -> None:
    farm.taken[entry.of] = min(farm.taken.get(entry.of, entry), entry, key=by_time)


def _calibrated(farm: Carried, entry: Calibrated) -> None:
    checked = CalibratedAt(
        entry.id, entry.measure, entry.step, entry.instrument, tuple(entry.points),
        amount(entry.slope, "%", "%"), amount(entry.offset, "1", "1"), entry.result == "good",
        entry.due, entry.at, entry.by,
    )  # fmt: skip
    ways = farm.calibrations.setdefault(entry.measure, {})
    _put(ways.setdefault(key(entry.step, entry.instrument), []), checked)


def _hatch(farm: Carried, entry: Hatch) -> None:
    grams = amount(entry.amount, entry.unit, "g")
    if not grams or grams < 0:
        return
    hatch = HatchAt(
        entry.id, entry.place or "", entry.cysts, grams, entry.nauplii,
        amount(entry.nominal, "1", "1"), entry.at, entry.by,
    )  # fmt: skip
    _put(farm.hatches, hatch)


def _enriched(farm: Carried, entry: Enriched) -> None:
    hours = amount(entry.hours, "h", "h")
    enriched = EnrichedAt(
        entry.id, entry.place or "", entry.food, hours, entry.cold, entry.at, entry.by
    )
    _put(farm.enriched, enriched)


def _signed(farm: Carried, entry: Signed) -> None:
    signed = SignedAt(entry.id, entry.person, entry.task, entry.level, entry.at, entry.by)
    _put(farm.signed, signed)


def _laptop(farm: Carried, entry: Laptop) -> None:
    try:
        last = instant(entry.last)
    except ValueError:
        last = entry.at
    new = LaptopAt(entry.laptop, entry.event, last, entry.at, entry.by)
    old = farm.laptops.get(new.writer, new)
    farm.laptops[new.writer] = max(old, new, key=lambda one: (one.at, one.by, one.event, one.last))


_TAKE: Final[dict[type[Entry], Callable[[Carried, Any], None]]] = {
    Walk: _walk, State: _state, Incident: _incident, Matter: _matter, Handoff: _handoff,
    Takeover: _takeover, Calibrated: _calibrated, Hatch: _hatch, Enriched: _enriched,
    Signed: _signed, Laptop: _laptop,
}  # fmt: skip
