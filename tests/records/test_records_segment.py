"""A segment: every change of its bytes is noticed, and costs the least that can be."""

from __future__ import annotations

import json
import os
from hashlib import sha256

import msgspec
import pytest
from record_making import bodies, segment
from tinydb import TinyDB, where
from tinydb.storages import MemoryStorage

from rounds.records.decoding import Unreadable, decode
from rounds.records.durable import NotPlain
from rounds.records.entry import Reading, Unknown
from rounds.records.segment import (
    MAX_FILE,
    MAX_LINE,
    LineTooLong,
    chained,
    header,
    scan,
    scan_bytes,
)
from rounds.records.storage import AppendOnly, AppendOnlyTable, Segment, SegmentStorage

WHOLE = segment(30)
BODIES = {line.body for line in scan_bytes(WHOLE).lines}


class MemorySegmentStorage(MemoryStorage):
    """The same three methods and `append`, in memory."""

    def __init__(self):
        super().__init__()
        self.memory = {"_default": {}}

    def append(self, document):
        table = self.memory["_default"]
        table[str(len(table) + 1)] = dict(document)
        return len(table)


class MemorySegment(TinyDB):
    table_class = AppendOnlyTable
    default_storage_class = MemorySegmentStorage


@pytest.fixture(params=["file", "memory"])
def table(request, tmp_path):
    database = Segment(tmp_path / "s.jsonl") if request.param == "file" else MemorySegment()
    for body in bodies(5):
        database.insert(json.loads(body))
    yield database
    database.close()


class TestTable:
    def test_queries_find_what_was_inserted(self, table):
        assert len(table) == 6
        assert table.count(where("measure") == "oxygen") == 5
        found = table.search((where("place") == "G3") & (where("unit") == "mg/L"))
        assert [d["id"] for d in found] == ["k7q2md-r4t9zb-3"]

    def test_a_query_sees_what_is_inserted_after_it(self, table):
        query = where("by") == "ana"
        before = table.count(query)
        document = json.loads(bodies(6)[-1])
        assert table.insert(document) == 7
        assert table.count(query) == before + 1

    @pytest.mark.parametrize(
        "change",
        [
            lambda t: t.update({"value": "1"}),
            lambda t: t.update({"value": "1"}, where("place") == "G3"),
            lambda t: t.update({"value": "1"}, doc_ids=[1]),
            lambda t: t.update_multiple([({"value": "1"}, where("place") == "G3")]),
            lambda t: t.upsert({"value": "1"}, where("place") == "G3"),
            lambda t: t.remove(where("place") == "G3"),
            lambda t: t.remove(doc_ids=[1]),
            lambda t: t.truncate(),
            lambda t: t.insert_multiple([{"value": "1"}]),
        ],
    )
    def test_nothing_changes_what_was_inserted(self, table, change):
        before = [dict(d) for d in table.all()]
        with pytest.raises(AppendOnly):
            change(table)
        assert [dict(d) for d in table.all()] == before


