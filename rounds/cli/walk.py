"""`rounds walk`: a round as plain questions and answers, for any terminal, reader or pipe."""

from __future__ import annotations

import argparse
import sys
from datetime import date, datetime
from typing import Final

from msgspec.structs import replace

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened, present
from rounds.cli.out import say
from rounds.cli.slate import day_of
from rounds.day.fold.state import WalkAt
from rounds.day.readings.judgement import SIGNS
from rounds.day.walking import plan, slate, walk
from rounds.day.walking.plan import Round
from rounds.day.walking.typed import step_unit
from rounds.day.walking.walk import Item, Outcome, WalkState
from rounds.day.when import clock, local_day, long_day
from rounds.records.entry import Died, Entry
from rounds.site.model import Checklist
from rounds.units import written

KEYS: Final = (
    "Type the value and Enter. s REASON skips, m TEXT notes, b goes back to correct, g PLACE goes "
    "to a place, h tells how and why, q leaves. Before a text answer write them with a /: /s, /q."
)
_COMMANDS: Final = "smbghq"


class _Left(Exception):
    """The person leaves, or there is no more input."""


def run(asked: argparse.Namespace) -> int:
    """Walk a round, or with --json print the rounds of today."""
    if asked.json:
        with opened(asked, writes=False) as farm:
            rounds = plan.rounds_on(farm.site, farm.farm, farm.now)
            rows = [_row(one) for one in rounds]
            farm.emit("walk", rows)
        return 0
    with opened(asked, writes=True) as farm:
        if asked.day is not None and asked.read_at is None:
            raise Failure("--day is that of a slate: say --read-at, when it was read")
        day = day_of(farm, asked.day)
        if (found := _which(farm, asked.checklist, day)) is None:
            return 0
        code, left = found
        try:
            read_at = _read_at(farm, asked.read_at, farm.site.checklists[code], day)
        except _Left:
            return 0
        _Walk(farm, _begun(farm, code, left, day, read_at), read_at).go()
    return 0


def _read_at(farm: Opened, typed: str | None, checklist: Checklist, day: date) -> datetime | None:
    """Return the time on the slate; one far from the round's window is asked about."""
    if typed is None:
        return None
    try:
        at = slate.time_read(typed, day, farm.now, farm.site, checklist)
    except ValueError as error:
        raise Failure(f"--read-at: {error}") from None
    if doubt := slate.far_off(at, checklist, day, farm.site):
        say(f"{doubt} y goes on; anything else ends it.")
        if _line().lower() not in ("y", "yes"):
            raise _Left
    return at


def _dated(draft: Entry, read_at: datetime | None) -> Entry:
    return draft if read_at is None else slate.dated(draft, read_at)


def _row(one: Round) -> dict[str, object]:
    return {
        "checklist": one.checklist.code, "title": one.checklist.title, "day": one.day,
        "start": one.start, "end": one.end, "state": one.state, "done": one.done,
        "total": one.total, "walk": one.walk,
    }  # fmt: skip


def _which(farm: Opened, code: str | None, day: date) -> tuple[str, WalkAt | None] | None:
    """Return the round asked for, or left, or the first that is due, and its walk to go on with."""
    if code is not None and code not in farm.site.checklists:
        raise Failure(f"there is no checklist {code}: {', '.join(farm.site.checklists)}")
    today = local_day(farm.now, farm.site.timezone)
    if day != today:
        if code is None:
            raise Failure(f"say which round of {long_day(day)} it was: walk CHECKLIST")
        return code, next(reversed(plan.walks_of(farm.farm, code, day)), None)
    left = [one for one in walk.unfinished(farm.farm, farm.now) if code in (None, one.checklist)]
    if left:
        return left[0].checklist, left[0]
    if code is None:
        rounds = plan.rounds_on(farm.site, farm.farm, farm.now)
        due = [one for one in rounds if one.state in ("due", "late")]
        if not due:
            say("No round is due now. Begin one with rounds walk CHECKLIST:")
            for one in rounds:
                begins = clock(one.start, farm.site.timezone)
                say(f"  {one.checklist.code}: {one.checklist.title}, {one.state}, {begins}")
            for one in plan.at_need(farm.site, farm.farm, farm.now):
                say(f"  {one.checklist.code}: {one.checklist.title}, whenever it happens")
            return None
        code = due[0].checklist.code
    return code, None


