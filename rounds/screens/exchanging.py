"""The exchange with other laptops while the app runs: one at a time, beside the keys.

It begins by itself when an address answers and its time has come. An address that does not answer
is no fault: the stick is out, the network is down. The app may be left in the middle of one.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from typing import Final

from msgspec import Struct, field

from rounds.address import AddressError, read_address
from rounds.day.laptops.site_files import Offer, addresses, differing, exchange, offers
from rounds.day.when import spoken
from rounds.records.admission import Newcomer, newcomers
from rounds.records.layout import listed, sealed_tree
from rounds.records.memory import recall
from rounds.records.reaching import NotThere, SyncFailed
from rounds.records.safety import Safe, safe
from rounds.records.sync import SyncReport
from rounds.screens.beside import begin
from rounds.screens.desk import Desk

FOLDER: Final = "sync-folder"
"""Under which this laptop keeps the folder named by hand."""
_AT_REST: Final = timedelta(minutes=10)
"""A walk under way is not cut into files: what was written longer ago may travel by itself."""
_STICK: Final = timedelta(minutes=1)
"""How often a folder that was not there is looked for."""


class Line(Struct):
    """An address and how it stands."""

    name: str
    address: str
    every: timedelta
    """Zero: only when asked."""
    last: datetime | None = None
    """When a sync last ended well, on this laptop."""
    tried: datetime | None = None
    running: SyncReport | None = None
    report: SyncReport | None = None
    failed: str = ""
    absent: bool = False
    waits: int = 0
    """Files here that were not there when it was last seen."""


class Exchange(Struct):
    """The addresses of the site, and what the syncs brought that a person decides."""

    desk: Desk
    lines: list[Line] = field(default_factory=list)
    newcomers: tuple[Newcomer, ...] = ()
    offers: tuple[Offer, ...] = ()
    differing: tuple[str, ...] = ()
    safe: list[Safe] = field(default_factory=list)
    latest: Line | None = None
    """The one that ran last."""

    def __post_init__(self) -> None:
        self.gather()

    @property
    def running(self) -> bool:
        """Whether a sync is under way."""
        return any(line.running is not None for line in self.lines)

    def gather(self) -> None:
        """Take the addresses of the site, and the folder named by hand, as they are now."""
        known = {line.address: line for line in self.lines}
        self.lines = []
        for name, address, every_min in addresses(self.desk.site, self.desk.recall(FOLDER)):
            line = known.get(address) or Line(name, address, timedelta(minutes=every_min))
            if line.last is None:
                done = recall(self.desk.site.folder, address).done
                line.last = datetime.fromtimestamp(done, UTC) if done else None
            self.lines.append(line)

    def due(self) -> Line | None:
        """Return the address whose time has come, if nothing runs."""
        now = self.desk.now()
        if self.running:
            return None
        for line in self.lines:
            often = _STICK if line.absent and _is_folder(line.address) else line.every
            if line.every and (line.tried is None or not timedelta(0) <= now - line.tried < often):
                return line
        return None

    async def run(self, line: Line, *, asked: bool) -> None:
        """Exchange with an address, and look at what came; nothing while another one runs.

        Args:
            line: The address.
            asked: By a person: what was just written travels too.
        """
        if self.running:
            return
        desk, report = self.desk, SyncReport()
        line.running, line.report, line.failed, self.latest = report, None, "", line
        line.tried = desk.now()
        try:
            if asked or self._at_rest():
                await asyncio.to_thread(desk.book.seal)
            work = begin(lambda: exchange(desk.site, line.address, report, asked=asked, by=desk.by))
            await asyncio.wrap_future(work)
            line.report, line.last, line.absent = report, desk.now(), False
        except NotThere as error:
            line.absent, line.failed = True, str(error) if asked else ""
        except SyncFailed as error:
            line.absent, line.failed = False, str(error)
        except OSError as error:
            line.failed = f"{line.address} could not be used: {error.strerror or error}"
        finally:
            line.running = None
        await self.look()

    async def look(self) -> None:
        """Look at what waits: files, laptops to take in, site files, and how safe the days are."""
        with suppress(OSError):
            await asyncio.wrap_future(begin(self._look))

    def says(self) -> list[str]:
        """Return what a person should decide, a line each, for the board."""
        if len(self.newcomers) > 1:
            lines = [f"{len(self.newcomers)} new laptops wait to be taken in: Y"]
        else:
            lines = [f"New laptop {new.writer} waits to be taken in: Y" for new in self.newcomers]
        if len(self.differing) > 1:
            lines.append(f"{len(self.differing)} laptops work with other site files than this: Y")
        else:
            lines += [f"{text.rstrip('.')}: Y" for text in self.differing]
        lines += [f"Sync {one.name}: {one.failed}" for one in self.lines if one.failed]
        return lines

    def state(self, line: Line) -> tuple[str, str]:
        """Return how an address stands: in words, and the verdict that colours them."""
        desk = self.desk
        if line.running is not None:
            return _progress(line.running), "ok"
        last = f"last {spoken(line.last, desk.now(), desk.site.timezone)}" if line.last else "never"
        waits = (
            f", {line.waits} file{'s wait' if line.waits > 1 else ' waits'}" if line.waits else ""
        )
        if line.failed:
            return f"failed, {last}{waits}", "watch"
        if line.absent:
            return f"not there, {last}{waits}", "unknown"
        return f"{'OK ' if line.report else ''}{last}{waits}", "ok" if line.report else "unknown"

    def _at_rest(self) -> bool:
        heard = self.desk.farm.heard.get(self.desk.here)
        return heard is None or self.desk.now() - heard.at >= _AT_REST

    def _look(self) -> None:
        desk, folder = self.desk, self.desk.site.folder
        here = set(listed(sealed_tree(folder / "records")).files)
        for line in self.lines:
            line.waits = len(here.difference(recall(folder, line.address).files))
        self.newcomers = newcomers(folder / "records")
        retired = desk.farm.retired
        self.offers = offers(desk.site, desk.now(), desk.here, retired)
        self.differing = differing(desk.site, desk.now(), desk.here, retired)
        self.safe = safe(folder, desk.site.id, days=5, retired=retired)


def _progress(report: SyncReport) -> str:
    if report.to_send + report.to_fetch == 0:
        return "looking"
    return f"fetched {report.fetched} of {report.to_fetch}, sent {report.sent} of {report.to_send}"


def _is_folder(address: str) -> bool:
    with suppress(AddressError):
        return not read_address(address).scheme
    return False
