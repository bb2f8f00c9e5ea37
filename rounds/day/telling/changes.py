"""What happened on the farm in a span of time, a sentence each, with numbers and who.

Readings that left their band or came back, and entries besides those told in `given`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any, Final

from msgspec import Struct

from rounds.day.fold.corrections import effective
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read, amount
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import (
    NAMES,
    RANK,
    SIGNS,
    Word,
    as_word,
    band,
    in_words,
    with_unit,
    word_of,
    worst,
)
from rounds.day.recording.larvae import enriched, hatch
from rounds.day.when import clock, local_day, spoken
from rounds.day.where import where
from rounds.reason import Value
from rounds.records.entry import (
    Calibrated,
    Clock,
    Correction,
    Counted,
    Damage,
    Enriched,
    Entry,
    Hatch,
    Incident,
    Laptop,
    Matter,
    Moved,
    Note,
    Reading,
    Removed,
    Signed,
    State,
    Stocked,
    Weighed,
    instant,
)
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site
from rounds.units import Amount, shown


class Span(Struct, frozen=True):
    """A span of the farm's time: after `since`, up to and with `until`."""

    site: Site
    farm: Farm
    since: datetime
    until: datetime

    def holds(self, at: datetime) -> bool:
        """Tell whether an instant lies in it."""
        return self.since < at <= self.until

    def who(self, by: str, at: datetime) -> str:
        """Return who and when, in brackets: "(Ana, 07:40)"."""
        name = named(self.farm, by)
        when = clock(at, self.site.timezone)
        return f"({name}, {when})" if name else f"({when})"

    def said(self, amount: Amount, spec: str) -> str:
        """Return an amount as the site shows it."""
        return format(shown(amount, self.site.display_units), spec)


def changes(span: Span) -> tuple[str, ...]:
    """Return what was written in a span besides meals, doses and deaths, in the order of time.

    Args:
        span: The span.

    Returns:
        What was out of band and came back, the worst first; one sentence a change; the measures
        whose verdict changed.
    """
    found = []
    for entry in span.farm.written(span.since, span.until):
        tell = _TELL.get(type(entry))
        written = instant(entry.t)
        if tell is None or not span.holds(written):
            continue
        current = entry if isinstance(entry, Correction) else span.farm.entry(entry.id)
        text = tell(span, current) if current is not None else ""
        if text:
            found.append((written, entry.id, f"{text} {span.who(entry.by, entry.at)}"))
    passed, turned = _readings(span)
    return (*passed, *(text for _, _, text in sorted(found)), *turned)


def told(span: Span, entry: Entry) -> str:
    """Return one entry in words, without who and when; empty where nothing is to be told of it."""
    tell = _TELL.get(type(entry))
    return tell(span, entry) if tell is not None else ""


def quarrels(farm: Farm) -> tuple[str, ...]:
    """Return which corrections do not agree, who says what, and how that ends."""
    found = []
    for conflict in farm.conflicts:
        sides = [c for i in conflict.corrections if isinstance(c := farm.as_written(i), Correction)]
        told = ", ".join(
            f"{named(farm, one.by) or 'nobody named'} says {_set(one)}" for one in sides
        )
        found.append(
            f"{described(farm, conflict.of)}: {told}. Look again, then go back to it and correct it"
        )
    return tuple(found)


def _set(correction: Correction) -> str:
    if correction.void:
        return "it was none"
    told = {key: value for key, value in correction.set.items() if key != "verdict"}
    only = told.get("value") if set(told) == {"value"} else None
    return str(only) if only else ", ".join(f"{key} {value}" for key, value in told.items())


