"""Verify: it names file and line, and says what it cannot know."""

from __future__ import annotations

import json
import os

import pytest
from record_making import (
    SITE,
    Laptop,
    open_segment,
    reading,
    sealed_name,
    sealed_segments,
    tree,
    values,
)
from syncing import synced

from rounds.records import verifying
from rounds.records.segment import chained, scan
from rounds.records.verifying import verify


@pytest.fixture
def laptops(tmp_path, monkeypatch):
    return [Laptop(tmp_path, name, monkeypatch) for name in "ab"]


@pytest.fixture
def seen(laptops, tmp_path):
    """Laptop a wrote three segments, b saw them and wrote its own, a has b's."""
    a, b = laptops
    (tmp_path / "stick").mkdir()
    for value in "123":
        a.write(value, value)
    for laptop in (a, b):
        synced(laptop, tmp_path / "stick")
    b.write("4")
    for laptop in (b, a):
        synced(laptop, tmp_path / "stick")
    return a


def own(laptop: Laptop):
    return [p for p in sealed_segments(laptop) if p.parent.name == laptop.here().book().writer]


def rewritten(path, old: bytes, new: bytes):
    """Change a sealed segment as a skilled forger would: chain, digest and name are right."""
    lines = [line.body.replace(old, new) for line in scan(path).lines]
    data = chained(lines)
    path.unlink()
    seg, day, _ = path.stem.split("_")
    forged = path.with_name(sealed_name(data, int(seg), day))
    forged.write_bytes(data)
    return forged


def says(laptop: Laptop) -> list[str]:
    return [f"{f.file}:{f.line} {f.says}" for f in verify(laptop.folder, SITE).findings]


def test_a_whole_book_has_no_findings_and_its_heads(seen):
    before = tree(seen.folder)
    report = verify(seen.folder, SITE)
    assert report.findings == ()
    assert (report.files, report.entries) == (4, 7)
    newest = own(seen)[-1]
    assert report.heads[newest.parent.name] == f"3:{scan(newest).digest}"
    assert len(report.heads) == 2
    assert tree(seen.folder) == before


def test_an_empty_book(tmp_path):
    report = verify(tmp_path, SITE)
    assert (report.files, report.entries, report.findings) == (0, 0, ())


def test_what_it_cannot_know_is_said(seen):
    cannot = " ".join(verify(seen.folder, SITE).cannot_know)
    (other,) = {p.parent.name for p in sealed_segments(seen)} - {own(seen)[0].parent.name}
    assert f"No other laptop has seen segment 1 of {other}" in cannot
    assert own(seen)[0].parent.name not in cannot
    assert "removed before another laptop saw them" in cannot


def test_a_changed_line_is_named(seen):
    path = own(seen)[1]
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"value":"2"', b'"value":"9"', 1))
    name = f"{path.parent.name}/{path.name}"
    assert [s for s in says(seen) if s.startswith(f"{name}:2 does not match its hash")]
    assert [s for s in says(seen) if s.startswith(f"{name}:0 is not what its name says")]


def test_a_segment_written_anew_is_found_by_its_successor_and_by_the_witness(seen):
    rewritten(own(seen)[1], b'"value":"2"', b'"value":"9"')
    found = says(seen)
    assert any("000003" in s and "names a segment" in s for s in found)


def test_the_whole_later_chain_written_anew_is_found_by_the_witness_only(seen):
    second, third = own(seen)[1:]
    old = scan(second).digest
    new = scan(rewritten(second, b'"value":"2"', b'"value":"9"')).digest
    rewritten(third, old.encode(), new.encode())
    (found,) = says(seen)
    assert "saw segment 3:" in found


def test_without_a_witness_it_cannot_be_found_and_that_is_said(laptops):
    a, _ = laptops
    a.write("1")
    a.write("2")
    rewritten(own(a)[1], b'"value":"2"', b'"value":"9"')
    report = verify(a.folder, SITE)
    assert report.findings == ()
    assert any("No other laptop has seen segments 1 to 2" in s for s in report.cannot_know)


def test_the_newest_segment_removed_is_found_by_the_witness(seen):
    own(seen)[-1].unlink()
    assert any("saw segment 3:" in s for s in says(seen))


def test_a_segment_removed_in_the_middle_is_a_gap(seen):
    own(seen)[1].unlink()
    assert any("segment 2 is missing, of 3: sync" in s for s in says(seen))


