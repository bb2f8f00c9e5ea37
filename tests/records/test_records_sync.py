"""Sync: laptops and sticks come to hold the same segments, and nothing else gets in."""

from __future__ import annotations

import errno
import os
import random
import time
from pathlib import Path

import pytest
from record_making import (
    SITE,
    Laptop,
    bodies,
    reading,
    sealed_name,
    sealed_segments,
    segment,
    tree,
    values,
)

from rounds.records.locks import folder_lock
from rounds.records.segment import MAX_FILE, MAX_LINE, chained
from rounds.records.sync import SyncFailed, heard, sync
from rounds.records.verifying import verify


@pytest.fixture
def laptops(tmp_path, monkeypatch):
    return [Laptop(tmp_path, name, monkeypatch) for name in "abc"]


@pytest.fixture
def stick(tmp_path):
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


def synced(laptop: Laptop, stick: Path):
    laptop.here()
    return sync(laptop.folder, SITE, stick)


def sealed(laptop: Laptop) -> dict[str, bytes]:
    return {f"{p.parent.name}/{p.name}": p.read_bytes() for p in sealed_segments(laptop)}


def on(stick: Path) -> dict[str, bytes]:
    return {name: data for name, data in tree(stick / SITE).items() if name.endswith(".jsonl")}


def put(stick: Path, data: bytes, *, writer: str = "k7q2md", name: str = "") -> Path:
    folder = stick / SITE / writer
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / (name or sealed_name(data))
    path.write_bytes(data)
    return path


