"""The book: what `append` gives an entry, what readers see, what other programs wrote."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import threading
from datetime import UTC, datetime

import pytest
from record_making import (
    LISBON,
    SITE,
    Laptop,
    open_segment,
    reading,
    sealed_segments,
    segment,
    tree,
    values,
)
from tinydb import where

from rounds.records.book import Book, NotSaved
from rounds.records.entry import Clock, Correction, Damage, Died, Note, Open, Reading
from rounds.records.identity import forget_writer_id
from rounds.records.reading import Given
from rounds.records.segment import scan


@pytest.fixture
def laptop(tmp_path, monkeypatch):
    return Laptop(tmp_path, "a", monkeypatch)


class TestAppend:
    def test_an_entry_gets_its_id_time_day_and_hash(self, laptop):
        with laptop.book() as book:
            first = book.append(reading("8.10"))
            laptop.clocks.pass_s(61.5)
            second = book.append(reading("8.2"))
            writer = book.writer
        run = first.id.split("-")[1]
        assert first.id == f"{writer}-{run}-1"
        assert second.id == f"{writer}-{run}-2"
        assert (second.t, second.off, second.day) == (
            "2026-11-24T07:01:01.500Z",
            "+00:00",
            "2026-11-24",
        )
        assert (first.mono, second.mono) == (0.0, 61.5)
        assert first.value == "8.10"
        assert len(second.h) == 32

    def test_the_day_is_the_sites_and_a_given_day_stays(self, laptop):
        laptop.clocks.at = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
        with laptop.book() as book:
            late = book.append(reading())
            kept = book.append(Correction(of=late.id, set={"value": "8.2"}, day="2026-06-01"))
        assert (late.day, late.off) == ("2026-07-02", "+01:00")
        assert kept.day == "2026-06-01"

    def test_what_append_returns_is_what_every_reader_sees(self, laptop):
        with laptop.book() as book:
            written = [
                book.append(reading("8.10", read_at="2026-11-24T06:00:00.000Z")),
                book.append(Note(text="two\nlines \u202e\u001b[31m", by="ana", about="G2\t")),
                book.append(Died(count=0, lot="L1", place="G2")),
            ]
            assert [e for e in book.entries() if not isinstance(e, Open)] == written
        assert [e for e in laptop.read() if not isinstance(e, Open)] == written

    def test_it_is_in_the_file_before_append_returns(self, laptop):
        book = laptop.book()
        for value in ("8.1", "8.2"):
            entry = book.append(reading(value))
            assert scan(open_segment(laptop)).lines[-1].entry == entry

    def test_a_number_or_time_that_is_none_is_a_mistake_of_the_caller(self, laptop):
        book = laptop.book()
        with pytest.raises(ValueError, match="reading entry: value is no number"):
            book.append(reading("8,1"))
        with pytest.raises(ValueError, match="read_at"):
            book.append(reading(read_at="07:00"))
        assert book.append(reading("8.1")).value == "8.1"
        book.close()
        assert values(laptop.read()) == ["8.1"]

    def test_a_text_too_long_for_a_line_is_told_and_the_segment_goes_on(self, laptop):
        with laptop.book() as book:
            book.append(reading("8.1"))
            with pytest.raises(NotSaved, match="too long"):
                book.append(Note(text="é" * 4000, about="é" * 4000))
            book.append(reading("8.2"))
        assert len(sealed_segments(laptop)) == 1
        assert values(laptop.read()) == ["8.1", "8.2"]

    def test_threads_may_append_at_once(self, laptop):
        with laptop.book() as book:

            def work(base):
                for i in range(20):
                    book.append(reading(f"{base}.{i}"))

            threads = [threading.Thread(target=work, args=(i,)) for i in range(4)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            assert book.new_entries() == ()
        got = laptop.read()
        assert len(set(values(got))) == 80
        assert sorted(int(e.id.split("-")[2]) for e in got) == list(range(81))

    def test_a_book_written_in_one_thread_is_closed_in_another(self, laptop):
        book = laptop.book()
        thread = threading.Thread(target=book.append, args=(reading("1"),))
        thread.start()
        thread.join()
        book.close()
        assert len(sealed_segments(laptop)) == 1


class TestClock:
    def test_a_jump_of_the_clock_is_written_before_the_entry(self, laptop):
        with laptop.book() as book:
            book.append(reading("1"))
            laptop.clocks.pass_s(100)
            book.append(reading("2"))
            laptop.clocks.at = datetime(2026, 11, 24, 6, 0, tzinfo=UTC)
            book.append(reading("3"))
            laptop.clocks.pass_s(5)
            book.append(reading("4"))
        kinds = [e.jump_s if isinstance(e, Clock) else e.value for e in laptop.read()[1:]]
        assert kinds == ["1", "2", -3700.0, "3", "4"]

    def test_two_seconds_are_no_jump(self, laptop):
        with laptop.book() as book:
            book.append(reading("1"))
            laptop.clocks.steady_s += 1.9
            book.append(reading("2"))
        assert not any(isinstance(e, Clock) for e in laptop.read())

    def test_the_hour_that_comes_twice(self, laptop):
        laptop.clocks.at = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
        with laptop.book() as book:
            first = book.append(reading("1"))
            laptop.clocks.pass_s(3600)
            second = book.append(reading("2"))
        assert (first.off, second.off) == ("+01:00", "+00:00")
        assert first.t < second.t
        assert not any(isinstance(e, Clock) for e in laptop.read())

    @pytest.mark.parametrize("year", [1970, 2106])
    def test_a_clock_that_is_wrong_by_decades_stops_nothing(self, laptop, year):
        laptop.clocks.at = datetime(year, 1, 1, tzinfo=UTC)
        laptop.write("1")
        assert values(laptop.read()) == ["1"]


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


class TestIdentity:
    def test_a_laptop_keeps_its_id(self, laptop):
        first, second = laptop.write("1"), laptop.write("2")
        assert first[0].id[:7] == second[0].id[:7]
        assert first[0].id != second[0].id

    def test_a_copied_state_on_another_machine_gets_a_new_id(self, laptop, monkeypatch):
        (first,) = laptop.write("1")
        monkeypatch.setattr("rounds.records.identity._machine", lambda: "another")
        (second,) = laptop.write("2")
        assert first.id[:6] != second.id[:6]

    def test_a_copied_folder_gets_a_new_id(self, laptop):
        (first,) = laptop.write("1")
        laptop.folder = laptop.folder.rename(laptop.folder.with_name("copy"))
        (second,) = laptop.write("2")
        assert first.id[:6] != second.id[:6]

    @pytest.mark.parametrize("junk", [b"", b"[]", b'{"writer":"../../","machine":"x"}', b"\xff"])
    def test_a_damaged_identity_is_a_new_one(self, laptop, junk):
        laptop.write("1")
        (path,) = laptop.state.glob("*/identity.json")
        path.write_bytes(junk)
        laptop.write("2")
        assert sorted(values(laptop.read())) == ["1", "2"]

    def test_a_site_id_is_never_a_path(self, laptop):
        for bad in ("../../..", "M4K8Q2VZ", "m4k8q2v", "", "m4k8q2vz\n"):
            with pytest.raises(ValueError, match="site id"):
                Book.open(laptop.folder, bad, "", tz=LISBON)


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
        (folder / f"000001_20261124_{scan_digest(data)}.jsonl").write_bytes(data)
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
        real = module.writer_files
        monkeypatch.setattr(module, "writer_files", lambda *a: asked.append(a) or real(*a))
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


def scan_digest(data: bytes) -> str:
    from rounds.records.segment import scan_bytes

    return scan_bytes(data).digest


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
            "append", "close", "entries", "new_entries", "open", "problems", "seal", "search",
            "unknown", "writer",
        }  # fmt: skip

    def test_one_id_with_two_contents_is_told_and_the_same_one_is_kept(self, laptop):
        folder = laptop.records / "sealed" / "k7q2md"
        folder.mkdir(parents=True)
        whole = segment(3)
        other = segment(2, app="0.1.1")
        for data in (whole, other):
            (folder / f"000001_20261124_{scan_digest(data)}.jsonl").write_bytes(data)
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
        (folder / f"000001_20261124_{scan_digest(data)}.jsonl").write_bytes(data)
        book = laptop.book(read_only=True)
        assert all(isinstance(e, Open) for e in book.entries())
        assert book.unknown == {"calibrated": 3}
        assert book.problems() == ()


class TestDamage:
    """Whatever is in the folder, the book opens and gives what is whole."""

    def damaged(self, laptop, change) -> None:
        book = laptop.book()
        for i in range(6):
            book.append(reading(str(i)))
        book._writer.close()
        path = open_segment(laptop)
        lines = path.read_bytes().splitlines(keepends=True)
        change(lines)
        path.write_bytes(b"".join(lines))

    def flip(self, at):
        def change(lines):
            lines[at] = lines[at].replace(b'"by":"ana"', b'"by":"bea"') if at else b"#" * 40 + b"\n"

        return change

    def test_a_damaged_line_is_skipped_told_and_kept_aside(self, laptop):
        self.damaged(laptop, self.flip(3))
        reader = laptop.book(read_only=True)
        assert values(reader.entries()) == ["0", "1", "3", "4", "5"]
        assert [p.line for p in reader.problems()] == [4]
        book = laptop.book()
        assert values(book.entries()) == ["0", "1", "3", "4", "5"]
        (problem,) = book.problems()
        assert (problem.line, "hash" in problem.says) == (4, True)
        (raw,) = (laptop.records / "aside").glob("*.bin")
        assert b'"by":"bea"' in raw.read_bytes()

    def test_what_is_sealed_is_whole_and_tells_of_the_damage(self, laptop):
        self.damaged(laptop, self.flip(3))
        laptop.book()
        (path,) = sealed_segments(laptop)
        found = scan(path)
        assert (found.bad, found.torn) == ((), b"")
        assert [line.n for line in found.lines] == [0, 1, 2, 3, 4, 5, 6]
        damage = found.lines[3].entry
        assert isinstance(damage, Damage)
        assert (damage.file.split("-")[1], damage.line) == ("000001", 4)

    def test_a_lost_header_is_made_again(self, laptop):
        self.damaged(laptop, self.flip(0))
        laptop.book()
        (path,) = sealed_segments(laptop)
        header = scan(path).header
        assert (header.seg, header.site, header.writer) == (1, SITE, path.parent.name)
        assert values(laptop.read()) == ["1", "2", "3", "4", "5"]

    def test_a_torn_tail_goes_aside_without_alarm(self, laptop):
        def tear(lines):
            lines[-1] = lines[-1][:50]

        self.damaged(laptop, tear)
        book = laptop.book()
        assert values(book.entries()) == ["0", "1", "2", "3", "4"]
        assert book.problems() == ()
        (raw,) = (laptop.records / "aside").glob("*.bin")
        assert len(raw.read_bytes()) == 50
        assert not any(isinstance(e, Damage) for e in laptop.read())

    @pytest.mark.parametrize(
        "content",
        [b"", b"\n", b"\0" * 4096, b"{}" * 3000],
        ids=["empty", "a line end", "zeros", "a giant line"],
    )
    def test_an_open_file_with_nothing_whole_in_it_keeps_its_number(self, laptop, content):
        self.damaged(laptop, lambda lines: lines.clear())
        path = open_segment(laptop)
        path.write_bytes(content)
        os.utime(path, (-1e9, -1e9))  # a time before any an entry may have
        laptop.write("7")
        assert all(scan(p).header for p in sealed_segments(laptop))
        assert [p.name[:6] for p in sealed_segments(laptop)] == ["000001", "000002"]
        assert values(laptop.read()) == ["7"]

    def test_any_bit_flipped_in_an_open_file_never_stops_a_start(self, laptop):
        self.damaged(laptop, lambda lines: None)
        path = open_segment(laptop)
        whole = path.read_bytes()
        for at in range(0, len(whole), 23):
            data = bytearray(whole)
            data[at] ^= 1 << at % 8
            path.write_bytes(data)
            book = laptop.book()
            got = values(book.entries())
            assert len(got) >= 4
            assert set(got) <= set("012345")
            assert not path.exists()
            (sealed,) = sealed_segments(laptop)
            assert scan(sealed).bad == ()
            sealed.unlink()

    def test_damage_in_a_sealed_file_is_told_and_costs_two_entries_at_most(self, laptop):
        laptop.write(*"012345")
        (path,) = sealed_segments(laptop)
        data = path.read_bytes()
        path.chmod(0o600)
        path.write_bytes(data.replace(b'"value":"3"', b'"value":"4"'))
        book = laptop.book()
        assert values(book.entries()) == ["0", "1", "2", "4", "5"]
        assert any("changed after it was sealed" in p.says for p in book.problems())

    def test_lines_cut_off_a_sealed_file_are_told(self, laptop):
        laptop.write(*"012345")
        (path,) = sealed_segments(laptop)
        path.chmod(0o600)
        path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-2]))
        book = laptop.book()
        assert values(book.entries()) == ["0", "1", "2", "3"]
        assert "changed after it was sealed" in book.problems()[0].says

    def test_junk_in_the_folder_stops_nothing(self, laptop):
        laptop.write("8.1")
        sealed = laptop.records / "sealed"
        (sealed / "junk").write_bytes(b"x")
        (sealed / "p3x9tf").symlink_to("/")
        (sealed / "aaaaaa").mkdir()
        name = "000001_20261124_" + "0" * 32 + ".jsonl"
        (sealed / "aaaaaa" / name).mkdir()
        (sealed / "aaaaaa" / name.replace("000001", "000002")).symlink_to("/etc/passwd")
        (sealed / "aaaaaa" / name.replace("000001", "000003")).write_bytes(b"\xff" * 10_000)
        (laptop.records / "open" / "k7q2md-000001-r4t9zb.jsonl").mkdir()
        (laptop.records / "open" / "k7q2md-000002-r4t9zb.jsonl").symlink_to("nowhere")
        book = laptop.book()
        assert values(book.entries()) == ["8.1"]
        assert book.problems()
        book.append(reading("8.2"))
        book.close()
        assert values(laptop.read()) == ["8.1", "8.2"]

    def test_a_segment_of_another_site_or_laptop_is_not_read(self, laptop):
        folder = laptop.records / "sealed" / "k7q2md"
        folder.mkdir(parents=True)
        for data in (segment(2, site="aaaaaaaa"), segment(2, writer="p3x9tf")):
            (folder / f"000001_20261124_{scan_digest(data)}.jsonl").write_bytes(data)
        book = laptop.book(read_only=True)
        assert list(book.entries()) == []
        assert {p.says for p in book.problems()} == {
            "belongs to another site",
            "holds the entries of another laptop",
        }


def test_importing_the_records_loads_nothing_that_is_slow():
    code = (
        "import sys; import rounds.records.book, rounds.records.sync, rounds.records.verifying;"
        "print([m for m in ('fsspec', 'filelock', 'pint', 'platformdirs', 'textual')"
        " if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_an_entry_is_one_json_object_that_anyone_can_read(laptop):
    laptop.write("8.10")
    (path,) = sealed_segments(laptop)
    first, second = map(json.loads, path.read_text().splitlines())
    assert first["kind"] == "open"
    assert (second["kind"], second["value"], second["unit"]) == ("reading", "8.10", "mg/L")
    assert list(second)[-1] == "h"
    assert isinstance(reading(), Reading)
