"""Limits of cultures and ponds whose site says nothing of its own: a first farm is judged too."""

from __future__ import annotations

from typing import Final

from rounds.fish.livefood import CRASH_EGG_RATIO, GOOD_EGG_RATIO
from rounds.site.model import Limits, Place

_ROTIFERS: Final = (
    Limits(
        "egg_ratio", target_low=100 * GOOD_EGG_RATIO, act_low=100 * CRASH_EGG_RATIO,
        do_watch="Feed the culture in smaller, more frequent portions; look for foam and ciliates.",
        do_act="A crash is near, in a day or two: harvest hard, start again from the back-up, tell "
        "whoever feeds the larvae.",
        source="25 to 40 % good, live-feed practice note; below 15 common practice",
    ),
    Limits(
        "rotifer_density", target_low=100, act_low=30,
        do_watch="Harvest less today, look at the egg ratio and for foam.",
        do_act="No harvest; start again from the back-up; tell whoever feeds the larvae.",
    ),
    Limits(
        "temperature", act_low=18, target_low=22, target_high=28, act_high=32,
        do_watch="Look at the heater; a jump brings ciliates.",
        do_act="Mend it now, slowly back; look for ciliates; tell whoever feeds the larvae.",
    ),
)  # fmt: skip
_NAUPLII: Final = (
    Limits(
        "temperature", act_low=20, target_low=25, target_high=29, act_high=33,
        do_watch="Colder the hatch is slow and uneven: look at the heater.",
        do_act="Little hatches so: mend it, have other food ready.",
        source="hatches best at 25 to 29, slower below 25, not above 33: prawn manual text",
    ),
)  # fmt: skip
_POND: Final = (
    Limits(
        "oxygen", act_low=3.0, target_low=4.0,
        do_watch="No forage taken and no fertiliser today; look again at noon.",
        do_act="Start the aerator, take no forage, call the supervisor.",
        source="common practice: above 3 at dawn",
    ),
)  # fmt: skip


def usual(place: Place) -> tuple[Limits, ...]:
    """Return the limits of a culture by what it holds, of a pond where no species governs.

    A culture whose site does not say what it holds is judged by its eggs alone.

    Args:
        place: A place as its table says it.
    """
    if place.kind == "pond" and place.species is None:
        return _POND
    if place.kind != "culture" or place.holds == "algae":
        return ()
    if place.holds is None:
        return _ROTIFERS[:1]
    return _ROTIFERS if place.holds == "rotifers" else _NAUPLII
