"""What is no plain file is not opened; a link takes no file's place; a held rename comes later."""

from __future__ import annotations

import os

import pytest
from record_making import SITE, segment

from rounds.records.carrying import FolderCarrier
from rounds.records.durable import NotPlain, read_plain, read_start, write_new
from rounds.records.safety import safe
from rounds.records.segment import header


@pytest.fixture
def waits(monkeypatch):
    waited: list[float] = []
    monkeypatch.setattr("rounds.records.durable.time.sleep", waited.append)
    return waited


def _held(monkeypatch, code: int, times: int) -> None:
    real = os.replace
    tries = iter(range(100))

    def replace(part, target, **more):
        if next(tries) < times:
            error = PermissionError(13, "held by another program", str(part))
            error.winerror = code
            raise error
        return real(part, target, **more)

    monkeypatch.setattr(os, "replace", replace)


@pytest.mark.parametrize("code", [5, 32, 33])
def test_a_held_file_gets_its_name_a_moment_later(tmp_path, monkeypatch, waits, code):
    _held(monkeypatch, code, 3)
    write_new(tmp_path / "a", b"data")
    assert (tmp_path / "a").read_bytes() == b"data"
    assert waits == [0.05, 0.1, 0.2]


def test_after_two_seconds_it_is_told_and_nothing_is_left(tmp_path, monkeypatch, waits):
    _held(monkeypatch, 32, 100)
    with pytest.raises(PermissionError):
        write_new(tmp_path / "a", b"data")
    assert sum(waits) == pytest.approx(2)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("code", [3, None])
def test_another_error_is_told_at_once(tmp_path, monkeypatch, waits, code):
    _held(monkeypatch, code, 100)
    with pytest.raises(PermissionError):
        write_new(tmp_path / "a", b"data")
    assert waits == []


def _link(path):
    (path.parent / "there").write_bytes(segment(2))
    path.symlink_to("there")


STRANGE = {"link": _link, "pipe": os.mkfifo, "folder": os.mkdir}


@pytest.mark.parametrize("kind", STRANGE)
def test_what_is_no_plain_file_is_not_read_and_not_waited_for(tmp_path, kind):
    STRANGE[kind](tmp_path / "a")
    for read in (read_plain, read_start):
        with pytest.raises(NotPlain):
            read(tmp_path / "a", 10_000)
    assert header(tmp_path / "a") is None


@pytest.mark.parametrize("kind", STRANGE)
def test_what_lies_among_the_open_segments_and_is_none_holds_nothing_up(laptop, kind):
    laptop.write("1")
    STRANGE[kind](laptop.records / "open" / "p3x9tf-000001-zzzzzz.jsonl")
    assert [one.day for one in safe(laptop.folder, SITE)] == ["2026-11-24"]
    with laptop.book() as book:
        assert len(list(book.entries())) == 2


def test_the_first_line_of_a_segment_is_read_and_no_more(tmp_path):
    (tmp_path / "a").write_bytes(segment(200))
    assert header(tmp_path / "a").writer == "k7q2md"
    assert read_start(tmp_path / "a", 9) == segment(1)[:9]


@pytest.mark.parametrize("level", ["m4k8q2vz", "m4k8q2vz/k7q2md"])
def test_a_link_that_takes_a_folders_place_while_a_file_is_put_leads_nowhere(
    tmp_path, monkeypatch, level
):
    victim, stick = tmp_path / "victim", tmp_path / "stick"
    (victim / "k7q2md").mkdir(parents=True)
    (stick / "m4k8q2vz" / "k7q2md").mkdir(parents=True)
    carrier = FolderCarrier(stick / "m4k8q2vz", "mark")

    def swapped(path, data, **more):
        (stick / level).rename(stick / "moved")
        (stick / level).symlink_to(victim / "k7q2md" if "/" in level else victim)
        write_new(path, data, **more)

    monkeypatch.setattr("rounds.records.carrying.write_new", swapped)
    carrier.put("k7q2md/a", b"data")
    assert not [path for path in victim.rglob("*") if path.is_file()]
    with pytest.raises(OSError, match="a folder in it is a link"):
        carrier.put("k7q2md/b", b"data")
