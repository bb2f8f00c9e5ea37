"""The exchange with other laptops over a stick or a share: one folder, one key, what came of it."""

from __future__ import annotations

import asyncio
from functools import cached_property
from pathlib import Path
from typing import ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.unheard import named
from rounds.day.when import spoken
from rounds.records.reaching import SyncFailed
from rounds.records.sync import SyncReport, sync
from rounds.screens.ask import Ask
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, ink, paragraph, paragraphs, row
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.page import Page

_FOLDER: Final = "sync-folder"


class SyncPage(Page[None]):
    """Names the folder, exchanges in the background, tells who was heard and what was refused."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "exchange", "exchange"),
        bind("change", "folder", "other folder"),
        bind("down", "scroll(1)", "more", show=False),
        bind("up", "scroll(-1)", "up", show=False),
        bind("escape", "close", "board"),
    ]
    about = (
        "Put the stick in or connect the share, name its folder once, press Enter. Both sides then "
        "hold the same entries. Nothing is overwritten, here or there."
    )

    def __init__(self) -> None:
        super().__init__("SYNC")
        self.body = Lines("body")
        self.running = False
        self.report: SyncReport | None = None
        self.failed = ""

    def rows(self) -> ComposeResult:
        """Yield what is known of the exchange."""
        yield self.body

    def heading(self) -> Content:
        """Return which laptop this is."""
        return ink(f"this laptop: {self.desk.here or 'has not written yet'}", BOLD)

    def show(self) -> None:
        """Show the folder, who was heard when, and what the last exchange did."""
        desk, width = self.desk, self.width - 2
        rows = [
            Content(""),
            row("  ", cell("Folder", 12, QUIET), ink(self.address or "none", BOLD)),
        ]
        rows.append(Content(""))
        if self.running:
            rows += [ink("  Exchanging. The board and the walk can be used meanwhile", BOLD)]
        elif self.failed:
            rows += [
                row("  ", Content.styled(f" {line.plain} ", STYLES["watch"]))
                for line in ink(self.failed).wrap(width - 4)
            ]
        elif self.report is not None:
            rows += paragraphs(told(self.report), width, indent=2)
        else:
            rows += paragraph(
                "Enter exchanges with this folder" if self.address else "E names the folder",
                width, indent=2,
            )  # fmt: skip
        rows += [Content(""), ink("  Laptops heard", QUIET)]
        for heard in sorted(desk.farm.heard.values(), key=lambda one: one.at, reverse=True):
            when = spoken(heard.at, desk.now(), desk.site.timezone)
            mine = "   this one" if heard.writer == desk.here else ""
            rows.append(
                row("  ", cell(heard.writer, 10), cell(named(desk.farm, heard.by), 20),
                    cell(when, 20), ink(mine, QUIET))
            )  # fmt: skip
        self.body.show(rows)

    @cached_property
    def address(self) -> str:
        """The folder used last on this laptop; empty before the first."""
        return self.desk.recall(_FOLDER)

    def action_folder(self) -> None:
        """Ask for the folder of the stick or share."""
        says = ["The folder of the stick or the share, as this computer names it."]
        self.app.push_screen(
            Ask("SYNC", "Which folder?", says=says, text=self.address, limit=400), self._folder
        )

    def _folder(self, path: str | None) -> None:
        if path:
            self.report, self.failed, self.address = None, "", path
            try:
                self.desk.remember(_FOLDER, path)
            except OSError as error:
                self.failed = f"The folder's name could not be remembered: {error.strerror}"
            self.paint()

    def action_exchange(self) -> None:
        """Exchange with the folder, in the background."""
        if not self.address:
            self.action_folder()
        elif not self.running:
            self.running = True
            self.paint()
            self.app.run_worker(self._exchange(Path(self.address).expanduser()))

    async def _exchange(self, address: Path) -> None:
        self.report, self.failed = None, ""
        try:
            await asyncio.to_thread(self.desk.book.seal)
            site = self.desk.site
            self.report = await asyncio.to_thread(sync, site.folder, site.id, address)
        except SyncFailed as error:
            self.failed = str(error)
        except OSError as error:
            self.failed = f"{address} could not be used: {error.strerror or error}"
        self.running = False
        await self.rounds.listen()
        self.rounds.repaint()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to scroll only where there is more than the window holds."""
        return action != "scroll" or bool(self.body.span)

    def action_scroll(self, by: int) -> None:
        """Move the view."""
        self.body.scroll_rows(by)

    def action_close(self) -> None:
        """Go back to the board; an exchange under way goes on."""
        self.app.pop_screen()


def told(report: SyncReport) -> list[str]:
    """Return what an exchange did, in sentences."""
    refused = bool(report.set_aside or report.damaged or report.refused_before)
    says = [f"Sent {report.sent}, fetched {report.fetched} files{'' if refused else '. OK'}"]
    if report.waiting:
        says.append(f"{report.waiting} entries of programs still open travel next time")
    says += [f"! {one.name} was not taken: {one.reason}" for one in report.set_aside]
    says += [f"! {one.name} was not sent: {one.reason}" for one in report.damaged]
    if report.refused_before:
        says.append(f"! {report.refused_before} files refused before lie there unchanged")
    if report.strange:
        says.append(f"{report.strange} other files lie there and were left alone")
    if report.safe_to_remove:
        says.append("The stick can be taken out")
    return says
