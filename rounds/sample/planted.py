"""Troubles planted in an invented history, told in a few keys of story.toml.

    [[planted]]
    what = "off feed"       # or "broken fast", "missing fish", "few eggs"
    day = -5                # when it begins; 0 is the last day
    place = "G3"            # left out: chance takes a place that fits
    later = 2               # days until its cause, the count or the meal by mistake
    cause = "oxygen"        # of fish off their feed: oxygen, ph, temperature or sick
    part = 0.04             # of the fish that are missing

What is planted becomes what any story is told in: appetites, events, and changes of what meters
find.
"""

from __future__ import annotations

from collections.abc import Iterable
from random import Random
from typing import Final, Literal, get_args

from msgspec import Struct

from rounds.site.model import Site
from rounds.site.reading import Table

What = Literal["off feed", "broken fast", "missing fish", "few eggs"]
Cause = Literal["oxygen", "ph", "temperature", "sick"]
OFF_FEED: Final = (0.07, 0.13, 0.2, 0.28, 0.36)
"""Part of the feed left on the days one after the other; the last goes on."""
SICK: Final = (1, 2, 3, 4)
"""Dead on the days after a sick fish was found; the last goes on."""
EGGS_A_DAY: Final = -4.0
"""What a culture's egg ratio loses in a day, percent."""


class Change(Struct, frozen=True):
    """From a day on, what meters find of a measure in a place: times, plus, and more each day."""

    place: str
    measure: str
    day: int
    times: float = 1.0
    plus: float = 0.0
    a_day: float = 0.0


_CAUSES: Final[dict[str, tuple[str, float, float]]] = {
    "oxygen": ("oxygen", 0.72, 0.0),
    "ph": ("ph", 1.0, -0.6),
    "temperature": ("temperature", 1.0, -6.0),
}
"""What meters find of a cause: measure, times, plus."""


class Planted(Struct, frozen=True):
    """One trouble, and the day it begins: `day` 0 is the last of the history."""

    what: What
    day: int
    place: str
    later: int
    cause: Cause
    part: float

    @property
    def found(self) -> int:
        """The day its cause is found, the fish are counted or the meal is given."""
        return self.day + self.later


class Appetite(Struct, frozen=True):
    """The part of each meal left in a place, and the dead found, on one day."""

    place: str
    day: int
    left: float
    dead: int
    cause: str
    look: str
    """What the fish look like, said as a note; empty for nothing."""


def read(
    tables: Iterable[Table], site: Site, stocked: Iterable[str], cultures: Iterable[str],
    chance: Random,
) -> tuple[Planted, ...]:  # fmt: skip
    """Read what is planted; a place left out is taken by chance, no place twice.

    Args:
        tables: The tables of story.toml.
        site: The site.
        stocked: Places with fish of which the story tells no appetite.
        cultures: Places whose egg ratio is read.
        chance: Takes the places.

    Returns:
        The troubles, in the order told.
    """
    free = [code for code in stocked if site.places[code].stage != "larval"]
    found = []
    for table in tables:
        what: What = table.word("what", get_args(What))
        fit = list(cultures) if what == "few eggs" else free
        place = table.text("place", "")
        if not place and fit:
            place = chance.choice(fit)
        if place not in fit:
            table.problem("place", place, f"must be one that fits: {', '.join(fit) or 'none'}")
        if place in free:
            free.remove(place)
        found.append(
            Planted(
                what=what,
                day=table.whole("day", -59, 0),
                place=place,
                later=table.whole("later", 0, 59, 0 if what in ("few eggs", "missing fish") else 2),
                cause=table.word("cause", get_args(Cause), "oxygen"),
                part=table.number("part", "1", 0, 0.5, 0.04),
            )
        )
        table.close()
    return tuple(found)


def appetites(planted: Iterable[Planted]) -> tuple[Appetite, ...]:
    """Return what fish off their feed leave, day by day, and the dead of sick ones."""
    found = []
    for one in planted:
        if one.what != "off feed":
            continue
        for number, day in enumerate(range(one.day, 1)):
            left, dead, look = OFF_FEED[min(number, len(OFF_FEED) - 1)], 0, ""
            if one.cause == "sick" and day >= one.found:
                dead = SICK[min(day - one.found, len(SICK) - 1)]
                look = f"{one.place}: one dark and thin at the wall" if day == one.found else ""
            cause = "disease suspected" if dead else ""
            found.append(Appetite(one.place, day, left, dead, cause, look))
    return tuple(found)


def changes(planted: Iterable[Planted]) -> tuple[Change, ...]:
    """Return what meters find otherwise: the water of fish off their feed, eggs of a culture."""
    found = []
    for one in planted:
        if one.what == "few eggs":
            found.append(Change(one.place, "egg_ratio", one.day, a_day=EGGS_A_DAY))
        elif one.what == "off feed" and one.cause in _CAUSES:
            measure, times, plus = _CAUSES[one.cause]
            found.append(Change(one.place, measure, one.found, times, plus))
    return tuple(found)
