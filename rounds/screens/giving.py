"""A sheet of what may be given: a doubt is answered twice, a mistake is taken back."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import ClassVar

from textual import events
from textual.binding import BindingType
from textual.content import Content

from rounds.day.fold.corrections_draft import UNDO_WHYS, void
from rounds.day.fold.state import DosedAt, ExchangedAt, FedAt
from rounds.day.laptops.unheard import unheard
from rounds.day.slips import Unsure
from rounds.records.entry import Entry
from rounds.screens.bounce import too_quick
from rounds.screens.change import ask_why
from rounds.screens.ink import paragraphs
from rounds.screens.keys import bind
from rounds.screens.listing import Listing, Row


class GivingPage(Listing, inherit_bindings=False):
    """Enter gives what is marked, E another amount, U takes back what was given last."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "give", "given"),
        bind("e", "change", "amount"),
        bind("u", "undo", "take back"),
        bind("u", "idle('u')", "", show=False),
        *Listing.BINDINGS,
    ]
    meant: Sequence[str] = ()
    """Reasons, one digit away, to give what looks like a slip all the same."""
    idle: ClassVar[dict[str, tuple[str, str]]] = {
        "u": ("undo", "Nothing was given here today that U could take back")
    }
    """By key, the action that has nothing to do at times, and what is told then."""
    _doubt: tuple[int, str, Callable[[str], Awaitable[None]]] | None = None

    @property
    def last_given(self) -> FedAt | DosedAt | ExchangedAt | None:
        """What U takes back: the last that was given today to what is in sight."""
        raise NotImplementedError

    def gone(self, marked: Row) -> None:
        """Mark nothing: Enter must not give what nobody chose."""
        self.chosen = -1
        what = marked.place or marked.told.title
        self.tell(f"{what} is no longer on the sheet: Down marks a row", "watch")

    def detail_rows(self) -> list[Content]:
        """Say first which laptop was not heard: it may have given what this one does not know."""
        desk = self.desk
        away = unheard(desk.farm, desk.now(), desk.here)[:2]
        return [*paragraphs(away, self.width - 2, 2), *super().detail_rows()]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to give where a row is marked, and to take back what was given."""
        if action == "undo":
            return self.last_given is not None
        if action == "idle":
            return not self.check_action(self.idle[str(parameters[0])][0], ())
        if action in ("give", "change"):
            return self.marked is not None
        return super().check_action(action, parameters)

    async def given(
        self, draft: Callable[[str, bool], Entry], says: str, why: str = "", sure: bool = False
    ) -> None:
        """Keep what was given; what looks like a slip only when a second Enter says it is meant.

        Args:
            draft: Makes the entry of the reason and of whether the person is sure.
            says: What is told when it is kept.
            why: The person's reason, if one was given already.
            sure: Whether the person was told what looks like a slip, and means it.
        """
        try:
            entry = draft(why, sure)
        except Unsure as doubt:
            size = self.desk.farm.size
            self._doubt = (size, why, lambda why: self.given(draft, says, why, sure=True))
            after = "Enter again keeps it" if why else "Enter again asks why, and keeps it"
            self.tell(f"{doubt} {after}", "watch")
        except ValueError as error:
            self.tell(str(error), "watch")
        else:
            await self.write(lambda: entry, says)

    async def answered(self) -> bool:
        """Tell whether this Enter answers a doubt told just before, and answer it."""
        doubt, self._doubt = self._doubt, None
        if doubt is None or doubt[0] != self.desk.farm.size:
            return False
        _, why, then = doubt
        if why:
            await then(why)
        else:
            ask_why(self, self.label, "Why all the same?", self.meant, then)
        return True

    def on_key(self, event: events.Key) -> None:
        """Take a doubt back with every key but the Enter that answers it."""
        if self._doubt is None:
            return
        if event.key != "enter":
            self._doubt = None
            self.tell()
        elif self.desk.bounce.bounced(event.key):
            self.tell(too_quick(self._told.plain.strip()), "watch")

    def on_screen_suspend(self) -> None:
        """Take a doubt back when another screen hides it."""
        self._doubt = None

    def action_idle(self, key: str) -> None:
        """Say why a key has nothing to do now."""
        self.tell(self.idle[key][1], "ok")

    def take_back(self, entry_id: str, what: str) -> None:
        """Ask why something given was a mistake, then take it back.

        Args:
            entry_id: Its entry.
            what: It in words: "A1 meal 1, 120 g".
        """

        async def then(why: str) -> None:
            await self.write(lambda: void(self.desk.farm, entry_id, why), f"Taken back: {what}")

        ask_why(self, self.label, f"Take back {what}: why?", UNDO_WHYS, then)
