"""Who is signed off for which checklist: seen it, done it with somebody, done it alone, taught it.

A learner who has not done a round alone yet should not walk it alone; others are asked nothing.
"""

from __future__ import annotations

from datetime import datetime
from typing import Final, Literal, cast

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import SignedAt
from rounds.day.laptops.unheard import named
from rounds.day.recording.asking import Answers, Asked, Field, Form, fixed
from rounds.day.when import long_day
from rounds.records.entry import Signed
from rounds.site.model import Checklist, Person, Site

Level = Literal["seen", "done with", "done alone", "taught"]
LEVELS: Final[tuple[Level, ...]] = ("seen", "done with", "done alone", "taught")
_ALONE: Final = LEVELS.index("done alone")
_LEARNERS: Final = ("student", "learner", "trainee", "apprentice")
_SIGNS: Final = "supervisor"
ROLES: Final = f"role {_LEARNERS[0]} or {_LEARNERS[1]} in site.toml"
"""What makes somebody a learner, in words."""


class May(Struct, frozen=True):
    """A person and a checklist: how far they are, and who signed it when; empty where nobody."""

    person: str
    name: str
    role: str
    task: str
    title: str
    level: str
    signed: str


def learner(site: Site, code: str) -> bool:
    """Tell whether a person is here to learn, by the role the site gives."""
    person = site.people.get(code)
    return person is not None and person.role.strip().casefold() in _LEARNERS


def signed_for(farm: Farm, person: str, task: str, now: datetime) -> SignedAt | None:
    """Return the furthest a person was signed off for a checklist, as it was signed first.

    Args:
        farm: The farm.
        person: Code of the person.
        task: Code of the checklist.
        now: The present; what is signed in the future does not count.
    """
    found = [
        one
        for one in farm.signed
        if (one.person, one.task) == (person, task) and one.at <= now and one.level in LEVELS
    ]
    return max(found, key=lambda one: LEVELS.index(cast("Level", one.level)), default=None)


def standing(farm: Farm, person: str, task: str, now: datetime) -> str:
    """Return how far a person is with a checklist: "done with Ana, 12 Nov 2026", "not seen yet"."""
    found = signed_for(farm, person, task, now)
    if found is None:
        return "not seen yet"
    joint = " " if found.level == "done with" else ", signed by "
    day = long_day(found.at.astimezone(farm.site.timezone).date())
    return f"{found.level}{joint}{named(farm, found.by)}, {day}"


def beside(farm: Farm, person: str, checklist: Checklist, now: datetime) -> str:
    """Return what a learner is told who has not done this round alone; empty for all others."""
    if not learner(farm.site, person):
        return ""
    found = signed_for(farm, person, checklist.code, now)
    if found is not None and LEVELS.index(cast("Level", found.level)) >= _ALONE:
        return ""
    name, stands = named(farm, person), standing(farm, person, checklist.code, now)
    return (
        f"{name}, this round is yours with somebody beside you: {stands}. Alone only when it is "
        'signed "done alone".'
    )


def who_may(farm: Farm, now: datetime) -> tuple[May, ...]:
    """Return how far every person is with every checklist; of those not learning, what is signed.

    Args:
        farm: The farm.
        now: The present.

    Returns:
        By person, then by checklist, in the site's order.
    """
    found = []
    for person in farm.site.people.values():
        for checklist in farm.site.checklists.values():
            signed = signed_for(farm, person.code, checklist.code, now)
            if signed is not None or learner(farm.site, person.code):
                found.append(_may(farm, person, checklist, signed))
    return tuple(found)


def _may(farm: Farm, person: Person, checklist: Checklist, signed: SignedAt | None) -> May:
    day = long_day(signed.at.astimezone(farm.site.timezone).date()) if signed else ""
    by = f"{named(farm, signed.by)}, {day}" if signed else ""
    level = signed.level if signed else "not seen yet"
    return May(
        person.code, person.name, person.role, checklist.code, checklist.title, level, by
    )  # fmt: skip


def in_lines(found: tuple[May, ...]) -> list[str]:
    """Return one line a person and level: "Ines, student. Done with: First light (Ana, ...)"."""
    lines = []
    for name, role in dict.fromkeys((one.name, one.role) for one in found):
        lines.append(f"{name}, {role}")
        for level in (*reversed(LEVELS), "not seen yet"):
            of = [one for one in found if (one.name, one.level) == (name, level)]
            tasks = (f"{one.title} ({one.signed})" if one.signed else one.title for one in of)
            if of:
                lines.append(f"  {level}: {', '.join(tasks)}")
    return lines


def new_here(farm: Farm, now: datetime) -> tuple[str, ...]:
    """Return who is still learning what, a line a person; none on a site that signs nobody off."""
    if not farm.signed:
        return ()
    lines = []
    for person in farm.site.people.values():
        told = [
            f"{one.title} ({one.level})"
            for one in who_may(farm, now)
            if one.person == person.code and one.level in ("seen", "done with")
        ]
        if told and learner(farm.site, person.code):
            lines.append(f"{person.name}, {person.role}, not alone yet: {', '.join(told)}")
    return tuple(lines)


# -- signing off -----------------------------------------------------------------------------------


def _signed(asked: Asked) -> Signed:
    farm, by = asked.farm, asked.by
    person, task, level = (asked.text(name) for name in ("person", "task", "level"))
    if by == person:
        raise ValueError("nobody signs for themselves: ask the supervisor, or who has taught it")
    signer = farm.site.people.get(by)
    own = signed_for(farm, by, task, asked.now)
    taught = own is not None and own.level == "taught"
    if not taught and (signer is None or signer.role.strip().casefold() != _SIGNS):
        name = named(farm, by) or "nobody"
        raise ValueError(f"a {_SIGNS} signs, or somebody who has taught {task}: {name} does not")
    before = signed_for(farm, person, task, asked.now)
    if before is not None and LEVELS.index(cast("Level", before.level)) >= LEVELS.index(
        cast("Level", level)
    ):
        said = standing(farm, person, task, asked.now)
        raise ValueError(f"{named(farm, person)} has that already for {task}: {said}")
    return Signed(person=person, task=task, level=cast("Level", level))


def _people(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(farm.site.people)


def _tasks(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(farm.site.checklists)


def words(entry: Signed) -> str:
    """Return a sign-off in words: "ines: first-light, done with"."""
    return f"{entry.person}: {entry.task}, {entry.level}"


SIGNED: Final = Form(
    "signed", "somebody may do a round: sign them off",
    (
        Field("person", "Whom", "choice", _people, "person"),
        Field("task", "For which round", "choice", _tasks, "checklist"),
        Field("level", "How far", "choice", fixed(*LEVELS), "level"),
    ),
    _signed, "no people stand in site.toml",
)  # fmt: skip
