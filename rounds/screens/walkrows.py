"""The rows of a step: always in the same places, so that the eye finds them without looking."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from rich.cells import cell_len
from textual.content import Content

from rounds.day.fold.farm import LOOKS_BACK, Farm
from rounds.day.readings.judgement import worst
from rounds.day.verdict import SIGNS
from rounds.day.walking.typed import step_unit
from rounds.day.walking.walk import Item, Look, WalkState
from rounds.day.when import spoken
from rounds.screens.desk import Desk
from rounds.screens.field import Field
from rounds.screens.ink import (
    BOLD,
    LINK,
    QUIET,
    STYLES,
    cell,
    flagged,
    flow,
    ink,
    paragraph,
    paragraphs,
    row,
    spread,
)
from rounds.screens.trend import trend
from rounds.site.model import Step
from rounds.units import written

_FIELD = 18
_TALL = 30
_LOW = 18
"""In fewer rows what is done and how gives way to the verdict once something is typed."""
_VALUE = 26
"""Cells of the longest answer of a checklist; only words written are cut."""
_SIGN = 11
_KNOWN = 3
"""Rows of what to know before a step is answered."""
_PASS = 3
"""Rows that may name what a pass asks."""
_SENTENCE = re.compile(r"(?<=[.!?]) ")
_MORE = row("   ", ink(".. ", QUIET), Content.styled("W", LINK), " more")
_KEEPS = {
    "yes": "",
    "confirm": "Enter, then Enter again keeps it; or type again",
    "no": "",
    "asked": "Enter again keeps it; or type again",
}
_DIGIT = "The digit of the answer keeps it, S skips"
_HINTS = {"yes-no": _DIGIT, "choice": _DIGIT, "text": "S skips"}
_ODD = "? ODD"
"""Stands in place of OK while a slip is named."""


class Known(NamedTuple):
    """What is known of the walk: minutes left, when this place was seen, whether all is told."""

    minutes: int | None = None
    since: str = ""
    full: bool = False
    """Somebody learns: how and why stand there in full."""


def body_rows(
    state: WalkState,
    look: Look | None,
    field: Field | None,
    picked: str,
    asked: bool,
    width: int,
    height: int,
    known: Known,
) -> list[Content]:
    """Return the middle of the walk: question, field, verdict, what to do, what is done here.

    `asked` says that a first Enter has told what is odd: the next one keeps it.
    """
    item = state.item
    if item is None or look is None:
        return _end_rows(state, width)
    entry, aim = entry_rows(state, item, field, picked, width), aim_rows(look, width)
    said = bool(picked or (field and field.text))
    first = look.known if height >= _LOW or not said else ()
    top = _question(state, item, first, width, known)
    if height < _LOW:
        rows = [*top, *aim, *entry]
        judged = min(8, height - len(rows))
        rest = [] if said else _manual(state, item, width, 0, known.full)[1]
    else:
        judged = 10 if height >= _TALL else max(8 - len(entry), 6)
        most = 11 if height >= _TALL else 10 if known.full else 7
        room = min(most, height - len(aim) - len(entry) - 2 - judged) - len(top)
        shown, rest = _manual(state, item, width, room, known.full)
        if said:
            shown, rest = cut_rows([*shown, *rest], room), []
        rows = [*top, *filled(shown, room), *aim, Content(""), *entry, Content("")]
    below = verdict_rows(item, look, said, asked, width, judged)
    rows += filled([*below, *cut_rows(rest, judged - len(below))], judged)
    return rows + _here(state, item, width, height - len(rows), known.since)


def filled(rows: list[Content], height: int) -> list[Content]:
    """Return exactly `height` rows: empty ones below, or the last left out."""
    return (rows + [Content("")] * height)[:height]


def cut_rows(rows: list[Content], height: int) -> list[Content]:
    """Return at most `height` rows; the last says where the rest is read."""
    return rows if len(rows) <= height else [*rows[: height - 1], _MORE][:height]


def aim_rows(look: Look, width: int) -> list[Content]:
    """Return the aim and the last value: in one row where it holds both uncut."""
    aim, last = row("  ", ink(look.aim)), row(ink(look.last, QUIET), "  ")
    if aim.cell_length + last.cell_length < width or not look.aim:
        return [spread(aim, last, width)]
    return [aim, row("  ", last)]


def _question(
    state: WalkState, item: Item, first: Sequence[str], width: int, known: Known
) -> list[Content]:
    """Return where in the walk this is, the question, and what to know before it is answered."""
    where = _where(state, item.step.stop_pass, width, known)
    told = paragraphs(first, width - 2, indent=2)
    return [where, *paragraph(item.step.ask, width - 2, 2, BOLD), *cut_rows(told, _KNOWN)]


def _manual(
    state: WalkState, item: Item, width: int, room: int, full: bool
) -> tuple[list[Content], list[Content]]:
    """Return cautions and how, and a learner's why: what has room here, and the rest of it.

    The rest begins with a sentence: it stands under the field until something is typed.
    """
    step = item.step
    head = _pass_rows(state, step.stop_pass, width)
    for caution in filter(None, (state.caution, step.caution)):
        head += flagged(caution, STYLES["watch"], width, 1)
    why = paragraph(f"Why: {step.why}", width - 2, indent=2) if full and step.why else []
    sentences = _SENTENCE.split(step.how) if step.how else []

    def how(first: int, end: int) -> list[Content]:
        text = " ".join(sentences[first:end])
        return paragraph(text, width - 2, indent=2, style=QUIET) if text else []

    count = len(sentences)
    if len(whole := [*head, *how(0, count), *why]) <= room:
        return whole, []
    fits = max((n for n in range(count + 1) if len(head) + len(how(0, n)) <= room), default=0)
    above = [*head, *how(0, fits)]
    return above[:room], [*above[room:], *how(fits, count), *why]


def _where(state: WalkState, number: int, width: int, known: Known) -> Content:
    """Return which step and pass this is, and how much is left."""
    passes = state.checklist.passes
    left = f", about {known.minutes} min" if known.minutes else ""
    right = ink(f"{state.open} open{left} ", QUIET)
    if not state.walk:
        return spread(Content(""), right, width)
    at = f" Step {state.position + 1} of {len(state.items)}"
    at += f", pass {passes.index(number) + 1} of {len(passes)}" if passes[1:] else ""
    return spread(ink(at, QUIET), right, width)


def _pass_rows(state: WalkState, number: int, width: int) -> list[Content]:
    """Return what a pass asks, in the words of its steps, where it begins."""
    before = state.items[: state.position]
    if not state.checklist.passes[1:] or any(one.step.stop_pass == number for one in before):
        return []
    asks = dict.fromkeys(one.step.ask for one in state.items if one.step.stop_pass == number)
    says = "This pass goes over all places"
    told = paragraph(f"{says}: {', '.join(asks)}", width - 2, indent=2)
    return told if len(told) <= _PASS else paragraph(says, width - 2, indent=2)


def choices(item: Item) -> tuple[str, ...]:
    """Return the answers a digit picks."""
    if item.step.answer == "yes-no":
        return ("yes", "no")
    return item.step.choices if item.step.answer == "choice" else ()


def entry_rows(
    state: WalkState, item: Item, field: Field | None, picked: str, width: int
) -> list[Content]:
    """Return where the answer is typed or picked; many choices take more than one row."""
    step = item.step
    if field is not None:
        return [row("  ", field.draw(_FIELD), "  ", ink(written(step_unit(state.site, step))))]
    if step.answer == "text":
        return [row("  ", Content.styled("Enter", LINK), "  to write a line")]
    return flow(
        (
            row(
                Content.styled(str(index), LINK), " ",
                ink(choice, "bold on $chosen" if choice == picked else ""), "  ",
            )
            for index, choice in enumerate(choices(item), 1)
        ),
        width - 1,
    )  # fmt: skip


def verdict_rows(
    item: Item, look: Look, typed: bool, asked: bool, width: int, height: int
) -> list[Content]:
    """Return verdict, what to do and what follows, in at most `height` rows."""
    if not typed:
        return [row("  ", ink(_HINTS.get(item.step.answer, look.says), QUIET))]
    word = look.verdict if look.keeps != "no" else "unknown"
    sign = ink(f" {SIGNS[word]} ", STYLES[word]) if word != "unknown" else Content("")
    if look.doubts and word in ("ok", "unknown"):
        sign = ink(f" {_ODD} ", STYLES["watch"])
    says = paragraph(look.says, width - sign.cell_length - 3)
    rows = [row(" ", sign, " ", says[0])] if says else []
    rows += [row(" " * (sign.cell_length + 2), line) for line in says[1:]]
    if look.do:
        rows += paragraph(look.do, width - 2, indent=3, style=BOLD)
    hint = _KEEPS["asked" if asked else look.keeps]
    room = height - bool(hint)
    follows = flow((ink(f"  {line}") for line in look.derived), width)
    if any(line.cell_length > width for line in follows):
        follows = paragraphs(look.derived, width - 2, indent=3)
    rows = cut_rows(rows + follows if len(rows) < room else rows, room)
    return [*rows, ink(f"   {hint}", QUIET)] if hint else rows


def named(step: Step, width: int) -> str:
    """Return what a step asks where it fits, else in the words of its code."""
    return step.ask if cell_len(step.ask) <= width else step.code.replace("_", " ")


def _here(state: WalkState, item: Item, width: int, room: int, since: str) -> list[Content]:
    """Return the steps of this place, the present one in the middle of what fits."""
    mine = [(i, one) for i, one in enumerate(state.items) if one.place.code == item.place.code]
    at = next(n for n, (i, _) in enumerate(mine) if i == state.position)
    if (fits := room - 1) < 1:
        return []  # a heading alone says nothing
    top = max(0, min(at - fits // 2, len(mine) - fits))
    who = max((cell_len(one.who) + 2 for _, one in mine if one.who), default=0)
    values = max((cell_len(one.shown) for _, one in mine if one.status == "kept"), default=0)
    values = min(max(values, 5), _VALUE) + 2
    asks = width - 4 - values - _SIGN - who
    wraps = fits >= sum(len(_folded(one.step.ask, asks)) for _, one in mine)
    steps = f"Steps at {item.place.code}"
    told = f"{steps}, {since}" if since else steps
    head = row(
        "  ", cell(told if len(told) < asks else steps, asks + 1, QUIET), " ",
        cell("value", values, QUIET), cell("verdict", _SIGN, QUIET),
    )  # fmt: skip
    rows = [head]
    for i, one in mine[top : top + fits]:
        asked = _folded(one.step.ask, asks) if wraps else [named(one.step, asks)]
        rows += _item_rows(i == state.position, one, asked, asks, values)
    return rows[:room]


def _folded(text: str, width: int) -> list[str]:
    return [line.plain.rstrip() for line in ink(text).wrap(max(width, 8))]


def _item_rows(now: bool, item: Item, asked: list[str], width: int, values: int) -> list[Content]:
    mark = Content.styled(" > " if now else "   ", BOLD)
    first = row(mark, cell(asked[0], width), " ")
    who = row("  ", ink(item.who, QUIET)) if item.who else Content("")
    rest = [row("     ", ink(line)) for line in asked[1:]]
    if item.status == "skipped":
        return [row(first, ink(f"- SKIPPED {item.shown}", QUIET), who), *rest]
    word = item.verdict if item.status == "kept" else "unknown"
    sign = cell(SIGNS[word], _SIGN if item.who else len(SIGNS[word]), STYLES[word])
    shown = cell(item.shown or "-", values - 2)
    return [row(first, shown, "  ", sign, who), *rest]


def _end_rows(state: WalkState, width: int) -> list[Content]:
    skipped = [item for item in state.items if item.status == "skipped"]
    bad = [item for item in state.items if item.verdict in ("watch", "act")]
    rows = [
        Content(""),
        ink("  Every step is walked.", BOLD) if not state.open else Content(""),
        ink(f"   {len(state.items)} steps, {len(skipped)} skipped, {state.open} open"),
        Content(""),
    ]
    for item in [*bad, *skipped]:
        sign = "- SKIPPED" if item.status == "skipped" else SIGNS[item.verdict]
        style = STYLES[item.verdict] if item.status != "skipped" else QUIET
        rows.append(
            row("   ", cell(item.place.code, 6, BOLD), cell(named(item.step, 28), 29), " ",
                cell(item.shown, 24), ink(sign, style))
        )  # fmt: skip
    says = "Enter closes the round" if not state.open else "Enter goes to the first open step"
    return [*rows, Content(""), row("  ", ink(says, BOLD))]


def stop_rows(state: WalkState) -> tuple[list[Content], int]:
    """Return the places of the walk, each with how far it is, and which row is the present one."""
    here = state.item.place.code if state.item else ""
    rows, at = [ink("Places", QUIET)], 0
    for code in dict.fromkeys(item.place.code for item in state.items):
        mine = [item for item in state.items if item.place.code == code]
        done = sum(item.status != "open" for item in mine)
        word = worst(item.verdict for item in mine if item.status == "kept")
        shown = ink(SIGNS[word], STYLES[word])
        if done < len(mine) and word not in ("watch", "act"):
            shown = ink(f"{done} of {len(mine)}", QUIET)
        mark = Content.styled("> " if code == here else "  ", BOLD)
        at = len(rows) if code == here else at
        rows.append(row(mark, cell(code, 7, BOLD if code == here else ""), shown))
    return rows, at


def side_rows(item: Item, desk: Desk, width: int, since: str) -> list[Content]:
    """Return what is known beside a step: why it is asked, its readings, the place's notes."""
    step = item.step
    rows = [ink(f"{item.place.code} {since}", QUIET), Content("")] if since else []
    if step.why:
        rows += [ink("Why", BOLD), *paragraph(step.why, width), Content("")]
    if step.measure:
        rows += _readings(desk.farm, item, step.measure, desk, width)
    notes = desk.farm.notes(desk.now() - LOOKS_BACK)
    notes = tuple(note for note in notes if note.place == item.place.code)
    if notes:
        rows.append(ink("Notes on this place", BOLD))
        for note in sorted(notes, key=lambda note: note.at, reverse=True)[:4]:
            when = spoken(note.at, desk.now(), desk.site.timezone)
            rows += paragraph(f"{when} {note.by}: {note.text}", width)
    return rows


def _readings(farm: Farm, item: Item, measure: str, desk: Desk, width: int) -> list[Content]:
    reads = farm.between(item.place.code, measure, desk.now() - LOOKS_BACK, desk.now())[-14:]
    if not reads:
        return [ink("Not read here before", QUIET), Content("")]
    values: Sequence[float] = [read.value for read in reads]
    low, high = min(reads, key=lambda r: r.value), max(reads, key=lambda r: r.value)
    rows = [
        ink(f"Last {len(reads)} readings here", BOLD),
        row(ink(trend(values)), "  ", ink(f"lowest {low.typed}, highest {high.typed}", QUIET)),
    ]
    for read in reversed(reads[-5:]):
        when = spoken(read.at, desk.now(), desk.site.timezone)
        rows.append(row(cell(when, 18, QUIET), cell(f"{read.typed} {read.unit}", 18), ink(read.by)))
    return [*rows, Content("")]
