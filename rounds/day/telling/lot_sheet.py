"""The life of a lot, for whoever must trust it: where it swam, what it ate, what befell it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read, amount
from rounds.day.laptops.unheard import named
from rounds.day.lots import raw_eating
from rounds.day.lots.health import TREATED, of_treatment
from rounds.day.lots.series import changes, number_after
from rounds.day.readings.judgement import NAMES, with_unit
from rounds.day.recording.batches import at as batch_at
from rounds.day.recording.batches import opened
from rounds.day.telling.changes import Span, told
from rounds.day.when import clock, local_day, long_day
from rounds.records.entry import (
    Correction,
    Died,
    Entry,
    Incident,
    Matter,
    Note,
    Removed,
    Stocked,
    Weighed,
)
from rounds.site.measures import MEASURES
from rounds.site.model import Site

_NO_MEDICINES: Final = (
    "No treatment is on record: these records have no form for one. Ask the veterinarian for the "
    "treatment record."
)
_SEARCHED: Final = f"Notes and matters of its places were searched for {', '.join(TREATED)}"


_FASTS: Final = timedelta(days=14)
"""So far back the last meal before a sale is looked for."""


class Stay(Struct, frozen=True):
    """A time a lot had fish in a place; `until` is None while it has."""

    place: str
    since: datetime
    until: datetime | None


class LotSheet(Struct, frozen=True):
    """A lot from its first entry to now. Every tuple holds a sentence each, oldest first."""

    lot: str
    site_name: str
    notice: str
    printed: datetime
    species: str
    now: tuple[str, ...]
    homes: tuple[str, ...]
    fish: tuple[str, ...]
    """Came in, moved, taken out, sold, counted, weighed, with who and when."""
    dead: tuple[str, ...]
    feed: tuple[str, ...]
    raw: str
    water: tuple[str, ...]
    """Readings to act on while the lot was there, the worst of a day."""
    added: tuple[str, ...]
    events: tuple[str, ...]
    """Faults and notes of its places."""
    medicines: tuple[str, ...]
    mixed: tuple[str, ...]
    came_of_it: tuple[str, ...]
    corrected: tuple[str, ...]
    writers: tuple[str, ...]


def lot_sheet(site: Site, farm: Farm, lot: str, now: datetime) -> LotSheet:
    """Gather all that is on record of a lot.

    Args:
        site: The site.
        farm: The farm.
        lot: Its name, as the book writes it.
        now: The present.

    Raises:
        ValueError: No entry names such a lot.
    """
    of_lot = [one for one in farm.lots.get(lot, ()) if one.at <= now]
    if not of_lot:
        raise ValueError(f"no entry names a lot {lot}: lots {', '.join(sorted(farm.lots))}")
    stays = tuple(_stays(farm, lot, of_lot))
    first = min(one.at for one in of_lot)
    span = Span(site, farm, first - timedelta(days=1), now)
    written = [e for e in farm.written(first - timedelta(days=1), now) if e.at <= now]
    places = {stay.place for stay in stays}
    species = {site.places[code].species or "" for code in places if code in site.places}
    return LotSheet(
        lot, site.name, site.notice, now.astimezone(site.timezone),
        ", ".join(sorted(filter(None, species))),
        tuple(_now(farm, lot)), tuple(_home(site, stay) for stay in stays),
        tuple(_fish(span, of_lot)),
        tuple(_dead(farm, of_lot)), tuple(_feed(site, farm, stays, now)), _raw(farm, lot),
        tuple(_water(site, farm, stays, now)), tuple(_added(site, farm, stays, now)),
        tuple(_events(span, stays, written)), tuple(_medicines(span, stays, written)),
        tuple(_mixed(farm, lot, stays, now)), tuple(_came_of_it(span, lot)),
        tuple(_corrected(span, of_lot, written)), tuple(_writers(farm, of_lot)),
    )  # fmt: skip


def _stays(farm: Farm, lot: str, of_lot: Sequence[Entry]) -> Iterator[Stay]:
    found = []
    for place in farm.site.places:
        since: datetime | None = None
        for change in changes(of_lot, place):
            left = number_after(change)
            if since is None and left > 0:
                since = change.at
            elif since is not None and left <= 0:
                found.append(Stay(place, since, change.at))
                since = None
        if since is not None:
            found.append(Stay(place, since, None))
    yield from sorted(found, key=lambda stay: stay.since)


def _now(farm: Farm, lot: str) -> Iterator[str]:
    for stock in (s for here in farm.stocks.values() for s in here if s.lot == lot):
        about = "about " if stock.estimated else ""
        yield f"{stock.place}: {about}{stock.count} fish, mean {stock.weight_g:.4g} g"


def _home(site: Site, stay: Stay) -> str:
    zone = site.timezone
    until = "now" if stay.until is None else long_day(local_day(stay.until, zone))
    place = site.places.get(stay.place)
    name = f" {place.name}" if place else ""
    return f"{stay.place}{name}: {long_day(local_day(stay.since, zone))} to {until}"


def _dated(site: Site, entry: Entry, text: str) -> str:
    at, zone, by = entry.at, site.timezone, entry.by or "nobody named"
    return f"{long_day(local_day(at, zone))} {clock(at, zone)} {text} [{by}]"


def _fish(span: Span, of_lot: Iterable[Entry]) -> Iterator[str]:
    for one in _pooled(of_lot):
        if not isinstance(one, Died):
            fasted = _fasted(span.farm, one) if isinstance(one, Removed) else ""
            yield _dated(span.site, one, f"{told(span, one)}{fasted}")


def _pooled(of_lot: Iterable[Entry]) -> Iterator[Entry]:
    """Yield entries in their order, the nets of a day in a place as one weighing."""
    nets: Weighed | None = None
    for one in of_lot:
        if nets is not None:
            if isinstance(one, Weighed) and (one.place, one.day) == (nets.place, nets.day):
                grams = sum(amount(net.mass, net.unit, "g") or 0.0 for net in (nets, one))
                nets = replace(nets, count=nets.count + one.count, mass=f"{grams:.10g}", unit="g")
                continue
            yield nets
            nets = None
        if isinstance(one, Weighed):
            nets = one
        else:
            yield one
    if nets is not None:
        yield nets


def _fasted(farm: Farm, sale: Removed) -> str:
    """Return for how long fish that were sold had not been fed."""
    if not sale.cause.startswith("sold") or not sale.place:
        return ""
    meals = farm.fed(sale.place, sale.at - _FASTS)
    fed = [meal.at for meal in meals if meal.amount_g > 0 and meal.at <= sale.at]
    if not fed:
        return f", no feed on record for {_FASTS // timedelta(days=1)} days before"
    return f", {(sale.at - fed[-1]) / timedelta(hours=1):.0f} h after the last meal"


def _medicines(span: Span, stays: Sequence[Stay], written: Iterable[Entry]) -> Iterator[str]:
    yield _NO_MEDICINES
    found = []
    for entry in written:
        if not isinstance(entry, Note | Matter) or not of_treatment(entry.text):
            continue
        if entry.place is None or any(
            s.place == entry.place and _inside(s, entry.at, span.until) for s in stays
        ):
            current = span.farm.entry(entry.id)
            found += [] if current is None else [_dated(span.site, entry, told(span, current))]
    yield f"{_SEARCHED}: {'read these' if found else 'nothing was found'}."
    yield from found


def _dead(farm: Farm, of_lot: Iterable[Entry]) -> Iterator[str]:
    months: defaultdict[tuple[int, int], list[Died]] = defaultdict(list)
    for one in of_lot:
        if isinstance(one, Died) and one.count > 0:
            day = local_day(one.at, farm.site.timezone)
            months[day.year, day.month].append(one)
    for (year, month), found in months.items():
        causes = sorted({one.cause for one in found if one.cause})
        of = f" ({', '.join(causes)})" if causes else ", no cause written"
        yield f"{date(year, month, 1):%B %Y}: {sum(one.count for one in found)} dead{of}"


def _inside(stay: Stay, at: datetime, now: datetime) -> bool:
    return stay.since <= at <= (stay.until or now)


def _feed(site: Site, farm: Farm, stays: Sequence[Stay], now: datetime) -> Iterator[str]:
    given: defaultdict[tuple[str, str, str], list[float]] = defaultdict(list)
    days: defaultdict[tuple[str, str, str], list[date]] = defaultdict(list)
    batches = opened(farm, min(stay.since for stay in stays)) if stays else {}
    for stay in stays:
        for fed in farm.fed(stay.place, stay.since):
            if _inside(stay, fed.at, now) and fed.amount_g > 0:
                key = stay.place, fed.product, batch_at(batches.get(fed.product, ()), fed.at)
                given[key].append(fed.amount_g)
                days[key].append(local_day(fed.at, site.timezone))
    for (place, code, batch), grams in given.items():
        product = site.products.get(code)
        name = f"{product.name} ({code})" if product else code
        when = days[place, code, batch]
        of = f"batch {batch}" if batch else "batch not recorded"
        yield (
            f"{place}: {sum(grams) / 1000:.3g} kg of {name}, {of}, in {_times(grams, 'meal')}, "
            f"{long_day(min(when))} to {long_day(max(when))}"
        )
    if any(not batch for _, _, batch in given):
        yield "Where no batch was recorded, see the delivery notes."


def _times(amounts: Sequence[float], what: str) -> str:
    return f"{len(amounts)} {what}{'s' * (len(amounts) != 1)}"


def _raw(farm: Farm, lot: str) -> str:
    here = [s for stocks in farm.stocks.values() for s in stocks if s.lot == lot]
    if not here:
        return "No fish of it are left: whether it ever ate live or raw fish stands under feed."
    if raw_eating.fed_live(here):
        return raw_eating.says(lot)
    return "No live or raw fish is on record as its feed. The local food authority decides."


def _water(site: Site, farm: Farm, stays: Sequence[Stay], now: datetime) -> Iterator[str]:
    worst: dict[tuple[date, str, str], tuple[int, Read]] = {}
    for stay in stays:
        for measure in MEASURES:
            for read in farm.between(stay.place, measure, stay.since, stay.until or now):
                if read.verdict == "act":
                    key = local_day(read.at, site.timezone), stay.place, measure
                    count, before = worst.get(key, (0, read))
                    low = measure.startswith("oxygen")
                    kept = min if low else max
                    worst[key] = count + 1, kept(before, read, key=lambda one: one.value)
    for (day, place, measure), (count, read) in sorted(worst.items(), key=lambda one: one[0]):
        name = NAMES.get(measure, MEASURES[measure].name)
        more = f", worst of {count}" if count > 1 else ""
        yield f"{long_day(day)} {place}: {name} {with_unit(read.typed, read.unit)}{more}"


def _added(site: Site, farm: Farm, stays: Sequence[Stay], now: datetime) -> Iterator[str]:
    doses: defaultdict[tuple[str, str], list[float]] = defaultdict(list)
    water: defaultdict[str, list[float]] = defaultdict(list)
    seen: set[str] = set()
    for stay in stays:
        place = site.places.get(stay.place)
        loop = place.loop if place else None
        for dose in farm.dosed(loop, stay.since) if loop else ():
            if dose.id not in seen and _inside(stay, dose.at, now):
                doses[dose.loop, dose.product].append(dose.amount_g)
                seen.add(dose.id)
        for change in farm.exchanged(loop, stay.since) if loop else ():
            if change.id not in seen and _inside(stay, change.at, now):
                water[change.loop].append(change.volume_in_m3)
                seen.add(change.id)
    for (loop, code), grams in doses.items():
        product = site.products.get(code)
        name = f"{product.name} ({code})" if product else code
        yield f"loop {loop}: {sum(grams) / 1000:.3g} kg of {name} in {_times(grams, 'dose')}"
    for loop, litres in water.items():
        times = f"{len(litres)} exchanges or top-ups"
        yield f"loop {loop}: {sum(litres):.3g} m3 of new water in {times}"


def _events(span: Span, stays: Sequence[Stay], written: Iterable[Entry]) -> Iterator[str]:
    loops = {p.loop for s in stays if (p := span.site.places.get(s.place)) is not None and p.loop}
    for entry in written:
        if not isinstance(entry, Incident | Note):
            continue
        of_loop = isinstance(entry, Incident) and not entry.place and entry.loop in (None, *loops)
        here = any(s.place == entry.place and _inside(s, entry.at, span.until) for s in stays)
        current = span.farm.entry(entry.id)
        if current is not None and (here or of_loop):
            yield _dated(span.site, current, told(span, current))


def _mixed(farm: Farm, lot: str, stays: Sequence[Stay], now: datetime) -> Iterator[str]:
    """Tell the lots that swam in the same tank at the same time."""
    for other, entries in sorted(farm.lots.items()):
        if other == lot:
            continue
        for theirs in _stays(farm, other, [one for one in entries if one.at <= now]):
            for mine in stays:
                since = max(mine.since, theirs.since)
                until = min(mine.until or now, theirs.until or now)
                if mine.place == theirs.place and since < until:
                    zone = farm.site.timezone
                    yield (
                        f"{other} in {mine.place}, {long_day(local_day(since, zone))} to "
                        f"{long_day(local_day(until, zone))}"
                    )


def _came_of_it(span: Span, lot: str) -> Iterator[str]:
    """Tell the lots that name it as a parent."""
    for entries in span.farm.lots.values():
        for one in entries:
            if isinstance(one, Stocked) and lot in one.parents and one.at <= span.until:
                yield _dated(span.site, one, told(span, one))


def _corrected(span: Span, of_lot: Sequence[Entry], written: Iterable[Entry]) -> Iterator[str]:
    """Tell every correction of an entry that names the lot, taken back ones too."""
    lot = of_lot[0].lot
    for entry in written:
        if isinstance(entry, Correction):
            target = span.farm.as_written(entry.of)
            if target is not None and target.lot == lot and (text := told(span, entry)):
                yield _dated(span.site, entry, text)


def _writers(farm: Farm, of_lot: Iterable[Entry]) -> Iterator[str]:
    by: defaultdict[str, int] = defaultdict(int)
    for entry in of_lot:
        by[entry.by] += 1
    for code, count in sorted(by.items()):
        entries = "1 entry" if count == 1 else f"{count} entries"
        yield f"{code or 'nobody named'}, {named(farm, code)}: {entries}"
