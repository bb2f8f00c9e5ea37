"""What was recorded by mistake and is taken back: the old line stays, with a reason behind it."""

from __future__ import annotations

from typing import Final

from rounds.day.fold.corrections_draft import void
from rounds.day.fold.farm import Farm
from rounds.day.larvae.cultures import HARVEST
from rounds.day.larvae.tanks import GIVEN
from rounds.day.recording.asking import Answers, Asked, Field, Form
from rounds.day.recording.batches import ABOUT as BATCH_ABOUT
from rounds.day.recording.words import words
from rounds.day.when import local_day, short_day
from rounds.records.entry import (
    Correction,
    Counted,
    Died,
    Enriched,
    Entry,
    Hatch,
    Incident,
    Matter,
    Moved,
    Note,
    Reading,
    Removed,
    Signed,
    State,
    Stocked,
    Weighed,
)

_KINDS: Final = (
    Stocked, Moved, Removed, Counted, Died, Weighed, State, Incident, Matter, Signed, Hatch,
    Enriched,
)  # fmt: skip
_READINGS: Final = (HARVEST, *GIVEN.values())
"""Of the readings, those that the forms write; a walk's own are corrected in the walk."""


def _recent(farm: Farm) -> dict[str, Entry]:
    """Return what was recorded today and the day before, by its words, the newest first."""
    zone, found = farm.site.timezone, dict[str, Entry]()
    kept = [farm.entry(entry_id) for entry_id in farm.entries]
    if farm.past is not None:
        kept += farm.past.library.day(farm.past.day).effective.values()
    standing = [one for one in kept if one is not None and _of_a_form(one)]
    for entry in sorted(standing, key=lambda one: (one.at, one.id), reverse=True):
        day = local_day(entry.at, zone)
        at = f"{short_day(day)} {entry.at.astimezone(zone):%H:%M:%S}"
        found.setdefault(f"{at} {words(entry)}", entry)
    return found


def _of_a_form(entry: Entry) -> bool:
    if isinstance(entry, Reading):
        return entry.measure in _READINGS
    if isinstance(entry, Note):
        return entry.about.startswith(BATCH_ABOUT)
    return isinstance(entry, _KINDS) and not entry.walk


def _offers(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(_recent(farm))


def _made(asked: Asked) -> Correction:
    entry = _recent(asked.farm)[asked.text("entry")]
    return void(asked.farm, entry.id, asked.text("why"))


MISTAKE: Final = Form(
    "mistake", "take back what was recorded by mistake",
    (
        Field("entry", "Which one", "choice", _offers, "entry of these days that begins with"),
        Field("why", "Why", "text"),
    ),
    _made, "nothing was recorded since yesterday",
)  # fmt: skip
