"""What happens when something is typed at a step: a look at every key, an outcome at Enter."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Literal

from msgspec import Struct, structs
from msgspec.structs import replace

from rounds.day.fold.farm import LOOKS_BACK
from rounds.day.fold.placing import DEAD_STEP
from rounds.day.readings.calibration import calibrated, recalibrated
from rounds.day.readings.judgement import SIGNS, Word, aim, with_unit
from rounds.day.walking.known import known_here, passed, recent_dead
from rounds.day.walking.plausible import Doubt, last_read
from rounds.day.walking.steps import Item, WalkState
from rounds.day.walking.typed import Finding, find, step_unit
from rounds.day.walking.typing_on import decimals, likely, still_typing
from rounds.day.when import local_day, spoken
from rounds.reason import Reasons
from rounds.records.entry import (
    Answer,
    Calibrated,
    Correction,
    Died,
    Entry,
    Note,
    Reading,
    Skipped,
)
from rounds.site.model import Limits
from rounds.text import MAX_TEXT, clean, plain


class Look(Struct, frozen=True):
    """What the typed text amounts to so far, before Enter."""

    parsed: Decimal | None
    verdict: Word
    says: str
    do: str
    derived: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    keeps: Literal["yes", "confirm", "no"]
    aim: str
    last: str
    reasons: Reasons = ()
    unfinished: bool = False
    """It asks for a second look, and typing on can still bring it where it needs none."""
    known: tuple[str, ...] = ()
    """What to know before it is answered: the last meal, an open matter about it."""

    @property
    def so_far(self) -> Look:
        """The number alone, not judged: what to show until it is finished, or no key comes."""
        says = f"{plain(self.parsed)} ..." if self.parsed is not None else "..."
        return replace(
            self, verdict="unknown", says=says, do="", derived=(), doubts=(), keeps="no", reasons=()
        )


class Outcome(Struct, frozen=True):
    """What Enter came to. With "keep", `entry` is the draft to append, None if nothing changes.

    `ask_why` says that a correction changes the verdict: a reason is asked with the confirmation.
    """

    kind: Literal["keep", "confirm", "refuse"]
    verdict: Word
    says: str
    do: str = ""
    entry: Entry | None = None
    derived: tuple[str, ...] = ()
    reread_at: datetime | None = None
    ask_why: bool = False


def look(state: WalkState, text: str, now: datetime) -> Look:
    """Return what a text amounts to at the step asked now: called at every key.

    Args:
        state: The walk, at a step.
        text: What stands in the field.
        now: The present.

    Returns:
        Verdict, words, doubts, and what Enter would do.

    Raises:
        IndexError: The walk is past its last step.
    """
    item = state.items[state.position]
    found = _find(state, item, text, now)
    lines = _figures(item, found)
    says, do = _told(state, item, found, now)
    keeps: Literal["yes", "confirm", "no"] = "confirm" if found.needs_confirming else "yes"
    limits = None
    if item.step.measure:
        limits = state.site.limits_at(item.step.measure, item.place, now)
    return Look(
        found.parsed,
        found.verdict,
        says,
        do,
        lines,
        found.doubts,
        "no" if found.refused else keeps,
        aim(limits, step_unit(state.site, item.step)),
        _last(state, item, now),
        found.judgement.reasons if found.judgement else (),
        _unfinished(state, item, found, text, limits, now),
        known_here(state.farm, item, now),
    )


def _unfinished(
    state: WalkState, item: Item, found: Finding, text: str, limits: Limits | None, now: datetime
) -> bool:
    if not (found.refused or found.needs_confirming):
        return False
    step, unit = item.step, step_unit(state.site, item.step)
    last = None
    if step.measure is not None:
        last = last_read(state.farm, item.place, step.measure, now, item.entry_id)
    spans = likely(step, unit, limits, last.value if last else None, found.parsed)
    return still_typing(text, spans, decimals(step))


def answer(
    state: WalkState, text: str, now: datetime, confirmed: bool = False, why: str = ""
) -> Outcome:
    """Return what Enter comes to: a draft to keep, one more Enter, or a refusal.

    A value that is odd or out of its band, and a correction that changes the verdict, are kept
    when confirmed. What this walk kept before is corrected, never overwritten; a value another
    walk read is read anew; a skipped step gets its value.

    Args:
        state: The walk, at a step.
        text: What was typed.
        now: The present.
        confirmed: The person was told and pressed Enter again.
        why: Why a value is corrected; asked for when the verdict changes.

    Returns:
        The outcome. The entry is a draft: the book gives it id and time.

    Raises:
        IndexError: The walk is past its last step.
    """
    item = state.items[state.position]
    found = _find(state, item, text, now)
    lines = _figures(item, found)
    says, do = _told(state, item, found, now, confirmed)
    if found.refused:
        return Outcome("refuse", found.verdict, says, do, derived=lines)
    of = _corrected(state, item)
    changes = of is not None and item.verdict != found.verdict
    if changes:
        says = f"was {item.shown} {SIGNS[item.verdict]}, now {says}"
    if (found.needs_confirming or changes) and not confirmed:
        ask_why = changes and not why
        return Outcome("confirm", found.verdict, says, do, derived=lines, ask_why=ask_why)
    entry = (
        _entry(state, item, found, now) if of is None else _correction(state, item, of, found, why)
    )
    return Outcome("keep", found.verdict, says, do, entry, lines, found.reread_at)


def _figures(item: Item, found: Finding) -> tuple[str, ...]:
    """Return the figures worked out, and what one more test would give with the value typed.

    Temperature and salinity belong to every figure: they ask for no test. Under a value to act on
    no figure is called OK.
    """
    lacking = 0 if item.step.measure in ("temperature", "salinity") else 1
    quiet = found.verdict == "act"
    return tuple(
        one.line
        for one in found.figures
        if len(one.missing) <= lacking
        and not (quiet and one.judgement is not None and one.judgement.verdict == "ok")
    )


def _find(state: WalkState, item: Item, text: str, now: datetime) -> Finding:
    of = _corrected(state, item)
    replacing = of.id if of is not None else None
    return find(state.site, state.farm, item.place, item.step, text, now, replacing)


def _corrected(state: WalkState, item: Item) -> Entry | None:
    """Return the entry a new value corrects; None where it makes an entry of its own."""
    if item.status != "kept" or item.entry_id is None:
        return None
    entry = state.farm.entry(item.entry_id)
    return None if item.by and isinstance(entry, Reading) else entry


def _told(
    state: WalkState, item: Item, found: Finding, now: datetime, confirmed: bool = False
) -> tuple[str, str]:
    """Return what is said, doubts first until they are answered, and what to do."""
    if found.refused or found.judgement is None:
        return found.refused, ""
    odd = [] if confirmed else [doubt.says for doubt in found.doubts]
    do = found.judgement.do or ("Read again; Enter keeps it if it is so." if odd else "")
    if over := passed(state.farm, item, found.own, now):
        do = f"{over} {do}".strip()
    return "; ".join([*odd, found.judgement.says]), do


def _entry(state: WalkState, item: Item, found: Finding, now: datetime) -> Entry:
    place, walk, by = item.place.code, state.walk or None, state.by
    day = local_day(now, state.site.timezone).isoformat()
    if item.step.measure is not None:
        odd = bool(found.doubts)
        return Reading(
            measure=item.step.measure, value=found.value, unit=found.unit, step=item.step.code,
            verdict=found.verdict, confirmed=odd, place=place, walk=walk, by=by, day=day,
        )  # fmt: skip
    if item.step.check is not None:
        draft = calibrated(item.step, state.checklist.due, found.value, state.day)
        return structs.replace(draft, place=place, walk=walk, by=by, day=day)
    if found.lot is not None:
        return Died(count=int(found.value), place=place, lot=found.lot, walk=walk, by=by, day=day)
    return Answer(
        step=item.step.code, value=found.value, verdict=found.verdict, place=place, walk=walk,
        by=by, day=day,
    )  # fmt: skip


def _correction(
    state: WalkState, item: Item, of: Entry, found: Finding, why: str
) -> Correction | None:
    """Return the correction of an entry, only of what differs; None when nothing does."""
    now: dict[str, str | int | bool | list[str]]
    if isinstance(of, Died):
        now = {"count": int(found.value)}
    elif isinstance(of, Calibrated):
        now = recalibrated(item.step, found.value)
    else:
        now = {"value": found.value, "verdict": found.verdict}
    if isinstance(of, Reading):
        now |= {"unit": found.unit, "confirmed": bool(found.doubts)}
    changed = {key: value for key, value in now.items() if getattr(of, key) != value}
    if not changed:
        return None
    return Correction(
        of=of.id, after=list(state.farm.corrections_of(of.id)), set=changed, why=clean(why),
        place=of.place, walk=state.walk or None, by=state.by, day=of.day,
    )  # fmt: skip


def _last(state: WalkState, item: Item, now: datetime) -> str:
    """Return the last value of this step here: "last 6.8 mg/L today 06:11"."""
    if item.step.code == DEAD_STEP and (dead := recent_dead(state.farm, item, now)):
        return dead
    found = last_kept(state, item, now)
    if found is None:
        return ""
    comma = "" if item.step.measure or item.step.code == DEAD_STEP else ","
    return f"last {found[0]}{comma} {spoken(found[1], now, state.site.timezone)}"


def last_kept(state: WalkState, item: Item, now: datetime) -> tuple[str, datetime] | None:
    """Return the last value of a step in its place before the present one, and when it was read."""
    farm, place, step = state.farm, item.place.code, item.step
    if step.measure is not None:
        read = last_read(farm, item.place, step.measure, now, item.entry_id)
        return None if read is None else (with_unit(read.typed, read.unit), read.at)
    kept: list[tuple[str, datetime]]
    if step.check is not None:
        kept = [
            (one.found, one.at)
            for one in farm.calibrations(step.check.measure)
            if one.step == step.code and one.at <= now and one.id != item.entry_id
        ]
    elif step.code == DEAD_STEP:
        kept = [
            (str(one.count), one.at)
            for one in farm.dead(place, now - LOOKS_BACK)
            if one.at <= now and one.id != item.entry_id
        ]
    else:
        last = farm.latest_answer(place, step.code, now)
        if last is not None and last.id == item.entry_id:
            last = farm.latest_answer(place, step.code, last.at - timedelta(microseconds=1))
        kept = [(last.value, last.at)] if last is not None else []
    return kept[-1] if kept else None


def skip(state: WalkState, reason: str, now: datetime) -> Outcome:
    """Return the draft of a skipped step; a reason is needed, a kept step is not skipped.

    Raises:
        IndexError: The walk is past its last step.
    """
    item = state.items[state.position]
    said = clean(reason)
    if item.status == "kept":
        return Outcome("refuse", item.verdict, "Already done: type a new value to correct it")
    if not said:
        return Outcome("refuse", "unknown", "Say why it is skipped")
    draft = Skipped(
        step=item.step.code, reason=said, place=item.place.code, walk=state.walk or None,
        by=state.by, day=local_day(now, state.site.timezone).isoformat(),
    )  # fmt: skip
    return Outcome("keep", "unknown", f"Skipped: {said}", entry=draft)


def note(state: WalkState, text: str) -> Note:
    """Return the draft of a note about the step and place asked now.

    Raises:
        ValueError: There are no words.
    """
    said = clean(text, limit=MAX_TEXT, newlines=True)
    if not said:
        raise ValueError("The note has no words")
    item = state.item
    return Note(
        text=said, about=item.step.code if item else "", by=state.by, walk=state.walk or None,
        place=item.place.code if item else None, day=state.day.isoformat(),
    )  # fmt: skip
