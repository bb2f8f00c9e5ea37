"""The ledger of fish: number, mean weight and biomass of each lot in each place, day by day.

Deaths count before that day's feed: the dead ate nothing of it that the living gained. Between
samples the mean weight is carried by what was eaten divided by the feed conversion ratio. A sample
is combined with the carried weight by inverse variance where both errors are known; where they
disagree the smaller one stands until the fish are weighed again.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from datetime import date, datetime, timedelta
from statistics import fmean, stdev
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct, field, structs
from msgspec.structs import replace

from rounds.day.fold.pellets import pellet_equivalent_g
from rounds.day.fold.state import Sample, Shortage, Stock, Weighing, amount
from rounds.day.when import local_day, long_day
from rounds.fish.sampling import reconcile
from rounds.fish.stock import carried_se_g
from rounds.reason import Reason
from rounds.records.entry import Counted, Died, Entry, Fed, Moved, Removed, Stocked, Weighed
from rounds.site.model import Site
from rounds.units import Amount

LEDGER_KINDS: Final = (Stocked, Moved, Removed, Counted, Died, Weighed, Fed)
_START_ERROR: Final = {False: 0.05, True: 0.10}
"""Relative standard error of a stocked weight, counted or estimated (common practice)."""
_ONE_WEIGHING: Final = timedelta(hours=6)
"""Nets weighed nearer together than this are one weighing."""
_WILD: Final = 2.0
"""A rest this many times lighter or heavier than before is doubted (common practice)."""

_SAME_SHORTAGE: Final = timedelta(days=7)
"""A count that finds no more fish than one of these days did does not end its shortage."""

Key = tuple[str, str]


class Account(Struct, array_like=True):
    """The running account of one lot in one place."""

    lot: str
    place: str
    count: int
    estimated: bool
    carried_g: float
    weight_g: float
    error_g: float
    stocked_at: datetime
    weight_at: datetime
    sampled: Sample | None = None
    recount: bool = False
    gained_g: float = 0.0
    handled_at: datetime | None = None
    shortage: Shortage | None = None
    weighings: list[Weighing] = field(default_factory=list)
    notes: list[Reason] = field(default_factory=list)


class Accounts(Struct, array_like=True):
    """The accounts of all lots in all places at the end of a day."""

    rows: dict[Key, Account] = field(default_factory=dict)
    fed_live: set[str] = field(default_factory=set)
    hatched: dict[str, date] = field(default_factory=dict)

    def take(self, site: Site, entries: Iterable[Entry]) -> None:
        """Account for the entries of one more day, all of them, in any order.

        Args:
            site: The site: feed conversion ratios and products.
            entries: The day's entries as corrections leave them, of the kinds of the ledger.
        """
        for entry in _in_order(list(entries), self.rows.keys()):
            _apply(site, self.rows, entry)
            if isinstance(entry, Stocked):
                _hatched(self.hatched, entry)
            _fed_live(site, self.rows, self.fed_live, entry)

    def stocks(self, zone: ZoneInfo) -> dict[str, tuple[Stock, ...]]:
        """Return the lots in each place that have fish left, by lot name."""
        found: dict[str, tuple[Stock, ...]] = {}
        for row in sorted(self.rows.values(), key=lambda row: (row.place, row.lot)):
            if row.count > 0:
                stock = replace(
                    _stock(row, zone),
                    ever_fed_live=row.lot in self.fed_live,
                    hatched=self.hatched.get(row.lot),
                )
                found[row.place] = (*found.get(row.place, ()), stock)
        return found

    def copied(self) -> Accounts:
        """Return accounts that can go on without changing these."""
        rows = {
            key: structs.replace(row, weighings=list(row.weighings), notes=list(row.notes))
            for key, row in self.rows.items()
        }
        return Accounts(rows, set(self.fed_live), dict(self.hatched))


def _in_order(entries: list[Entry], known: Collection[Key]) -> list[Entry]:
    """Sort a day's entries by time, its deaths before the first feed in the same place.

    Fish that came on the day itself, their account not `known` before, die after they came.
    """
    first_feed: dict[str | None, datetime] = {}
    arrived: dict[tuple[str | None, str | None], datetime] = {}
    for entry in entries:
        if isinstance(entry, Fed):
            first_feed[entry.place] = min(first_feed.get(entry.place, entry.at), entry.at)
        elif isinstance(entry, Stocked | Moved):
            into = (entry.lot, entry.target if isinstance(entry, Moved) else entry.place)
            arrived[into] = min(arrived.get(into, entry.at), entry.at)

    def order(entry: Entry) -> tuple[datetime, int, str]:
        at = entry.at
        if isinstance(entry, Died):
            feed = first_feed.get(entry.place)
            came = arrived.get((entry.lot, entry.place))
            here = (entry.lot or "", entry.place or "") in known
            if feed is not None and feed < at and (here or came is None or came < feed):
                return feed, 0, entry.id
        return at, 1, entry.id

    return sorted(entries, key=order)


def _apply(site: Site, rows: dict[Key, Account], entry: Entry) -> None:
    if isinstance(entry, Fed):
        _feed(site, rows, entry)
        _fed_from(rows, entry)
        return
    lot = entry.lot or ""
    if isinstance(entry, Stocked):
        weight = amount(entry.mean_weight, entry.unit, "g") or 0.0
        start = Account(
            lot, entry.place or "", max(0, entry.count), entry.estimated, weight, weight,
            weight * _START_ERROR[entry.estimated], entry.at, entry.at,
        )  # fmt: skip
        _cropped(rows, entry)
        if weight > 0 and not entry.estimated:
            start.weighings.append(Weighing(entry.at, 0, weight))
        _join(rows, start)
    elif isinstance(entry, Moved):
        row = rows.get((lot, entry.source))
        if row is not None:
            part = _take(row, entry.count, amount(entry.mass, entry.unit, "kg"), entry)
            moved = structs.replace(part, place=entry.target, stocked_at=entry.at, shortage=None)
            _join(rows, moved)
            _handled(rows, (entry.source, entry.target), entry.at)
    else:
        row = rows.get((lot, entry.place or ""))
        if row is None:
            return
        if isinstance(entry, Removed):
            _take(row, entry.count, amount(entry.mass, entry.unit, "kg"), entry)
            _handled(rows, (row.place,), entry.at)
        elif isinstance(entry, Died):
            _take(row, entry.count, None, entry)
        elif isinstance(entry, Counted):
            counted = max(0, entry.count)
            if counted != row.count:
                row.weighings.clear()
            row.shortage = None if entry.estimated else _short(row, counted, entry)
            row.count, row.estimated = counted, entry.estimated
        elif isinstance(entry, Weighed):
            _sample(row, entry)


def _short(row: Account, counted: int, entry: Counted) -> Shortage | None:
    """Return what a count misses, with what one of the week before missed and this finds again."""
    if row.estimated:
        return None
    last, expected = row.shortage, row.count
    if last is not None and entry.at - last.at <= _SAME_SHORTAGE:
        expected += last.on_record - last.counted
    if counted >= expected:
        return None
    at = entry.at if last is None or counted < row.count else last.at
    return Shortage(at, expected, counted, entry.by)


def _cropped(rows: dict[Key, Account], crop: Stocked) -> None:
    """Take a crop out of its parents in the pond it came from, as far as they are on record."""
    left = crop.count
    for parent in crop.parents if crop.source else ():
        row = rows.get((parent, crop.source))
        if row is not None and left > 0:
            left -= _take(row, min(left, row.count), None, crop).count


def _fed_from(rows: dict[Key, Account], fed: Fed) -> None:
    """Take what was fed alive out of the crop it came from, by its mean weight."""
    if not fed.feed_lot:
        return
    given_g = amount(fed.amount, fed.unit, "g") or 0.0
    for (lot, _), row in rows.items():
        if lot == fed.feed_lot and row.count > 0 and row.weight_g > 0 and given_g > 0:
            part = _take(row, min(row.count, round(given_g / row.weight_g)), None, fed)
            given_g -= part.count * row.weight_g


def _handled(rows: dict[Key, Account], places: tuple[str, ...], at: datetime) -> None:
    for row in rows.values():
        if row.place in places:
            row.handled_at = at
            row.weighings.clear()


def _hatched(days: dict[str, date], entry: Stocked) -> None:
    """Note the day a lot hatched: its own, else its parents'; of several the last, the youngest."""
    try:
        told = [date.fromisoformat(entry.hatched)] if entry.hatched else []
    except ValueError:  # set so by a correction
        told = []
    lot = entry.lot or ""
    told = told or [days[name] for name in entry.parents if name in days]
    if told:
        days[lot] = max([*told, *([days[lot]] if lot in days else [])])