def test_an_older_copy_put_beside_is_a_number_given_twice(seen):
    path = own(seen)[1]
    lines = [line.body for line in scan(path).lines][:-1]
    data = chained(lines)
    path.with_name(sealed_name(data, 2)).write_bytes(data)
    report = verify(seen.folder, SITE)
    assert report.findings == ()
    (note,) = report.notes
    assert "copied or restored" in note.says


def test_a_number_given_twice_is_no_note_while_one_of_the_two_is_damaged(seen):
    path = own(seen)[1]
    lines = [line.body for line in scan(path).lines][:-1]
    data = chained(lines)
    path.with_name(sealed_name(data, 2)).write_bytes(data)
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"value":"2"', b'"value":"9"', 1))
    assert verify(seen.folder, SITE).notes == ()
    assert any("copied or restored" in s for s in says(seen))


@pytest.mark.parametrize(("at", "says_so"), [(0, "made again"), (2, "chained anew")])
def test_what_sealing_put_in_the_place_of_a_damaged_line_is_told(laptops, at, says_so):
    a, _ = laptops
    book = a.book()
    for value in "123":
        book.append(reading(value))
    book._writer.close()
    path = open_segment(a)
    lines = path.read_bytes().splitlines(keepends=True)
    lines[at] = b"#" + lines[at][1:]
    path.write_bytes(b"".join(lines))
    a.book()
    (found,) = says(a)
    assert f":{at + 1} " in found
    assert says_so in found


def test_one_id_in_two_files_differently_is_found(seen):
    path = own(seen)[1]
    data = chained(
        json.dumps(json.loads(line.body) | {"by": "bea"} if line.n else json.loads(line.body))
        .replace(", ", ",")
        .replace(": ", ":")
        .encode()
        for line in scan(path).lines
    )
    path.with_name(sealed_name(data, 2)).write_bytes(data)
    assert any("written before, differently" in s for s in says(seen))
    assert verify(seen.folder, SITE).notes == ()


def test_a_segment_of_another_site_and_junk_are_found(seen):
    path = own(seen)[0]
    rewritten(path, SITE.encode(), b"aaaaaaaa")
    (path.parent / "notes.txt").touch()
    found = says(seen)
    assert any("belongs to another site" in s for s in found)
    assert any("notes.txt:0 is no segment" in s for s in found)


def test_open_segments_are_checked_too(laptops):
    a, _ = laptops
    book = a.book()
    for value in "123":
        book.append(reading(value))
    (path,) = (a.records / "open").glob("*.jsonl")
    path.write_bytes(path.read_bytes().replace(b'"value":"2"', b'"value":"9"'))
    report = verify(a.folder, SITE)
    assert [(f.file, f.line) for f in report.findings] == [(path.name, 3)]
    assert values(a.read()) == ["1", "3"]


def test_two_programs_at_once_leave_no_finding(laptops):
    a, _ = laptops
    one, two = a.book(), a.book()
    one.append(reading("1"))
    two.append(reading("2"))
    assert says(a) == []
    two.close()
    assert says(a) == []
    one.close()
    a.write("3")
    assert says(a) == []


def test_what_cannot_be_read_is_a_finding_in_plain_words(seen, monkeypatch):
    (bad, *_) = sealed_segments(seen)
    os.mkfifo(seen.records / "open" / "p3x9tf-000001-zzzzzz.jsonl")
    real = verifying.scan

    def failing(path):
        if path == bad:
            raise OSError(5, "Input/output error", str(path))
        return real(path)

    monkeypatch.setattr(verifying, "scan", failing)
    found = {one.file[-12:]: one.says for one in verify(seen.folder, SITE).findings}
    assert found[bad.name[-12:]] == "cannot be read: Input/output error"
    assert found["zzzzzz.jsonl"] == "cannot be read: is not a plain file"


def test_the_book_tells_of_a_whole_file_that_is_missing(seen):
    assert seen.book(read_only=True).problems() == ()
    writer = seen.here().book().writer
    own(seen)[1].unlink()
    (gap,) = seen.book(read_only=True).problems()
    assert (gap.file, gap.says) == (f"{writer}/", "segment 2 is missing: sync")
    own(seen)[-1].unlink()  # the newest: only the other laptop tells of it
    (gap,) = seen.book(read_only=True).problems()
    assert gap.says.startswith("segment")
    assert "3" in gap.says
