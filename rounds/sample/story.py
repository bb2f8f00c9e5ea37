"""Reads story.toml: what happened on an invented farm, told in data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import time
from random import Random
from typing import Final, Literal, get_args

from msgspec import Struct
from msgspec.structs import replace

from rounds.sample import planted
from rounds.sample.planted import Appetite, Change, Planted
from rounds.site.measures import MEASURES
from rounds.site.model import Site
from rounds.site.reading import Problem, SiteErrors, Table, read_toml

FILE: Final = "story.toml"
NOTES: Final = ("note", "matter", "settle", "incident begins", "incident ends", "state", "sale",
                "dose", "gone", "count", "fast", "meal by mistake")  # fmt: skip
FAST_H: Final = 72


WaterState = Literal["in service", "isolated", "drained"]


class Usual(Struct, frozen=True):
    """What a meter finds in a place: a value, what the sun adds, what a day adds."""

    value: float
    swing: float = 0.0
    a_day: float = 0.0


class Shift(Struct, frozen=True):
    """Who works when, and which laptop is carried."""

    by: str
    laptop: int
    begins: time
    ends: time
    takes: str
    """A hand-off is taken over "whole", "half" (some matters unseen) or "not"."""


class LoopStory(Struct, frozen=True):
    """How a loop's water begins and behaves."""

    code: str
    temperature_c: float
    swing_c: float
    salinity: float
    alkalinity_mg_l: float
    clearance_m3_h: float
    stripping_m3_h: float
    evaporation_m3_d: float
    returned: float
    aeration_per_h: float


class Lot(Struct, frozen=True):
    """Fish of one lot in one place when the history begins."""

    lot: str
    place: str
    count: int
    weight_g: float
    origin: str
    estimated: bool
    weighed_on: str
    """Day of the week it is weighed on; empty for never."""
    arrives: int | None
    """Day it came in, 0 is the last day; None for fish that were there before the book."""
    hatched: int | None
    """How many days before that it hatched; None where nobody wrote it down."""


class Event(Struct, frozen=True):
    """Something that happened: `day` 0 is the last day, -1 the one before."""

    what: str
    day: int
    at: time
    place: str | None
    loop: str | None
    text: str
    about: str
    count: int
    owner: str
    until: str
    again_if: str
    state: WaterState


class Story(Struct, frozen=True):
    """The whole history, before chance."""

    shifts: tuple[Shift, ...]
    loops: Mapping[str, LoopStory]
    lots: tuple[Lot, ...]
    events: tuple[Event, ...]
    appetites: tuple[Appetite, ...]
    changes: tuple[Change, ...]
    planted: tuple[Planted, ...]
    """Told by the three before: what was planted, and where chance put it."""
    usual: Mapping[str, Mapping[str, Usual]]
    """By place, then measure; "everywhere" holds for all places."""
    answers: Mapping[str, tuple[str, ...]]
    """By step: texts or counts to choose from."""
    skipped: float
    """Part of the steps that are skipped."""
    stray_deaths: float
    """Dead fish a day in a place where all is well."""
    pressure_hpa: float


def read(site: Site, chance: Random) -> Story:
    """Read the story beside a site's files.

    Args:
        site: The site it happens on.
        chance: Takes the place of what is planted without one.

    Returns:
        The story.

    Raises:
        SiteErrors: Everything that is wrong in it.
    """
    problems: list[Problem] = []
    data = read_toml(site.folder / FILE, FILE, problems)
    top = Table(data or {}, FILE, "", problems)
    general = top.table("general")
    story = Story(
        shifts=tuple(_shift(table) for table in top.tables("shift", "by")),
        loops={loop.code: loop for table in top.tables("loop") for loop in (_loop(table),)},
        lots=tuple(_lot(table) for table in top.tables("lot", "lot")),
        events=tuple(_event(table) for table in top.tables("event", "what")),
        appetites=tuple(_appetite(table) for table in top.tables("appetite", "place")),
        changes=tuple(_change(table) for table in top.tables("change", "place")),
        planted=(),
        usual=_usual(top.table("usual")),
        answers=_answers(top.table("answers")),
        skipped=general.number("skipped", "1", 0, 0.5),
        stray_deaths=general.number("stray_deaths", "1", 0, 5),
        pressure_hpa=general.number("pressure", "hPa", 900, 1085),
    )
    general.close()
    tables = top.tables("planted", "what")
    top.close()
    _known(site, story, problems)
    if tables and not problems:
        story = _with(story, planted.read(tables, site, *_fit(story), chance))
    if problems:
        raise SiteErrors(tuple(problems))
    return story


def _fit(story: Story) -> tuple[list[str], list[str]]:
    """Return the places with fish no appetite is told of, and those whose eggs are counted."""
    told = {appetite.place for appetite in story.appetites}
    stocked = dict.fromkeys(lot.place for lot in story.lots if lot.place not in told)
    return list(stocked), [place for place, of in story.usual.items() if "egg_ratio" in of]


def _with(story: Story, troubles: tuple[Planted, ...]) -> Story:
    return replace(
        story,
        planted=troubles,
        appetites=(*story.appetites, *planted.appetites(troubles)),
        changes=(*story.changes, *planted.changes(troubles)),
        events=(*story.events, *_planted_events(story, troubles)),
    )


