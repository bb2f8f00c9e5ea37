"""What a walk says in words: what was kept, what was asked too early, who is beside a learner."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from rounds.day.recording.signing import beside, learner, signed_for
from rounds.day.verdict import SIGNS
from rounds.day.walking.pace import last_round
from rounds.day.walking.typed import EMPTY
from rounds.day.walking.walk import Item, Look, Outcome, WalkState
from rounds.day.when import clock
from rounds.records.entry import Correction
from rounds.screens.desk import Desk

ABOUT: Final = (
    "Digits with a point or a comma type the value; the verdict follows every key. Enter keeps it. "
    "A value to watch or act on is kept by a second Enter, after reading what to do. Esc goes to "
    "the board; the walk goes on exactly there. J and a place with what is read, such as G3 "
    "oxygen, finds what was kept today or yesterday, to correct it."
)


def label_of(state: WalkState) -> str:
    """Return the word a walk stands under: its one step may be read again, or corrected."""
    if state.walk:
        return "WALK"
    return "CORRECT" if state.item is not None and state.item.status == "kept" else "READ AGAIN"


def told_of(desk: Desk, outcome: Outcome, item: Item | None, typed: str) -> str:
    """Say what was kept: of a bad value what to do rather than the number once more."""
    sign = f"{SIGNS[outcome.verdict]}   " if outcome.verdict != "unknown" else ""
    says, do = outcome.says, outcome.do
    if isinstance(outcome.entry, Correction) and item is not None and not outcome.entry.why:
        says = f"corrected, was {item.shown}. Now {says}"
    elif outcome.verdict in ("watch", "act") and do:
        says = f"kept {typed}"
    again = ""
    if outcome.reread_at is not None:
        again = f"Read again by {clock(outcome.reread_at, desk.site.timezone)}"
    parts = [says.rstrip("."), do.rstrip("."), again]
    where = f"{item.place.code}: " if item else ""
    return f"{sign}{where}{'. '.join(filter(None, parts))}"


def why_texts(state: WalkState, item: Item, look: Look) -> tuple[str, ...]:
    """Return what belongs to a step in full: cautions, how, why, aim, and what is typed now."""
    step = item.step
    named = {"How": step.how, "Why": step.why, "Caution": step.caution}
    said = [f"{name}: {text}" for name, text in named.items() if text]
    said += look.known
    now = () if look.says == EMPTY else (look.says, look.do)
    said += filter(None, (state.caution, look.aim, look.last, *now))
    return (*said, *look.derived)


def begun(desk: Desk, state: WalkState) -> str:
    """Say what a learner needs to hear, what others did meanwhile, and when it was last walked."""
    now = desk.now()
    said = (
        beside(desk.farm, desk.by, state.checklist, now),
        meanwhile(state),
        last_round(state, now),
    )
    return ". ".join(part[:1].upper() + part[1:].rstrip(".") for part in said if part)


def meanwhile(state: WalkState) -> str:
    """Say how many steps others did after the last one of the person walking."""
    done = [(item.at, item.place.code, item.who) for item in state.items if item.at is not None]
    own = max((at for at, _, who in done if not who), default=None)
    theirs = sorted(one for one in done if one[2] and (own is None or one[0] > own))
    if not theirs:
        return ""
    _, place, who = theirs[-1]
    steps = "step" if len(theirs) == 1 else "steps"
    return f"{len(theirs)} {steps} done by others, last {place} {who}"


def whose(desk: Desk, task: str, now: datetime) -> str:
    """Return who walks; of a learner also how far that person is signed off."""
    signed = signed_for(desk.farm, desk.by, task, now)
    if signed is None and not learner(desk.site, desk.by):
        return desk.who()
    return f"{desk.who()}: {signed.level if signed else 'new here'}"


def kept_by_other(item: Item, typed: str) -> str:
    """Say that somebody else kept the step in sight meanwhile."""
    says = f"{item.place.code} {item.step.ask}: {item.shown}, {item.who}"
    return f"{says}. Down leaves it, Enter keeps yours too" if typed else says