def _fed_live(site: Site, rows: dict[Key, Account], lots: set[str], entry: Entry) -> None:
    """Add the lots that were given live or raw fish, came from one that was, or met one in a tank.

    A lot in the set never leaves it.
    """
    if isinstance(entry, Fed):
        product = site.products.get(entry.product)
        if product is None or product.kind != "forage" or not amount(entry.amount, entry.unit, "g"):
            return
        lots |= _lots_in(rows, entry.place or "")
    elif isinstance(entry, Stocked) and lots.intersection(entry.parents):
        lots.add(entry.lot or "")
    elif not lots or not isinstance(entry, Stocked | Moved):
        return
    size = 0
    while size != len(lots):
        size = len(lots)
        for place in {row.place for row in rows.values()}:
            if not lots.isdisjoint(here := _lots_in(rows, place)):
                lots |= here


def _lots_in(rows: dict[Key, Account], place: str) -> set[str]:
    return {row.lot for row in rows.values() if row.place == place and row.count > 0}


def _join(rows: dict[Key, Account], new: Account) -> None:
    old = rows.get((new.lot, new.place))
    if old is None or old.count <= 0:
        rows[new.lot, new.place] = new
        return
    total = old.count + new.count
    if total <= 0:
        return
    for name in ("carried_g", "weight_g", "error_g"):
        mixed = (getattr(old, name) * old.count + getattr(new, name) * new.count) / total
        setattr(old, name, mixed)
    old.count, old.estimated = total, old.estimated or new.estimated
    old.weighings.clear()


