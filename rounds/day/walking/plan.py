"""What is due: rounds by their windows, values to read again, and the order of a walk."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Final, Literal

from msgspec import Struct, field

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read, WalkAt
from rounds.day.readings.covering import covering
from rounds.day.readings.judgement import SIGNS, as_word, in_words, reread_at
from rounds.day.when import clock, local_day
from rounds.dosing.portions import PH_CEILING, PH_READ_AFTER_MIN, PH_RISE_PER_PORTION
from rounds.records.entry import Entry, Skipped
from rounds.site.measures import MEASURES
from rounds.site.model import Checklist, Place, Site, Step, visited
from rounds.site.rhythm import due_on, event_of, window

REREAD_LASTS: Final = timedelta(hours=24)
"""A value not read again by then is the next round's to ask."""
AFTER_DOSE: Final = timedelta(minutes=PH_READ_AFTER_MIN)
"""After a portion of alkali pH is read; a reading from half of this on is that check."""
RESUMABLE: Final = timedelta(hours=12)
"""A walk left open this long can still be gone on with, past midnight too."""

State = Literal["coming", "due", "late", "open", "done"]


class Round(Struct, frozen=True):
    """A checklist due on a day, in its window, with how far it is."""

    checklist: Checklist
    day: date
    start: datetime
    end: datetime
    state: State
    done: int
    total: int
    walk: str | None
    """The newest walk of it that is not done, to go on with."""
    places: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    """How many steps are done of how many, in each place it visits."""
    skipped_in: Mapping[str, int] = field(default_factory=dict)
    """How many of the done were only skipped, in the places that have any."""
    overdue: bool = False
    """Its window is over and it is not done, begun or not."""

    @property
    def skipped(self) -> int:
        """How many of the steps done were only skipped."""
        return sum(self.skipped_in.values())

    @property
    def progress(self) -> str:
        """In words: "22 of 30 done", "30 of 30 done, 2 skipped"."""
        skipped = f", {self.skipped} skipped" if self.skipped else ""
        return f"{self.done} of {self.total} done{skipped}"


class Reread(Struct, frozen=True):
    """A value out of its band, to be read again."""

    place: str
    measure: str
    due: datetime
    says: str


def items(site: Site, checklist: Checklist, day: date) -> tuple[tuple[Place, Step], ...]:
    """Return what is asked where, in the order walked: pass by pass, each in walking order.

    Args:
        site: The site, its places in walking order.
        checklist: The checklist.
        day: The site-local date; steps with a rhythm of their own are left out on other days.

    Returns:
        Place and step; all steps of a place together within a pass.
    """
    steps = [step for step in checklist.steps if step.due is None or due_on(step.due, day)]
    return tuple(
        (place, step)
        for number in checklist.passes
        for place in site.places.values()
        if visited(place, checklist.visits)
        for step in steps
        if step.stop_pass == number and (not step.visits or visited(place, step.visits))
    )


def walks_of(farm: Farm, checklist: str, day: date) -> tuple[WalkAt, ...]:
    """Return the walks that count together as a round, on whatever laptop, as they began.

    Those of a day; of a checklist that comes after an event only what is not done, so that the
    next fill of the same day begins with every step open.
    """
    found = _walks(farm, checklist, day)
    known = farm.site.checklists.get(checklist)
    if known is not None and event_of(known.due):
        return tuple(walk for walk in found if walk.done_at is None)
    return found


def _walks(farm: Farm, checklist: str, day: date) -> tuple[WalkAt, ...]:
    found = [
        walk
        for walk in farm.walks.values()
        if walk.checklist == checklist and walk.day == day.isoformat()
    ]
    return tuple(sorted(found, key=lambda walk: (walk.begun_at, walk.id)))


def kept_at(
    farm: Farm, walks: tuple[WalkAt, ...], place: Place, step: Step, first: str | None = None
) -> Entry | None:
    """Return what was kept for a step in any of these walks: in `first`, else the newest.

    A value or answer counts before a skip, whoever skipped.
    """
    found = [
        (walk.id == first, entry)
        for walk in walks
        if (entry := farm.at_step(walk.id, place.code, step.code)) is not None
    ]

    def order(pair: tuple[bool, Entry]) -> tuple[bool, bool, datetime, str]:
        own, entry = pair
        return not isinstance(entry, Skipped), own, entry.at, entry.id

    return max(found, key=order)[1] if found else None