def _readings(span: Span) -> tuple[list[str], list[str]]:
    """Tell what was out of band in the span, the worst first, and whose verdict changed."""
    passed: list[tuple[Word, str]] = []
    turned = []
    for place in span.site.places.values():
        for measure in MEASURES:
            reads = span.farm.between(place.code, measure, span.since, span.until)
            inside = [read for read in reads if span.holds(read.at)]
            if not inside:
                continue
            last = inside[-1]
            before = span.farm.latest(place.code, measure, span.since) or inside[0]
            words = [_judged(span, place, read) for read in (before, last)]
            if words[0] != words[1]:
                name = NAMES.get(measure, MEASURES[measure].name)
                now = with_unit(last.typed, last.unit)
                was = _typed(before, last)
                moved = f"from {was} to {now}" if was != last.typed else f"{now}, now"
                turned.append(
                    f"{place.code} {name} {moved} {SIGNS[words[1]]} {span.who(last.by, last.at)}"
                )
            for word, run, after in _runs(span, place, inside):
                if run[-1] is not last or words[0] == words[1]:
                    passed.append((word, _passed(span, place, word, run, after)))
    return [text for _, text in sorted(passed, key=lambda one: -RANK[one[0]])], turned


def _judged(span: Span, place: Place, read: Read) -> Word:
    return word_of(span.site, place, read.measure, read.value, read.at)


def _out(span: Span, place: Place, read: Read) -> Word:
    """Return the worse of what was shown when a value was kept and what it is by today's limits."""
    return worst((as_word(read.verdict), _judged(span, place, read)))


def _runs(
    span: Span, place: Place, inside: list[Read]
) -> Iterator[tuple[Word, list[Read], Read | None]]:
    """Yield the readings out of band that stand together, their worst word, and what came after.

    A run on watch is told where it lasted: two readings or more.
    """
    run: list[Read] = []
    for read in (*inside, None):
        if read is not None and _out(span, place, read) in ("watch", "act"):
            run.append(read)
            continue
        if run:
            word = worst(_out(span, place, one) for one in run)
            if word == "act" or len(run) > 1:
                yield word, run, read
        run = []


def _passed(span: Span, place: Place, word: Word, run: list[Read], after: Read | None) -> str:
    bad = [read for read in run if _out(span, place, read) == word]
    limits = span.site.limits_at(bad[0].measure, place, bad[0].at)
    low = limits is not None and band(bad[0].value, limits)[1] == "below"
    read = (min if low else max)(bad, key=lambda one: one.value)
    ended = after or (run[-1] if run[-1] is not read else None)
    then = "not read again"
    if ended is not None:
        then = f"{_typed(ended, read)} at {_when(span, ended)}"
        then += f" {SIGNS[_out(span, place, ended)]}" if after is None else ""
    name = named(span.farm, read.by)
    return (
        f"{place.code} {in_words(read.measure)} {with_unit(read.typed, read.unit)} "
        f"{_when(span, read)} {SIGNS[word]}, {then}{f' ({name})' if name else ''}"
    )


def _when(span: Span, read: Read) -> str:
    zone = span.site.timezone
    today = local_day(read.at, zone) == local_day(span.until, zone)
    return clock(read.at, zone) if today else spoken(read.at, span.until, zone)


def _typed(before: Read, last: Read) -> str:
    return before.typed if before.unit == last.unit else f"{before.typed} {before.unit}"


def _stocked(span: Span, entry: Stocked) -> str:
    return (
        f"{entry.place}: {'about ' if entry.estimated else ''}{entry.count} of {entry.lot} came "
        f"in, mean {entry.mean_weight} {entry.unit}{_tail(entry.origin, ' from ')}"
        f"{_tail(', '.join(entry.parents), ', parents ')}{_tail(entry.hatched, ', hatched ')}"
        f"{_leave(entry)}"
    )


def _moved(span: Span, entry: Moved) -> str:
    cause = _tail(entry.cause) + _leave(entry)
    return f"{entry.count} of {entry.lot} moved from {entry.source} to {entry.target}{cause}"


def _removed(span: Span, entry: Removed) -> str:
    why = _tail(entry.cause) + _tail(entry.to, " to ") + _leave(entry)
    mass = f", {entry.mass} {entry.unit}" if entry.mass else ""
    return f"{entry.place}: {entry.count} of {entry.lot} taken out{mass}{why}"


def _leave(entry: Stocked | Moved | Removed) -> str:
    return f", permitted by {entry.permit}" if entry.permit else ""


def _counted(span: Span, entry: Counted) -> str:
    about = f"about {entry.count}, {entry.method}" if entry.estimated else entry.count
    return f"{entry.place}: {entry.lot} counted, {about}"