class TestStorage:
    def test_the_file_holds_plain_chained_lines(self, tmp_path):
        path = tmp_path / "s.jsonl"
        with TinyDB(path, storage=SegmentStorage) as database:
            for body in bodies(2):
                database.storage.append(json.loads(body))
        previous = ""
        for line in path.read_bytes().splitlines():
            document = json.loads(line)
            h = document.pop("h")
            assert list(json.loads(line))[-1] == "h"
            assert line.endswith(b',"h":"%b"}' % h.encode())
            without = line[: -len(',"h":""}') - 32] + b"}"
            assert h == sha256(previous.encode() + without).hexdigest()[:32]
            previous = h

    def test_it_is_made_at_the_first_line_and_never_opened_twice(self, tmp_path):
        path = tmp_path / "s.jsonl"
        first = SegmentStorage(path)
        assert not path.exists()
        first.append(json.loads(bodies(0)[0]))
        assert path.stat().st_mode & 0o777 == 0o600
        with pytest.raises(FileExistsError):
            SegmentStorage(path).append(json.loads(bodies(0)[0]))
        first.close()
        with pytest.raises(OSError, match="closed"):
            first.append({"kind": "note"})

    def test_dropping_tables_is_refused(self, tmp_path):
        with Segment(tmp_path / "s.jsonl") as database, pytest.raises(AppendOnly):
            database.drop_tables()

    def test_a_line_too_long_is_refused_before_anything_is_written(self, tmp_path):
        storage = SegmentStorage(tmp_path / "s.jsonl")
        with pytest.raises(LineTooLong):
            storage.append({"kind": "note", "text": "x" * MAX_LINE})
        assert not (tmp_path / "s.jsonl").exists()
        assert not storage.closed

    def test_an_append_costs_the_same_whatever_is_in_the_segment(self, tmp_path, monkeypatch):
        """Counted, not timed: one write and one fsync a line, and no reading."""
        calls = []
        write, fsync = os.write, os.fsync
        monkeypatch.setattr(os, "write", lambda fd, b: calls.append(len(b)) or write(fd, b))
        monkeypatch.setattr(os, "fsync", lambda fd: calls.append("fsync") or fsync(fd))
        monkeypatch.setattr("rounds.records.storage.scan", lambda path: pytest.fail("read"))
        database = Segment(tmp_path / "s.jsonl")
        for body in bodies(300):
            database.insert(json.loads(body))
        database.close()
        per_line = calls[3:]  # the first line also puts the new name on the disk
        assert len(per_line) == 600
        assert per_line[1::2] == ["fsync"] * 300
        assert max(per_line[0::2]) - min(per_line[0::2]) < 10


class TestDamage:
    """`BODIES` is all that may ever be handed out."""

    def test_a_whole_segment_is_read_whole(self):
        found = scan_bytes(WHOLE)
        assert (len(found.lines), found.bad, found.torn) == (31, (), b"")
        assert found.digest == sha256(WHOLE).hexdigest()[:32]
        assert found.header.seg == 1
        assert [line.n for line in found.lines] == list(range(31))

    def test_a_bit_flipped_in_any_byte_is_noticed_and_costs_two_lines_at_most(self):
        for at in range(len(WHOLE) - 1):
            data = bytearray(WHOLE)
            data[at] ^= 1 << (at % 8)
            found = scan_bytes(bytes(data))
            assert found.bad or found.torn, at
            assert {line.body for line in found.lines} <= BODIES, at
            assert len(found.lines) >= 29, at

    def test_a_damaged_line_end_does_not_make_the_last_entry_an_unfinished_one(self):
        found = scan_bytes(WHOLE[:-1] + b"\x0b")
        assert (len(found.lines), found.bad, found.torn) == (31, (), b"")

    def test_every_bit_of_two_lines_and_their_ends(self):
        ends = [at for at, byte in enumerate(WHOLE) if byte == 10]
        for at in range(ends[3] - 45, ends[5] + 1):
            for bit in range(8):
                data = bytearray(WHOLE)
                data[at] ^= 1 << bit
                found = scan_bytes(bytes(data))
                assert found.bad, (at, bit)
                assert {line.body for line in found.lines} <= BODIES
                assert len(found.lines) >= 29

    def test_a_tail_torn_at_any_byte_costs_the_torn_line_only(self):
        last = WHOLE.rindex(b"\n", 0, -1) + 1
        for end in range(last + 1, len(WHOLE)):
            found = scan_bytes(WHOLE[:end])
            assert (len(found.lines), found.bad) == (30, ())
            assert found.torn == WHOLE[last:end]
        assert scan_bytes(WHOLE[:last]).torn == b""

    def test_a_tail_of_zeros_is_torn(self):
        found = scan_bytes(WHOLE + b"\0" * 500)
        assert len(found.lines) == 31
        assert found.torn

    def test_lines_deleted_doubled_or_swapped_are_noticed(self):
        lines = WHOLE.splitlines(keepends=True)
        for at in range(len(lines) - 1):
            deleted = scan_bytes(b"".join(lines[:at] + lines[at + 1 :]))
            doubled = scan_bytes(b"".join(lines[: at + 1] + lines[at:]))
            swapped = scan_bytes(
                b"".join([*lines[:at], lines[at + 1], lines[at], *lines[at + 2 :]])
            )
            for found in (deleted, doubled, swapped):
                assert found.bad, at
                assert {line.body for line in found.lines} <= BODIES
            assert len(deleted.lines) >= 29
            assert len(doubled.lines) == 31
            assert len(swapped.lines) >= 28

    def test_the_raw_bytes_and_the_reason_of_a_bad_line_are_kept(self):
        lines = WHOLE.splitlines()
        lines[7] = lines[7].replace(b"mg/L", b"mg/l")
        (bad,) = scan_bytes(b"\n".join(lines) + b"\n").bad
        assert (bad.number, bad.raw) == (8, lines[7])
        assert "does not match its hash" in bad.reason
        (after_a_gap,) = scan_bytes(b"\n".join([*lines[:3], *lines[4:7]]) + b"\n").bad
        assert (after_a_gap.number, after_a_gap.raw) == (4, lines[4])
        assert "the one before is gone" in after_a_gap.reason

    @pytest.mark.parametrize("junk", [b"", b"\n\n\n", b"\0" * 99, b"{}\n[]\nnull\n", b"\xff\n"])
    def test_junk_is_no_segment_and_no_error(self, junk):
        found = scan_bytes(junk)
        assert found.lines == ()
        assert found.header is None

    def test_a_giant_line_is_not_parsed(self):
        found = scan_bytes(b'{"kind":"note","text":"' + b"x" * MAX_LINE + b'"}\n' + WHOLE)
        assert "longer" in found.bad[0].reason

    def test_giants_links_pipes_and_folders_are_not_read(self, tmp_path):
        giant = tmp_path / "giant"
        with giant.open("wb") as file:
            file.truncate(10 * 1024**3)
        (tmp_path / "link").symlink_to("giant")
        os.mkfifo(tmp_path / "pipe")
        for name in ("giant", "link", "pipe", "."):
            with pytest.raises(NotPlain):
                scan(tmp_path / name)
        with giant.open("wb") as file:
            file.truncate(MAX_FILE)
        assert scan(giant).lines == ()

    def test_a_header_alone_can_be_read(self, tmp_path):
        path = tmp_path / "s.jsonl"
        path.write_bytes(WHOLE)
        assert header(path) == scan_bytes(WHOLE).header


