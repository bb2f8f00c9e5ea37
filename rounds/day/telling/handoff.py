"""The shift handed on: how the farm stands, what changed, what is still to do, what stays open."""

from __future__ import annotations

from collections.abc import Container, Iterable
from datetime import date, datetime, time
from typing import Final

from msgspec import Struct

from rounds.day.feeding import rations
from rounds.day.feeding.fasting import broken, done, fasts
from rounds.day.feeding.off_feed import off_feed
from rounds.day.feeding.ration_words import unverified
from rounds.day.feeding.rations import Ration
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import HandoffAt, OpenMatter
from rounds.day.forage.pond_watch import forage_watch
from rounds.day.laptops.unheard import clock_behind, named, unheard
from rounds.day.larvae import cultures, hatching
from rounds.day.loops.air import of_place as air_of_place
from rounds.day.loops.saltbalance import balances
from rounds.day.lots.deaths import call_vet, short
from rounds.day.lots.raw_eating import raw_eating
from rounds.day.meters.doubts import MeterDoubt, doubtful_readings, doubts_of_meters
from rounds.day.readings.covering import covered, in_hand
from rounds.day.readings.judgement import RANK, Word, in_words
from rounds.day.recording.signing import new_here
from rounds.day.telling.changes import Span, changes, quarrels
from rounds.day.telling.given import deaths, doses, feeds, skipped
from rounds.day.verdict import LOOKED, of_place, presses, says_all
from rounds.day.walking.plan import Round, rereads, rounds_on
from rounds.day.when import clock, local_day, spoken
from rounds.day.where import where
from rounds.records.entry import Handoff, Takeover, stamp
from rounds.records.gaps import not_whole
from rounds.site.model import Site
from rounds.text import clean

TEXT_LIMIT: Final = 20_000


class PlaceLine(Struct, frozen=True):
    """How one place stands: the worst of it, and what to do about it."""

    place: str
    name: str
    verdict: Word
    says: str
    do: str


class ToDo(Struct, frozen=True):
    """Something not done yet, and by when."""

    text: str
    until: str


class Open(Struct, frozen=True):
    """A matter nobody has settled: its entry, what it is, who has it and until when."""

    id: str
    text: str
    owner: str
    until: str


class Document(Struct, frozen=True):
    """A hand-off, ready to be printed in any form. Foreign text in it is as it was written."""

    site_name: str
    notice: str
    day: date
    span: str
    """In words: "Mon 23 Nov 18:40 to today 07:42"."""
    since: datetime
    until: datetime
    by: str
    places: tuple[PlaceLine, ...]
    """Worst first, then in walking order."""
    changed: tuple[str, ...]
    not_done: tuple[ToDo, ...]
    feeds: tuple[str, ...]
    doses: tuple[str, ...]
    watch: tuple[str, ...]
    matters: tuple[Open, ...]
    deaths: tuple[str, ...]
    skipped: tuple[str, ...]
    conflicts: tuple[str, ...]
    unseen: tuple[Open, ...]
    """Open matters handed on before that nobody who took over has seen."""
    untaken: str
    """The last hand-off, if nobody has taken it over."""
    unheard: tuple[str, ...]
    unknown: int
    meters: tuple[str, ...] = ()
    """What speaks against a meter or a loop's water, and the readings that makes doubtful."""
    clock: str = ""
    """That this laptop's clock is behind, where it is."""
    unread: str = ""
    """How much of the records could not be read or found, and what tells which."""
    learning: tuple[str, ...] = ()
    """Who is not signed off to walk alone yet, a line a person."""
    said: str = ""
    """What the shift adds in its own words."""
    to: str = ""


