"""What the ration and the dose sheet share: a doubt is answered twice, a mistake is taken back."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Final

from textual import events

from rounds.day.corrections_draft import void
from rounds.screens.change import ask_why
from rounds.screens.page import Page

MEANT_WHYS: Final = ("fish are fine and hungry", "supervisor said so", "time was written late")
UNDO_WHYS: Final = ("pressed by mistake", "wrong tank or loop", "typed wrong", "not given")


class SheetPage(Page[None]):
    """A sheet of what may be given; Enter gives the marked one."""

    _doubt: tuple[int, str, Callable[[str], Awaitable[None]]] | None = None

    def doubted(self, says: str, why: str, then: Callable[[str], Awaitable[None]]) -> None:
        """Tell what looks like a slip; a second Enter keeps it, after a reason where none is given.

        Args:
            says: The doubt, one sentence.
            why: The person's reason, if one was given already.
            then: Takes the reason and keeps it all the same.
        """
        self._doubt = (self.desk.farm.size, why, then)
        after = "Enter again keeps it" if why else "Enter again asks why, and keeps it"
        self.tell(f"{says} {after}", "watch")

    async def meant(self) -> bool:
        """Tell whether this Enter answers a doubt told just before, and answer it."""
        doubt, self._doubt = self._doubt, None
        if doubt is None or doubt[0] != self.desk.farm.size:
            return False
        _, why, then = doubt
        if why:
            await then(why)
        else:
            ask_why(self, self.label, "Why all the same?", MEANT_WHYS, then)
        return True

    def on_key(self, event: events.Key) -> None:
        """Take a doubt back with every key but the Enter that answers it."""
        if event.key != "enter" and self._doubt is not None:
            self._doubt = None
            self.tell()

    def on_screen_suspend(self) -> None:
        """Take a doubt back when another screen hides it."""
        self._doubt = None

    def take_back(self, entry_id: str, what: str) -> None:
        """Ask why something given was a mistake, then take it back.

        Args:
            entry_id: Its entry.
            what: It in words: "A1 meal 1, 120 g".
        """

        async def then(why: str) -> None:
            await self.write(lambda: void(self.desk.farm, entry_id, why), f"Taken back: {what}")

        ask_why(self, self.label, f"Take back {what}: why?", UNDO_WHYS, then)