class TestPlace:
    """A chain can be forged; a line must also stand where it belongs."""

    def test_only_line_1_is_a_header(self):
        first, second = bodies(1)
        assert "is not a header" in scan_bytes(chained([second])).bad[0].reason
        again = first.replace(b"zb-0", b"zb-2")
        assert "in the middle" in scan_bytes(chained([first, second, again])).bad[0].reason

    def test_an_entry_of_another_laptop_or_run_is_refused(self):
        first, second = bodies(1)
        for other in (b"k7q2md-r4t9zc-1", b"p3x9tf-r4t9zb-1"):
            forged = second.replace(b"k7q2md-r4t9zb-1", other)
            assert "another run" in scan_bytes(chained([first, forged])).bad[0].reason

    def test_a_number_used_before_is_refused(self):
        first, second = bodies(1)
        assert "used before" in scan_bytes(chained([first, second, second])).bad[0].reason

    def test_a_newer_format_is_left_alone(self):
        found = scan_bytes(segment(2, format=2))
        assert found.newer
        assert len(found.lines) == 1


GOOD = bodies(1)[1]


def changed(**keys) -> bytes:
    return msgspec.json.encode(json.loads(GOOD) | keys)


class TestDecoding:
    def test_a_reading_comes_back_as_it_was_typed(self):
        entry = decode(GOOD, "abc")
        assert isinstance(entry, Reading)
        assert (entry.value, entry.unit, entry.h) == ("6.10", "mg/L", "abc")

    @pytest.mark.parametrize(
        ("body", "why"),
        [
            (GOOD[:-1] + b',"value":"9.99"}', "twice"),
            (GOOD[:-1] + b',"x":{"y":1,"y":2}}', "twice"),
            (GOOD[:-1] + b',"h":"' + b"0" * 32 + b'"}', "twice"),
            (GOOD[:-1] + b',"x":NaN}', "."),
            (GOOD[:-1] + b',"x":-Infinity}', "."),
            (GOOD[:-1] + b',"x":"\xff"}', "UTF-8"),
            (GOOD.replace(b"6.10", b"\xc3"), "UTF-8"),
            (GOOD.replace(b"6.10", b"\\ud800"), "."),
            (GOOD[:-1] + b',"x":' + b"[" * 3900 + b"]" * 3900 + b"}", "deep"),
            (GOOD[:-1] + b',"x":' + b'{"a":' * 1300 + b"1" + b"}" * 1300 + b"}", "deep"),
            (GOOD + b" {}", "."),
            (b"[" + GOOD + b"]", "."),
            (b"null", "."),
            (GOOD[:-1], "."),
            (changed(kind="task", id="../../x"), "id"),
            (changed(id="k7q2md-r4t9zb-01"), "id"),
            (changed(id="K7Q2MD-r4t9zb-1"), "id"),
            (changed(t="2026-11-24T07:02:35.323"), "t is no time"),
            (changed(t="2026-02-30T07:02:35.323Z"), "t is no time"),
            (changed(t="0001-01-01T00:00:00.000Z"), "t is no time"),
            (changed(t="٢٠٢٦-11-24T07:02:35.323Z"), "t is no time"),
            (changed(read_at="yesterday"), "read_at is no time"),
            (changed(read_at=""), "read_at is no time"),
            (changed(off="CET"), "off"),
            (changed(day="2026-W48-2"), "day"),
            (changed(day="2026-13-01"), "day"),
            (changed(value="NaN"), "value is no number"),
            (changed(value="1e999"), "value is no number"),
            (changed(value="8,10"), "value is no number"),
            (changed(value="٨"), "value is no number"),
            (changed(kind="died", lot="L1", count=-1), "count"),
            (changed(kind="died", lot="L1", count=10**18), "count"),
            (changed(kind="weighed", count=2, mass="1", unit="g", weights=["1", "x"]), "weights"),
        ],
    )
    def test_what_parsers_or_people_differ_on_is_refused(self, body, why):
        with pytest.raises(Unreadable, match=why):
            decode(body, "")

    def test_numbers_out_of_range_do_not_escape(self):
        for number in (b"1e999", b"9" * 5000):
            body = GOOD.replace(b'"mono":1.5', b'"mono":' + number)
            try:
                found = decode(body, "")
            except Unreadable:
                continue
            assert isinstance(found, Unknown)

    def test_unknown_kinds_and_shapes_are_kept_as_such(self):
        assert decode(changed(kind="calibrated", slope="59"), "") == Unknown(
            id="k7q2md-r4t9zb-1", kind="calibrated"
        )
        assert isinstance(decode(changed(value=8.1), ""), Unknown)
        assert isinstance(decode(changed(kind="walk", event="paused", checklist="x"), ""), Unknown)

    def test_unknown_keys_do_no_harm(self):
        entry = decode(GOOD[:-1] + b',"depth":"1.2"}', "")
        assert isinstance(entry, Reading)

    def test_texts_are_clean_in_what_is_handed_out(self):
        body = changed(kind="note", text="a\u001b[2Jb\u202ec\nd", by="an\na", about="\x7f")
        entry = decode(body, "")
        assert entry.text == "a\N{REPLACEMENT CHARACTER}[2Jb\N{REPLACEMENT CHARACTER}c\nd"
        assert entry.by == "an a"
        assert entry.about == "\N{REPLACEMENT CHARACTER}"

    def test_texts_in_lists_and_corrections_are_clean_too(self):
        body = changed(kind="correction", of="x", after=["\u200b"], set={"why": "\u001b", "n": 1})
        entry = decode(body, "")
        assert entry.after == ["\N{REPLACEMENT CHARACTER}"]
        assert entry.set == {"why": "\N{REPLACEMENT CHARACTER}", "n": 1}
