"""A small site, its book on disk, and a hand that presses keys without Pilot's waiting."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace
from textual import events
from textual.geometry import Size
from textual.keys import _character_to_key

from rounds.records.book import Book
from rounds.records.entry import Entry, Fed, Reading, Stocked, stamp
from rounds.screens.app import RoundsApp
from rounds.screens.lines import Lines
from rounds.site.model import (
    Checklist,
    Limits,
    Loop,
    Person,
    Place,
    Product,
    RationTable,
    Site,
    Species,
    Step,
)

NOW = datetime(2026, 11, 24, 7, 10, tzinfo=UTC)

STEPS = (
    Step("look", "Do all swim as usual?", "yes-no", 1, watch_if=("no",), do="Look again closely."),
    Step("oxygen", "Dissolved oxygen", "number", 1, measure="oxygen", unit="mg/L",
         how="Probe at mid-depth.", why="Fish die in minutes without it."),
    Step("temperature", "Water temperature", "number", 1, measure="temperature", unit="degC"),
    Step("ph", "pH", "number", 2, measure="ph", unit="pH"),
    Step("inflow", "How is the inflow?", "choice", 2, choices=("full", "weak", "none"),
         watch_if=("weak",), act_if=("none",), do="Open the valve."),
    Step("dead", "Dead fish taken out", "count", 2, visits=("tank",)),
    Step("remark", "Anything else?", "text", 2, required=False),
)  # fmt: skip

LIMITS = (
    Limits("oxygen", 5.0, None, 4.0, None, do_watch="More air.", do_act="Aerate now."),
    Limits("temperature", 22, 28, 18, 31, do_watch="Watch the heater.", do_act="Call."),
    Limits("ph", 7.2, 8.4, 6.8, 8.8, do_watch="Read again.", do_act="Call."),
    Limits("ammonia", None, 0.05, None, 0.1, do_watch="Test TAN again.", do_act="Call."),
    Limits("nitrite", None, 1.0, None, 10.0, do_watch="Test it again.", do_act="Call."),
)

TABLE = RationTable((10.0, 1000.0), (20.0, 30.0), ((4.0, 4.0), (2.0, 2.0)), "test table")


def small_site(folder: Path) -> Site:
    drum = Species(
        "drum", "Drum", "Sciaenops", 15, 24, 28, 33, 1.2, 1500, TABLE, ((5000, 2),), {"any": ()}
    )
    tank = Place("A1", "First tank", "tank", 1, "A", "grow-out", "drum", 5.0, 4.0, None, "PELLET")
    return Site(
        folder=folder, id="m4k8q2vz", name="Small House", timezone=ZoneInfo("Europe/Lisbon"),
        latitude=38.0, longitude=-9.0, elevation_m=6.0, ph_buffers="nbs",
        display_units="metric", emergency=("Supervisor: 101",), digest="0" * 16,
        notice="Invented farm",
        loops={"A": Loop("A", "Loop A", 1.8, 120, 32, alkali="BICARB", salt="SALT")},
        places={
            "A1": tank,
            "A2": replace(tank, code="A2", name="Second tank"),
            "Q1": replace(tank, code="Q1", name="Quarantine", zone=3, loop=None),
        },
        people={
            "ana": Person("ana", "Ana", "supervisor"),
            "rui": Person("rui", "Rui", "technician"),
        },
        products={
            "PELLET": Product("PELLET", "3 mm grower", "feed", pellet_mm=3.0),
            "BICARB": Product("BICARB", "Baking soda", "alkali", "NaHCO3", 0.99),
            "SALT": Product("SALT", "Sea salt", "salt", dissolved_fraction=0.9),
        },
        species={"drum": drum},
        limits=LIMITS,
        checklists={
            "first-light": Checklist(
                "first-light", "First light", ("tank",), "daily", "06:30-08:30", STEPS
            )
        },
        skip_reasons=("no time", "instrument broken"),
        causes=("unknown",),
    )  # fmt: skip


def of_kind(entries: list[Entry], kind: type[Entry]) -> list[Entry]:
    return [entry for entry in entries if type(entry) is kind]


class Hand:
    """Presses keys and reads the screen; waits only until every message is handled."""

    def __init__(self, app: RoundsApp) -> None:
        self.app = app
        self.pressed = 0

    async def press(self, *keys: str) -> None:
        for key in keys:
            self.pressed += 1
            assert self.pressed < 1000, "a test presses keys without end"
            name = _character_to_key(key) if len(key) == 1 else key
            self.app.post_message(events.Key(name, key if len(key) == 1 else None))
            await self.settle()

    async def type(self, text: str) -> None:
        await self.press(*text)

    async def resize(self, width: int, height: int) -> None:
        size = Size(width, height)
        self.app._driver._size = size  # as Pilot does it, without its waiting
        self.app.post_message(events.Resize(size, size))
        head = self.app.screen.query_one("#head")
        while head.size.width != width and not self.ended:
            await asyncio.sleep(0.001)
        await self.settle()

    async def painted(self) -> None:
        """Wait until what a start leaves for after its first board is done too."""
        for _ in range(3):
            await self.settle()
            self.app.screen._on_timer_update()  # the next frame, now
        await self.settle()

    async def settle(self) -> None:
        """Wait for every key and message, and for what is looked up beside the keys."""
        while (self.app._keys or self.app._key_out) and not self.ended:
            await asyncio.sleep(0)
        for _ in range(3):
            for pump in (self.app, self.app.screen):
                done = asyncio.Event()
                if not pump.call_later(done.set):
                    return
                while not done.is_set() and not self.ended:
                    await asyncio.sleep(0)
            while any(w.group == "trend" and not w.is_finished for w in self.app.workers):
                await asyncio.sleep(0.001)
            if self.app.screen._layout_required:  # else in the next frame
                self.app.screen._on_timer_update()

    async def until(self, text: str) -> None:
        """Wait for a text that comes after the disk has answered."""
        async with asyncio.timeout(20):
            while text not in self.text:
                await asyncio.sleep(0.001)
        await self.settle()

    @property
    def ended(self) -> bool:
        return self.app._exit or self.app.crashed is not None or not self.app.is_running

    @property
    def label(self) -> str:
        return str(getattr(self.app.screen, "label", ""))

    def lines(self, name: str) -> str:
        return self.app.screen.query_one(f"#{name}", Lines).text

    @property
    def text(self) -> str:
        """All rows of the visible screen."""
        return "\n".join(lines.text for lines in self.app.screen.query(Lines))

    def kinds(self) -> list[str]:
        """The kinds of every entry on the disk, in the order written."""
        return [type(e).__name__ for e in sorted(self.entries(), key=lambda e: (e.t, e.mono))]

    def entries(self) -> list[Entry]:
        site = self.app.desk.site
        book = Book.open(site.folder, site.id, site.digest, tz=site.timezone, read_only=True)
        return list(book.entries())


class Clock:
    """A clock the test sets."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Site:
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "state"))
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("COLORTERM", raising=False)
    folder = tmp_path / "site"
    folder.mkdir()
    return small_site(folder)


