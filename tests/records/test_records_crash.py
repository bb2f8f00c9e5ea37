"""Crashes and failing disks: what was ticked is there, what was refused was said to be."""

from __future__ import annotations

import errno
import os
import random
import subprocess
import sys

import pytest
from record_making import SITE, open_segment, reading, sealed_segments, values

from rounds.records import ballast
from rounds.records.book import NotSaved
from rounds.records.entry import Note
from rounds.records.segment import scan

KEPT_BACK = ballast._SIZE  # before a test run makes it small

WRITE_ON = """
import sys
from pathlib import Path
from zoneinfo import ZoneInfo
from rounds.records.book import Book
from rounds.records.entry import Note
book = Book.open(Path(sys.argv[1]), sys.argv[2], '', tz=ZoneInfo('UTC'))
i = 0
while True:
    book.append(Note(text=f'{sys.argv[3]} {i}'))
    print(i, flush=True)
    if i % 40 == 39:
        book.seal()
    i += 1
"""


def test_kill_9_loses_nothing_that_was_ticked(laptop):
    laptop.here()
    ticked = set()
    chance = random.Random(7)
    for life in range(4):
        process = subprocess.Popen(
            [sys.executable, "-c", WRITE_ON, str(laptop.folder), SITE, f"life {life}"],
            stdout=subprocess.PIPE,
            text=True,
        )
        for _ in range(chance.randrange(1, 130)):
            ticked.add(f"life {life} {int(process.stdout.readline())}")
        process.kill()
        rest, _ = process.communicate()
        whole = rest[: rest.rfind("\n") + 1].split()
        ticked.update(f"life {life} {int(number)}" for number in whole)
    book = laptop.book()
    texts = {e.text for e in book.entries() if isinstance(e, Note)}
    assert ticked <= texts
    assert len(ticked) > 100
    assert len(texts) <= len(ticked) + 4
    assert book.problems() == ()
    assert not list((laptop.records / "open").glob("*.jsonl"))
    numbers = [int(p.name[:6]) for p in sealed_segments(laptop)]
    assert numbers == list(range(1, len(numbers) + 1))


class Disk:
    """A disk that fails when it is told to, and keeps count."""

    def __init__(self, monkeypatch):
        self.fails: dict[str, int] = {}
        self.done: list[str] = []
        for name in ("write", "fsync"):
            monkeypatch.setattr(os, name, self._wrapped(name, getattr(os, name)))

    def _wrapped(self, name, real):
        def call(fd, *args):
            if name in self.fails:
                code = self.fails[name]
                if name == "write" and code == 0:
                    return real(fd, args[0][:20])
                raise OSError(code, os.strerror(code))
            self.done.append(name)
            return real(fd, *args)

        return call