def _take(row: Account, count: int, mass_kg: float | None, by: Entry) -> Account:
    """Take fish out of a row and return them as a row; their weighed mass changes both means."""
    count = max(0, count)
    taken = min(count, row.count)
    if taken < count:
        row.notes.append(
            Reason(
                "{count} taken out on {day}, only {taken} were on record: count the fish",
                {"count": count, "taken": taken, "day": by.day},
            )
        )
    part = structs.replace(row, count=taken, notes=[], weighings=[])
    if mass_kg is not None and taken == count > 0:
        left_g = row.count * row.weight_g - mass_kg * 1000
        part.weight_g = part.carried_g = mass_kg * 1000 / taken
        part.weight_at = by.at
        rest_g = left_g / (row.count - taken) if row.count > taken else row.weight_g
        if row.weight_g / _WILD <= rest_g <= row.weight_g * _WILD:
            row.weight_g = row.carried_g = rest_g
        else:
            says = "Taken out, it would leave {rest:.1f} a fish: weigh the rest, {kept:.1f} kept"
            values = {"rest": Amount(rest_g, "g"), "kept": Amount(row.weight_g, "g")}
            row.notes.append(Reason(says, values))
    row.count -= taken
    return part


def _sample(row: Account, entry: Weighed) -> None:
    mass_g = amount(entry.mass, entry.unit, "g")
    weights = [g for text in entry.weights if (g := amount(text, entry.unit, "g")) is not None]
    if entry.count <= 0 or not mass_g:
        return
    count, mean = entry.count, mass_g / entry.count
    error: float | None = None
    if len(weights) == count > 1:
        mean, error = fmean(weights), stdev(weights) / math.sqrt(count)
    whole = _weighing(row, entry.at, count, mean)
    if error is None:
        count, mean = whole.netted, whole.mean_weight_g
    sample = Sample(entry.id, row.lot, row.place, entry.at, count, mean, error)
    days = max(0.0, (entry.at - row.weight_at).total_seconds() / 86400)
    try:
        carried_error = carried_se_g(row.error_g, row.weight_g, days)
        both = reconcile(row.weight_g, carried_error, mean, error) if error else None
    except ValueError as problem:
        row.notes.append(Reason("A sample was passed over: {why}", {"why": str(problem)}))
        return
    carried = row.weight_g if count == entry.count else row.carried_g
    row.sampled, row.carried_g, row.weight_at, row.gained_g = sample, carried, entry.at, 0.0
    row.recount = both is not None and both.recount
    if both is None:
        says = "Sample of {count}: {mean:.1f}, taken as it is (no spread was weighed)"
        row.weight_g, row.error_g = mean, mean * _START_ERROR[False]
        row.notes[:] = [Reason(says, {"count": count, "mean": Amount(mean, "g")})]
    elif both.recount:
        row.weight_g, row.error_g = min(carried, mean), carried_error
        row.notes[:] = [*both.reasons, Reason("Until then the smaller weight stands")]
    else:
        row.weight_g, row.error_g = both.weight_g, both.se_g
        row.notes[:] = both.reasons


