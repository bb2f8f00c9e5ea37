"""Sync fails in words: no stick, a full or dying one, and a second sync ends what one began."""

from __future__ import annotations

import errno
import os
import shutil
import time

import pytest
from record_making import (
    SITE,
    sealed_segments,
)
from syncing import on, sealed, synced

from rounds.records.locks import folder_lock
from rounds.records.reaching import SyncFailed


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
        monkeypatch.setattr("rounds.records.durable._read_back", lambda *_: b"")
        with pytest.raises(SyncFailed, match="failing"):
            synced(a, stick)
        assert on(stick) == {}

    def test_a_stick_that_goes_while_it_is_read(self, laptops, stick, monkeypatch):
        a, b, _ = laptops
        b.write("5")
        synced(b, stick)

        def gone(self, name, cap):
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

        def read(self, name, cap):
            if "000001_" in name:
                raise OSError(errno.EIO, "I/O error")
            return real(self, name, cap)

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
        shutil.rmtree(a.folder / "cache")  # forgotten, all is looked through as once a day
        report = synced(a, stick)
        assert report.strange == 0
        assert {p.name for p in folder.glob(".part-*")} == {names["young"], names["other"]}