def _begun(
    farm: Opened, code: str, left: WalkAt | None, day: date, read_at: datetime | None
) -> WalkState:
    """Go on with the walk that was left, or begin one."""
    if left is not None:
        state = walk.resume(farm.site, farm.farm, left.id, farm.by, farm.now)
        at = clock(left.begun_at, farm.site.timezone)
        say(f"Going on with {state.checklist.title}, begun {at}, {state.open} steps open.")
        return state
    state, draft = walk.begin(farm.site, farm.farm, code, day, farm.by, farm.now)
    farm.write(_dated(draft, read_at))
    state = walk.renewed(state, farm.farm)
    say(f"{state.checklist.title}, {len(state.items)} steps, {state.open} open.")
    return state


def _line() -> str:
    sys.stdout.write("> ")
    sys.stdout.flush()
    line = sys.stdin.readline()
    if not sys.stdin.isatty():
        sys.stdout.write("\n")
    if not line:
        raise _Left
    return line.strip()


class _Walk:
    """One walk on stdin and stdout; `read_at` is when a slate was written, None for now."""

    def __init__(self, farm: Opened, state: WalkState, read_at: datetime | None) -> None:
        self.farm, self.state, self.read_at = farm, state, read_at
        self.place = ""

    @property
    def now(self) -> datetime:
        """When the values are read."""
        return self.read_at or present()

    def _write(self, draft: Entry) -> Entry:
        return self.farm.write(_dated(draft, self.read_at))

    def go(self) -> None:
        """Ask until nothing is open, or the person leaves."""
        say(KEYS)
        try:
            while (item := self.state.item) is not None:
                self._ask(item)
                text = _line()
                if self.farm.hear():
                    self.state = walk.renewed(self.state, self.farm.farm)
                self._take(item, text)
        except _Left:
            self._write(walk.leave(self.state))
            say(f"Left with {self.state.open} steps open: rounds walk goes on exactly here.")
            return
        self._write(walk.finish(self.state))
        skipped = sum(item.status == "skipped" for item in self.state.items)
        say(f"Round done: {len(self.state.items) - skipped} steps kept, {skipped} skipped.")

    def _ask(self, item: Item) -> None:
        place, step = item.place, item.step
        if place.code != self.place:
            self.place = place.code
            say("", f"{place.code}  {place.name}")
            if self.state.caution:
                say(self.state.caution)
        seen = walk.look(self.state, "", self.now)
        unit = written(step_unit(self.state.site, step))
        about = "; ".join(part for part in (seen.aim, seen.last) if part)
        say(f"{step.ask}{f', {unit}' if unit else ''}{f' ({about})' if about else ''}", hang=2)
        for number, choice in enumerate(step.choices, 1):
            say(f"  {number} {choice}")
        if step.answer == "yes-no":
            say("  1 yes, 2 no")
        if item.status != "open":
            word = "kept" if item.status == "kept" else "skipped"
            say(f"  {word}: {item.shown}. Type a new value, or Enter to leave it so.", hang=2)

    def _take(self, item: Item, text: str) -> None:
        command, rest = _command(text, item)
        match command:
            case "q":
                raise _Left
            case "s":
                self._skip(rest)
            case "m":
                self._note(rest)
            case "b":
                self.state = walk.back(self.state)
            case "g":
                self.state, caution = walk.jump(self.state, self._known(rest))
                say(*filter(None, [caution]))
            case "h":
                say(*filter(None, [item.step.how, item.step.why, item.step.caution]), indent=2)
            case _ if not text and item.status != "open":
                self.state = walk.forward(self.state)
            case _:
                self._answer(text)

    def _answer(self, text: str) -> None:
        outcome = walk.answer(self.state, text, self.now)
        if outcome.kind == "confirm":
            self._tell(outcome)
            again = self._confirmed(outcome)
            if again is None:
                return
            outcome = walk.answer(self.state, text, self.now, confirmed=True, why=again)
        if outcome.kind == "refuse":
            self._tell(outcome)
            return
        self._keep(outcome)

    def _confirmed(self, outcome: Outcome) -> str | None:
        """Return the reason given ("" where none is asked), or None when it is typed again."""
        say("  y keeps it; anything else: the step is asked again.")
        if _line().lower() not in ("y", "yes"):
            return None
        if not outcome.ask_why:
            return ""
        say("  Why is it corrected?")
        return _line()

    def _keep(self, outcome: Outcome) -> None:
        draft = self._died_of(outcome.entry)
        entry: Entry | None = self._write(draft) if draft else None
        self.state = walk.kept(self.state, self.farm.farm, entry)
        say(f"  kept  {SIGNS[outcome.verdict]}  {outcome.says}", hang=2)
        self._rest(outcome)

    def _died_of(self, draft: Entry | None) -> Entry | None:
        """Ask of dead fish what they died of, from the site's list."""
        causes = self.state.site.causes
        if not (isinstance(draft, Died) and draft.count and causes):
            return draft
        say(f"  {draft.count} dead: what of? Enter leaves it open.")
        say(f"  {', '.join(f'{number} {cause}' for number, cause in enumerate(causes, 1))}", hang=2)
        try:
            text = _line().casefold()
        except _Left:  # no more input: the count is kept all the same
            text = ""
        named = {str(number): cause for number, cause in enumerate(causes, 1)}
        named |= {cause.casefold(): cause for cause in causes}
        if text and text not in named:
            say(f"  {text} is not on the list: left open.")
        return replace(draft, cause=named.get(text, ""))

    def _tell(self, outcome: Outcome) -> None:
        sign = f"{SIGNS[outcome.verdict]}  " if outcome.kind == "confirm" else ""
        say(f"  {sign}{outcome.says}", hang=2)
        self._rest(outcome)

    def _rest(self, outcome: Outcome) -> None:
        for line in outcome.derived:
            say(f"  {line}", hang=2)
        if outcome.do:
            say(f"  Do: {outcome.do}", hang=2)
        if outcome.reread_at is not None:
            say(f"  Read again by {clock(outcome.reread_at, self.state.site.timezone)}.")

    def _skip(self, reason: str) -> None:
        reasons = self.state.site.skip_reasons
        if reason.isdecimal() and 1 <= int(reason) <= len(reasons):
            reason = reasons[int(reason) - 1]
        outcome = walk.skip(self.state, reason, self.now)
        if outcome.kind == "refuse" or outcome.entry is None:
            numbered = ", ".join(f"{n} {said}" for n, said in enumerate(reasons, 1))
            say(f"  {outcome.says}: s and a number or words: {numbered}.", hang=2)
            return
        entry = self._write(outcome.entry)
        self.state = walk.kept(self.state, self.farm.farm, entry)
        say(f"  skipped: {reason}")

    def _note(self, text: str) -> None:
        if not text:
            say("  m and the words of the note.")
            return
        self._write(walk.note(self.state, text))
        self.state = walk.renewed(self.state, self.farm.farm)
        say("  note kept")

    def _known(self, place: str) -> str:
        codes = {code.casefold(): code for code in self.state.site.places}
        return codes.get(place.casefold(), place)


def _command(text: str, item: Item) -> tuple[str, str]:
    """Split a command letter from its words; a text answer needs a slash before it."""
    slash = text.startswith("/")
    if item.step.answer == "text" and not slash:
        return "", text
    head, _, rest = text.removeprefix("/").partition(" ")
    letter = head.lower()
    if len(letter) == 1 and letter in _COMMANDS:
        return letter, rest.strip()
    return "", text