class TestDisk:
    @pytest.mark.parametrize("call", ["write", "fsync"])
    @pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO])
    def test_a_refused_entry_is_not_ticked_and_the_next_goes_to_a_new_file(
        self, laptop, monkeypatch, call, code
    ):
        book = laptop.book()
        book.append(reading("1"))
        broken = open_segment(laptop)
        disk = Disk(monkeypatch)
        disk.fails[call] = code
        with pytest.raises(NotSaved, match="Not saved"):
            book.append(reading("2"))
        disk.fails.clear()
        book.append(reading("3"))
        assert values(line.entry for line in scan(broken).lines) == ["1"]
        new = [p for p in (laptop.records / "open").glob("*.jsonl") if p != broken]
        assert values(line.entry for line in scan(new[0]).lines) == ["3"]
        book.close()
        assert values(laptop.read()) == ["1", "3"]
        assert laptop.book().problems() == ()

    def test_half_a_line_is_not_saved(self, laptop, monkeypatch):
        book = laptop.book()
        book.append(reading("1"))
        disk = Disk(monkeypatch)
        disk.fails["write"] = 0
        with pytest.raises(NotSaved, match="full"):
            book.append(reading("2"))
        disk.fails.clear()
        book.append(reading("3"))
        assert values(laptop.read()) == ["1", "3"]

    def test_a_first_entry_that_fails_leaves_nothing_that_hinders(self, laptop, monkeypatch):
        book = laptop.book()
        disk = Disk(monkeypatch)
        disk.fails["fsync"] = errno.EIO
        for _ in range(3):
            with pytest.raises(NotSaved, match="call the supervisor"):
                book.append(reading("1"))
        disk.fails.clear()
        book.append(reading("2"))
        book.close()
        assert values(laptop.read()) == ["2"]

    def test_a_descriptor_that_failed_is_never_asked_again(self, laptop, monkeypatch):
        """A second fsync after an error would seem to succeed: the pages are marked clean."""
        asked = []
        book = laptop.book()
        book.append(reading("1"))
        inode = open_segment(laptop).stat().st_ino
        real = os.fsync

        def fsync(fd):
            asked.append(os.fstat(fd).st_ino)
            if len(asked) == 1:
                raise OSError(errno.EIO, "I/O error")
            real(fd)

        monkeypatch.setattr(os, "fsync", fsync)
        with pytest.raises(NotSaved):
            book.append(reading("2"))
        book.append(reading("3"))
        book.append(reading("4"))
        assert asked[0] == inode
        assert inode not in asked[1:]

    def test_the_disk_is_asked_before_append_returns(self, laptop, monkeypatch):
        """The control: without the call to fsync this test fails."""
        book = laptop.book()
        disk = Disk(monkeypatch)
        book.append(reading("1"))
        assert disk.done[-5:] == ["write", "fsync", "fsync", "write", "fsync"]
        disk.done.clear()
        book.append(reading("2"))
        assert disk.done == ["write", "fsync"]

    def test_a_folder_sync_that_fails_for_real_refuses_the_entry(self, laptop, monkeypatch):
        book = laptop.book()
        folders = []
        real = os.fsync

        def fsync(fd):
            if os.path.isdir(f"/proc/self/fd/{fd}"):
                folders.append(fd)
                raise OSError(errno.EIO, "I/O error")
            real(fd)

        (laptop.records / "open").mkdir(parents=True)
        laptop.state.mkdir()
        monkeypatch.setattr(os, "fsync", fsync)
        with pytest.raises(NotSaved):
            book.append(reading("1"))
        assert folders

    @pytest.mark.parametrize("code", [errno.EINVAL, errno.ENOTSUP, errno.EBADF])
    def test_a_file_system_without_folder_sync_will_do(self, laptop, monkeypatch, code):
        real = os.fsync

        def fsync(fd):
            if os.path.isdir(f"/proc/self/fd/{fd}"):
                raise OSError(code, "no such call")
            real(fd)

        monkeypatch.setattr(os, "fsync", fsync)
        assert values(laptop.write("1")) == ["1"]

    def test_a_full_disk_gets_the_ballast_once(self, laptop, monkeypatch):
        monkeypatch.setattr(ballast, "_SIZE", KEPT_BACK)
        book = laptop.book()
        book.append(reading("1"))
        kept = laptop.folder / "cache" / "ballast"
        assert kept.stat().st_size == 2 * 1024 * 1024
        disk = Disk(monkeypatch)
        disk.fails["write"] = errno.ENOSPC
        with pytest.raises(NotSaved, match=r"Room was kept back.*save again"):
            book.append(reading("2"))
        assert not kept.exists()
        with pytest.raises(NotSaved, match="Free some space"):
            book.append(reading("2"))

    def test_a_full_disk_while_sealing_does_not_take_a_tick_back(self, laptop, monkeypatch):
        monkeypatch.setattr("rounds.records.writing.FULL", 2)
        book = laptop.book()
        book.append(reading("1"))

        def full(path, data, **more):
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr("rounds.records.sealing.write_new", full)
        assert book.append(reading("2")).value == "2"
        assert not sealed_segments(laptop)
        assert values(laptop.read()) == ["1", "2"]

    def test_a_folder_that_cannot_be_made_is_said_in_words(self, laptop):
        laptop.records.write_text("a file in the way")
        with pytest.raises(NotSaved, match="Not saved"):
            laptop.book().append(reading("1"))


class TestGone:
    """A folder that went away while the program was open, as a pulled stick's does."""

    def test_an_entry_into_a_removed_file_is_refused(self, laptop):
        book = laptop.book()
        book.append(reading("1"))
        open_segment(laptop).unlink()
        with pytest.raises(NotSaved, match=r"is gone\. Put the stick back"):
            book.append(reading("2"))

    @pytest.mark.parametrize("written", [True, False])
    def test_no_second_folder_is_made_where_the_first_one_was(self, laptop, written):
        laptop.write("1")
        book = laptop.book()
        if written:
            book.append(reading("2"))
        gone = laptop.folder.rename(laptop.folder.with_name("pulled"))
        book._writer.close()
        with pytest.raises(NotSaved, match=r"is gone\. Put the stick back"):
            book.append(reading("3"))
        assert not laptop.folder.exists()
        gone.rename(laptop.folder)
        book.append(reading("4"))
        book.close()
        assert values(laptop.read()) == ["1", *(["2"] if written else []), "4"]
