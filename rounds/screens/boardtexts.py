"""What the board says in rows: what is due, the worst, one place, each in the room there is."""

from __future__ import annotations

from collections.abc import Container, Sequence
from datetime import timedelta
from typing import Final
from zoneinfo import ZoneInfo

from rich.cells import cell_len
from textual.content import Content

from rounds.day.fold.state import OpenMatter
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import SIGNS
from rounds.day.telling.board import DIGITS, Board, BoardLine
from rounds.day.walking.plan import Round
from rounds.day.when import clock
from rounds.screens.desk import Desk
from rounds.screens.ink import (
    BOLD,
    LINK,
    QUIET,
    STYLES,
    cell,
    cut,
    flow,
    ink,
    paragraph,
    paragraphs,
    row,
)
from rounds.site.rhythm import event_of
from rounds.text import clean

_ROUND_WORDS: Final = {"late": "act", "due": "watch"}
_WORST_SHOWN: Final = 2
_NARROW: Final = 60
"""Cells below which the worst takes a row more, so that what to do is never cut."""
_LEAST_SAID: Final = 8
_JOINING: Final = frozenset([
    "a", "above", "after", "and", "at", "below", "by", "for", "from", "in", "of", "on", "or",
    "since", "the", "to", "under", "with",
])  # fmt: skip
"""Words after which nothing ends."""
_EARLY: Final = timedelta(hours=1)
"""A round begun longer before its window asks one Enter."""


def asked_first(desk: Desk, due: Round, joined: Container[str]) -> str:
    """Ask before a round is begun long before its window, or gone on with in another's place.

    Args:
        desk: The farm, and who walks.
        due: The round.
        joined: Walks gone on with already: of these nothing is asked.

    Returns:
        What one more Enter does; empty where it is the first that does it.
    """
    begun = desk.farm.walks.get(due.walk or "")
    title, zone = due.checklist.title, desk.site.timezone
    if (
        due.state == "coming"
        and due.start - desk.now() > _EARLY
        and not event_of(due.checklist.due)
    ):
        window = f"{clock(due.start, zone)} to {clock(due.end, zone)}"
        return f"{title} is for {window}: Enter begins it now"
    if begun is None or begun.by in ("", desk.by) or begun.id in joined:
        return ""
    return f"{named(desk.farm, begun.by)} began {title}: Enter goes on with it as {desk.who()}"


def due_rows(
    rounds: Sequence[Round], zone: ZoneInfo, width: int, *, each: bool, low: bool = False
) -> list[Content]:
    """Return the rounds with the digit of each, those that are due first in sight.

    Args:
        rounds: The rounds; more than nine, which have no digit, are only counted.
        zone: The site's.
        width: Cells of a row.
        each: Whether a round that is due has a row of its own.
        low: Whether rounds that are not due are only counted.
    """
    rows: list[Content] = []
    flowing: list[Content] = []
    for digit, due in enumerate(rounds[:DIGITS], 1):
        number, title = Content.styled(str(digit), LINK), due.checklist.title
        if due.state in ("coming", "done"):
            if low:
                continue
            when = "done" if due.state == "done" else clock(due.start, zone)
            if event_of(due.checklist.due) and due.state == "coming":
                when = "at need"
            flowing.append(row(number, " ", ink(f"{title} {when}", QUIET), "  "))
            continue
        word = "late" if due.overdue else due.state
        state = ink(f" {word} ", STYLES.get(_ROUND_WORDS.get(word, ""), BOLD))
        if not each:
            done = f" {due.done}/{due.total} "
            flowing.append(row(number, " ", ink(title, BOLD), done, state, "  "))
            continue
        window = f"{clock(due.start, zone)} to {clock(due.end, zone)}"
        rows.append(
            row(
                " ", number, "  ", cell(title, 32), cell(window, 16, QUIET),
                cell(f"{due.done} of {due.total}", 12), state,
            )
        )  # fmt: skip
    if low and (later := sum(one.state in ("coming", "done") for one in rounds[:DIGITS])):
        flowing.append(ink(f"{later} more, done or later  ", QUIET))
    if more := len(rounds[DIGITS:]):
        flowing.append(row(ink(f"{more} more: ", QUIET), Content.styled("J", LINK)))
    return rows + flow(flowing, width)


