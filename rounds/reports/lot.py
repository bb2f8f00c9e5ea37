"""The sheet of a lot, for a food inspector, a buyer or the veterinarian."""

from __future__ import annotations

from pathlib import Path
from typing import Final, Literal

from rounds.day.telling.lot_sheet import LotSheet
from rounds.records.gaps import not_whole
from rounds.records.layout import listed, sealed_tree
from rounds.reports.paper import Section, keep, markdown, text
from rounds.text import clean

WHOLE: Final = "Every line of the records could be read when this was printed."
NAMES: Final = "A name is the one given when the program was opened; it proves nobody."


def render(
    sheet: LotSheet, heads: tuple[str, ...], form: Literal["text", "markdown"], unread: int = 0
) -> str:
    """Print the sheet of a lot.

    Args:
        sheet: What is on record of it.
        heads: The head of every laptop's records, a line each, that a later check can hold it to.
        form: "text" or "markdown".
        unread: How many lines and files of the book could not be read or found.

    Returns:
        The whole of it, ending in a line break.
    """
    at = sheet.printed
    head = [f"Lot {sheet.lot}, {sheet.site_name}"]
    head += [f"Species: {sheet.species}"] if sheet.species else []
    head += [f"Printed {at:%A} {at.day} {at:%B %Y %H:%M}"]
    head += [sheet.notice] if sheet.notice else []
    head += [f"Not whole: {not_whole(unread)}" if unread else WHOLE]
    sections = (
        Section("Where it is now", sheet.now, "No fish of it are left."),
        Section("Where it swam", sheet.homes),
        Section("The fish", sheet.fish),
        Section("The dead", sheet.dead, "None on record."),
        Section("Feed", sheet.feed, "None on record."),
        Section("Live or raw fish as feed", [sheet.raw]),
        Section("Medicines", sheet.medicines),
        Section("Water to act on while it was there", sheet.water, "No reading."),
        Section("Added to its water", sheet.added, "Nothing on record."),
        Section("Faults and notes of its places", sheet.events, "None on record."),
        Section("Lots that shared its tanks", sheet.mixed, "None."),
        Section("Lots that came of it", sheet.came_of_it, "None."),
        Section("Entries corrected or taken back", sheet.corrected, "None."),
        Section("Who wrote of its fish", [*sheet.writers, NAMES]),
        Section(
            "Heads of the records at this moment",
            [*heads, "rounds verify tells whether a line was changed since."],
        ),
    )
    return text(head, sections) if form == "text" else markdown(head, sections)


def heads_of(folder: Path) -> tuple[str, ...]:
    """Return the newest sealed file of every laptop, "k4x2 17:9f3a...", from a site's folder."""
    files = listed(sealed_tree(folder / "records")).files
    newest = {file.writer: f"{file.writer} {file.head}" for file in files}
    return tuple(newest[writer] for writer in sorted(newest))


def write(folder: Path, lot: str, markdown: str) -> Path:
    """Keep the sheet as a file of the site's reports; nothing is ever overwritten.

    Args:
        folder: The site's folder.
        lot: The lot's name.
        markdown: Its text, as `render` gives it.

    Raises:
        OSError: The file cannot be written.
    """
    safe = "".join(c if c.isalnum() or c in "-_" else "-" for c in clean(lot))[:40] or "lot"
    return keep(folder, f"lot-{safe}", "md", markdown)
