"""What readers see: what other programs wrote, once; queries; ids written twice; unknown kinds."""

from __future__ import annotations

import errno
import os
import subprocess
import sys

import pytest
from record_making import (
    SITE,
    reading,
    sealed_name,
    sealed_segments,
    segment,
    values,
)
from tinydb import where

from rounds.records.book import Book
from rounds.records.entry import Note, Open
from rounds.records.reading import Given


class TestOtherPrograms:
    def test_new_entries_of_another_program_come_once(self, laptop):
        mine, other = laptop.book(), laptop.book()
        list(mine.entries())
        mine.append(reading("1"))
        assert mine.new_entries() == ()
        other.append(reading("2"))
        assert values(mine.new_entries()) == ["2"]
        other.append(reading("3"))
        mine.append(reading("4"))
        assert values(mine.new_entries()) == ["3"]
        other.close()
        mine.seal()
        assert mine.new_entries() == ()
        assert values(other.new_entries()) == ["1", "4"]

    def test_a_sealed_segment_that_appears_is_new(self, laptop):
        book = laptop.book()
        book.append(reading("1"))
        list(book.entries())
        folder = laptop.records / "sealed" / "k7q2md"
        folder.mkdir(parents=True)
        data = segment(3)
        (folder / sealed_name(data)).write_bytes(data)
        assert len(values(book.new_entries())) == 3
        assert book.new_entries() == ()

    def test_nothing_is_read_again_when_nothing_changed(self, laptop, monkeypatch):
        laptop.write("1")
        mine, other = laptop.book(), laptop.book()
        other.append(reading("2"))
        assert len(list(mine.entries())) == 4
        monkeypatch.setattr("rounds.records.reading.scan", lambda path: pytest.fail("read"))
        assert mine.new_entries() == ()

    def test_a_folder_that_rested_is_not_listed_again_until_it_changes(self, laptop, monkeypatch):
        from rounds.records import reading as module

        laptop.write("1")
        (path,) = sealed_segments(laptop)
        os.utime(path.parent, (1.7e9, 1.7e9))
        book = laptop.book()
        list(book.entries())
        asked = []
        real = module.told_apart
        monkeypatch.setattr(module, "told_apart", lambda *a: asked.append(a) or real(*a))
        assert book.new_entries() == ()
        assert asked == []
        laptop.write("2")
        assert values(book.new_entries()) == ["2"]
        assert asked

    def test_an_open_file_sealed_while_it_is_read_is_not_missed(self, laptop, monkeypatch):
        other = laptop.book()
        other.append(reading("1"))
        listing = iter([lambda tree: ()])  # the names are listed before the seal, read after it
        from rounds.records import reading as module

        real = module.writer_folders

        def writer_folders(where):
            stale = next(listing, None)
            if stale:
                other.close()
                return stale(where)
            return real(where)

        monkeypatch.setattr(module, "writer_folders", writer_folders)
        assert values(laptop.read()) == ["1"]

    @pytest.mark.parametrize("sealed", [True, False])
    def test_a_file_that_cannot_be_read_once_is_tried_again(self, laptop, monkeypatch, sealed):
        mine, other = laptop.book(read_only=True), laptop.book()
        other.append(reading("1"))
        if sealed:
            other.close()
            (path,) = sealed_segments(laptop)
            os.utime(path.parent, (1.7e9, 1.7e9))  # as one that rested

        def held(path):
            raise PermissionError(errno.EACCES, "held by a scanner")

        with monkeypatch.context() as patch:
            patch.setattr("rounds.records.reading.scan", held)
            patch.setattr("rounds.records.taking.read_plain", lambda path, most: held(path))
            assert mine.new_entries() == ()
            assert "held by a scanner" in mine.problems()[0].says
        assert values(mine.new_entries()) == ["1"]
        assert mine.problems() == ()
        assert mine.new_entries() == ()

    def test_two_processes_write_at_once(self, laptop):
        laptop.here()
        code = (
            "import sys\n"
            "from pathlib import Path\n"
            "from zoneinfo import ZoneInfo\n"
            "from rounds.records.book import Book\n"
            "from rounds.records.entry import Note\n"
            f"with Book.open(Path(sys.argv[1]), {SITE!r}, '', tz=ZoneInfo('UTC')) as book:\n"
            "    for i in range(60):\n"
            "        book.append(Note(text=f'{sys.argv[2]} {i}'))\n"
            "        if i % 20 == 19:\n"
            "            book.seal()\n"
        )
        running = [
            subprocess.Popen([sys.executable, "-c", code, str(laptop.folder), name])
            for name in ("one", "two")
        ]
        assert [process.wait(60) for process in running] == [0, 0]
        laptop.book()  # seals what a busy folder lock left
        got = laptop.read()
        texts = {e.text for e in got if isinstance(e, Note)}
        assert texts == {f"{name} {i}" for name in ("one", "two") for i in range(60)}
        numbers = [int(p.name[:6]) for p in sealed_segments(laptop)]
        assert numbers == list(range(1, len(numbers) + 1))
        assert len({e.id[:6] for e in got}) == 1


