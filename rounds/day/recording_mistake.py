"""What was recorded by mistake and is taken back: the old line stays, with a reason behind it."""

from __future__ import annotations

from typing import Final

from rounds.day.asking import Answers, Asked, Field, Form
from rounds.day.corrections_draft import void
from rounds.day.farm import Farm
from rounds.day.recording_words import words
from rounds.day.when import local_day
from rounds.records.entry import (
    Correction,
    Counted,
    Died,
    Entry,
    Moved,
    Removed,
    State,
    Stocked,
    Weighed,
)

_KINDS: Final = (Stocked, Moved, Removed, Counted, Died, Weighed, State)


def _recent(farm: Farm) -> dict[str, Entry]:
    """Return what was recorded since the day before yesterday's end, by its words, newest first."""
    zone, found = farm.site.timezone, dict[str, Entry]()
    for written in sorted(farm.entries.values(), key=lambda one: (one.at, one.id), reverse=True):
        entry = farm.entry(written.id) if isinstance(written, _KINDS) else None
        if entry is not None:
            day = local_day(entry.at, zone)
            at = f"{day.day} {day:%b} {entry.at.astimezone(zone):%H:%M:%S}"
            found.setdefault(f"{at} {words(entry)}", entry)
    return found


def _offers(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(_recent(farm))


def _made(asked: Asked) -> Correction:
    entry = _recent(asked.farm)[asked.text("entry")]
    return void(asked.farm, entry.id, asked.text("why"))


MISTAKE: Final = Form(
    "mistake", "take back what was recorded by mistake",
    (
        Field("entry", "Which one", "choice", _offers, "entry of these days that begins with"),
        Field("why", "Why was it a mistake", "text"),
    ),
    _made, "nothing was recorded of fish or water since yesterday",
)  # fmt: skip