def matters(
    site: Site,
    farm: Farm,
    now: datetime,
    by: str,
    here: str = "",
    unread: int = 0,
    differing: Iterable[str] = (),
) -> Document:
    """Gather what the next shift must know, since the last hand-off or the start of the day.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        by: Who hands on.
        here: The writer of this laptop; the others are told when they were last heard.
        unread: How many lines and files of the book could not be read or found.
        differing: Which laptops work with other site files, a sentence each.

    Returns:
        The document; `replace` puts in what the shift says and to whom it goes.
    """
    zone, today = site.timezone, local_day(now, site.timezone)
    behind = clock_behind(farm, now, here)
    last = next((h for h in reversed(farm.handoffs) if h.at < now), None)
    since = last.at if last is not None else datetime.combine(today, time(), zone)
    span = Span(site, farm, since, now)
    feeding = rations.today(site, farm, now)
    doubts = doubts_of_meters(site, farm, now)
    stand = places(site, farm, now, doubts)
    acted = {line.place for line in stand if line.verdict == "act"}
    return Document(
        site_name=site.name,
        notice=site.notice,
        day=today,
        span=f"{spoken(since, now, zone)} to {spoken(now, now, zone)}",
        since=since,
        until=now,
        by=named(farm, by),
        places=stand,
        changed=changes(span),
        not_done=_not_done(site, farm, now),
        feeds=(*feeds(span), *_still_to_feed(feeding, acted), *unverified(site, feeding)),
        doses=doses(span),
        watch=_watch(span, feeding),
        matters=tuple(
            _open(farm, matter)
            for matter in farm.matters
            if matter.at <= now and not done(farm, matter, now)
        ),
        deaths=deaths(span),
        skipped=skipped(span),
        conflicts=tuple(f"{told}." for told in quarrels(farm)),
        unseen=_unseen(farm, now),
        untaken=(
            f"The hand-off of {spoken(last.at, now, zone)} by {named(farm, last.by)} was not "
            "taken over."
            if last is not None and last.taken_by is None
            else ""
        ),
        unheard=(*(one for one in unheard(farm, now, here) if one != behind), *differing),
        clock=behind,
        unknown=farm.unknown,
        unread=not_whole(unread),
        meters=(
            *(doubt.says for doubt in doubts),
            *doubtful_readings(site, farm, since, now),
            *(one.says for one in balances(site, farm, now)),
        ),
        learning=new_here(farm, now),
    )


def places(
    site: Site, farm: Farm, now: datetime, meters: tuple[MeterDoubt, ...] | None = None
) -> tuple[PlaceLine, ...]:
    """Return how every place stands, the worst first; places nobody looked at are left out.

    Their rounds are among what is not done.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
        meters: What speaks against the meters, where it is known already.

    Returns:
        One line a place.
    """
    found = []
    for place in site.places.values():
        stands = of_place(site, farm, place, now, meters)
        known = stands.worst is not None and stands.worst.measure != LOOKED
        if not known and not farm.stocks.get(place.code):
            continue
        says, do = "", ""
        if stands.worst:
            says, do = says_all(stands.worst, stands.judgements), stands.worst.do
        if stands.worst and (matter := covered(farm, stands.worst, now)):
            do = f"known, {in_hand(farm, matter, now)}"
        line = PlaceLine(place.code, place.name, stands.verdict, says, do)
        rank = -RANK[stands.verdict]
        order: tuple[float, ...] = (rank,)
        if stands.verdict in ("watch", "act"):
            lasts = air_of_place(site, farm, place, now) if farm.stocks.get(place.code) else None
            order = (rank, *presses(farm, place, stands.worst, lasts, now))
        found.append((order, line))
    return tuple(line for _, line in sorted(found, key=lambda pair: pair[0]))


def _not_done(site: Site, farm: Farm, now: datetime) -> tuple[ToDo, ...]:
    zone = site.timezone
    again = [
        (
            one.due,
            ToDo(
                f"Read {one.place} {in_words(one.measure)} again"
                + (", late" if one.due < now else ""),
                clock(one.due, zone)
                if local_day(one.due, zone) == local_day(now, zone)
                else spoken(one.due, now, zone),
            ),
        )
        for one in rereads(site, farm, now)
    ]
    rounds = [
        (
            one.end,
            ToDo(
                f"{one.checklist.title}: {_left_open(one)}"
                + (", late" if now > one.end and one.done < one.total else ""),
                clock(one.end, zone),
            ),
        )
        for one in rounds_on(site, farm, now)
        if one.done < one.total or one.skipped
    ]
    return tuple(todo for _, todo in sorted([*again, *rounds], key=lambda pair: pair[0]))


def _left_open(due: Round) -> str:
    """Return how far a round is; of one walked to its end, only what was skipped in it."""
    if due.done < due.total:
        return due.progress
    return f"{due.skipped} skipped at {', '.join(due.skipped_in)}"


