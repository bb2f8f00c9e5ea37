"""Sync: laptops and sticks come to hold the same segments."""

from __future__ import annotations

import random

import pytest
from record_making import (
    SITE,
    reading,
    sealed_segments,
    tree,
    values,
)
from syncing import on, sealed, synced

from rounds.records.hearing import newest_times
from rounds.records.layout import listed, sealed_tree
from rounds.records.memory import recall_all
from rounds.records.reaching import SyncFailed
from rounds.records.sync import sync
from rounds.records.verifying import verify


class TestEmptied:
    """The bare folder where a share is not connected must not pass for the share."""

    def test_an_address_that_held_files_and_holds_none_is_filled_by_who_asks_twice(
        self, laptop, stick
    ):
        laptop.write("1", "2")
        synced(laptop, stick)
        (stick / SITE).rename(stick.parent / "away")
        here = laptop.here().folder
        for asked in (False, False, True):
            with pytest.raises(SyncFailed, match="at the last sync, 1 of them, and holds none"):
                sync(here, SITE, stick, asked=asked)
            assert on(stick) == {}
            (memory,) = recall_all(here)
            assert memory.files == ()
        with pytest.raises(SyncFailed, match="Nothing was sent"):
            sync(here, SITE, stick, asked=False)
        assert sync(here, SITE, stick).sent == 1
        assert on(stick) == sealed(laptop)

    def test_one_that_comes_back_is_as_before(self, laptop, stick):
        laptop.write("1")
        synced(laptop, stick)
        (stick / SITE).rename(stick.parent / "away")
        with pytest.raises(SyncFailed):
            synced(laptop, stick)
        (stick.parent / "away").rename(stick / SITE)
        assert synced(laptop, stick).sent == 0
        (memory,) = recall_all(laptop.here().folder)
        assert (memory.emptied, memory.count) == (0, 1)


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
        def heard(laptop):
            return newest_times(laptop.records, listed(sealed_tree(laptop.records)).files)

        a, b, _ = laptops
        assert heard(a) == {}
        a.write("1")
        b.clocks.pass_s(3600)
        b.write("2")
        synced(b, stick)
        synced(a, stick)
        a.clocks.pass_s(60)
        a.book().append(reading("3"))
        assert heard(a) == {
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
        report = verify(a.folder, SITE)
        assert report.findings == ()
        (note,) = report.notes
        assert "copied or restored" in note.says
