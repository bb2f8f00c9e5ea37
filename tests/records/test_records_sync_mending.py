"""Rot is found and mended: by a mark of who found it, by the weekly look, on both sides."""

from __future__ import annotations

import os
import random

import pytest
from record_making import SITE, sealed_segments, values
from syncing import on, sealed, synced

from rounds.records.memory import recall, remember
from rounds.records.verifying import verify


def weeks_later(laptop, stick) -> None:
    memory = recall(laptop.folder, str(stick))
    memory.scrubbed -= 8 * 24 * 3600
    remember(laptop.folder, memory)


def rot(path) -> bytes:
    whole = path.read_bytes()
    path.chmod(0o600)
    at = random.Random(5).randrange(len(whole))
    path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
    return whole


def test_who_finds_damage_marks_it_and_who_holds_it_sends_it_again(laptops, stick):
    a, b, _ = laptops
    a.write("1")
    synced(a, stick)
    (path,) = stick.rglob("*.jsonl")
    whole = rot(path)
    assert len(synced(b, stick).set_aside) == 1
    assert [p.name for p in stick.rglob("*.want")] == [path.name + ".want"]
    assert synced(b, stick).strange == 0
    assert synced(a, stick).mended == 1
    assert path.read_bytes() == whole
    assert not list(stick.rglob("*.want"))
    assert synced(b, stick).fetched == 1


def test_a_mark_on_a_whole_file_is_taken_away_and_nothing_else_done(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    (path,) = stick.rglob("*.jsonl")
    before = path.stat().st_mtime_ns, path.stat().st_ino
    path.with_name(path.name + ".want").touch()
    assert synced(a, stick).mended == 0
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == before
    assert not list(stick.rglob("*.want"))


def test_who_is_damaged_too_does_not_answer_a_mark(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    (path,) = stick.rglob("*.jsonl")
    path.with_name(path.name + ".want").touch()
    for one in (path, *sealed_segments(a)):
        rot(one)
    rotten = path.read_bytes()
    assert synced(a, stick).mended == 0
    assert path.read_bytes() == rotten
    assert list(stick.rglob("*.want"))


@pytest.mark.parametrize("side", ["there", "here"])
def test_once_a_week_rot_is_found_on_either_side(laptops, stick, side):
    a, *_ = laptops
    for value in "123":
        a.write(value)
    synced(a, stick)
    path = (sorted(stick.rglob("*.jsonl")) if side == "there" else sealed_segments(a))[1]
    whole = rot(path)
    report = synced(a, stick)
    assert (report.mended, report.healed) == (0, 0)  # not before a week is over
    weeks_later(a, stick)
    report = synced(a, stick)
    assert (report.mended, report.healed) == ((1, 0) if side == "there" else (0, 1))
    assert path.read_bytes() == whole
    assert sealed(a) == on(stick)


def test_what_is_damaged_on_both_sides_is_marked(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    rot(sealed_segments(a)[0])
    rot(next(stick.rglob("*.jsonl")))
    weeks_later(a, stick)
    report = synced(a, stick)
    assert (report.mended, report.healed) == (0, 0)
    assert len(list(stick.rglob("*.want"))) == 1


def test_marks_by_the_thousand_for_files_nobody_has_cost_nothing(laptops, stick):
    a, *_ = laptops
    a.write("1")
    folder = stick / SITE / "k7q2md"
    folder.mkdir(parents=True)
    for n in range(2000):
        (folder / f"000001_20261124_{n:032x}.jsonl.want").touch()
    report = synced(a, stick)
    assert (report.sent, report.strange, report.mended) == (1, 0, 0)
    assert len(list(folder.iterdir())) == 2000


def test_an_open_book_reads_a_segment_anew_that_was_healed_meanwhile(laptops, stick):
    a, *_ = laptops
    a.write("1", "2", "3")
    synced(a, stick)
    (path,) = sealed_segments(a)
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"2"', b'"7"'))
    with a.book() as book:
        assert sorted(values(book.entries())) == ["1", "3"]
        assert {one.line for one in book.problems()} == {0, 3}
        weeks_later(a, stick)
        assert synced(a, stick).healed == 1
        assert "2" in values(book.new_entries())
        assert book.problems() == ()
        assert book.new_entries() == ()


def read_and_kept(laptop) -> None:
    """Let a start of the program read the book and keep what it knows of the files."""
    with laptop.book(read_only=True) as book:
        for _, entries in book.resume():
            list(entries)
        book.index.save(book.cache, "")


@pytest.mark.parametrize("found_by", ["its time", "a reading", "verify"])
def test_a_file_of_ones_own_known_to_be_damaged_is_fetched_by_the_next_sync(
    laptops, stick, found_by
):
    a, *_ = laptops
    a.write("1")
    a.write("2")
    synced(a, stick)
    read_and_kept(a)
    path = sealed_segments(a)[0]
    before = path.stat()
    whole = rot(path)
    if found_by == "verify":  # as on a disk that rots: no time tells of it
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
        assert (synced(a, stick).healed, path.read_bytes() == whole) == (0, False)
        assert any("not what its name says" in one.says for one in verify(a.folder, SITE).findings)
    elif found_by == "a reading":
        read_and_kept(a)
    assert synced(a, stick).healed == 1
    assert path.read_bytes() == whole
    assert synced(a, stick).healed == 0
    read_and_kept(a)
    assert a.book(read_only=True).problems() == ()


def test_what_is_damaged_here_and_nowhere_whole_is_told_at_each_sync(laptops, stick):
    a, *_ = laptops
    a.write("1")
    synced(a, stick)
    read_and_kept(a)
    (path,) = sealed_segments(a)
    rot(path)
    (stick / SITE / path.parent.name / path.name).write_bytes(path.read_bytes())
    for _ in "12":
        report = synced(a, stick)
        assert [one.name for one in report.damaged] == [f"{path.parent.name}/{path.name}"]
    assert len(list(stick.rglob("*.want"))) == 1