def worst_rows(found: Board, width: int) -> list[Content]:
    """Return the worst places with what to do there, and how many more there are."""
    rows: list[Content] = []
    hidden = len(found.worst) - _WORST_SHOWN
    for number, line in enumerate(found.worst[:_WORST_SHOWN], 1):
        sign = ink(f" {SIGNS[line.verdict]} ", STYLES[line.verdict])
        more = f" (and {hidden} more)" if number == _WORST_SHOWN and hidden > 0 else ""
        folded = two_rows(line, width - sign.cell_length - 3, more)
        rows.append(row(" ", sign, " ", folded[0]))
        rows += [row(" " * (sign.cell_length + 2), part) for part in folded[1:]]
    return rows


def detail_rows(line: BoardLine, matters: Sequence[OpenMatter], width: int) -> list[Content]:
    """Return all that is known of a place, and the farm's open matters."""
    rows = [ink(cut(f"{line.place} {line.name}", width), BOLD)]
    says = [line.says, line.do, line.due, air_told(line)]
    says += [one.says for one in line.changes if one.way != "steady"]
    rows += paragraphs(filter(None, says), width)
    rows += paragraphs(line.known, width, style=QUIET)
    if matters:
        rows += [Content(""), ink("Open matters", BOLD)]
        for matter in matters:
            rows += paragraph(f"{matter.place or matter.loop or ''} {matter.text}", width)
    return rows


def minutes(air: str) -> str:
    """Return the minutes of air for a narrow column: "38m" of "38 min flow off", ">10h".

    "38m!" while the clock runs.
    """
    told = air.removesuffix("flow off").removesuffix("air off").replace("over ", ">").rstrip()
    for off in ("flow OFF", "air OFF", "both OFF"):
        told = told.replace(f" {off}", "!")
    return told.replace(" min", "m").replace(" h", "h")


def short_name(name: str, width: int) -> str:
    """Return a name in at most so many cells: first words and last number, if not all of it."""
    line = clean(name)
    if cell_len(line) <= width:
        return line
    words = line.split()
    last = words[-1:] if words[-1].isdecimal() else []
    for count in range(len(words) - 1, 0, -1):
        told = " ".join([*words[:count], *last])
        if cell_len(told) <= width and words[count - 1] not in _JOINING:
            return told
    return cut(line, width)


def air_told(line: BoardLine) -> str:
    """Return the minutes of air as the detail of a place says them."""
    return "" if line.air == "-" else f"air {line.air}"


def _shorter(says: str) -> str:
    """Return a text without its last phrase, which begins with a joining word; else a word."""
    words = says.removesuffix("..").split()
    if not words[1:]:
        return cut(says, cell_len(says) - 6)
    begins = [n for n, word in enumerate(words) if n and word.lstrip("(") in _JOINING]
    count = max(begins, default=len(words) - 1)
    return f"{' '.join(words[:count]).rstrip(',;:')}.."


def two_rows(line: BoardLine, room: int, more: str) -> list[Content]:
    """Return what is wrong with a place in two rows or three; what to do is never what is cut."""
    says, most = line.says, 2 if room >= _NARROW else 3
    while True:
        stop = "" if says.endswith("..") else "."
        folded = list(ink(f"{line.place}: {says}{stop} {line.do}".rstrip() + more).wrap(room))
        if len(folded) <= most or len(says) < _LEAST_SAID:
            break
        says = _shorter(says)
    if len(folded) > most:
        rest = " ".join(part.plain for part in folded[most - 1 :])
        folded[most - 1 :] = [ink(cut(rest, room))]
    return folded
