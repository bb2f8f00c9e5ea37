"""What happened to a place on the time axis of a trend: fed, dosed, water, fish, dead, faults."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from itertools import chain
from typing import Final, Literal

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.readings.derived import NEEDS
from rounds.day.readings.judgement import in_words
from rounds.records.entry import Moved, Removed, Stocked
from rounds.site.model import Place, Site
from rounds.units import Amount, shown

Kind = Literal["fed", "dosed", "water", "fish", "dead", "fault", "meter"]
KINDS: Final[tuple[Kind, ...]] = ("fed", "dosed", "water", "fish", "dead", "fault", "meter")


class Event(Struct, frozen=True):
    """Something that happened to a place, or to the water it shares; `says` is all of it."""

    at: datetime
    kind: Kind
    place: str
    says: str


def events(
    site: Site, farm: Farm, place: Place, measure: str, since: datetime, until: datetime
) -> tuple[Event, ...]:
    """Return what happened to a place in a span, oldest first; checks of the measure's meters too.

    Args:
        site: The site.
        farm: The farm.
        place: Where.
        measure: A code of the list of measures.
        since: Begin of the span.
        until: Its end.
    """
    found = dict.fromkeys(
        event for event in _of(site, farm, place, measure, since) if since <= event.at <= until
    )
    return tuple(sorted(found, key=lambda event: (event.at, KINDS.index(event.kind), event.says)))


def _of(
    site: Site, farm: Farm, place: Place, measure: str, since: datetime
) -> Iterable[Event]:  # fmt: skip
    code, loop = place.code, place.loop or ""

    def said(value: float, unit: str, spec: str) -> str:
        return format(shown(Amount(value, unit), site.display_units), spec)

    for fed in farm.fed(code, since):
        yield Event(fed.at, "fed", code, f"fed {said(fed.amount_g, 'g', '.4g')} {fed.product}")
    for dead in farm.dead(code, since):
        if dead.count:
            cause = f", {dead.cause}" if dead.cause else ""
            yield Event(dead.at, "dead", code, f"{dead.count} dead{cause}")
    for dosed in farm.dosed(loop, since) if loop else ():
        amount = said(dosed.amount_g, "g", ".4g")
        yield Event(dosed.at, "dosed", code, f"loop {loop} dosed {amount} {dosed.product}")
    for water in farm.exchanged(loop, since) if loop else ():
        into = said(water.volume_in_m3, "m^3", ".3g")
        what = f"{into} changed" if water.volume_out_m3 else f"topped up with {into}"
        yield Event(water.at, "water", code, f"loop {loop} {what}")
    yield from _fish(farm, code)
    yield from _faults(farm, place)
    for read in dict.fromkeys((measure, *NEEDS.get(measure, ()))):
        for check in farm.calibrations(read):
            word = "good" if check.good else f"poor, {check.found}".rstrip(", ")
            yield Event(check.at, "meter", code, f"meter of {in_words(read)} checked: {word}")


def _fish(farm: Farm, code: str) -> Iterable[Event]:
    for done in chain.from_iterable(farm.lots.values()):
        match done:
            case Moved() if code in (done.source, done.target):
                way = f"from {done.source}" if done.target == code else f"to {done.target}"
                yield Event(done.at, "fish", code, f"{done.count} fish moved {way}")
            case Stocked() if done.place == code:
                yield Event(done.at, "fish", code, f"{done.count} fish of {done.lot} stocked")
            case Removed() if done.place == code:
                yield Event(done.at, "fish", code, f"{done.count} fish taken out")


def _faults(farm: Farm, place: Place) -> Iterable[Event]:
    def here(where: str | None, loop: str | None) -> bool:
        if where:
            return where == place.code
        return not loop or loop == place.loop

    for fault in farm.now.began:
        if here(fault.place, fault.loop):
            text = f": {fault.text}" if fault.text else ""
            yield Event(fault.at, "fault", place.code, f"{fault.about} fault began{text}")
    for (about, where, loop), at in farm.now.ended.items():
        if here(where, loop):
            yield Event(at, "fault", place.code, f"{about} fault ended")
