"""The book: what `append` gives an entry, the clock, the identity of a laptop."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from datetime import UTC, datetime

import pytest
from record_making import (
    LISBON,
    open_segment,
    reading,
    sealed_segments,
    values,
)

from rounds.records.book import Book, NotSaved
from rounds.records.entry import Clock, Correction, Died, Note, Open, Reading
from rounds.records.segment import scan


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