def rounds_on(site: Site, farm: Farm, now: datetime) -> tuple[Round, ...]:
    """Return the rounds of the site's day, by the opening of their windows.

    A checklist due "after event" is there while an incident is open, one due "after power" while
    one about power is, and any once it was begun.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        Every round of today, with its state and how many of its steps are kept or skipped.
    """
    today = local_day(now, site.timezone)
    found = []
    for checklist in site.checklists.values():
        walks = _walks(farm, checklist.code, today)
        if not (due_on(checklist.due, today) or walks or _called_for(farm, checklist)):
            continue
        counted = walks_of(farm, checklist.code, today) or walks
        places, skipped = _by_place(site, farm, checklist, today, counted)
        if not places:
            continue
        done, total = (sum(counts) for counts in zip(*places.values(), strict=True))
        start, end = window(checklist.window, today, site)
        running = [walk for walk in walks if walk.done_at is None]
        ended = any(walk.done_at is not None for walk in walks)
        state: State
        if done == total or (ended and not running):
            state = "done"
        elif running:
            state = "open"
        else:
            state = "coming" if now < start else "due" if now <= end else "late"
        walk = running[-1].id if running else None
        late = state == "late" or (state == "open" and now > end)
        found.append(
            Round(checklist, today, start, end, state, done, total, walk, places, skipped, late)
        )
    return tuple(sorted(found, key=lambda one: (one.start, one.checklist.code)))


def at_need(site: Site, farm: Farm, now: datetime) -> tuple[Round, ...]:
    """Return the checklists for an event that nothing calls for today: they can be begun any time.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        Those that are not among `rounds_on`, by title, as coming.
    """
    today = local_day(now, site.timezone)
    there = {one.checklist.code for one in rounds_on(site, farm, now)}
    found = []
    for checklist in site.checklists.values():
        if event_of(checklist.due) and checklist.code not in there:
            places, _ = _by_place(site, farm, checklist, today, ())
            start, end = window(checklist.window, today, site)
            total = sum(count for _, count in places.values())
            if total:
                one = Round(checklist, today, start, end, "coming", 0, total, None, places)
                found.append(one)
    return tuple(sorted(found, key=lambda one: one.checklist.title))


def _called_for(farm: Farm, checklist: Checklist) -> bool:
    event = event_of(checklist.due)
    return bool(event) and any(event in ("event", one.about) for one in farm.incidents)


def _by_place(
    site: Site, farm: Farm, checklist: Checklist, day: date, walks: tuple[WalkAt, ...]
) -> tuple[Mapping[str, tuple[int, int]], Mapping[str, int]]:
    found: defaultdict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
    skipped: Counter[str] = Counter()
    for place, step in items(site, checklist, day):
        done, total = found[place.code]
        kept = kept_at(farm, walks, place, step)
        found[place.code] = (done + (kept is not None), total + 1)
        if isinstance(kept, Skipped):
            skipped[place.code] += 1
    return dict(found), dict(skipped)


def rereads(site: Site, farm: Farm, now: datetime) -> tuple[Reread, ...]:
    """Return the values to read again: the latest of their place, and not ok when it was kept.

    They stay until a newer reading of the measure in that place is ok, a day at most, or until an
    open matter covers them. The pH after a portion of alkali is among them until it is read.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        By the time they are due, the overdue first.
    """
    found = []
    for place in site.places.values():
        for measure, info in MEASURES.items():
            read = farm.latest(place.code, measure, now)
            if read is None or info.derived or now - read.at > REREAD_LASTS:
                continue
            word = as_word(read.verdict)
            due = reread_at(measure, word, read.at)
            if due and not covering(farm, place.code, measure, word, read.value, now):
                found.append(Reread(place.code, measure, due, _says(site, read, due, now)))
    there = {(one.place, one.measure) for one in found}
    found += [one for one in _after_doses(site, farm, now) if (one.place, "ph") not in there]
    return tuple(sorted(found, key=lambda one: (one.due, one.place, one.measure)))


def _after_doses(site: Site, farm: Farm, now: datetime) -> list[Reread]:
    """Return the pH to read after the last portion of alkali of each loop, where pH was known."""
    found: list[Reread] = []
    alkalis = {product.code for product in site.products.values() if product.kind == "alkali"}
    for loop in site.loops:
        given = [
            dose
            for dose in farm.dosed(loop, now - REREAD_LASTS)
            if dose.at <= now and dose.product in alkalis
        ]
        if not given:
            continue
        last = given[-1].at
        places = {place.code: place for place in site.places_of(loop)}
        before = [read for code in places if (read := farm.latest(code, "ph", last)) is not None]
        since = last + AFTER_DOSE / 2
        if not before or any(farm.between(code, "ph", since, now) for code in places):
            continue
        read = max(before, key=lambda one: (places[one.place].test_point, one.at))
        due = last + AFTER_DOSE
        late = " late" if due < now else ""
        says = f"read {read.place} pH again by {clock(due, site.timezone)}{late}"
        limits = site.limits_at("ph", places[read.place], now)
        ceiling = limits.act_high if limits is not None else None
        most = min(read.value + PH_RISE_PER_PORTION, ceiling or PH_CEILING)
        says += f" (after the dose: it was {read.typed}, {most:.2f} at most)"
        found.append(Reread(read.place, "ph", due, says))
    return found


def _says(site: Site, read: Read, due: datetime, now: datetime) -> str:
    late, sign = " late" if due < now else "", SIGNS[as_word(read.verdict)]
    by = f"read {read.place} {in_words(read.measure)} again by {clock(due, site.timezone)}"
    return f"{by}{late} ({read.typed} {sign})"
