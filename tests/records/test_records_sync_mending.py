"""Rot is found and mended: by a mark of who found it, by the weekly look, on both sides."""

from __future__ import annotations

import random

import pytest
from record_making import SITE, sealed_segments, values
from syncing import on, sealed, synced

from rounds.records.memory import recall, remember


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
