"""Site files travel between laptops and change nothing until a person adopts them."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from rounds.day.laptops.site_files import NotAdopted, addresses, adopt, differing, exchange, offers
from rounds.records.book import Book
from rounds.records.entry import Note
from rounds.records.identity import writer_id
from rounds.records.sync import enrol
from rounds.site.loading import load
from rounds.site.model import Site

NOW = datetime.now(UTC)
SITE = """\
[site]
name = "Test farm"
id = "abcd2345"
timezone = "Europe/Lisbon"
latitude = 38.4
longitude = -9.1
elevation = "6 m"
emergency = "Call the supervisor"
"""


class Laptop:
    """A laptop with its copy of the site."""

    def __init__(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = root / "site"
        self.folder.mkdir(parents=True)
        (self.folder / "site.toml").write_text(SITE, "utf-8")
        self._state = root / "state"
        self._monkeypatch = monkeypatch

    @property
    def site(self) -> Site:
        self._monkeypatch.setenv("ROUNDS_STATE", str(self._state))
        return load(self.folder)

    def write(self) -> str:
        site = self.site
        zone = ZoneInfo("Europe/Lisbon")
        with Book.open(site.folder, site.id, site.digest, tz=zone, clock=lambda: NOW) as book:
            book.append(Note(text="x", by="ana"))
            return book.writer or ""


@pytest.fixture
def two(tmp_path, monkeypatch):
    """Laptops a and b, b with other site files; a has taken b in and synced after it."""
    a, b = (Laptop(tmp_path / name, monkeypatch) for name in "ab")
    stick = tmp_path / "stick"
    stick.mkdir()
    a.write()
    (b.folder / "site.toml").write_text(SITE.replace("Test farm", "Farm by the sea"), "utf-8")
    writer = b.write()
    exchange(b.site, stick)
    exchange(a.site, stick)
    enrol(a.folder, a.site.id, writer)
    exchange(a.site, stick)
    return a, b, writer, stick


def test_laptops_that_differ_are_told_and_nothing_changes_by_itself(two):
    a, b, writer, _ = two
    (says,) = differing(a.site, NOW)
    assert writer in says
    assert b.site.digest[:6] in says
    assert differing(a.site, NOW, here=writer) == ()
    assert a.site.name == "Test farm"


def _same(two):
    """Let both belong, and work with one version."""
    a, b, _, stick = two
    adopt(a.site, b.site.digest)
    writer = a.write()
    for laptop in (a, b):
        exchange(laptop.site, stick)
    enrol(b.folder, b.site.id, writer)
    return a, b, stick


def _edited(laptop: Laptop, old: str, new: str) -> None:
    path = laptop.folder / "site.toml"
    path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")


def _told(laptop: Laptop) -> tuple[tuple[bool | None, bool], ...]:
    here = writer_id(laptop.folder, laptop.site.id)
    return tuple((x.newer, x.here) for x in offers(laptop.site, NOW, here or "") if x.writers)


@pytest.mark.parametrize("edits", [("6 m", "7 m"), ("6 m", "7 m", "8 m"), ("6 m", "7 m", "6 m")])
def test_who_edits_the_site_files_has_the_newer_ones_and_others_hear_without_an_entry(two, edits):
    a, b, stick = _same(two)
    assert _told(a) == _told(b) == ()
    for before, after in pairwise(edits):
        _edited(a, f'elevation = "{before}"', f'elevation = "{after}"')
        exchange(a.site, stick)
        if edits[0] == edits[-1] != after:  # b takes over what a then takes back
            exchange(b.site, stick)
            adopt(b.site, a.site.digest)
            exchange(b.site, stick)
    exchange(b.site, stick)
    exchange(a.site, stick)
    assert _told(a) == ((False, True),)
    assert _told(b) == ((True, True),)
    assert "works with newer site files" in differing(b.site, NOW)[-1]
    adopt(b.site, a.site.digest)
    exchange(b.site, stick)
    exchange(a.site, stick)
    assert _told(a) == _told(b) == ()


def test_what_was_edited_a_moment_ago_is_newer_before_any_sync(two):
    a, *_ = _same(two)
    _edited(a, "38.4", "38.5")
    assert _told(a) == ((False, True),)


def test_a_program_that_works_with_the_files_before_does_not_speak_for_the_new_ones(two):
    a, b, stick = _same(two)
    loaded = a.site
    _edited(a, "38.4", "38.5")
    exchange(loaded, stick)
    exchange(b.site, stick)
    assert _told(b) == ()


def test_what_would_change_is_told_before(two):
    a, b, writer, _ = two
    (offer,) = offers(a.site, NOW)
    assert (offer.digest, offer.writers, offer.here) == (b.site.digest, (writer,), True)
    assert offer.changes == ("site.toml: 1 line differs",)
    assert offer.lines == (
        "site.toml:", "from line 1", "= [site]",
        '- name = "Test farm"', '+ name = "Farm by the sea"', '= id = "abcd2345"',
    )  # fmt: skip


def test_adopting_makes_both_the_same_and_keeps_the_old(two):
    a, b, _, _ = two
    old = a.site.digest
    assert adopt(a.site, b.site.digest[:6]) == ("site.toml: 1 line differs",)
    assert a.site.name == "Farm by the sea"
    assert a.site.digest == b.site.digest
    assert differing(a.site, NOW, here=writer_id(a.folder, a.site.id)) == ()
    assert adopt(a.site, old)
    assert a.site.name == "Test farm"


def test_files_come_and_go_with_a_version(two):
    a, b, _, stick = two
    for laptop in (a, b):
        (laptop.folder / "feeds").mkdir()
    (b.folder / "feeds" / "own.csv").write_text("a\n", "utf-8")
    (a.folder / "feeds" / "old.csv").write_text("b\n", "utf-8")
    b.write()
    exchange(b.site, stick)
    exchange(a.site, stick)
    told = adopt(a.site, b.site.digest)
    assert {"feeds/own.csv: new", "feeds/old.csv: goes"} <= set(told)
    assert (a.folder / "feeds" / "own.csv").read_text("utf-8") == "a\n"
    assert not (a.folder / "feeds" / "old.csv").exists()
    assert a.site.digest == b.site.digest


def test_addresses_that_a_version_brings_are_named(two):
    a, b, _, stick = two
    table = '\n[[sync]]\nname = "far"\naddress = "sftp://far/srv"\n'
    (b.folder / "site.toml").write_text(SITE + table, "utf-8")
    b.write()
    exchange(b.site, stick)
    exchange(a.site, stick)
    assert "it syncs with sftp://far/srv" in offers(a.site, NOW)[0].changes


def test_addresses_that_a_version_takes_away_are_named(two):
    a, b, _, stick = two
    table = '\n[[sync]]\nname = "far"\naddress = "sftp://far/srv"\n'
    (b.folder / "site.toml").write_text(SITE + "# another\n", "utf-8")
    (a.folder / "site.toml").write_text(SITE + table, "utf-8")
    b.write()
    exchange(b.site, stick)
    exchange(a.site, stick)
    assert "it no longer syncs with sftp://far/srv" in offers(a.site, NOW)[0].changes


def test_site_files_that_cannot_travel_are_told(two):
    a, _, _, stick = two
    (a.folder / "feeds").mkdir()
    (a.folder / "feeds" / "mar\u00e9.csv").write_text("a\n", "utf-8")
    assert "mar\u00e9.csv cannot travel" in exchange(a.site, stick).stays


def test_a_kept_version_that_rotted_is_kept_anew(two):
    a, _, _, stick = two
    exchange(a.site, stick)
    (path,) = (a.folder / "records" / "site").glob(f"{a.site.digest}-*")
    whole = path.read_bytes()
    path.chmod(0o600)
    path.write_bytes(whole[:-5])
    exchange(a.site, stick)
    assert path.read_bytes() == whole


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (SITE.replace("abcd2345", "zzzz2345"), "another site"),
        (SITE.replace("38.4", "138.4"), "cannot be used"),
        ("[[[", "cannot be used"),
    ],
)
def test_files_that_are_no_site_are_not_adopted(two, text, says):
    from rounds.records.versions import keep
    from rounds.site.versions import Version

    a, *_ = two
    bad = Version("0" * 16, {"site.toml": text})
    real = Version(_digest(bad), bad.files)
    keep(a.folder / "records", real.name, real.data)
    before = (a.folder / "site.toml").read_bytes()
    with pytest.raises(NotAdopted, match=says):
        adopt(a.site, real.digest)
    assert (a.folder / "site.toml").read_bytes() == before


def _digest(version) -> str:
    from rounds.site.files import digest_of

    return digest_of((name, text.encode()) for name, text in version.files.items())


def test_a_version_that_is_not_what_it_says_does_not_come_in(two):
    a, b, _, stick = two
    (path,) = (a.folder / "records" / "site").glob(f"{b.site.digest}-*")
    path.unlink()
    for there in stick.rglob(f"{b.site.digest}-*"):
        there.write_bytes(there.read_bytes().replace(b"sea", b"bay"))
    exchange(a.site, stick)
    assert [offer.here for offer in offers(a.site, NOW)] == [False]
    with pytest.raises(NotAdopted, match="no site files"):
        adopt(a.site, b.site.digest)


def test_junk_in_the_name_of_a_version_keeps_the_real_one_out_for_a_while_only(two):
    a, b, _, stick = two
    (path,) = (a.folder / "records" / "site").glob(f"{b.site.digest}-*")
    path.unlink()
    for n in range(6):
        there = stick / a.site.id / "site" / f"{b.site.digest}-{n:032x}.json"
        there.write_bytes(b"junk")
    came = (exchange(a.site, stick).versions for _ in range(100))
    assert next(came_now for came_now in came if came_now) == 1
    assert adopt(a.site, b.site.digest)


def test_files_that_cannot_travel_hold_up_no_entries(two):
    a, _, _, stick = two
    a.write()
    site = a.site
    (a.folder / "checklists").mkdir()
    (a.folder / "checklists" / "maré.toml").write_text('title = "x"\n', "utf-8")
    assert exchange(site, stick).sent == 1


def test_addresses_of_the_site_and_the_folder_named_by_hand(two):
    from msgspec.structs import replace

    from rounds.address import read_address
    from rounds.site.model import SyncAddress

    a, *_ = two
    site = replace(a.site, sync=(SyncAddress("x", read_address("/media/x"), 5.0),))
    assert addresses(site) == (("x", "/media/x", 5.0),)
    assert addresses(site, "/media/x") == (("x", "/media/x", 5.0),)
    assert addresses(site, "/media/y")[1] == ("folder", "/media/y", 0.0)
