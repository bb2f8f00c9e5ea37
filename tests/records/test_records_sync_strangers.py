"""A laptop nobody took in: its entries lie aside, told, until a person takes it in, once."""

from __future__ import annotations

import pytest
from record_making import SITE, Laptop, segment, tree, values
from syncing import on, put

from rounds.records import admission
from rounds.records.reaching import SyncFailed
from rounds.records.sync import enrol, sync


def meets(laptop: Laptop, stick):
    return sync(laptop.here().folder, SITE, stick)


def waiting(laptop: Laptop) -> list[str]:
    return [one.writer for one in admission.newcomers(laptop.records)]


def test_a_laptop_with_nothing_joins_and_takes_all(laptops, stick):
    a, b, _ = laptops
    a.write("1")
    meets(a, stick)
    report = meets(b, stick)
    assert (report.fetched, report.newcomers) == (1, ())
    assert values(b.read()) == ["1"]


def test_a_stranger_is_kept_aside_and_told_not_folded_not_carried_on(laptops, stick, tmp_path):
    a, b, _ = laptops
    a.write("1")
    b.write("2", "3")
    meets(b, stick)
    report = meets(a, stick)
    (new,) = report.newcomers
    assert (new.writer, new.files, new.entries, new.by) == (b.here().book().writer, 1, 2, ("ana",))
    assert report.fetched == 0
    assert values(a.read()) == ["1"]
    (tmp_path / "other").mkdir()
    meets(a, tmp_path / "other")
    assert len(on(tmp_path / "other")) == 1
    again = meets(a, stick)
    assert (again.fetched, again.newcomers) == (0, report.newcomers)


def test_one_word_takes_it_in_for_good(laptops, stick):
    a, b, _ = laptops
    a.write("1")
    b.write("2")
    meets(b, stick)
    meets(a, stick)
    (writer,) = waiting(a)
    assert enrol(a.folder, SITE, writer) == 1
    assert waiting(a) == []
    assert sorted(values(a.read())) == ["1", "2"]
    b.write("3")
    meets(b, stick)
    report = meets(a, stick)
    assert (report.fetched, report.newcomers) == (1, ())
    assert sorted(values(a.read())) == ["1", "2", "3"]


def test_who_was_taken_in_on_one_laptop_is_taken_in_on_all(laptops, stick):
    a, b, c = laptops
    a.write("1")
    meets(a, stick)
    meets(c, stick)
    c.write("4")
    b.write("2")
    meets(b, stick)
    for laptop in (a, c):
        meets(laptop, stick)
    assert len(waiting(c)) == 1  # b; a it knows
    for writer in waiting(a):
        enrol(a.folder, SITE, writer)
    a.write("5")  # its header names b and c now
    meets(a, stick)
    report = meets(c, stick)
    assert report.newcomers == ()
    assert sorted(values(c.read())) == ["1", "2", "4", "5"]


def test_more_than_there_is_room_for_waits_at_the_address(laptops, stick, monkeypatch):
    monkeypatch.setattr(admission, "_ROOM", 100)
    a, *_ = laptops
    a.write("1")
    for seg in (1, 2, 3):
        put(stick, data := segment(2, seg=seg, run=f"r4t9z{seg}"), name=name_of(data, seg))
    report = meets(a, stick)
    assert [new.files for new in report.newcomers] == [1]
    enrol(a.folder, SITE, "k7q2md")
    assert meets(a, stick).fetched == 2


def name_of(data: bytes, seg: int) -> str:
    from record_making import sealed_name

    return sealed_name(data, seg)


@pytest.mark.parametrize("writer", ["k7q2md", "../../x", ""])
def test_only_who_waits_is_taken_in(laptops, writer):
    a, *_ = laptops
    a.write("1")
    before = tree(a.folder)
    with pytest.raises(SyncFailed, match="waits here"):
        enrol(a.here().folder, SITE, writer)
    assert tree(a.folder) == before


def test_what_changed_while_it_waited_is_not_let_in(laptops, stick):
    a, *_ = laptops
    a.write("1")
    put(stick, segment(2))
    meets(a, stick)
    (path,) = (a.records / "aside" / "unknown").rglob("*.jsonl")
    path.write_bytes(path.read_bytes().replace(b"6.10", b"9.10"))
    assert enrol(a.folder, SITE, "k7q2md") == 0
    assert values(a.read()) == ["1"]
    assert meets(a, stick).newcomers[0].writer == "k7q2md"


def test_a_stranger_that_is_hostile_is_refused_at_once(laptops, stick):
    a, *_ = laptops
    a.write("1")
    put(stick, segment(2, site="aaaaaaaa"))
    report = meets(a, stick)
    assert (len(report.set_aside), report.newcomers) == (1, ())


def test_there_is_room_for_so_many_strange_files_and_no_more(laptops, stick, monkeypatch):
    a, b, _ = laptops
    a.write("1")
    for value in "234":
        b.write(value)
    meets(b, stick)
    monkeypatch.setattr(admission, "_MOST", 2)
    (new,) = meets(a, stick).newcomers
    assert new.files == 2
    enrol(a.folder, SITE, new.writer)
    meets(a, stick)
    assert sorted(values(a.read())) == ["1", "2", "3", "4"]
