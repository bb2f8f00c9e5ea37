"""Places as people on the farm say them: "G1", "loop B"."""

from __future__ import annotations

from rounds.day.fold.state import IncidentAt, OpenMatter
from rounds.records.entry import Entry


def where(about: Entry | IncidentAt | OpenMatter, else_: str = "") -> str:
    """Return the place something is about, or its loop, or a word for neither."""
    return about.place or (f"loop {about.loop}" if about.loop else else_)