class TestUnion:
    def test_two_laptops_come_to_the_same_book(self, laptops, stick):
        a, b, _ = laptops
        a.write("1", "2")
        b.write("3")
        first = synced(a, stick)
        second = synced(b, stick)
        third = synced(a, stick)
        assert [(r.sent, r.fetched) for r in (first, second, third)] == [(1, 0), (1, 1), (0, 1)]
        assert sealed(a) == sealed(b) == on(stick)
        assert sorted(values(a.read())) == sorted(values(b.read())) == ["1", "2", "3"]
        assert third.safe_to_remove
        assert set(third.heard) == {a.book().writer, b.book().writer}

    def test_a_second_sync_does_nothing(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        synced(a, stick)
        before = tree(stick)
        report = synced(a, stick)
        assert (report.sent, report.fetched, report.set_aside) == (0, 0, [])
        assert tree(stick) == before

    def test_any_laptop_carries_any_file(self, laptops, tmp_path):
        a, b, c = laptops
        for name in ("one", "two"):
            (tmp_path / name).mkdir()
        a.write("1")
        synced(a, tmp_path / "one")
        synced(b, tmp_path / "one")
        synced(b, tmp_path / "two")
        synced(c, tmp_path / "two")
        assert values(c.read()) == ["1"]

    def test_whatever_the_order_all_come_to_the_same(self, laptops, stick):
        chance = random.Random(3)
        for value in range(25):
            laptop = chance.choice(laptops)
            if chance.random() < 0.6:
                laptop.write(str(value))
            else:
                synced(laptop, stick)
        for laptop in laptops * 2:
            synced(laptop, stick)
        a, b, c = laptops
        assert sealed(a) == sealed(b) == sealed(c) == on(stick)
        ids = [[e.id for e in x.read()] for x in laptops]
        assert ids[0] == ids[1] == ids[2]
        assert len(ids[0]) > 10
        assert verify(a.folder, SITE).findings == ()

    def test_the_running_program_sees_what_came(self, laptops, stick):
        a, b, _ = laptops
        book = a.book()
        list(book.entries())
        b.write("7")
        synced(b, stick)
        synced(a, stick)
        assert values(book.new_entries()) == ["7"]

    def test_what_is_still_open_waits_and_is_told(self, laptops, stick):
        a, *_ = laptops
        with a.book() as book:
            book.append(reading("1"))
            book.append(reading("2"))
            assert synced(a, stick).waiting == 2
            assert on(stick) == {}
            book.seal()
            report = synced(a, stick)
            assert (report.waiting, report.sent) == (0, 1)

    def test_a_header_names_what_was_seen_of_others(self, laptops, stick):
        from rounds.records.segment import scan

        a, b, _ = laptops
        a.write("1")
        synced(a, stick)
        synced(b, stick)
        b.write("2")
        own = next(p for p in sealed_segments(b) if p.parent.name == b.book().writer)
        (other,) = sealed_segments(a)
        digest = other.stem.split("_")[2]
        assert scan(own).header.seen == {other.parent.name: f"1:{digest}"}

    def test_the_last_time_of_each_laptop(self, laptops, stick):
        a, b, _ = laptops
        assert heard(a.folder) == {}
        a.write("1")
        b.clocks.pass_s(3600)
        b.write("2")
        synced(b, stick)
        synced(a, stick)
        a.clocks.pass_s(60)
        a.book().append(reading("3"))
        assert heard(a.folder) == {
            a.book().writer: "2026-11-24T07:01:00.000Z",
            b.book().writer: "2026-11-24T08:00:00.000Z",
        }

    def test_a_restored_laptop_takes_a_new_id(self, laptops, stick):
        a, *_ = laptops
        (first,) = a.write("1")
        synced(a, stick)
        for path in sealed_segments(a):
            path.unlink()
        a.write("2")
        synced(a, stick)
        assert sorted(values(a.read())) == ["1", "2"]
        (third,) = a.write("3")
        assert third.id[:6] != first.id[:6]
        assert any("copied or restored" in f.says for f in verify(a.folder, SITE).findings)


GOOD = segment(3)
HEAD, *REST = bodies(3)


def forged(old: bytes, new: bytes) -> bytes:
    data = GOOD.replace(old, new)
    assert data != GOOD
    return data


class TestHostile:
    """Files well named, with the right digest, and still not ours to take."""

    @pytest.mark.parametrize(
        ("data", "reason"),
        [
            (forged(b'"value":"6.10"', b'"value":"9.10"'), "line 2 does not match its hash"),
            (b"".join(GOOD.splitlines(keepends=True)[::2]), "hash"),
            (GOOD[:-5], "middle of a line"),
            (b"", "empty"),
            (b"\0" * 100, "middle of a line"),
            (segment(3, site="aaaaaaaa"), "another site"),
            (segment(3, writer="p3x9tf"), "another laptop"),
            (segment(3, seg=2), "another laptop or number"),
            (segment(3, format=2), "newer version"),
            (chained(REST), "line 1 is not a header"),
            (chained([HEAD, REST[0][:-1] + b',"value":"9"}']), "twice"),
            (chained([HEAD, REST[0][:-1] + b',"x":NaN}']), "line 2"),
            (chained([HEAD, REST[0][:-1] + b',"x":"\xff"}']), "UTF-8"),
            (chained([HEAD, REST[0][:-1] + b',"x":' + b"[" * 3900 + b"]" * 3900 + b"}"]), "deep"),
            (chained([HEAD, REST[0].replace(b"k7q2md-r4", b"p3x9tf-r4")]), "another run"),
            (chained([HEAD, REST[0].replace(b"6.10", b"x" * MAX_LINE)]), "longer"),
            (chained([HEAD, REST[0].replace(b'"6.10"', b'"1e999"')]), "no number"),
        ],
        ids=str.split(
            "value order torn empty zeros site writer seg format header doubled-key nan utf8 deep "
            "id giant-line number"
        ),
    )
    def test_it_is_put_aside_with_the_reason(self, laptops, stick, data, reason):
        a, *_ = laptops
        a.write("1")
        put(stick, data)
        report = synced(a, stick)
        assert report.fetched == 0
        (refused,) = report.set_aside
        assert reason in refused.reason
        assert values(a.read()) == ["1"]
        assert any(p.read_bytes() == data for p in (a.records / "aside").glob("*.bin"))
        again = synced(a, stick)
        assert (again.set_aside, again.refused_before) == ([], 1)

    def test_a_stick_full_of_junk_does_not_fill_the_laptop(self, laptops, stick, monkeypatch):
        monkeypatch.setattr("rounds.records.sync._KEPT", 2)
        a, *_ = laptops
        for n in range(5):
            put(stick, b"junk %d" % n)
        assert len(synced(a, stick).set_aside) == 5
        assert len(list((a.records / "aside").glob("*.bin"))) == 2
        assert synced(a, stick).refused_before == 5

    def test_a_wrong_digest_is_refused_and_asked_again_when_it_changed(self, laptops, stick):
        a, *_ = laptops
        path = put(stick, GOOD[:-70], name=sealed_name(GOOD))
        assert "cut short" in synced(a, stick).set_aside[0].reason
        path.write_bytes(GOOD)
        report = synced(a, stick)
        assert (report.fetched, report.refused_before) == (1, 0)
        assert len(values(a.read())) == 3

    def test_giants_links_and_folders_are_not_taken(self, laptops, stick, tmp_path):
        a, *_ = laptops
        giant = put(stick, b"")
        with giant.open("wb") as file:
            file.truncate(MAX_FILE + 1)
        (tmp_path / "secret").write_bytes(GOOD)
        folder = stick / SITE / "p3x9tf"
        folder.mkdir()
        (folder / sealed_name(GOOD)).symlink_to(tmp_path / "secret")
        (folder / sealed_name(b"x")).mkdir()
        (stick / SITE / "aaaaaa").symlink_to(tmp_path)
        (stick / SITE / "bbbbbb").symlink_to(stick / SITE)
        report = synced(a, stick)
        assert report.fetched == 0
        assert [r.reason for r in report.set_aside] == [f"is larger than {MAX_FILE} bytes"]
        assert report.strange == 4
        assert not sealed_segments(a)

    @pytest.mark.parametrize(
        "name",
        [
            "000001_20261124_..%2f.jsonl",
            "000001_20261124_" + "A" * 32 + ".jsonl",
            "000001_20261124_" + "0" * 31 + "\u0660.jsonl",
            "000001_20261124_" + "0" * 32 + ".jsonl\n",
            "000001_20261124_" + "0" * 32 + " (1).jsonl",
            "\u001b[2J.jsonl",
            "con",
            "-rf",
        ],
    )
    def test_names_that_are_none_are_left_there_and_shown_clean(self, laptops, stick, name):
        a, *_ = laptops
        put(stick, GOOD, name=name)
        report = synced(a, stick)
        assert (report.fetched, report.strange) == (0, 1)
        assert not any("\u001b" in text or "\n" in text for text in report.strangers)
        assert not sealed_segments(a)
        assert (stick / SITE / "k7q2md" / name).exists()

    def test_junk_names_by_the_thousand_are_counted_not_kept(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        folder = stick / SITE / "k7q2md"
        folder.mkdir(parents=True)
        for i in range(2000):
            (folder / f"junk{i}").touch()
        report = synced(a, stick)
        assert report.strange == 2000
        assert len(report.strangers) == 10
        assert report.sent == 1

    def test_another_sites_folder_is_not_touched(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        folder = stick / "zzzzzzzz" / "k7q2md"
        folder.mkdir(parents=True)
        data = segment(2, site="zzzzzzzz")
        (folder / sealed_name(data)).write_bytes(data)
        before = tree(stick / "zzzzzzzz")
        report = synced(a, stick)
        assert (report.fetched, report.sent) == (0, 1)
        assert tree(stick / "zzzzzzzz") == before

    def test_nothing_on_the_stick_is_overwritten(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        (path,) = sealed_segments(a)
        there = put(stick, b"rotten", writer=path.parent.name, name=path.name)
        synced(a, stick)
        assert there.read_bytes() == b"rotten"

    def test_rot_on_this_laptop_is_not_spread(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        (path,) = sealed_segments(a)
        path.chmod(0o600)
        path.write_bytes(path.read_bytes().replace(b'"1"', b'"2"'))
        report = synced(a, stick)
        assert (report.sent, len(report.damaged)) == (0, 1)
        assert on(stick) == {}


class TestFailure:
    def test_no_stick(self, laptops, tmp_path):
        a, *_ = laptops
        with pytest.raises(SyncFailed, match="not there: put the stick in"):
            synced(a, tmp_path / "nowhere")

    def test_the_sites_own_folder_is_no_address(self, laptops):
        a, *_ = laptops
        with pytest.raises(SyncFailed, match="own folder"):
            synced(a, a.folder)

    def test_a_link_for_the_sites_folder_is_refused(self, laptops, stick, tmp_path):
        a, *_ = laptops
        (stick / SITE).symlink_to(tmp_path)
        with pytest.raises(SyncFailed, match="link"):
            synced(a, stick)

    def test_a_link_for_a_laptops_folder_is_not_written_through(self, laptops, stick, tmp_path):
        a, *_ = laptops
        (entry,) = a.write("1")
        (tmp_path / "elsewhere").mkdir()
        (stick / SITE).mkdir()
        (stick / SITE / entry.id[:6]).symlink_to(tmp_path / "elsewhere")
        with pytest.raises(SyncFailed, match="link"):
            synced(a, stick)
        assert not list((tmp_path / "elsewhere").iterdir())

    def test_one_sync_at_a_time(self, laptops, stick, monkeypatch):
        a, *_ = laptops
        a.write("1")
        monkeypatch.setattr("rounds.records.sync._LOCK_S", 0.0)
        with folder_lock(a.records), pytest.raises(SyncFailed, match="Another sync"):
            synced(a, stick)

    @pytest.mark.parametrize(
        ("code", "says"),
        [
            (errno.ENOSPC, "full"),
            (errno.EROFS, "cannot be written"),
            (errno.EACCES, "cannot be written"),
            (errno.EIO, "gone or failing"),
            (errno.ENODEV, "gone or failing"),
            (errno.EXDEV, "answered"),
        ],
    )
    def test_a_failing_stick_is_told_in_words_and_a_second_sync_ends_it(
        self, laptops, stick, monkeypatch, code, says
    ):
        a, b, _ = laptops
        for value in "1234":
            a.write(value)
        b.write("5")
        synced(b, stick)
        real = os.write
        left = iter([True, True])  # one file comes in, one goes out, then it fails

        def write(fd, data):
            if next(left, None) is None:
                raise OSError(code, os.strerror(code))
            return real(fd, data)

        with monkeypatch.context() as patch:
            patch.setattr(os, "write", write)
            with pytest.raises(SyncFailed, match=f"{says}.*1 fetched and 1 sent"):
                synced(a, stick)
        assert len(on(stick)) == 2
        assert not list(stick.rglob(".part-*"))
        assert synced(a, stick).sent == 3
        assert sealed(a) == on(stick)

    def test_a_full_laptop_is_told_as_such(self, laptops, stick, monkeypatch):
        a, b, _ = laptops
        b.write("5")
        synced(b, stick)

        def write(fd, data):
            raise OSError(errno.ENOSPC, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr(os, "write", write)
            with pytest.raises(SyncFailed, match="This laptop's disk is full"):
                synced(a, stick)
        assert not sealed_segments(a)

    def test_a_stick_that_does_not_keep_what_was_written_is_found_out(
        self, laptops, stick, monkeypatch
    ):
        a, *_ = laptops
        a.write("1")
        monkeypatch.setattr("rounds.records.durable._read_back", lambda path: b"")
        with pytest.raises(SyncFailed, match="failing"):
            synced(a, stick)
        assert on(stick) == {}

    def test_a_stick_that_goes_while_it_is_read(self, laptops, stick, monkeypatch):
        a, b, _ = laptops
        b.write("5")
        synced(b, stick)

        def gone(self, file):
            stick.rename(stick.with_name("pulled"))
            raise OSError(errno.EIO, "I/O error")

        monkeypatch.setattr("rounds.records.carrying.FolderCarrier.read", gone)
        with pytest.raises(SyncFailed, match="gone"):
            synced(a, stick)

    def test_one_file_that_cannot_be_read_does_not_stop_the_rest(self, laptops, stick, monkeypatch):
        a, b, _ = laptops
        b.write("5")
        b.write("6")
        synced(b, stick)
        from rounds.records.carrying import FolderCarrier

        real = FolderCarrier.read

        def read(self, file):
            if file.seg == 1:
                raise OSError(errno.EIO, "I/O error")
            return real(self, file)

        with monkeypatch.context() as patch:
            patch.setattr(FolderCarrier, "read", read)
            report = synced(a, stick)
        assert (report.fetched, len(report.set_aside)) == (1, 1)
        assert synced(a, stick).fetched == 1

    def test_own_parts_left_by_a_kill_go_after_a_day_others_stay(self, laptops, stick):
        from rounds.records.identity import machine

        a, *_ = laptops
        (entry,) = a.write("1")
        synced(a, stick)
        folder = stick / SITE / entry.id[:6]
        names = {
            "old": f".part-{machine()}-0011",
            "young": f".part-{machine()}-0022",
            "other": ".part-0123456789abcdef-0033",
        }
        for name in names.values():
            (folder / name).touch()
        ago = time.time() - 2 * 24 * 3600
        os.utime(folder / names["old"], (ago, ago))
        os.utime(folder / names["other"], (ago, ago))
        report = synced(a, stick)
        assert report.strange == 0
        assert {p.name for p in folder.glob(".part-*")} == {names["young"], names["other"]}