def _weighing(row: Account, at: datetime, netted: int, mean_g: float) -> Weighing:
    """Note a weighing; nets of one weighing are taken together, total mass over total fish."""
    last = row.weighings[-1] if row.weighings else None
    if last is not None and at - last.at < _ONE_WEIGHING:
        row.weighings.pop()
        total_g = last.netted * last.mean_weight_g + netted * mean_g
        netted += last.netted
        mean_g = total_g / netted
    row.weighings.append(Weighing(at, netted, mean_g))
    return row.weighings[-1]


def _feed(site: Site, rows: dict[Key, Account], entry: Fed) -> None:
    here = [row for row in rows.values() if row.count > 0 and row.place == entry.place]
    biomass = sum(row.count * row.weight_g for row in here)
    place = site.places.get(entry.place or "")
    species = site.species_of(place) if place else None
    eaten = _eaten_g(site, entry)
    if species is None or biomass <= 0 or eaten <= 0:
        return
    for row in here:
        share = row.count * row.weight_g / biomass
        gain = share * eaten / species.fcr / row.count
        row.weight_g += gain
        row.carried_g += gain
        row.gained_g += gain


def _eaten_g(site: Site, entry: Fed) -> float:
    given, left = amount(entry.amount, entry.unit, "g"), amount(entry.left, entry.unit, "g")
    return pellet_equivalent_g(site.products.get(entry.product), given or 0.0, left)


def _stock(row: Account, zone: ZoneInfo) -> Stock:
    reasons = [
        Reason(
            "{lot} in {place}: {count} fish{about}",
            {
                "lot": row.lot, "place": row.place, "count": row.count,
                "about": ", an estimate" if row.estimated else "",
            },
        ),
        *row.notes,
    ]  # fmt: skip
    if row.gained_g > 0:
        reasons.append(
            Reason(
                "{gain:.1f} g a fish gained from feed since {since}: {weight:.1f} now",
                {
                    "gain": row.gained_g, "since": long_day(local_day(row.weight_at, zone)),
                    "weight": Amount(row.weight_g, "g"),
                },
                "feed eaten / feed conversion ratio, carried forward",
            )
        )  # fmt: skip
    return Stock(
        row.lot, row.place, row.count, row.estimated, row.carried_g, row.sampled, row.weight_g,
        row.stocked_at, row.weight_at, row.recount, tuple(reasons), row.handled_at, row.shortage,
        weighings=tuple(row.weighings),
    )  # fmt: skip
