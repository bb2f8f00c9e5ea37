"""Segments: when one ends, how it is sealed, what a dead or a live run leaves to the next."""

from __future__ import annotations

import errno

import pytest
from record_making import (
    SITE,
    open_segment,
    reading,
    sealed_segments,
    tree,
    values,
)
from tinydb import where

from rounds.records.book import NotSaved
from rounds.records.identity import forget_writer_id
from rounds.records.segment import scan


class TestSegments:
    def test_a_segment_ends_after_its_number_of_entries(self, laptop, monkeypatch):
        monkeypatch.setattr("rounds.records.writing.FULL", 9)
        with laptop.book() as book:
            for i in range(10):
                book.append(reading(str(i)))
            assert len(sealed_segments(laptop)) == 1
            (first,) = (scan(p) for p in sealed_segments(laptop))
            assert len(first.lines) == 10
            second = scan(open_segment(laptop)).header
        assert second.prev == sealed_segments(laptop)[0].name.split("_")[2][:32]
        assert second.seg == 2
        assert values(laptop.read()) == [str(i) for i in range(10)]

    def test_a_sealed_segment_is_named_by_its_bytes_and_read_only(self, laptop):
        laptop.write("8.1")
        (path,) = sealed_segments(laptop)
        assert path.name == f"000001_20261124_{scan(path).digest}.jsonl"
        assert path.stat().st_mode & 0o777 == 0o444
        assert list((laptop.records / "open").iterdir()) == []
        header = scan(path).header
        assert (header.site, header.format, header.seg, header.prev) == (SITE, 1, 1, "")
        assert header.writer == path.parent.name

    def test_a_run_that_writes_nothing_leaves_nothing(self, laptop):
        with laptop.book():
            pass
        assert tree(laptop.folder) == {}
        assert not laptop.state.exists()

    def test_reading_writes_nothing_even_beside_a_dead_run(self, laptop, monkeypatch):
        book = laptop.book()
        book.append(reading("8.1"))
        book._writer.close()  # as if its process had ended
        before = tree(laptop.folder.parent)
        again = laptop.book(read_only=True)
        assert values(again.entries()) == ["8.1"]
        assert list(again.search(where("value") == "8.1"))
        assert again.problems() == ()
        again.new_entries()
        again.seal()
        with pytest.raises(NotSaved, match="reading only"):
            again.append(reading("8.2"))
        again.close()
        assert tree(laptop.folder.parent) == before

    def test_the_next_start_seals_what_a_dead_run_left(self, laptop):
        book = laptop.book()
        book.append(reading("8.1"))
        book._writer.close()
        laptop.book()
        assert len(sealed_segments(laptop)) == 1
        assert not list((laptop.records / "open").iterdir())

    def test_a_live_run_is_left_alone(self, laptop):
        alive = laptop.book()
        alive.append(reading("8.1"))
        with laptop.book() as other:
            other.append(reading("8.2"))
        assert open_segment(laptop).name.split("-")[1] == "000001"
        alive.append(reading("8.3"))
        alive.close()
        assert sorted(values(laptop.read())) == ["8.1", "8.2", "8.3"]
        assert [p.name[:6] for p in sealed_segments(laptop)] == ["000001", "000002"]

    def test_a_header_names_every_segment_no_header_names_yet(self, laptop):
        one, two = laptop.book(), laptop.book()
        one.append(reading("1"))
        two.append(reading("2"))
        two.close()
        one.close()
        laptop.write("3")
        laptop.write("4")
        first, second, third, fourth = (scan(p) for p in sealed_segments(laptop))
        assert third.header.prev.split() == [first.digest, second.digest]
        assert fourth.header.prev.split() == [third.digest]

    def test_a_number_another_run_took_meanwhile_is_not_taken_again(self, laptop, monkeypatch):
        from rounds.records import writing as module

        laptop.write("1")
        before = iter([set()])  # listed before the other run had its number
        real = module._used
        monkeypatch.setattr(module, "_used", lambda *a: next(before, real(*a)))
        laptop.write("2")
        assert [p.name[:6] for p in sealed_segments(laptop)] == ["000001", "000002"]

    def test_sealing_twice_makes_one_file(self, laptop):
        book = laptop.book()
        book.append(reading("8.1"))
        path = open_segment(laptop)
        data = path.read_bytes()
        book.close()
        path.write_bytes(data)  # as if the power went between the new name and the old one's end
        assert values(laptop.read()) == ["8.1"]
        laptop.book()
        assert len(sealed_segments(laptop)) == 1
        assert not path.exists()

    def test_one_dead_run_that_cannot_be_read_holds_up_no_other(self, laptop, monkeypatch):
        from rounds.records import sealing

        books = laptop.book(), laptop.book()
        for book, value in zip(books, "12", strict=True):
            book.append(reading(value))
        for book in books:
            book._writer.close()
        real = sealing.scan

        def scan_one(path):
            if "-000001-" in path.name:
                raise OSError(errno.EIO, "bad sector")
            return real(path)

        monkeypatch.setattr(sealing, "scan", scan_one)
        laptop.book()
        assert [p.name[:6] for p in sealed_segments(laptop)] == ["000002"]
        monkeypatch.undo()
        assert sorted(values(laptop.read())) == ["1", "2"]

    def test_folders_that_cannot_be_listed_do_not_stop_the_writing(self, laptop, monkeypatch):
        from rounds.records import writing

        laptop.write("1")
        (laptop.records / "sealed" / "p3x9tf").mkdir()
        real = writing.writer_files

        def writer_files(tree, writer):
            if writer == "p3x9tf":
                raise OSError(errno.EIO, "bad sector")
            return real(tree, writer)

        monkeypatch.setattr(writing, "writer_files", writer_files)
        laptop.write("2")
        assert values(laptop.read()) == ["1", "2"]

    def test_a_run_whose_id_another_laptop_uses_goes_on_under_a_new_one(self, laptop):
        with laptop.book() as book:
            first = book.append(reading("1"))
            forget_writer_id(laptop.folder, SITE)
            book.seal()
            second = book.append(reading("2"))
            assert book.writer == second.id[:6] != first.id[:6]
        assert sorted(values(laptop.read())) == ["1", "2"]

    def test_a_busy_folder_lock_does_not_hold_up_the_round(self, laptop):
        from rounds.records.locks import folder_lock

        book = laptop.book()
        book.append(reading("8.1"))
        with folder_lock(laptop.records) as held:
            assert held
            book.close()
            assert not sealed_segments(laptop)
        assert values(laptop.read()) == ["8.1"]
        laptop.book()
        assert len(sealed_segments(laptop)) == 1
