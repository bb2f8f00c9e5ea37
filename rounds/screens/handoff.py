"""The hand-off: read over what the last shift left, then sign one's own and give it to a name."""

from __future__ import annotations

import asyncio
from typing import ClassVar

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.laptops.site_files import differing
from rounds.day.laptops.unheard import named
from rounds.day.recording.matters import settle, title
from rounds.day.telling.handoff import Document, handoff, matters, takeover
from rounds.day.when import spoken
from rounds.reports.handoff import opened, render, write
from rounds.screens.ask import Ask
from rounds.screens.choose import Choose
from rounds.screens.ink import BOLD, ink, paragraph
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.matter import open_matter
from rounds.screens.page import Page

_PAGE = 15
_END = 10_000
_WHOEVER = "whoever comes next"


class HandoffPage(Page[None]):
    """First an open hand-off of somebody else, to take over; then one's own, to sign."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "read", "read on"),
        bind("g", "take_over", "take over"),
        bind("g", "sign", "sign"),
        bind("note", "words", "own words"),
        bind("n", "matter", "open matter"),
        bind("e", "settle", "settle"),
        bind("down", "scroll(1)", "down", show=False),
        bind("up", "scroll(-1)", "up", show=False),
        bind("page-down", f"scroll({_PAGE})", "down a page", show=False),
        bind("page-up", f"scroll(-{_PAGE})", "up a page", show=False),
        bind("end", f"scroll({_END})", "to its end", show=False),
        bind("escape", "close", "board"),
    ]
    about = (
        "Enter reads on, End goes to the end. There G takes over what another shift handed on; "
        "after that G signs the hand-off of this shift, at its end too: it is kept in the book and "
        "written as a file."
    )

    def __init__(self) -> None:
        super().__init__("HAND-OFF")
        self.body = Lines("body")
        self._found: Document

    def rows(self) -> ComposeResult:
        """Yield the document."""
        yield self.body

    def gather(self) -> None:
        """Gather what is to be handed on, as the farm stands now."""
        desk, now = self.desk, self.desk.now()
        differ = differing(desk.site, now, desk.here, desk.farm.retired)
        self._found = matters(
            desk.site, desk.farm, now, desk.by, desk.here, desk.unread, differing=differ
        )

    @property
    def document(self) -> Document:
        """What this shift hands on, with its own words."""
        return replace(self._found, said=self.desk.words)

    def heading(self) -> Content:
        """Return whose hand-off it is, and which rows are seen."""
        waiting = self.desk.waiting
        if waiting is None:
            return ink(f"of this shift, by {self.desk.who()}", BOLD)
        when = spoken(waiting.at, self.desk.now(), self.desk.site.timezone)
        by = named(self.desk.farm, waiting.by)
        return ink(f"from {by}, {when}: to take over", BOLD)

    def show(self) -> None:
        """Show the document, folded to the width."""
        waiting = self.desk.waiting
        if waiting is None:
            text = render(self.document)
        else:
            now_open = [f"  {line}" for line in opened(self.document.matters)]
            text = "\n".join([waiting.text, "", "Open matters as they stand now", *now_open])
        rows: list[Content] = []
        for line in text.split("\n"):
            indent = len(line) - len(line.lstrip(" "))
            whole = len(line) <= self.width
            rows += [ink(line)] if whole else paragraph(line, self.width, indent)
        self.body.show(rows)
        self.hint(self.body.span)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to take over what waits, or to sign when nothing does."""
        if action == "words":
            return self.desk.waiting is None
        if action == "sign":
            return self.desk.waiting is None
        if action == "take_over":
            return self.desk.waiting is not None
        if action == "scroll":
            return bool(self.body.span)
        if action == "settle":
            return bool(self.desk.farm.matters)
        return True

    # -- keys ------------------------------------------------------------------------------------

    def action_scroll(self, by: int) -> None:
        """Move the view."""
        self.body.scroll_rows(by)
        self.tell()
        self.paint()

    def action_read(self) -> None:
        """Read on; at the end say which key goes further."""
        if not self.body.at_end:
            self.action_scroll(_PAGE)
        if self.body.at_end:
            self.tell("The end. " + ("G takes over" if self.desk.waiting else "G signs it"))

    def _more_to_read(self) -> bool:
        """Tell whether the end was not read yet, and how to come there."""
        if not self.body.at_end:
            self.tell(f"{self.body.span}: read to its end first, Enter reads on", "watch")
        return not self.body.at_end

    async def action_take_over(self) -> None:
        """Take over what was read to its end, with the matters that were seen."""
        waiting = self.desk.waiting
        if waiting is None or self._more_to_read():
            return
        seen = [matter.id for matter in self.document.matters]
        by, me = named(self.desk.farm, waiting.by), self.desk
        if await self.write(
            lambda: takeover(waiting, me.by, seen), f"Taken over from {by} by {me.who()}"
        ):
            self.body.to_top()

    def action_sign(self) -> None:
        """At the end ask who takes over, then keep the hand-off and write its file."""
        if self._more_to_read():
            return
        others = [p for p in self.desk.site.people.values() if p.code != self.desk.by]

        async def picked(index: int | None) -> None:
            if index is not None:
                to = others[index] if index < len(others) else None
                await self._sign(to.code if to else "", to.name if to else "")

        names = [*(f"{person.name}, {person.role}" for person in others), _WHOEVER]
        self.app.push_screen(Choose("HAND-OFF", "Who takes over?", names), picked)

    async def _sign(self, code: str, name: str) -> None:
        document = replace(self.document, to=name)
        if await self.keep(handoff(document, render(document), code)) is None:
            return
        self.desk.words = ""
        try:
            path = await asyncio.to_thread(
                write, self.desk.site.folder, document, render(document, "markdown")
            )
        except OSError as error:
            self.paint()
            self.tell(f"Signed and kept; its file could not be written: {error.strerror}", "watch")
            return
        self.paint()
        self.tell(f"Signed, to {name or _WHOEVER}. File: reports/{path.name}")

    def action_words(self) -> None:
        """Ask for what the shift says in its own words."""

        def written(text: str | None) -> None:
            if text is not None:
                self.desk.words = f"{self.desk.words}\n{text}".strip()
                self.paint()
                self.tell("Your words stand at the end; G signs there")

        says = ["What the next shift must know and no reading says.", self.desk.words]
        self.app.push_screen(Ask("HAND-OFF", "In your own words", says=says), written)

    def action_matter(self) -> None:
        """Ask for something that stays open until somebody settles it."""
        open_matter(self)

    def action_settle(self) -> None:
        """Ask which open matter is settled."""
        listed = list(self.desk.farm.matters)

        async def picked(index: int | None) -> None:
            if index is not None:
                one = listed[index]
                await self.write(lambda: settle(one), f"Settled: {one.text}")

        texts = [title(matter) for matter in listed]
        self.app.push_screen(Choose("HAND-OFF", "Which one is settled?", texts), picked)