def _weighed(span: Span, entry: Weighed) -> str:
    mass_g = amount(entry.mass, entry.unit, "g")
    if not mass_g or entry.count <= 0:
        return ""
    mean = span.said(Amount(mass_g / entry.count, "g"), ".1f")
    return f"{entry.place}: {entry.count} of {entry.lot} weighed, mean {mean}"


def _state(span: Span, entry: State) -> str:
    water = f", {entry.volume} {entry.unit}" if entry.volume else ""
    return f"{entry.place}: {entry.state}{water}"


def _incident(span: Span, entry: Incident) -> str:
    return f"{where(entry, 'house')}: {entry.about} {entry.event}{_tail(entry.text)}"


def _matter(span: Span, entry: Matter) -> str:
    if not entry.of and entry.about:
        return f"{where(entry)}: {entry.about} until {entry.until}: {entry.text}"
    if not entry.of:
        return f"Opened: {entry.text}"
    opened = span.farm.as_written(entry.of)
    text = opened.text if isinstance(opened, Matter) else entry.text
    return f"Settled: {text}" + (_tail(entry.text) if entry.text != text else "")


def _note(span: Span, entry: Note) -> str:
    return f"{where(entry, 'Note')}: {entry.text}"


def _correction(span: Span, entry: Correction) -> str:
    target = span.farm.as_written(entry.of)
    if target is None:
        return ""
    what = described(span.farm, entry.of)
    if entry.void:
        return f"{what} taken back{_tail(entry.why)}"
    seen = [c for i in entry.after if isinstance(c := span.farm.as_written(i), Correction)]
    before = effective(target, tuple(seen))[0] or target
    was = {key: getattr(before, key, "") for key in entry.set}
    changed = ", ".join(
        f"{key} {was[key]} to {value}" if was[key] != "" else f"{key} {value}"
        for key, value in entry.set.items()
        if was[key] != value and key != "confirmed"
    )
    return f"{what} corrected: {changed}{_tail(entry.why)}" if changed else ""


def _calibrated(span: Span, entry: Calibrated) -> str:
    meter = f" ({entry.instrument})" if entry.instrument else ""
    found = f"{entry.slope} %" if entry.slope else entry.offset
    return f"Meter of {in_words(entry.measure)}{meter} checked: {found}, {entry.result}"


def _signed(span: Span, entry: Signed) -> str:
    known = span.site.checklists.get(entry.task)
    task = known.title if known else entry.task
    return f"{named(span.farm, entry.person)} signed off for {task}: {entry.level}"


def _laptop(span: Span, entry: Laptop) -> str:
    return f"Laptop {entry.laptop} {'taken in' if entry.event == 'enrolled' else 'retired'}"


def _clock(span: Span, entry: Clock) -> str:
    return f"A laptop's clock jumped by {entry.jump_s:.0f} s"


def _damage(span: Span, entry: Damage) -> str:
    return f"Line {entry.line} of {entry.file} could not be read and was set aside"


def described(farm: Farm, entry_id: str) -> str:
    """Return what an entry is about, in a few words: "T1 oxygen"."""
    entry = farm.as_written(entry_id)
    if entry is None:
        return "an entry"
    kind = (
        entry.measure if isinstance(entry, Reading | Calibrated) else type(entry).__name__.lower()
    )
    return " ".join(filter(None, (entry.place or entry.loop, in_words(kind))))


def _tail(text: Value, joint: str = ": ") -> str:
    return f"{joint}{text}" if text else ""


_TELL: Final[dict[type[Entry], Callable[[Span, Any], str]]] = {
    Stocked: _stocked, Moved: _moved, Removed: _removed, Counted: _counted, Weighed: _weighed,
    State: _state, Incident: _incident, Matter: _matter, Note: _note, Correction: _correction,
    Calibrated: _calibrated, Hatch: lambda _, entry: hatch(entry),
    Enriched: lambda _, entry: enriched(entry), Signed: _signed, Laptop: _laptop, Clock: _clock,
    Damage: _damage,
}  # fmt: skip
