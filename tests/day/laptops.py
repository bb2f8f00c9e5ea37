"""A laptop on the sample farm, for tests: it keeps drafts at a time the test says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

from msgspec import structs
from msgspec.structs import replace

from rounds.day.fold.farm import Farm, fold
from rounds.day.walking import walk
from rounds.day.walking.walk import Outcome, WalkState
from rounds.records.entry import Entry, Reading, Stocked, stamp
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.shipped import shipped

MONDAY = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
"""A Monday in winter time: the site's clock shows 07:00 too, and TAN and alkalinity are due."""


@cache
def sample() -> Site:
    return load(shipped("sample_site"))


def us() -> Site:
    return replace(sample(), display_units="us")


class Laptop:
    """One writer. Entries go straight into the farm; the clock moves when told."""

    def __init__(
        self, site: Site | None = None, writer: str = "k7q2md", by: str = "ana",
        now: datetime = MONDAY,
    ) -> None:  # fmt: skip
        self.site = site or sample()
        self.farm: Farm = fold(self.site, ())
        self.writer, self.by, self.now, self.count = writer, by, now, 0

    def wait(self, **time: float) -> None:
        self.now += timedelta(**time)

    def keep(self, draft: Entry) -> Entry:
        self.count += 1
        entry = structs.replace(
            draft, id=f"{self.writer}-r1-{self.count:04}", t=stamp(self.now),
            day=draft.day or f"{self.now.astimezone(self.site.timezone):%Y-%m-%d}",
            by=draft.by or self.by,
        )  # fmt: skip
        self.farm = self.farm.add(entry)
        return entry

    def hear(self, other: Laptop) -> None:
        """Take over everything the other laptop wrote, as sync does."""
        for entry in list(other.farm.entries.values()):
            self.farm = self.farm.add(entry)

    def read(self, place: str, measure: str, value: str, unit: str, verdict: str = "ok") -> Entry:
        reading = Reading(
            place=place, measure=measure, value=value, unit=unit, verdict=verdict, by=self.by
        )
        return self.keep(reading)

    def stock(self, place: str, lot: str = "RD1", count: int = 250, days_ago: int = 30) -> None:
        at = self.now
        self.now -= timedelta(days=days_ago)
        self.keep(Stocked(place=place, lot=lot, count=count, mean_weight="150", unit="g"))
        self.now = at

    def begin(self, checklist: str = "first-light") -> WalkState:
        day = self.now.astimezone(self.site.timezone).date()
        state, draft = walk.begin(self.site, self.farm, checklist, day, self.by, self.now)
        self.keep(draft)
        return walk.renewed(state, self.farm)

    def go(self, state: WalkState, place: str, step: str) -> WalkState:
        """Stand at a step, wherever the walk was."""
        at = next(
            i
            for i, item in enumerate(state.items)
            if (item.place.code, item.step.code) == (place, step)
        )
        return replace(state, position=at)

    def type(
        self, state: WalkState, text: str, confirmed: bool = True, why: str = ""
    ) -> tuple[WalkState, Outcome]:
        """Answer, confirming where asked; keep the entry and move on."""
        outcome = walk.answer(state, text, self.now, confirmed, why)
        if outcome.kind != "keep":
            return state, outcome
        entry = self.keep(outcome.entry) if outcome.entry else None
        return walk.kept(state, self.farm, entry), outcome


def stand(laptop: Laptop, place: str, step: str, checklist: str = "first-light") -> WalkState:
    """Return a walk just begun that stands at a step."""
    return laptop.go(laptop.begin(checklist), place, step)