class TestReading:
    def test_queries_filter_the_whole_book(self, laptop):
        laptop.write("8.1", "3.9")
        with laptop.book() as book:
            book.append(Note(text="mats turn brown", place="M1"))
            found = list(book.search((where("kind") == "reading") & (where("value") < "5")))
            assert [d["value"] for d in found] == ["3.9"]
            assert set(found[0]) >= {"id", "t", "day", "h", "unit"}
            assert [d["text"] for d in book.search(where("place") == "M1")] == ["mats turn brown"]

    def test_the_book_offers_nothing_that_rewrites(self):
        public = {name for name in dir(Book) if not name.startswith("_")}
        assert public == {
            "append", "between", "cache", "close", "declare", "entries", "index", "listed",
            "new_entries", "open", "opened", "problems", "reread", "resume", "seal", "search",
            "unknown", "writer", "written",
        }  # fmt: skip

    def test_one_id_with_two_contents_is_told_and_the_same_one_is_kept(self, laptop):
        folder = laptop.records / "sealed" / "k7q2md"
        folder.mkdir(parents=True)
        whole = segment(3)
        other = segment(2, app="0.1.1")
        for data in (whole, other):
            (folder / sealed_name(data)).write_bytes(data)
        book = laptop.book(read_only=True)
        assert len(values(book.entries())) == 3
        (problem,) = book.problems()
        assert "written twice, differently" in problem.says

    def test_what_was_given_is_known_in_any_order(self):
        given, ids = Given(), [f"k7q2md-r4t9z{c}-{n}" for c in "ab" for n in (7, 0, 3, 999_999_999)]
        assert [given.add(i, b"1") for i in ids] == [None] * 8
        assert [given.add(i, b"1") for i in reversed(ids)] == [True] * 8
        assert [given.add(i, b"2") for i in ids] == [False] * 8

    def test_unknown_kinds_are_counted(self, laptop):
        from record_making import bodies

        from rounds.records.segment import chained

        folder = laptop.records / "sealed" / "k7q2md"
        folder.mkdir(parents=True)
        head, *rest = bodies(3)
        data = chained([head, *(b.replace(b'"reading"', b'"calibrated"') for b in rest)])
        (folder / sealed_name(data)).write_bytes(data)
        book = laptop.book(read_only=True)
        assert all(isinstance(e, Open) for e in book.entries())
        assert book.unknown == {"calibrated": 3}
        assert book.problems() == ()

    def test_a_damaged_segment_that_is_replaced_is_read_again_while_the_book_is_open(self, laptop):
        from record_making import bodies

        from rounds.records.segment import chained

        folder = laptop.records / "sealed" / "k7q2md"
        folder.mkdir(parents=True)
        data = chained(bodies(3))
        path = folder / sealed_name(data)
        path.write_bytes(data.replace(b'"reading"', b'"readinG"'))
        book = laptop.book(read_only=True)
        assert len(book.new_entries()) < 4
        assert book.problems()
        path.with_name("new").write_bytes(data)
        path.with_name("new").replace(path)
        assert len(book.new_entries()) == 4
        assert book.problems() == ()
