"""The app: its keys on every screen, its themes, its ends, and the ear for other laptops."""

from __future__ import annotations

import asyncio
import gc
import os
import signal
import time
from collections import deque
from collections.abc import Awaitable, Callable
from contextlib import suppress
from datetime import datetime
from importlib import import_module
from typing import TYPE_CHECKING, Any, ClassVar, Final, cast

from rich.console import RenderableType
from textual import events
from textual._compositor import CompositorUpdate
from textual.binding import BindingType
from textual.screen import Screen

from rounds.records.book import Book
from rounds.records.faults import untold
from rounds.screens import crash
from rounds.screens.ask import Ask
from rounds.screens.board import BoardPage
from rounds.screens.choose import Choose
from rounds.screens.desk import Desk, utc_now
from rounds.screens.frame import Frame, erasing_fills
from rounds.screens.keys import bind, listed
from rounds.screens.leaf import Leaf
from rounds.screens.page import Page
from rounds.screens.theme import THEMES, NoColour, fewest_bytes, first_theme
from rounds.site.model import Site

if TYPE_CHECKING:
    from rounds.screens.exchanging import Exchange, Line

NOT_AN_ALARM = (
    "This is not an alarm. The independent oxygen and level alarm is the guard: it must be on, "
    "and it must reach a person, day and night. rounds watches nothing by itself; it helps you "
    "to look, to reckon and to remember."
)
LEAST: Final = (60, 16)
"""Columns and rows a window needs."""
_DONE_S = 0.3
"""A key that was not acted on for so long holds up no other."""
_LISTEN_S = 3.0
_EXCHANGE_S = 20.0
_MINUTE_S = 60.0
_PATIENCE_S = 0.5
"""How long a start waits for the farm before it shows how far it is."""
_SIGNALS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


