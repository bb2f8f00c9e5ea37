"""A step as it is being typed: the line or the answer picked, judged, held beside the book."""

from __future__ import annotations

import asyncio
from datetime import datetime
from typing import Final

from textual import events
from textual.timer import Timer

from rounds.day.walking.pace import last_here
from rounds.day.walking.walk import Item, Look, Outcome, WalkState
from rounds.screens.bounce import too_quick
from rounds.screens.field import NUMBER, Field
from rounds.screens.page import Page

_HOLD_S: Final = 0.25
"""Rest after the last key until what is half typed is put beside the book."""
_RESTS_S: Final = 1.0
"""Rest after the last key until it is judged as it stands, though typing on could better it."""
_NUM_LOCK_OFF = ("home", "end", "insert", "pageup", "pagedown")


class StepPage(Page[str]):
    """A screen that asks a step of a walk; what is typed is never lost."""

    def __init__(self, label: str, state: WalkState) -> None:
        super().__init__(label)
        self.state = state
        self.number = Field(NUMBER, limit=16)
        self.picked = ""
        self.asked: Outcome | None = None
        self._emptied = False
        """What was typed was taken out again: one Backspace too many leads nowhere yet."""
        self._at: tuple[str, str] | None = None
        self._look: Look | None = None
        self._since = ""
        self._pauses: list[Timer] = []
        self._rested = True

    def moment(self) -> datetime:
        """Return when the values typed are read."""
        return self.desk.now()

    @property
    def slipped(self) -> bool:
        """Whether the number typed looks like a slip."""
        look = self._look
        return bool(self.text) and look is not None and (bool(look.doubts) or look.keeps == "no")

    @property
    def text(self) -> str:
        """What would be kept: the line typed, or the answer picked."""
        return self.picked or (self.number.text if self.field is not None else "")

    def _arrive(self, item: Item) -> None:
        """Come to a step: a kept value stands in the field and is replaced by the next digit."""
        self._since = last_here(self.state, self.moment())
        self._at = item.where
        self.asked, self.picked, self._rested, self._emptied = None, "", True, False
        if item.step.answer in ("number", "count"):
            self.field = self.number
            self.number.set(item.typed, fresh=True)
            if half := self.desk.half.of(self.state.walk, self.desk.by).get(self._at, ""):
                self.number.set(half, fresh=True)
                self.tell(f"You had typed {half}: Enter or Right keeps it, a digit begins anew")
        else:
            self.field = None
            self.picked = item.typed

    def typed(self) -> None:
        """A key changed the value: what was asked about the old one is void."""
        self.asked, self._rested, self._emptied = None, False, not self.number.text
        self.tell()
        self.paint()
        for pause in self._pauses:
            pause.stop()
        self._pauses = [self.set_timer(_HOLD_S, self._hold_half)]
        if self._look is not None and self._look.unfinished:
            self._pauses.append(self.set_timer(_RESTS_S, self._judge))

    def _judge(self) -> None:
        """Judge what stands in the field, finished or not: no key came, or Enter did."""
        self._rested = True
        self.paint()

    def _hold(self, item: Item | None, typed: str) -> None:
        for pause in self._pauses:
            pause.stop()
        if item is not None and self.state.walk:
            self.desk.half.hold(self.state.walk, self.desk.by, item.where, typed)

    async def _hold_half(self) -> None:
        """Put what is half typed beside the book, a moment after the last key."""
        walk, at, desk = self.state.walk, self._at, self.desk
        if walk and at is not None:
            await asyncio.to_thread(desk.half.hold, walk, desk.by, at, self._half)

    @property
    def _half(self) -> str:
        item, typed = self.state.item, self.number.text
        return typed if self.field is not None and item and item.typed != typed else ""

    def on_key(self, event: events.Key) -> None:
        """Tell a number block without Num Lock, before the key goes its way.

        Words typed on after a correction that asks no reason are passed over: they are no keys.
        """
        if event.key in _NUM_LOCK_OFF and self.field is not None:
            self.tell("Is Num Lock off?", "watch")
        if event.key == "backspace" and self._emptied:
            if not self.desk.bounce.held():
                self._emptied = False
                self.tell("The field is empty: once more goes a step back", "watch")
            event.stop()
            event.prevent_default()
            return
        if self.asked is not None and self.desk.bounce.bounced(event.key):
            self.tell(too_quick(self._told.plain.strip()), "watch")
        if self.desk.bounce.typed_on(event.character or ""):
            self.tell("The correction is kept and needs no reason. M writes a note", "watch")
            event.stop()
            event.prevent_default()
