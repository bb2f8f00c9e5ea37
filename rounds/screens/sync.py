"""The exchange with other laptops: each address with its state, and what a person decides."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.laptops.retiring import CannotRetire, enrolled, retirable, retired
from rounds.day.laptops.site_files import NotAdopted, Offer, adopt
from rounds.day.laptops.unheard import named
from rounds.day.when import spoken
from rounds.records.book import NotSaved
from rounds.records.reaching import SyncFailed
from rounds.records.sync import enrol
from rounds.reports.syncing import newcomer_told, offer_told, safe_told, told
from rounds.screens.ask import Ask
from rounds.screens.choose import Choose
from rounds.screens.exchanging import FOLDER, Exchange, Line
from rounds.screens.ink import (
    BOLD,
    LINK,
    QUIET,
    STYLES,
    cell,
    flagged,
    ink,
    paragraph,
    paragraphs,
    row,
)
from rounds.screens.keys import bind, digits
from rounds.screens.leaf import Leaf
from rounds.screens.lines import Lines
from rounds.screens.page import Page

_SHOWN_S: Final = 0.5


class SyncPage(Page[None]):
    """Shows where this laptop syncs, exchanges in the background, tells what came of it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "exchange(1)", "exchange"),
        *digits("exchange", "exchange with that one", show=False),
        bind("a", "take", "take the laptop in"),
        bind("g", "adopt", "site files"),
        bind("e", "folder", "other folder"),
        bind("l", "retire", "a laptop is no longer in use", show=False),
        bind("down", "scroll(1)", "more", show=False),
        bind("up", "scroll(-1)", "up", show=False),
        bind("escape", "close", "board"),
    ]
    about = (
        "Enter exchanges with the first address, a digit with that one; the app does it by itself "
        "when an address of site.toml answers. For a stick, name its folder once. Both sides then "
        "hold the same entries. Nothing is overwritten, here or there."
    )

    def __init__(self, exchange: Exchange) -> None:
        super().__init__("SYNC")
        self.exchange = exchange
        self.body = Lines("body")

    def rows(self) -> ComposeResult:
        """Yield what is known of the exchange."""
        yield self.body

    def on_mount(self) -> None:
        """Look at what waits, and follow what runs; then the page paints."""
        self.exchange.gather()
        self.app.run_worker(self._look())
        self.set_interval(_SHOWN_S, self._follow)

    async def _look(self) -> None:
        await self.exchange.look()
        self.rounds.repaint()

    def _follow(self) -> None:
        if self.exchange.running and self.is_current:
            self.paint()

    def heading(self) -> Content:
        """Return which laptop this is."""
        return ink(f"this laptop: {self.desk.here or 'has not written yet'}", BOLD)

    def show(self) -> None:
        """Show each address, what a person decides, how safe the days are, who was heard."""
        width = self.width - 2
        rows = [Content("")]
        for digit, line in enumerate(self.exchange.lines[:9], 1):
            rows += self._address_rows(digit, line)
        if not self.exchange.lines:
            rows += paragraph(
                "E names the folder of a stick or a share; addresses for all laptops stand in "
                "site.toml as [[sync]]", width, indent=2,
            )  # fmt: skip
        rows += self._decide_rows(width)
        latest = self.exchange.latest
        if latest is not None and latest.failed:
            rows += [Content(""), *self._loud(latest.failed)]
        elif latest is not None and latest.report is not None:
            rows += [Content(""), *paragraphs(told(latest.report), width, indent=2)]
        rows += self._safe_rows(width)
        self.body.show([*rows, Content(""), *self._heard_rows()])

    def _address_rows(self, digit: int, line: Line) -> list[Content]:
        says, verdict = self.exchange.state(line)
        style = BOLD if line.running else STYLES[verdict]
        return [
            row(
                "  ", Content.styled(str(digit), LINK), "  ", cell(line.name, 12, BOLD),
                ink(says if verdict != "watch" else f" ! {says} ", style),
            ),
            row(" " * 17, ink(line.address, QUIET)),
        ]  # fmt: skip

    def _decide_rows(self, width: int) -> list[Content]:
        rows: list[Content] = []
        for number, new in enumerate(self.exchange.newcomers):
            asks = ": take it in? A" if number == 0 else ""
            rows += self._loud(newcomer_told(new, self.desk.site.people) + asks)
        for offer in (one for one in self.exchange.offers if one.writers):
            says = offer_told(offer, self.desk.site.people)
            if offer.newer is False:
                rows += paragraph(says, width, indent=2, style=QUIET)
            else:
                rows += self._loud(f"{says}{': G shows them' if offer is self.adoptable else ''}")
        return [Content(""), *rows] if rows else rows

    def _loud(self, text: str) -> list[Content]:
        return flagged(f"! {text}", STYLES["watch"], self.width)

    def _safe_rows(self, width: int) -> list[Content]:
        names = {line.address: line.name for line in self.exchange.lines}
        rows = []
        for one in self.exchange.safe:
            style = "" if len(one.places) > 1 else BOLD
            rows += paragraph(safe_told(one, names), width, indent=2, style=style)
        return [Content(""), *rows] if rows else rows

    def _heard_rows(self) -> list[Content]:
        desk = self.desk
        asks = ": L where one is no longer in use" if retirable(desk.farm, desk.here) else ""
        rows = [ink(f"  Laptops heard{asks}", QUIET)]
        for heard in sorted(desk.farm.heard.values(), key=lambda one: one.at, reverse=True):
            when = spoken(heard.at, desk.now(), desk.site.timezone)
            mine = "   this one" if heard.writer == desk.here else ""
            mine = "   retired" if heard.writer in desk.farm.retired else mine
            rows.append(
                row("  ", cell(heard.writer, 10), cell(named(desk.farm, heard.by), 20),
                    cell(when, 20), ink(mine, QUIET))
            )  # fmt: skip
        return rows

    # -- keys ------------------------------------------------------------------------------------

    def action_folder(self) -> None:
        """Ask for the folder of the stick or share."""
        says = ["The folder of the stick or the share, as this computer names it."]
        self.app.push_screen(
            Ask("SYNC", "Which folder?", says=says, text=self.desk.recall(FOLDER), limit=400),
            self._folder,
        )

    def _folder(self, path: str | None) -> None:
        if path:
            try:
                self.desk.remember(FOLDER, path)
            except OSError as error:
                self.tell(f"The folder's name could not be remembered: {error.strerror}", "watch")
            self.exchange.gather()
            self.paint()

    def action_exchange(self, digit: int) -> None:
        """Exchange with an address, in the background."""
        if not self.exchange.lines:
            self.action_folder()
        elif self.exchange.running:
            self.tell("An exchange is under way: the next one after it")
        elif digit <= len(self.exchange.lines):
            self.app.run_worker(self.rounds.exchange_with(self.exchange.lines[digit - 1]))

    async def action_take(self) -> None:
        """Take the first laptop in that waits."""
        desk, new = self.desk, self.exchange.newcomers[0]
        try:
            count = await asyncio.to_thread(enrol, desk.site.folder, desk.site.id, new.writer)
        except (SyncFailed, ValueError) as error:
            self.tell(str(error), "watch")
            return
        await self.rounds.listen()
        with suppress(NotSaved):  # it belongs all the same
            await desk.keep(enrolled(desk.farm, new.writer))
        await self.exchange.look()
        self.paint()
        self.tell(f"Laptop {new.writer} belongs to the site now: {count} files came in", "ok")

    def action_retire(self) -> None:
        """Ask which laptop is no longer in use, and keep the answer."""
        desk = self.desk
        writers = retirable(desk.farm, desk.here)
        options = []
        for heard in map(desk.farm.heard.__getitem__, writers):
            when = spoken(heard.at, desk.now(), desk.site.timezone)
            options.append(f"{heard.writer}, {named(desk.farm, heard.by)}, newest entry {when}")

        async def picked(index: int | None) -> None:
            if index is None:
                return
            try:
                await desk.keep(retired(desk.farm, writers[index], desk.here))
            except (NotSaved, CannotRetire) as error:
                self.tell(str(error), "watch")
                return
            await self.exchange.look()
            self.paint()
            self.tell(f"Laptop {writers[index]} is retired: nobody waits for it any more", "ok")

        says = ["Its entries stay. Nobody waits for it, and it is no place where entries are safe; "
                "should it write again, it counts again."]  # fmt: skip
        self.app.push_screen(
            Choose("SYNC", "Which laptop is no longer in use?", options, says=says), picked
        )

    @property
    def adoptable(self) -> Offer | None:
        """The site files that G shows: the first that have come."""
        return next((one for one in self.exchange.offers if one.here), None)

    def action_adopt(self) -> None:
        """Show which lines the other site files change; then ask whether to take them over."""
        offer = self.adoptable
        if offer is None:
            return
        who = f"of laptop {', '.join(offer.writers)}" if offer.writers else "kept here"
        age = {True: "Newer", False: "Older", None: "Other"}[offer.newer]
        title = f"{age} site files {offer.digest[:6]}, {who}"

        async def picked(index: int | None) -> None:
            if index != 0:
                return
            try:
                await asyncio.to_thread(adopt, self.desk.site, offer.digest)
            except NotAdopted as error:
                self.tell(str(error), "watch")
                return
            self.tell("Taken over, the old ones are kept. Ctrl+Q, then open rounds again", "ok")

        def read(on: bool | None) -> None:
            if on:
                says = [*offer.changes, "The files in use now are kept; open rounds anew after it."]
                options = ["Take them over", "Leave it as it is"]
                self.app.push_screen(
                    Choose("SYNC", f"{title}: take over?", options, says=says), picked
                )

        self.app.push_screen(Leaf("SYNC", title, _lines_told(offer), first=True), read)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what there is to decide, and to scroll where there is more than is seen."""
        if action == "take":
            return bool(self.exchange.newcomers)
        if action == "retire":
            return bool(retirable(self.desk.farm, self.desk.here))
        if action == "adopt":
            return self.adoptable is not None
        if action == "exchange":
            return int(str(parameters[0])) <= max(1, len(self.exchange.lines))
        return action != "scroll" or bool(self.body.span)

    def action_scroll(self, by: int) -> None:
        """Move the view."""
        self.body.scroll_rows(by)

    def action_close(self) -> None:
        """Go back to the board; an exchange under way goes on."""
        self.app.pop_screen()


def _lines_told(offer: Offer) -> list[str]:
    says = "What goes is marked -, what comes +, what stays =. Enter goes on to the question."
    return [says, "", *offer.changes, "", *offer.lines]