def open_book(site: Site, clock: Callable[[], datetime], kind: type[Book] = Book) -> Book:
    return kind.open(site.folder, site.id, site.digest, tz=site.timezone, clock=clock)


@pytest.fixture
def stocked(site: Site, clock: Clock) -> Site:
    """The site with fish in every tank and yesterday's readings."""
    clock.now = NOW - timedelta(hours=23)
    with open_book(site, clock) as book:
        for code in site.places:
            book.append(
                Stocked(lot="L1", place=code, count=400, mean_weight="100", unit="g", by="ana")
            )
            for measure, value, unit in (
                ("oxygen", "6.8", "mg/L"),
                ("temperature", "25.0", "degC"),
                ("salinity", "32", "g/kg"),
                ("ph", "7.9", "pH"),
                ("alkalinity", "90", "mg/L CaCO3"),
                ("tan", "0.3", "mg/L"),
                ("nitrite", "0.2", "mg/L"),
            ):
                book.append(Reading(measure=measure, value=value, unit=unit, place=code, by="ana"))
    clock.now = NOW
    return site


@pytest.fixture
def falling(stocked: Site, clock: Clock) -> Site:
    """Oxygen of A1 falls through its limits in eight days, read morning and evening; A2 is well."""
    with open_book(stocked, clock) as book:
        for hours in range(-24 * 8, 0, 12):
            at = stamp(NOW + timedelta(hours=hours))
            value = f"{6.6 - (hours + 192) / 192 * 2.2:.2f}"
            for place, oxygen in (("A1", value), ("A2", "6.6"))[: 1 + (hours % 48 == 0)]:
                book.append(
                    Reading(
                        measure="oxygen", value=oxygen, unit="mg/L", place=place, by="rui",
                        read_at=at,
                    )
                )  # fmt: skip
            book.append(
                Fed(place="A1", product="PELLET", amount="120", unit="g", by="rui", read_at=at)
            )
    return stocked


@asynccontextmanager
async def opened(
    site: Site,
    clock: Clock,
    *,
    by: str | None = "ana",
    size: tuple[int, int] = (80, 24),
    book: Book | None = None,
    told: bool = True,
    steady: Callable[[], float] | None = None,
    patience_s: float | None = None,
) -> AsyncIterator[Hand]:
    """Open the app on a site, its first-start page already read, and hand over the keys."""
    seconds = itertools.count(0.0, 1.0)
    app = RoundsApp(
        site, book or open_book(site, clock), by, "here22", now=clock,
        steady=steady or (lambda: next(seconds)), patience_s=patience_s,
    )  # fmt: skip
    if told:
        app.desk.first_start()
    async with app.run_test(size=size):
        hand = Hand(app)
        await hand.painted()
        yield hand
    app.desk.book.close()