def _still_to_feed(feeding: tuple[Ration, ...], acted: Container[str]) -> Iterable[str]:
    """Tell the meals still to give today, and the places that are not fed or first looked at."""
    for ration in feeding:
        meal = ration.next_meal
        if ration.no_feed:
            yield f"{ration.place}: NO FEED, {ration.held_back}"
        elif meal is not None and meal.advised_g > 0:
            rest, number = f"{ration.left_g:g} g", f"meal {meal.number} of {len(ration.meals)} next"
            if ration.place in acted:
                so_far = "not fed" if ration.given_g <= 0 else f"{ration.given_g:g} g given"
                yield (
                    f"{ration.place}: {so_far}; see to ACT NOW first, then at most {rest}, {number}"
                )
            else:
                yield f"{ration.place}: still to give {rest}, {number}"


def _watch(span: Span, feeding: tuple[Ration, ...]) -> tuple[str, ...]:
    zone, found = span.site.timezone, []
    for incident in span.farm.incidents:
        if incident.at <= span.until:
            text = f": {incident.text}" if incident.text else ""
            since = spoken(incident.at, span.until, zone)
            spot = where(incident, "house")
            found.append(f"{spot}: {incident.about} not yet in order, since {since}{text}")
    for place in span.site.places:
        if (state := span.farm.state_of(place)) != "in service":
            found.append(f"{place} is {state}")
    for at in span.site.places.values():
        args = span.farm, at, span.until
        told = (*call_vet(*args), *short(*args), *off_feed(*args))
        told += tuple(broken(span.farm, at.code, span.until))
        found += [f"{at.code}: {one.sentence}" for one in told]
    found += forage_watch(span.site, span.farm, span.until)
    found += raw_eating(span.farm)
    kept = cultures.upkeep(span.site, span.farm, span.until)
    found += (*(kept.cautions if kept else ()), *hatching.watch(span.site, span.farm, span.until))
    found += [
        f"{fast.place}: {fast.says(span.until, zone)}"
        for fast in fasts(span.farm, span.until)
        if fast.over(span.until)
    ]
    found += [
        f"{ration.place}: ration held back, {ration.held_back}"
        for ration in feeding
        if ration.factor < 1 and not ration.no_feed
    ]
    return tuple(found)


def _open(farm: Farm, matter: OpenMatter) -> Open:
    text = ": ".join(filter(None, (where(matter), in_words(matter.about), matter.text)))
    text += f" (again if {matter.again_if})" if matter.again_if else ""
    return Open(matter.id, text, named(farm, matter.owner), matter.until)


def _unseen(farm: Farm, now: datetime) -> tuple[Open, ...]:
    handed = [h for h in farm.handoffs if h.at < now]
    if not handed:
        return ()
    seen = {key for handoff in handed for key in handoff.seen}
    return tuple(
        _open(farm, matter)
        for matter in farm.matters
        if matter.at <= handed[-1].at and matter.id not in seen and not done(farm, matter, now)
    )


# -- what is written -------------------------------------------------------------------------------


def handoff(document: Document, text: str, to: str = "") -> Handoff:
    """Draft the entry of a hand-off, with its text as it was shown.

    Args:
        document: What was shown.
        text: The same as text.
        to: Who takes over, if it is known.

    Returns:
        The draft.
    """
    shown = clean(text, limit=TEXT_LIMIT, newlines=True)
    return Handoff(covers=stamp(document.since), text=shown, to=to)


def takeover(handoff: HandoffAt, by: str, seen: Iterable[str] = ()) -> Takeover:
    """Draft the entry of taking a hand-off over, by name.

    Args:
        handoff: What is taken over.
        by: Who takes over.
        seen: Ids of the open matters that person has seen; the others stay unseen.

    Returns:
        The draft.

    Raises:
        ValueError: No name, one's own, or somebody has taken it over.
    """
    if not by.strip():
        raise ValueError("Say who takes over: a name of the site's people.")
    if handoff.taken_by is not None:
        raise ValueError(f"It is taken over already, by {handoff.taken_by}.")
    if handoff.by == by:
        raise ValueError("It is your own: who comes next takes it over.")
    return Takeover(of=handoff.id, by=by, seen=list(dict.fromkeys(seen)))