class RoundsApp(crash.Crashing[int]):
    """The farm on the terminal, by keyboard only."""

    TITLE = "rounds"
    CSS_PATH = ["page.tcss", "board.tcss"]  # noqa: RUF012
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-tiny"), (LEAST[0], "-narrow"), (100, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-low"), (LEAST[1], "-short"), (32, "-tall")]  # noqa: RUF012
    # RUF012: Textual declares these without ClassVar, and mypy holds us to it.
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("find", "find", "find", priority=True),  # a scanner types on without a rest
        bind("emergency", "emergency", "emergency"),
        bind("emergency-sign", "emergency", "emergency", show=False, priority=True),
        bind("help", "help", "help"),
        bind("t", "theme", "colours for sun, night, console", show=False),
        bind("redraw", "redraw", "draw the screen anew", show=False, priority=True),
        bind("leave", "quit", "leave the program, all is saved", show=False, priority=True),
    ]

    def __init__(
        self,
        site: Site,
        book: Book,
        by: str | None,
        here: str,
        *,
        now: Callable[[], datetime] = utc_now,
        steady: Callable[[], float] = time.monotonic,
        patience_s: float | None = None,
    ) -> None:
        desk = Desk(site, book, by, here, now, steady, patience_s)
        super().__init__(desk.state / "log")
        self.desk = desk
        self.frame = Frame(erasing_fills(os.environ))
        desk.on_working = self.repaint
        self._exchanging: Exchange | None = None
        self._keys: deque[events.Key] = deque()
        """Typed ahead."""
        self._key_out = False
        """A key was handed on and is not acted on yet."""
        if self.no_color:
            self._filters = [NoColour()]
        self.animation_level = "none"
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = first_theme(self.console.color_system, desk.recall("theme"))

    def get_default_screen(self) -> Screen[Any]:
        """Return the board: every other screen lies on top of it."""
        return BoardPage()

    async def on_mount(self) -> None:
        """Catch the signals that end a terminal, and begin when the farm is there."""
        loop = asyncio.get_running_loop()
        with suppress(NotImplementedError, RuntimeError, ValueError):
            for number in _SIGNALS:
                loop.add_signal_handler(number, self._end, 128 + number)
        if self.desk.ready:
            self._begin()
        else:
            from rounds.screens.opening import OpeningPage

            self.push_screen(OpeningPage(), lambda _: self._begin())

    def _begin(self) -> None:
        """Begin to listen, ask what must be asked."""
        self.set_interval(_LISTEN_S, self._hear)
        self.set_interval(_MINUTE_S, self.repaint)
        self.set_interval(_EXCHANGE_S, lambda: self._beside("exchange", self._exchange))
        self.call_after_refresh(self._open)

    def _open(self) -> None:
        people = self.desk.site.people
        if not self.desk.by or (people and self.desk.by not in people):
            self._ask_who()
        if self.desk.first_start():
            if self.desk.invented:
                self.desk.begin_guide()
            self.push_screen(Leaf("ROUNDS", "before the first round", [NOT_AN_ALARM], first=True))
        report = untold(self.logs)
        if report is not None:
            says = ["What was saved is here.", f"Report for the developers: {report}"]
            self.push_screen(Leaf("ROUNDS", "The last run ended by a fault", says, first=True))

    def _ask_who(self) -> None:
        people = list(self.desk.site.people.values())

        def known(index: int | None) -> None:
            if index is not None:
                self.desk.by = people[index].code
                self.repaint()

        def written(code: str | None) -> None:
            self.desk.by = code or ""
            self.repaint()

        if people:
            names = [f"{person.name}, {person.role}" for person in people]
            self.push_screen(Choose("ROUNDS", "Who are you?", names, must=True), known)
        else:
            ask = Ask("ROUNDS", "Who are you? Your initials", limit=12, must=True)
            self.push_screen(ask, written)

    # -- keys typed ahead ------------------------------------------------------------------------

    async def on_event(self, event: events.Event) -> None:
        """Hand on one key at a time: what a slow line brings at once is for the screens in turn."""
        if not isinstance(event, events.Key) or event.is_forwarded:
            await super().on_event(event)
            return
        self._keys.append(event)
        if not self._key_out:
            await self._hand_on()
        else:  # a screen that closes may not tell that it is done
            self.set_timer(_DONE_S, self._key_done)

    async def _hand_on(self) -> None:
        if not self._keys:
            return
        self._key_out, screen = True, self.screen
        await super().on_event(self._keys.popleft())
        if not screen.call_later(self.call_later, self._key_done):
            await self._key_done()

    async def _key_done(self) -> None:
        """Hand on the next key: the one before was acted on, by the screen and by its binding."""
        self._key_out = False
        await self._hand_on()

    # -- what other programs and laptops wrote ---------------------------------------------------

    def _hear(self) -> None:
        self._beside("listen", self.listen)

    def _beside(self, group: str, work: Callable[[], Awaitable[None]]) -> None:
        """Begin work that no key waits for, unless that of before is not over yet."""
        if all(worker.is_finished for worker in self.workers if worker.group == group):
            self.run_worker(work(), group=group)

    async def listen(self) -> None:
        """Look for entries of others; every figure in sight follows them."""
        if await self.desk.listen():
            self.repaint()

    def repaint(self) -> None:
        """Paint the visible screen from the desk."""
        if self.screen_stack and isinstance(self.screen, Page):
            self.screen.paint()

    async def _exchange(self) -> None:
        """Sync with the address whose time has come; the first time, only look at what waits."""
        first = self._exchanging is None
        if first:  # what it needs loads beside the keys, long after the first board
            await asyncio.to_thread(import_module, "rounds.screens.exchanging")
            self.run_worker(self.exchanging.look())
        elif (line := self.exchanging.due()) is not None:
            self.run_worker(self.exchange_with(line, asked=False))

    async def exchange_with(self, line: Line, *, asked: bool = True) -> None:
        """Sync with an address; every figure in sight follows what came."""
        await self.exchanging.run(line, asked=asked)
        await self.listen()
        self.repaint()

    @property
    def exchanging(self) -> Exchange:
        """The syncs of this run; loaded when first asked for."""
        if self._exchanging is None:
            from rounds.screens.exchanging import Exchange

            self._exchanging = Exchange(self.desk)
        return self._exchanging

    @property
    def to_decide(self) -> list[str]:
        """What syncs have brought that a person decides; nothing before the first look."""
        return self._exchanging.says() if self._exchanging is not None else []

    @property
    def place(self) -> str:
        """The place at hand on the visible screen; empty for none."""
        return self.screen.place if isinstance(self.screen, Page) else ""

    @property
    def too_small(self) -> bool:
        """Whether the window shows nothing but that it is too small."""
        return self.size.width < LEAST[0] or self.size.height < LEAST[1]

    # -- the keys of every screen ----------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave letters to a line of words; do not open the cards from the cards.

        In a window too small to read only leaving and drawing anew are left.
        """
        if self.too_small:
            return action in ("quit", "redraw")
        if (action == "theme" and self.no_color) or (action == "find" and not self.desk.ready):
            return False
        screen = self.screen
        if action in ("help", "theme", "find") and isinstance(screen, Page) and screen.words:
            return False
        if action == "find" and any(getattr(screen, first, False) for first in ("must", "first")):
            return False
        return not (action == "emergency" and getattr(screen, "label", "") == "EMERGENCY")

    def action_emergency(self) -> None:
        """Open the emergency cards, asking nothing first."""
        from rounds.screens.cards import CardsPage

        self.push_screen(CardsPage(self.desk))

    async def action_find(self) -> None:
        """Find a place, an action, a page or a word by its name."""
        from rounds.screens.find import find

        await find(self)

    @property
    def board(self) -> BoardPage:
        """The screen at the bottom of all."""
        return cast("BoardPage", self.screen_stack[0])

    def action_help(self) -> None:
        """List the keys that work on this screen."""
        keys = listed(self.screen.active_bindings.values(), everything=True)
        about = getattr(self.screen, "about", "")
        texts = [about, ""] if about else []
        texts += [f"{key:<28} {says}" for key, says in keys]
        self.push_screen(Leaf("HELP", "the keys of the screen you came from", texts))

    def action_theme(self) -> None:
        """Change to the next colours: sun, night, bare console."""
        names = [theme.name for theme in THEMES]
        self.theme = names[(names.index(self.theme) + 1) % len(names)]
        with suppress(OSError):  # forgotten, the next start begins with the first
            self.desk.remember("theme", self.theme)

    # -- the terminal ----------------------------------------------------------------------------

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        if isinstance(renderable, CompositorUpdate) and not self.is_headless:
            renderable = self.frame.changes(renderable, self.console)
        super()._display(screen, renderable)

    def on_resize(self) -> None:
        """Draw the whole screen anew: the terminal has another size, or was another's meanwhile."""
        self.action_redraw()

    def action_redraw(self) -> None:
        """Draw the whole screen anew, whatever stands on the terminal."""
        self.frame.forget()
        self.refresh()

    def _end(self, code: int) -> None:
        self.exit(return_code=code)


def run(site: Site, book: Book, by: str | None, here: str) -> int:
    """Open the app on this terminal and return the exit code of the program.

    Args:
        site: The site.
        book: Its open book; the caller closes it.
        by: Code of the person writing, None to be asked.
        here: This laptop's writer code.

    Returns:
        0, 1 after a fault, 143 or 129 after SIGTERM or SIGHUP.
    """
    fewest_bytes()
    gc.disable()  # a fold makes many objects that stay: to look among them for waste costs 20 ms
    app = RoundsApp(site, book, by, here, patience_s=_PATIENCE_S)
    gc.freeze()
    gc.enable()
    app.run(mouse=False)
    for line in app.last_words():
        os.write(2, (line + "\n").encode())
    return app.return_code or 0
