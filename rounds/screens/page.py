"""What every screen has: a heading, room for its own rows, one line that tells, the key line."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.geometry import Size
from textual.screen import Screen, ScreenResultType

from rounds.records.book import NotSaved
from rounds.records.entry import Entry
from rounds.screens.field import Field
from rounds.screens.ink import BOLD, LINK, QUIET, STYLES, cut, ink, row, spread
from rounds.screens.keys import KEYS, listed
from rounds.screens.lines import Lines
from rounds.screens.standing import reread_rows

if TYPE_CHECKING:
    from rounds.screens.app import RoundsApp
    from rounds.screens.desk import Desk

HEAD = "bold $head-text on $head"
_TOLD = 3
_LEAVES = ("q", "Q")
_ALWAYS = {KEYS[name].shown for name in ("escape", "emergency", "help")}


class Page(Screen[ScreenResultType], inherit_bindings=False):
    """A screen of rows, painted from the desk whenever something changed."""

    BINDINGS: ClassVar[list[BindingType]] = []

    def __init__(self, label: str) -> None:
        super().__init__()
        self.label: str = label
        self.head = Lines("head")
        self.standing = Lines("standing")
        """What to read again, and by when."""
        self.telling = Lines("telling")
        self.keys = Lines("keys")
        self.field: Field | None = None
        """The line being typed, if this screen has one now: it gets each key first."""
        self._told = Content("")
        self._hint = Content("")
        self._judged: tuple[int, ...] = ()
        self._laid_out = Size()

    # -- for each screen to say ------------------------------------------------------------------

    def rows(self) -> ComposeResult:
        """Yield the screen's own rows, between heading and telling line."""
        raise NotImplementedError

    def heading(self) -> Content:
        """Return what stands in the heading behind the screen's name."""
        return Content("")

    def gather(self) -> None:
        """Work out what is shown, when the book or the minute moved on, or the width is another."""

    def show(self) -> None:
        """Put what was gathered into the screen's rows."""
        raise NotImplementedError

    def whose(self) -> str:
        """Return who is writing, for the heading's right edge."""
        return self.desk.who()

    def reach(self, place: str) -> None:
        """Go to a place that was found; where a screen has no places, open how it stands."""
        from rounds.screens.why import why_place

        self.app.push_screen(why_place(self.desk, place))

    @property
    def place(self) -> str:
        """The place at hand, which a sheet or a form opened from here begins at; empty for none."""
        return ""

    @property
    def unheld(self) -> tuple[str, str] | None:
        """The first key, where it does nothing now: its place stays free, that no other moves."""
        return None

    @property
    def slipped(self) -> bool:
        """Whether what is being typed looks like a slip."""
        return False

    # -- what they share -------------------------------------------------------------------------

    @property
    def rounds(self) -> RoundsApp:
        """The app, typed."""
        return cast("RoundsApp", self.app)

    @property
    def words(self) -> bool:
        """Whether a line of words is being typed: every letter belongs to it."""
        return self.field is not None and self.field.allowed is None

    @property
    def desk(self) -> Desk:
        """The state all screens share."""
        return self.rounds.desk

    @property
    def width(self) -> int:
        """Cells in a row."""
        return self.app.size.width

    def compose(self) -> ComposeResult:
        """Lay heading, rows, telling line, key line, and what a small window sees instead."""
        yield self.head
        yield from self.rows()
        yield self.standing
        yield self.telling
        yield self.keys
        yield Lines("small")

    def on_mount(self) -> None:
        """Say what a window too small shows; the first painting comes as the screen opens."""
        self.query_one("#small", Lines).show(
            [ink("window too small, 60x16 needed; Ctrl+Q leaves", BOLD)]
        )

    def on_screen_resume(self) -> None:
        """Paint as the screen opens, and what changed while another one lay on top."""
        self.paint()

    def on_screen_suspend(self) -> None:
        """Forget what was told: another screen opens, and it belongs to the one left."""
        self.tell()

    def on_resize(self, event: events.Resize) -> None:
        """Lay the rows out for the new size, and again once every part knows its own."""
        if event.size != self._laid_out:
            self._laid_out = event.size
            self.paint()
            self.call_after_refresh(self.paint)

    def paint(self) -> None:
        """Show the present state; only rows that differ are sent to the terminal."""
        desk = self.desk
        now = (desk.ready, desk.farm.size, int(desk.now().timestamp() // 60), self.width)
        if now != self._judged:
            self._judged = now
            self.gather()
        self.show()
        name = Content.styled(f" {self.label} ", HEAD)
        right = ink(f"{desk.saved}   {self.whose()} ".lstrip(" "), QUIET)
        self.head.show([spread(row(name, " ", self.heading()), row(right, " "), self.width)])
        self._show_standing()
        self._show_told()
        self.keys.show([self._key_line()])

    def tell(self, says: str = "", word: str = "") -> None:
        """Say something above the key line until the next is said; `word` gives it a fill."""
        self._told = ink(f" {says} " if word else says, STYLES.get(word, BOLD))
        self._show_told()

    def hint(self, says: str) -> None:
        """Say something for as long as nothing else is told."""
        self._hint = ink(says, QUIET)
        self._show_told()

    def _show_standing(self) -> None:
        rows, guide = reread_rows(self.desk, self.width), self.desk.guide
        if guide is not None and self.app.screen is self:
            guide.notice(self)
            rows = [*guide.rows(self.width), *rows]
        self.standing.set_rows(rows)

    def _show_told(self) -> None:
        """Show what is told, on a second and third row where one does not hold it."""
        told = self._told if self._told.plain.strip() else self._hint
        rows = told.wrap(self.width - 2) if told.plain.strip() else []
        if len(rows) > _TOLD:
            rest = " ".join(part.plain for part in rows[_TOLD - 1 :])
            rows = [*rows[: _TOLD - 1], ink(cut(rest, self.width - 2), BOLD)]
        self.telling.set_rows([row(" ", part) for part in rows] or [Content("")])

    async def keep(self, draft: Entry) -> Entry | None:
        """Append an entry; when it is not on disk, say so and return None."""
        try:
            return await self.desk.keep(draft)
        except NotSaved as error:
            says = str(error).removeprefix("Not saved: ").rstrip(".")
            self.tell(f"NOT SAVED, still here: {says}", "act")
            return None

    async def write(self, draft: Callable[[], Entry], says: str) -> bool:
        """Keep what is drafted and say so; where it cannot be drafted, say why.

        Args:
            draft: Makes the entry of the farm as it stands now; a ValueError says why it cannot.
            says: What is told when it is kept.

        Returns:
            Whether it is in the book.
        """
        try:
            entry = draft()
        except ValueError as error:
            self.tell(str(error), "watch")
            return False
        if await self.keep(entry) is None:
            return False
        self.paint()
        self.tell(says)
        return True

    def action_close(self) -> None:
        """Go back; nothing is answered."""
        self.dismiss(None)

    def typed(self) -> None:
        """React to a change of the line being typed."""
        self.paint()

    def on_key(self, event: events.Key) -> None:
        """Give the line being typed each key first; what it leaves is for the key line.

        Enter, and a digit that picks, answer nothing when they bounce. Backspace held down empties
        the line and leads nowhere else. In a window too small to read no key does anything.
        """
        answers, bounce = _answers(event.key), self.desk.bounce
        held = event.key == "backspace" and bounce.held()
        begun = self.field is not None and bool(self.field.text) and not self.field.fresh
        if self.rounds.too_small:
            taken = event.key not in _LEAVES or self.field is not None
        elif (held and not begun) or (answers and bounce.bounced(event.key)):
            taken = True
        else:
            taken = self.field is not None and self.field.press(event.key, event.character)
            if taken:
                bounce.typed()
                self._typed()
            elif answers:
                bounce.answers(event.key)
        if taken:
            event.stop()
            event.prevent_default()

    def on_paste(self, event: events.Paste) -> None:
        """Take pasted text into the line being typed, or say why not."""
        event.stop()
        if self.field is None or self.rounds.too_small:
            return
        if self.field.paste(event.text):
            self._typed()
        else:
            what = "empty" if self.field.allowed is None else "not a number"
            self.tell(f"What was pasted is {what}: nothing was taken", "watch")

    def _typed(self) -> None:
        self.typed()
        if self.field is not None and self.field.full:
            self.tell(f"No more than {self.field.limit} signs fit here", "watch")

    def _key_line(self) -> Content:
        """Return the keys that work now; the way back, emergency and help never give way."""
        unheld, keys = self.unheld, listed(self.active_bindings.values())
        keys = [unheld, *keys] if unheld else keys
        wide = 2 if sum(map(_key_width, keys)) + len(keys) <= self.width else 1
        room = self.width - sum(_key_width(key) for key in keys if key[0] in _ALWAYS)
        kept: list[tuple[str, str]] = []
        for key in keys:
            room -= 0 if key[0] in _ALWAYS else _key_width(key)
            if key[0] in _ALWAYS or room >= 0:
                kept.append(key)
        told = [row(Content.styled(shown, LINK), f" {says}") for shown, says in kept]
        if unheld:
            told[0] = Content(" " * told[0].cell_length)
        return row(" ", Content(" " * wide).join(told))


def _answers(key: str) -> bool:
    return key == "enter" or (len(key) == 1 and key.isdigit())


def _key_width(key: tuple[str, str]) -> int:
    return len(key[0]) + len(key[1]) + 2
