"""Open matters: what they could be about, and how one is opened and settled."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Final

from rounds.day.feeding.fasting import NO_FEED
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import OpenMatter
from rounds.day.meters.doubts import MeterDoubt
from rounds.day.readings.covering import ONLY_ACT, covered, worse_than
from rounds.day.readings.judgement import Figure, Judgement, in_words
from rounds.day.readings.until import kept
from rounds.day.recording.asking import Answers, Asked, Field, Form, spots
from rounds.day.verdict import of_place
from rounds.records.entry import Matter
from rounds.site.measures import MEASURES
from rounds.site.model import Site

PICKS: Final = ("8 h", "24 h", "72 h", "168 h", "336 h")
"""Ends offered with one digit."""


def findings(
    site: Site, farm: Farm, now: datetime, meters: tuple[MeterDoubt, ...] | None = None
) -> tuple[Judgement, ...]:
    """Return what is to watch on the farm and no matter covers yet, in walking order."""
    return tuple(
        judgement
        for place in site.places.values()
        for judgement in of_place(site, farm, place, now, meters).judgements
        if judgement.verdict == "watch" and covered(farm, judgement, now) is None
    )


def again_picks(site: Site, judgement: Judgement) -> tuple[str, ...]:
    """Return what would make a value urgent again: any worse, half way to act, only at act."""
    limits, value = judgement.limits, judgement.value
    if limits is None or value is None:
        return (ONLY_ACT,)
    low = limits.target_low is not None and value < limits.target_low
    act = limits.act_low if low else limits.act_high
    info = MEASURES[judgement.measure]
    figure = Figure(info.decimals, info.unit, site.display_units)
    edges: Iterable[float] = [value]
    if act is not None:
        edges = [value, (value + act) / 2]
    side = "below" if low else "above"
    picks = dict.fromkeys(f"{side} {figure.with_unit(edge)}" for edge in edges)
    return (*picks, ONLY_ACT)


# -- opening and settling --------------------------------------------------------------------------


def _matter(asked: Asked) -> Matter:
    about = asked.text("about")
    spot, owner = asked.text("where"), asked.text("owner")
    loop = spot.removeprefix("loop ") if spot.startswith("loop ") else None
    place = spot if spot and loop is None else None
    said = asked.text("until")
    until = kept(said, asked.now, asked.farm.site.timezone) if said else ""
    again = asked.text("again")
    if about:
        if place is None:
            raise ValueError("say where: a matter about a measure belongs to a place")
        if about == NO_FEED:
            raise ValueError("feed is withheld on the ration sheet, or by rounds ration --no-feed")
        if not until:
            raise ValueError("say until when: a value is not left quiet without an end")
        if again and again != ONLY_ACT and worse_than(again, about) is None:
            unit = MEASURES[about].unit if about in MEASURES else ""
            example = f"above 8.5 {unit}".strip() if unit != "pH" else "above 8.5"
            raise ValueError(f"again={again} cannot be read: such as {example}, or {ONLY_ACT}")
    return Matter(
        text=asked.text("text"), place=place, loop=loop, owner=owner, until=until,
        again_if=again, about=about,
    )  # fmt: skip


def _settled(asked: Asked) -> Matter:
    found = {title(one): one for one in asked.farm.matters}
    return settle(found[asked.text("matter")], asked.text("text"))


def settle(matter: OpenMatter, text: str = "") -> Matter:
    """Draft the entry that settles a matter, with how, if it is said."""
    return Matter(
        text=text.strip() or matter.text, place=matter.place, loop=matter.loop, of=matter.id
    )


def title(matter: OpenMatter) -> str:
    """Return an open matter as one is picked: "A2 ph: valve ordered"."""
    spot = matter.place or (f"loop {matter.loop}" if matter.loop else "")
    about = in_words(matter.about) if matter.about else ""
    head = " ".join(filter(None, (spot, about)))
    return f"{head}: {matter.text}" if head else matter.text


def _titles(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(dict.fromkeys(title(one) for one in farm.matters))


def _people(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(farm.site.people)


def words(entry: Matter) -> str:
    """Return a matter in words: "open: A2 ph: valve ordered, rui until 2026-11-26 18:00"."""
    if entry.of:
        return f"settled: {entry.text}"
    head = " ".join(filter(None, (entry.place or entry.loop, entry.about)))
    until = f" until {entry.until}" if entry.until else ""
    again = f", again if {entry.again_if}" if entry.again_if else ""
    owner = f", {entry.owner}" if entry.owner else ""
    return f"open: {f'{head}: ' if head else ''}{entry.text}{owner}{until}{again}"


MATTER: Final = Form(
    "matter", "something stays open",
    (
        Field("text", "What is open, in words", "text"),
        Field("where", "Where; left out, the whole farm", "choice", spots, "place or loop",
              optional=True),
        Field("about", "The measure or step it covers, such as ph", "text", optional=True),
        Field("owner", "Who has it; left out, who writes", "choice", _people, "person",
              optional=True),
        Field("until", "Until when: 24 h, 18:00, a day and time", "text", optional=True),
        Field("again", f"Again if worse than: above 8.5, or {ONLY_ACT}", "text", optional=True),
    ),
    _matter,
)  # fmt: skip
SETTLED: Final = Form(
    "settled", "an open matter is settled",
    (
        Field("matter", "Which one", "choice", _titles, "open matter"),
        Field("text", "How", "text", optional=True),
    ),
    _settled, "no matter is open",
)  # fmt: skip