def _planted_events(story: Story, troubles: Iterable[Planted]) -> list[Event]:
    """Return fish that go and are counted, and fasts that a meal breaks."""
    found = []
    for one in troubles:
        if one.what == "missing fish":
            fish = sum(lot.count for lot in story.lots if lot.place == one.place)
            found.append(_at("gone", one.day, time(3), one.place, max(2, round(one.part * fish))))
            found.append(_at("count", one.found, time(10, 30), one.place))
        elif one.what == "broken fast":
            found.append(_at("fast", one.day, time(8, 5), one.place, FAST_H))
            found.append(_at("meal by mistake", one.found, time(11, 20), one.place))
    return found


def _at(what: str, day: int, at: time, place: str, count: int = 0) -> Event:
    return Event(what, day, at, place, None, "", "", count, "", "", "", "in service")


def _shift(table: Table) -> Shift:
    begins, ends = table.hours("works") or (time(6), time(14))
    shift = Shift(
        by=table.text("by"),
        laptop=table.whole("laptop", 1, 2),
        begins=begins,
        ends=ends,
        takes=table.word("takes", ("whole", "half", "not"), "whole"),
    )
    table.close()
    return shift


def _loop(table: Table) -> LoopStory:
    loop = LoopStory(
        code=table.code(),
        temperature_c=table.number("temperature", "degC", 5, 35),
        swing_c=table.number("swing", "K", 0, 5),
        salinity=table.number("salinity", "g/kg", 5, 40),
        alkalinity_mg_l=table.number("alkalinity", "mg/L CaCO3", 20, 300),
        clearance_m3_h=table.number("clearance", "m^3/h", 0.1, 1000),
        stripping_m3_h=table.number("stripping", "m^3/h", 0.1, 10000),
        evaporation_m3_d=table.number("evaporation", "m^3", 0, 10),
        returned=table.number("returned", "1", 0, 1.5),
        aeration_per_h=table.number("aeration", "1", 0, 20),
    )
    table.close()
    return loop


def _lot(table: Table) -> Lot:
    lot = Lot(
        lot=table.text("lot"),
        place=table.text("place"),
        count=table.whole("count", 1, 100_000),
        weight_g=table.number("weight", "g", 0.0001, 20_000),
        origin=table.text("origin", ""),
        estimated=table.flag("estimated", False),
        weighed_on=table.text("weighed_on", ""),
        arrives=table.whole("arrives", -59, 0, 0) if table.has("arrives") else None,
        hatched=table.whole("hatched", 0, 400, 0) if table.has("hatched") else None,
    )
    table.close()
    return lot


def _event(table: Table) -> Event:
    event = Event(
        what=table.word("what", NOTES),
        day=table.whole("day", -59, 0),
        at=_clock(table),
        place=table.text("place", "") or None,
        loop=table.text("loop", "") or None,
        text=table.text("text", ""),
        about=table.text("about", ""),
        count=table.whole("count", 0, 10_000, 0),
        owner=table.text("owner", ""),
        until=table.text("until", ""),
        again_if=table.text("again_if", ""),
        state=table.word("state", get_args(WaterState), "in service"),
    )
    table.close()
    return event


def _clock(table: Table) -> time:
    text = table.text("at", "10:00")
    try:
        return time.fromisoformat(text)
    except ValueError:
        table.problem("at", text, 'must be a time such as "10:15"')
        return time(10)


def _appetite(table: Table) -> Appetite:
    appetite = Appetite(
        place=table.text("place"),
        day=table.whole("day", -59, 0),
        left=table.number("left", "1", 0, 1),
        dead=table.whole("dead", 0, 1000, 0),
        cause=table.text("cause", ""),
        look=table.text("look", ""),
    )
    table.close()
    return appetite


def _change(table: Table) -> Change:
    change = Change(
        place=table.text("place"),
        measure=table.word("measure", MEASURES),
        day=table.whole("day", -59, 0),
        times=table.number("times", "1", 0, 100, 1.0),
        plus=table.number("plus", "1", -1000, 1000, 0.0),
        a_day=table.number("a_day", "1", -1000, 1000, 0.0),
    )
    table.close()
    return change


def _usual(table: Table) -> dict[str, dict[str, Usual]]:
    found: dict[str, dict[str, Usual]] = {}
    for place in table.data:
        of_place = table.table(place)
        found[place] = {}
        for code in of_place.data:
            measure = of_place.table(code)
            unit = MEASURES[code].unit if code in MEASURES else "1"
            found[place][code] = Usual(
                measure.number("is", unit, -100, 100_000),
                measure.number("swing", "1", -1000, 1000, 0.0),
                measure.number("a_day", "1", -1000, 1000, 0.0),
            )
            measure.close()
    return found


def _answers(table: Table) -> dict[str, tuple[str, ...]]:
    return {step: table.texts(step) for step in table.data}


def _known(site: Site, story: Story, problems: list[Problem]) -> None:
    """Note every place, loop and person of the story that the site does not have."""
    places = [("lot", lot.place) for lot in story.lots]
    places += [("event", event.place) for event in story.events if event.place]
    places += [("appetite", appetite.place) for appetite in story.appetites]
    places += [("change", change.place) for change in story.changes]
    places += [("usual", place) for place in story.usual if place != "everywhere"]
    loops = [("loop", code) for code in story.loops]
    loops += [("event", event.loop) for event in story.events if event.loop]
    people = [("shift", shift.by) for shift in story.shifts]
    for key, known, names in (
        ("place", site.places, places), ("loop", site.loops, loops), ("by", site.people, people),
    ):  # fmt: skip
        for table, name in names:
            if name not in known:
                said = f"is not in site.toml: {', '.join(known)}"
                problems.append(Problem(FILE, f"[[{table}]]", key, name, said))
    for code in site.loops:
        if code not in story.loops:
            problems.append(Problem(FILE, "[[loop]]", "code", code, "is missing: tell its water"))
