"""The steps of a walk as they stand: what was kept for each, here or on another laptop."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import WalkAt
from rounds.day.laptops.unheard import named
from rounds.day.lots.deaths import judge_deaths
from rounds.day.readings.judgement import Word, as_word, with_unit
from rounds.day.walking.plan import items, kept_at, walks_of
from rounds.day.when import clock
from rounds.records.entry import Answer, Calibrated, Died, Entry, Reading, Skipped
from rounds.site.model import Checklist, Place, Site, Step


class Item(Struct, frozen=True):
    """One step at one place, as it stands. `by` tells who did it on another walk.

    `who` names somebody else than the one walking, in whichever walk: "by Rui 07:42".
    """

    place: Place
    step: Step
    status: Literal["open", "kept", "skipped"] = "open"
    entry_id: str | None = None
    typed: str = ""
    """The value as it was typed; a kept one is typed over to correct it."""
    shown: str = ""
    """The same for reading: with its unit, or the reason of a skip."""
    verdict: Word = "unknown"
    at: datetime | None = None
    by: str = ""
    who: str = ""

    @property
    def where(self) -> tuple[str, str]:
        """Codes of its place and its step."""
        return self.place.code, self.step.code


class WalkState(Struct, frozen=True):
    """A walk in progress. What is half typed stays with the screen: the book holds none of it."""

    site: Site
    farm: Farm
    checklist: Checklist
    walk: str
    """Id of the walk; empty when a single value is read again outside any walk."""
    day: date
    by: str
    items: tuple[Item, ...]
    position: int = 0
    came_from: Place | None = None
    size: int = 0
    """Entries the farm held when the items were last looked up."""

    @property
    def item(self) -> Item | None:
        """The step asked now; None past the last."""
        return self.items[self.position] if self.position < len(self.items) else None

    @property
    def open(self) -> int:
        """Number of steps neither kept nor skipped."""
        return sum(item.status == "open" for item in self.items)

    @property
    def caution(self) -> str:
        """What to do before stepping back into a cleaner zone; empty on the way down."""
        here, item = self.came_from, self.item
        if here is None or item is None or item.place.zone >= here.zone:
            return ""
        return f"{item.place.code} is cleaner than {here.code}: wash, dip boots and net, then go"


def asked(site: Site, farm: Farm, checklist: Checklist, walk: str, day: date, by: str) -> WalkState:
    """Return the state of a walk of a checklist on a day, at its first step."""
    steps = tuple(Item(place, step) for place, step in items(site, checklist, day))
    return renewed(WalkState(site, farm, checklist, walk, day, by, steps), farm)


def renewed(state: WalkState, farm: Farm) -> WalkState:
    """Return the walk at the same step, with what has been kept since, here or elsewhere."""
    if not state.walk:
        return replace(state, farm=farm, size=farm.size)
    walks = walks_of(farm, state.checklist.code, state.day)
    fresh = tuple(_item(state, farm, walks, item.place, item.step) for item in state.items)
    return replace(state, farm=farm, size=farm.size, items=fresh)


def _item(
    state: WalkState, farm: Farm, walks: tuple[WalkAt, ...], place: Place, step: Step
) -> Item:
    entry = kept_at(farm, walks, place, step, first=state.walk)
    if entry is None:
        entry = farm.at_step(state.walk, place.code, step.code)
    if entry is None:
        return Item(place, step)
    by = "" if entry.walk == state.walk else _elsewhere(farm, entry)
    who = ""
    if entry.by and entry.by != state.by:
        who = f"by {named(farm, entry.by)} {clock(entry.at, farm.site.timezone)}"
    if isinstance(entry, Skipped):
        said = entry.reason
        return Item(place, step, "skipped", entry.id, "", said, "unknown", entry.at, by, who)
    typed, shown, word = _kept_value(farm, place, entry)
    return Item(place, step, "kept", entry.id, typed, shown, word, entry.at, by, who)


def _kept_value(farm: Farm, place: Place, entry: Entry) -> tuple[str, str, Word]:
    if isinstance(entry, Reading):
        return entry.value, with_unit(entry.value, entry.unit), as_word(entry.verdict)
    if isinstance(entry, Answer):
        return entry.value, entry.value, as_word(entry.verdict)
    if isinstance(entry, Calibrated):
        typed = entry.slope or entry.offset
        shown = f"{typed} %" if entry.slope else typed
        return typed, f"{shown}, {entry.result}", "ok" if entry.result == "good" else "watch"
    if isinstance(entry, Died):
        judged = judge_deaths(farm, place, entry.lot or "", entry.count, entry.at, entry.id)
        return str(entry.count), f"{entry.count} dead", judged.verdict
    return "", "", "unknown"


def _elsewhere(farm: Farm, entry: Entry) -> str:
    laptop, at = entry.id.partition("-")[0], clock(entry.at, farm.site.timezone)
    return f"done by {named(farm, entry.by)} {at} on laptop {laptop}"
