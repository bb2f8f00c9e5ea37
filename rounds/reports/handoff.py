"""The hand-off as text and as Markdown, and the file it is kept in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal

from rounds.day.readings.judgement import SIGNS
from rounds.day.telling.handoff import Document, Open, PlaceLine
from rounds.reports.paper import Section, keep, markdown, text

Form = Literal["text", "markdown"]


def render(document: Document, form: Form = "text") -> str:
    """Print a hand-off.

    Args:
        document: What is handed on.
        form: "text" or "markdown".

    Returns:
        The whole of it, worst first, ending in a line break.
    """
    head = [
        f"Hand-off, {document.site_name}, {document.day:%A} {document.day.day} "
        f"{document.day:%B %Y}",
        _signed(document),
    ]
    told = document.clock, document.notice, document.unread, document.untaken
    head += [line for line in told if line]
    sections = [section for section in _sections(document) if section.lines or section.empty]
    return text(head, sections) if form == "text" else markdown(head, sections)


def write(folder: Path, document: Document, markdown: str) -> Path:
    """Keep a hand-off as a file of the site's reports; nothing is ever overwritten.

    The entry is appended to the book first: a file that cannot be written loses no hand-off.

    Args:
        folder: The site's folder.
        document: What is handed on.
        markdown: Its text, as `render` gives it.

    Returns:
        reports/handoff-<day>-<n>.md, with the next free number of the day.

    Raises:
        OSError: The file cannot be written.
    """
    return keep(folder, f"handoff-{document.day.isoformat()}", "md", markdown)


def standing(places: Sequence[PlaceLine]) -> list[str]:
    """Return one line a place that is not in order, worst first, and one for all the others."""
    lines = []
    for place in places:
        if place.verdict in ("watch", "act"):
            told = f"{place.place}  {SIGNS[place.verdict]}  {place.says}"
            lines.append(f"{told}: {place.do}" if place.do else f"{told}.")
    unread = [place for place in places if place.verdict == "unknown"]
    lines += [
        f"{place.place}  {SIGNS[place.verdict]}  {place.says}: {place.do}"
        for place in unread
        if place.says and not place.says.startswith("Oxygen")
    ]
    others = [place.place for place in unread if not place.says or place.says.startswith("Oxygen")]
    fine = [place.place for place in places if place.verdict == "ok"]
    for told, names in (("Oxygen not read today", others), ("OK", fine)):
        if names:
            lines.append(f"{told}: {', '.join(names)}")
    return lines


def opened(matters: Iterable[Open]) -> list[str]:
    """Return one line an open matter: what, who, until when."""
    lines = []
    for matter in matters:
        who = f" [{matter.owner}]" if matter.owner else ""
        until = f", until {matter.until}" if matter.until else ""
        lines.append(f"{matter.text}{who}{until}")
    return lines


def _signed(document: Document) -> str:
    by = f", by {document.by}" if document.by else ""
    to = f", to {document.to}" if document.to else ""
    return f"From {document.span}{by}{to}"


def _sections(document: Document) -> list[Section]:
    said = [line for line in document.said.splitlines() if line.strip()]
    known = [f"{document.unknown} entries are of kinds this version does not know."]
    return [
        Section("Worst place first", standing(document.places), "No place has been read today."),
        Section("Not done yet", [f"{t.text}; by {t.until}" for t in document.not_done]),
        Section("What to watch", document.watch),
        Section("Meters and water", document.meters, ""),
        Section("Open matters", opened(document.matters)),
        Section("Handed on before and not seen yet", opened(document.unseen), ""),
        Section("Not alone yet", document.learning, ""),
        Section("What changed", document.changed),
        Section("Dead fish", document.deaths, "None counted."),
        Section("Feed", document.feeds),
        Section("Doses and water", document.doses),
        Section("Skipped", document.skipped),
        Section("Corrections that do not agree", document.conflicts, ""),
        Section("Not heard", [*document.unheard, *(known if document.unknown else [])], ""),
        Section("Said by the shift", said, ""),
    ]
