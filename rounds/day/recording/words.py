"""What was recorded, in words: one line an entry of the forms."""

from __future__ import annotations

from rounds.day.fold.farm import Farm
from rounds.day.recording import matters, signing
from rounds.day.recording.asking import fault
from rounds.day.recording.larvae import larval_words
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


def words(entry: Entry, farm: Farm | None = None) -> str:
    """Return an entry of these forms in words: "RD-30: 400 fish of 4.2 g into G1".

    Args:
        entry: The entry.
        farm: The farm, to name what an entry takes back.
    """
    permit = getattr(entry, "permit", "")
    leave = f", permitted by {permit}" if permit else ""
    match entry:
        case Stocked():
            about = "about " if entry.estimated else ""
            origin = f", {entry.origin}" if entry.origin else ""
            parents = f", from {', '.join(entry.parents)}" if entry.parents else ""
            hatched = f", hatched {entry.hatched}" if entry.hatched else ""
            return (
                f"{entry.lot}: {about}{entry.count} fish of {entry.mean_weight} {entry.unit} "
                f"into {entry.place}{origin}{parents}{hatched}{leave}"
            )
        case Moved():
            mass = f", {entry.mass} {entry.unit}" if entry.mass else ""
            ways = f"from {entry.source} to {entry.target}"
            return f"{entry.lot}: {entry.count} fish {ways}{mass}{leave}"
        case Removed():
            mass = f", {entry.mass} {entry.unit}" if entry.mass else ""
            why = f"{entry.cause}{f' to {entry.to}' if entry.to else ''}{leave}"
            return f"{entry.lot}: {entry.count} fish out of {entry.place}{mass}, {why}"
        case Died():
            mass = f", {entry.mass} {entry.unit}" if entry.mass else ""
            cause = f", {entry.cause}" if entry.cause else ""
            return f"{entry.lot}: {entry.count} dead in {entry.place}{mass}{cause}"
        case Counted():
            how = f", {entry.method}" if entry.method else ""
            about = "about " if entry.estimated else ""
            return f"{entry.lot}: {about}{entry.count} fish counted in {entry.place}{how}"
        case State():
            volume = f", {entry.volume} {entry.unit}" if entry.volume else ""
            return f"{entry.place}: {entry.state}{volume}"
        case Note():
            return entry.text
        case Matter():
            return matters.words(entry)
        case Signed():
            return signing.words(entry)
        case Correction(void=True):
            target = farm.as_written(entry.of) if farm is not None else None
            what = f" {words(target)}" if target is not None else ""
            return f"taken back{what}: {entry.why}"
        case Weighed():
            return f"{entry.lot}: {entry.count} weighed in {entry.place}, {entry.mass} {entry.unit}"
        case Correction() | Hatch() | Enriched() | Reading():
            return larval_words(entry)
        case Incident():
            text = f", {entry.text}" if entry.text else ""
            event = "fault began" if entry.event == "began" else "repaired"
            return f"{event}: {fault(entry)}{text}"
    raise TypeError(f"{type(entry).__name__} is not of these forms")
