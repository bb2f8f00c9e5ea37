"""The why view: the reasons of a number, in the order they were applied."""

from __future__ import annotations

from rounds.day.readings.derived import derived
from rounds.day.verdict import SIGNS, of_place
from rounds.reason import Reasons, lines
from rounds.screens.desk import Desk
from rounds.screens.leaf import Leaf

NOTHING = "No reasons are known for this: nothing was worked out yet"


def why(
    desk: Desk,
    title: str,
    reasons: Reasons,
    first: tuple[str, ...] = (),
    figure: tuple[str, ...] = (),
) -> Leaf:
    """Return the page that opens a number: what is said of it, its reasons, a drawing perhaps."""
    texts = [*first, *(f"- {line}" for line in lines(reasons, desk.display))]
    return Leaf("WHY", title, texts or [NOTHING], figure=figure)


def why_place(desk: Desk, code: str) -> Leaf:
    """Return the page that opens a place's verdict: every judgement, worst first, its reasons."""
    place, now = desk.site.places[code], desk.now()
    found = of_place(desk.site, desk.farm, place, now)
    texts = [f"{code} is {SIGNS[found.verdict]}."]
    if found.verdict == "unknown" and found.worst is None:
        texts = [f"No round has stopped at {code} yet today: there is nothing to see to."]
    told: set[str] = set()
    for judgement in found.judgements:
        sign = "-" if judgement.unlimited else SIGNS[judgement.verdict]
        texts += ["", f"{sign}  {judgement.sentence}"]
        for line in lines(judgement.reasons, desk.display):
            texts += [f"- {line}"] if line not in told else []
            told.add(line)
    for figure in derived(desk.site, desk.farm, place, now, day=True):
        if figure.missing or figure.was_worse:
            texts += ["", f"{figure.line}"]
    return Leaf("WHY", f"{code} {place.name}", texts)
