"""The exchange runs beside the keys: silent where nobody answers, told where a person decides."""

from __future__ import annotations

import asyncio
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from msgspec.structs import replace
from screens_hand import NOW, Clock, of_kind, opened, small_site

from rounds.address import read_address
from rounds.records.book import Book
from rounds.records.durable import write_new
from rounds.records.entry import Note
from rounds.records.sync import sync
from rounds.records.versions import keep
from rounds.screens.exchanging import Exchange
from rounds.site.model import Site, SyncAddress
from rounds.site.versions import pack


def meeting(site: Site, *addresses: Path | str) -> Site:
    named = (SyncAddress(f"at{n}", read_address(str(a))) for n, a in enumerate(addresses, 1))
    return replace(site, sync=tuple(named))


@pytest.fixture
def stick(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("rounds.records.sync.same_disk", lambda *_: False)  # as on a real one
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


def another_laptop(
    site: Site, stick: Path, monkeypatch: pytest.MonkeyPatch, root: Path, by: str = "rui"
) -> None:
    """Another laptop writes a note on this site and leaves it on the stick."""
    with monkeypatch.context() as patch:
        patch.setenv("ROUNDS_STATE", str(root / "its-state"))
        folder = root / "its-site"
        folder.mkdir()
        with Book.open(folder, site.id, "", tz=site.timezone, clock=lambda: NOW) as book:
            book.append(Note(text="from afar", by=by))
        sync(folder, site.id, stick)


class _Desk(SimpleNamespace):
    """As much of a desk as an exchange needs."""

    def __init__(self, site: Site, clock: Clock) -> None:
        self.sealed = 0
        heard = SimpleNamespace(at=clock.now)
        super().__init__(
            site=site, now=clock, by="ana", here="here22", book=SimpleNamespace(seal=self._seal),
            farm=SimpleNamespace(heard={"here22": heard}, retired=()), recall=lambda name: "",
        )  # fmt: skip

    def _seal(self) -> None:
        self.sealed += 1


def exchange_of(tmp_path: Path, clock: Clock, *addresses: Path | str) -> tuple[Exchange, Any]:
    folder = tmp_path / "farm"
    folder.mkdir()
    desk = _Desk(meeting(small_site(folder), *addresses), clock)
    return Exchange(desk), desk


async def test_each_address_has_its_time(tmp_path: Path, stick: Path) -> None:
    clock = Clock()
    exchange, _ = exchange_of(tmp_path, clock, stick)
    (line,) = exchange.lines
    assert exchange.due() is line
    await exchange.run(line, asked=False)
    assert (line.failed, line.absent, line.report is not None) == ("", False, True)
    assert exchange.state(line)[0].startswith("OK last today")
    assert exchange.due() is None
    clock.now += timedelta(minutes=14)
    assert exchange.due() is None
    clock.now += timedelta(minutes=1)
    assert exchange.due() is line


async def test_a_stick_that_is_out_is_no_fault_and_is_found_when_it_comes(tmp_path: Path) -> None:
    clock = Clock()
    exchange, _ = exchange_of(tmp_path, clock, tmp_path / "stick")
    (line,) = exchange.lines
    await exchange.run(line, asked=False)
    assert exchange.says() == []
    assert exchange.state(line) == ("not there, never", "unknown")
    assert exchange.due() is None
    clock.now += timedelta(minutes=1)
    assert exchange.due() is line
    (tmp_path / "stick").mkdir()
    await exchange.run(line, asked=False)
    assert line.last == clock.now
    await exchange.run(line, asked=True)
    (tmp_path / "stick").rmdir()
    await exchange.run(line, asked=True)
    assert "not there" in line.failed  # whoever asks is told


async def test_a_walk_under_way_is_not_cut_into_files(tmp_path: Path, stick: Path) -> None:
    clock = Clock()
    exchange, desk = exchange_of(tmp_path, clock, stick)
    (line,) = exchange.lines
    await exchange.run(line, asked=False)
    assert desk.sealed == 0
    await exchange.run(line, asked=True)
    assert desk.sealed == 1
    clock.now += timedelta(minutes=10)
    await exchange.run(line, asked=False)
    assert desk.sealed == 2


async def test_a_fault_is_told_on_the_board(tmp_path: Path, stick: Path) -> None:
    exchange, desk = exchange_of(tmp_path, Clock(), stick)
    (stick / desk.site.id).symlink_to(tmp_path)
    await exchange.run(exchange.lines[0], asked=False)
    assert exchange.says()[0].startswith("Sync at1: ")
    assert exchange.state(exchange.lines[0])[1] == "watch"


async def test_a_key_exchanges_and_a_key_takes_the_new_laptop_in(
    stocked: Site, clock: Clock, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = meeting(stocked, stick, "sftp://ana@127.0.0.1:1/farm")
    another_laptop(site, stick, monkeypatch, tmp_path)
    async with opened(site, clock) as hand:
        await hand.press("y")
        await hand.until("safe in 1 place: this laptop")
        assert "sftp://ana@127.0.0.1:1/farm" in hand.text
        await hand.press("enter")
        await hand.until("by Rui: take it in? A")
        assert not of_kind(hand.entries(), Note)
        await hand.press("escape")
        await hand.until("waits to be taken in: Y")
        await hand.press("y", "a")
        await hand.until("belongs to the site now")
        assert [note.text for note in of_kind(hand.entries(), Note)] == ["from afar"]
        assert "take it in?" not in hand.text
    assert list(stick.rglob("*.jsonl"))


async def test_what_a_stranger_calls_itself_is_shown_as_plain_text(
    stocked: Site, clock: Clock, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = meeting(stocked, stick)
    with monkeypatch.context() as patch:
        patch.setattr("rounds.records.writing.cleaned", lambda entry: entry)
        another_laptop(site, stick, patch, tmp_path, by="[@click=app.quit]\u202eok")
    async with opened(site, clock) as hand:
        await hand.press("y", "enter")
        await hand.until("take it in?")
        assert "[@click=app.quit]" in hand.text
        assert "\u202e" not in hand.text


FILES = """\
[site]
name = "Test farm"
id = "m4k8q2vz"
timezone = "Europe/Lisbon"
latitude = 38.4
longitude = -9.1
elevation = "6 m"
emergency = "Call the supervisor"
"""


async def test_the_lines_of_other_site_files_are_read_before_they_are_taken_over(
    stocked: Site, clock: Clock, tmp_path: Path
) -> None:
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "site.toml").write_text(FILES.replace("38.4", "38.9"), "utf-8")
    other = pack(tmp_path / "other")
    keep(stocked.folder / "records", other.name, other.data)
    (stocked.folder / "site.toml").write_text(FILES, "utf-8")
    async with opened(stocked, clock) as hand:
        await hand.press("y")
        await hand.until("site files")
        for leave in (["escape"], ["enter", "2"], ["enter", "escape"]):
            await hand.press("g")
            assert "- latitude = 38.4" in hand.text
            assert "+ latitude = 38.9" in hand.text
            await hand.press(*leave)
            assert (stocked.folder / "site.toml").read_text("utf-8") == FILES
        await hand.press("g", "enter", "1")
        await hand.until("Taken over")
    assert (stocked.folder / "site.toml").read_text("utf-8") == other.files["site.toml"]


async def test_two_exchanges_asked_for_at_once_are_one(tmp_path: Path, stick: Path) -> None:
    (tmp_path / "share").mkdir()
    exchange, desk = exchange_of(tmp_path, Clock(), stick, tmp_path / "share")
    one, two = exchange.lines
    await asyncio.gather(exchange.run(one, asked=True), exchange.run(two, asked=True))
    assert (one.report is not None, two.report) == (True, None)
    assert desk.sealed == 1


async def test_what_was_healed_meanwhile_is_read_and_counted_once(
    stocked: Site, clock: Clock
) -> None:
    (path,) = (stocked.folder / "records" / "sealed").rglob("*.jsonl")
    whole = path.read_bytes()
    at = whole.index(b"\n", whole.index(b'"alkalinity"')) - 5  # in the hash of a reading of A1
    path.chmod(0o600)
    path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
    async with opened(stocked, clock) as hand:
        desk = hand.app.desk
        assert desk.farm.latest("A1", "alkalinity", NOW) is None
        assert desk.unread
        write_new(path, whole, mode=0o444)
        assert await desk.listen()
        read = desk.farm.latest("A1", "alkalinity", NOW)
        assert (read is not None, desk.unread, await desk.listen()) == (True, 0, 0)
        assert len(desk.farm.lots["L1"]) == len(stocked.places)
