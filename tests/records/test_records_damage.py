"""Damage: whatever is in the folder, the book opens and gives what is whole."""

from __future__ import annotations

import os

import pytest
from record_making import (
    SITE,
    open_segment,
    reading,
    sealed_name,
    sealed_segments,
    segment,
    values,
)

from rounds.records.entry import Damage
from rounds.records.segment import scan


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
            (folder / sealed_name(data)).write_bytes(data)
        book = laptop.book(read_only=True)
        assert list(book.entries()) == []
        assert {p.says for p in book.problems()} == {
            "belongs to another site",
            "holds the entries of another laptop",
        }
