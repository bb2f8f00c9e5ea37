"""The walk: one question, one line to type, the verdict at every key, nothing lost."""

from __future__ import annotations

from typing import ClassVar

from msgspec import structs
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.content import Content

from rounds.day.recording.signing import learner
from rounds.day.walking import walk
from rounds.day.walking.pace import last_here, minutes_left
from rounds.day.walking.walk import Look, Outcome, WalkState
from rounds.records.entry import Correction, Died, Entry
from rounds.screens.ask import Ask
from rounds.screens.change import ask_why
from rounds.screens.choose import Choose
from rounds.screens.ink import BOLD, ink
from rounds.screens.keys import bind, digits
from rounds.screens.lines import Lines
from rounds.screens.walkrows import Known, body_rows, choices, side_rows, stop_rows
from rounds.screens.walkstep import StepPage
from rounds.screens.walktexts import ABOUT, kept_by_other, label_of, told_of, whose, why_texts
from rounds.screens.why import why

_PICKED = ("yes-no", "choice")
CORRECTED = ("typed wrong", "read again", "wrong tank")


class WalkPage(StepPage):
    """One step at a time; the field never loses the keys, Esc never loses a value."""

    CSS_PATH = "walk.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "accept", "keep"),
        bind("enter", "close_round", "close the round"),
        bind("enter", "to_open", "first open step"),
        bind("enter", "by_digit", "", show=False),
        bind("back", "back", "back"),
        bind("down", "forward", "next kept step", show=False),
        bind("skip", "skip", "skip"),
        bind("note", "note", "note"),
        bind("find", "app.find", "find"),
        bind("w", "why", "why"),
        bind("v", "trend", "trend", show=False),
        bind("escape", "leave", "board"),
        *digits("pick", "pick the answer of that digit", show=False),
    ]
    about = ABOUT

    def __init__(self, state: WalkState, says: str = "") -> None:
        super().__init__(label_of(state), state)
        self._says = says
        self.stops, self.body, self.side = Lines("stops"), Lines("body"), Lines("side")

    def rows(self) -> ComposeResult:
        """Yield the question, and on a wide screen the stops and what is known beside it."""
        with Horizontal(id="middle"):
            yield self.stops
            yield self.body
            yield self.side

    def on_mount(self) -> None:
        """Say what belongs to the beginning; then the page paints."""
        if self._says and not self._told.plain:
            self.tell(self._says)

    def heading(self) -> Content:
        """Return the round and the place."""
        item = self.state.item
        where = f"{item.place.code}  {item.place.name}" if item else "every step walked"
        return ink(f"{self.state.checklist.title}   {where}" if self.state.walk else where, BOLD)

    def dated(self, draft: Entry) -> Entry:
        """Return a draft as it is kept: of what is read now it needs no more."""
        return draft

    # -- painting --------------------------------------------------------------------------------

    def show(self) -> None:
        """Show the step, what was typed so far and what it means."""
        if self.state.farm is not self.desk.farm or self.state.size != self.desk.farm.size:
            self._renew()
        item = self.state.item
        if item is not None and item.where != self._at:
            self._arrive(item)
        height = self.body.size.height or self.app.size.height - 3
        width = self.body.size.width or self.width
        look = walk.look(self.state, self.text, self.moment()) if item else None
        look = self._look = look.so_far if look and look.unfinished and not self._rested else look
        self.body.show(self._body(look, width, height))
        if self.has_class("-wide"):
            self.stops.show(*stop_rows(self.state))
            if item is not None and look is not None:
                self.side.show(side_rows(item, self.desk, self.side.size.width or 40, self._since))

    def _body(self, look: Look | None, width: int, height: int) -> list[Content]:
        full = learner(self.desk.site, self.desk.by) and not self.has_class("-wide")
        known = Known(minutes_left(self.state, self.desk.now()), self._since, full)
        asked = self.asked is not None
        return body_rows(self.state, look, self.field, self.picked, asked, width, height, known)

    @property
    def place(self) -> str:
        """Where the step is asked."""
        return self.state.item.place.code if self.state.item else ""

    def whose(self) -> str:
        """Return who walks, and how far a learner is with this round."""
        return whose(self.desk, self.state.checklist.code, self.desk.now())

    @property
    def unheld(self) -> tuple[str, str] | None:
        """Enter, where a digit answers."""
        return ("Enter", "keep") if self.check_action("by_digit", ()) else None

    def _renew(self) -> None:
        """Take in what was kept meanwhile; a step somebody else kept is gone on from."""
        before = self.state.item
        self.state = walk.renewed(self.state, self.desk.farm)
        item = self.state.item
        self._since = last_here(self.state, self.moment())
        if item is None or before is None or before.status != "open" or not item.who:
            return
        typed = self.number.text if self.field is not None else ""
        if not typed:
            self.state = walk.onward(self.state)
        self.tell(kept_by_other(item, typed))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer digits where they pick, and only what the end of the walk leaves to do."""
        item = self.state.item
        if action in ("accept", "by_digit"):
            picks = item is not None and item.step.answer in _PICKED and not self.text
            return item is not None and picks == (action == "by_digit")
        if action in ("close_round", "to_open"):
            return item is None and bool(self.state.open) == (action == "to_open")
        if action == "pick":
            return item is not None and int(str(parameters[0])) <= len(choices(item))
        if action == "back":
            return self.state.position > 0
        if action == "forward":
            return item is not None and item.status != "open"
        if action == "trend":
            return item is not None and item.step.measure is not None
        return item is not None or action not in ("skip", "why")

    # -- keeping ---------------------------------------------------------------------------------

    async def action_accept(self) -> None:
        """Keep what was typed."""
        item = self.state.item
        if item is None:
            return
        if item.step.answer == "text" and self.asked is None:
            ask = f"{item.place.code}: {item.step.ask}"
            page = Ask(self.label, ask, says=[item.step.how], text=self.text)
            self.app.push_screen(page, self._written)
        elif self.asked is not None and self.asked.ask_why:
            says = [self.asked.says]
            ask_why(self, self.label, "Why is it corrected?", CORRECTED, self._corrected, says)
        else:
            await self._answer(self.text)

    def action_by_digit(self) -> None:
        """Say how this step is answered."""
        self.tell("Press the digit of the answer; S skips", "watch")

    async def action_pick(self, digit: int) -> None:
        """Answer with the choice of this digit."""
        item = self.state.item
        if item is not None:
            self.asked = None
            self.picked = choices(item)[digit - 1]
            await self._answer(self.picked)

    async def _written(self, text: str | None) -> None:
        if text:
            self.picked = text
            await self._answer(text)

    async def _corrected(self, why: str) -> None:
        await self._answer(self.text, why)

    async def _answer(self, text: str, why: str = "") -> None:
        confirmed = self.asked is not None
        outcome = walk.answer(self.state, text, self.moment(), confirmed, why)
        if outcome.kind == "keep":
            await self._keep(outcome)
        elif outcome.kind == "confirm":
            self.asked = outcome
            self._judge()
            odd = outcome.verdict if outcome.verdict in ("watch", "act") else "watch"
            then = "asks why and keeps it" if outcome.ask_why else "keeps it"
            self.tell(f"Enter again {then}, or type again", odd)
        else:
            self._judge()
            self.tell(outcome.says, "watch")

    async def _keep(self, outcome: Outcome) -> None:
        """Append what was answered; of dead fish ask first what they died of."""
        draft, causes = outcome.entry, self.desk.site.causes
        if not (isinstance(draft, Died) and draft.count and causes):
            await self._append(outcome, draft)
            return

        async def died_of(index: int | None) -> None:
            cause = "" if index is None else causes[index]
            await self._append(outcome, structs.replace(draft, cause=cause))

        ask, says = f"{draft.count} dead: what of?", ["Esc leaves it open."]
        self.app.push_screen(Choose(self.label, ask, causes, says=says), died_of)

    async def _append(self, outcome: Outcome, draft: Entry | None) -> None:
        before = self.state.item
        entry = None
        if draft is not None:
            entry = await self.keep(self.dated(draft))
            if entry is None:
                return
        self.state, self._at = walk.kept(self.state, self.desk.farm, entry), None
        told = told_of(self.desk, outcome, before, self.text)
        self._hold(before, "")
        if isinstance(draft, Correction) and not draft.why:
            self.desk.bounce.needs_no_words()
        if not self.state.walk and self.state.item is None:
            self.dismiss(told)
            return
        self.paint()
        self.tell(told, outcome.verdict if outcome.verdict in ("watch", "act") else "")

    def action_to_open(self) -> None:
        """Go from the end to the first step that is open."""
        desk, name = self.desk, self.state.walk
        self._go(walk.resume(desk.site, desk.farm, name, desk.by, desk.now()))

    async def action_close_round(self) -> None:
        """Close the round: every step is answered or skipped."""
        if await self.keep(self.dated(walk.finish(self.state))) is not None:
            self.desk.half.forget(self.state.walk, self.desk.by)
            self.dismiss(f"{self.state.checklist.title} is done")

    def _go(self, state: WalkState) -> None:
        self.state, self._at = state, None
        self.tell()
        self.paint()

    def reach(self, place: str) -> None:
        """Go to a place that was found or scanned; back to a cleaner one says wash and dip."""
        self._hold(self.state.item, self._half)
        state, says = walk.jump(self.state, place)
        self._go(state)
        if state.item is None or state.item.place.code != place:
            self.tell(says, "watch")

    def correct(self, state: WalkState) -> bool:
        """Go to a step that was found, if this walk asks it; what it keeps stands in the field."""
        if (there := walk.same_step(self.state, state)) is not None:
            self._hold(self.state.item, self._half)
            self._go(there)
        return there is not None

    def action_back(self) -> None:
        """Go back a step, to look at it or to correct it."""
        self._go(walk.back(self.state))

    def action_forward(self) -> None:
        """Go on over steps that are kept or skipped."""
        self._go(walk.forward(self.state))

    def action_skip(self) -> None:
        """Ask why the step is skipped."""
        ask = f"Why is this skipped? {self.state.item.step.ask if self.state.item else ''}"
        ask_why(self, self.label, ask, self.desk.site.skip_reasons, self._skip)

    async def _skip(self, reason: str) -> None:
        outcome = walk.skip(self.state, reason, self.moment())
        if outcome.kind == "keep":
            await self._keep(outcome)
        else:
            self.tell(outcome.says, "watch")

    def action_note(self) -> None:
        """Ask for a note about the place and step."""
        item = self.state.item
        about = f"about {item.place.code} {item.place.name}" if item else "on this round"
        self.app.push_screen(Ask("NOTE", f"Note {about}"), self._note)

    async def _note(self, text: str | None) -> None:
        if text:
            draft = self.dated(walk.note(self.state, text))
            await self.write(lambda: draft, f"Note kept: {text}")

    def action_why(self) -> None:
        """Open what the verdict rests on, and the step's how and why in full."""
        if (item := self.state.item) is None:
            return
        look = walk.look(self.state, self.text, self.moment())
        title, texts = f"{item.place.code} {item.step.ask}", why_texts(self.state, item, look)
        self.app.push_screen(why(self.desk, title, look.reasons, texts))

    def action_trend(self) -> None:
        """Draw what is asked, over time."""
        from rounds.screens.trends import open_trend

        item = self.state.item
        if item is not None and item.step.measure is not None:
            open_trend(self, item.place.code, item.step.measure)

    async def action_leave(self) -> None:
        """Go to the board; a half-typed value is kept in mind and offered again."""
        item, state, told = self.state.item, self.state, None
        if state.walk:
            if item is not None:
                self.desk.half.left[state.walk] = item.where
                self._hold(item, self._half)
            if await self.keep(self.dated(walk.leave(state))) is None:
                told = "That the round was left is not saved; every value that was ticked is"
        self.dismiss(told)
