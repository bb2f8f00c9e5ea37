"""Sync refuses: what a stick may hold and no laptop may take."""

from __future__ import annotations

from itertools import islice, product

import pytest
from record_making import (
    SITE,
    bodies,
    sealed_name,
    sealed_segments,
    segment,
    tree,
    values,
)
from syncing import on, put, synced

from rounds.records.layout import MAX_NAMES, Listing, joined, told_apart
from rounds.records.segment import MAX_FILE, MAX_LINE, chained

GOOD = segment(3)
HEAD, *REST = bodies(3)


def forged(old: bytes, new: bytes) -> bytes:
    data = GOOD.replace(old, new)
    assert data != GOOD
    return data


class TestHostile:
    """Files well named, with the right digest, and still not ours to take."""

    @pytest.mark.parametrize(
        ("data", "reason"),
        [
            (forged(b'"value":"6.10"', b'"value":"9.10"'), "line 2 does not match its hash"),
            (b"".join(GOOD.splitlines(keepends=True)[::2]), "hash"),
            (GOOD[:-5], "middle of a line"),
            (b"", "empty"),
            (b"\0" * 100, "middle of a line"),
            (segment(3, site="aaaaaaaa"), "another site"),
            (segment(3, writer="p3x9tf"), "another laptop"),
            (segment(3, seg=2), "another laptop or number"),
            (segment(3, format=2), "newer version"),
            (chained(REST), "line 1 is not a header"),
            (chained([HEAD, REST[0][:-1] + b',"value":"9"}']), "twice"),
            (chained([HEAD, REST[0][:-1] + b',"x":NaN}']), "line 2"),
            (chained([HEAD, REST[0][:-1] + b',"x":"\xff"}']), "UTF-8"),
            (chained([HEAD, REST[0][:-1] + b',"x":' + b"[" * 3900 + b"]" * 3900 + b"}"]), "deep"),
            (chained([HEAD, REST[0].replace(b"k7q2md-r4", b"p3x9tf-r4")]), "another run"),
            (chained([HEAD, REST[0].replace(b"6.10", b"x" * MAX_LINE)]), "longer"),
            (chained([HEAD, REST[0].replace(b'"6.10"', b'"1e999"')]), "no number"),
        ],
        ids=str.split(
            "value order torn empty zeros site writer seg format header doubled-key nan utf8 deep "
            "id giant-line number"
        ),
    )
    def test_it_is_put_aside_with_the_reason(self, laptops, stick, data, reason):
        a, *_ = laptops
        a.write("1")
        put(stick, data)
        report = synced(a, stick)
        assert report.fetched == 0
        (refused,) = report.set_aside
        assert reason in refused.reason
        assert values(a.read()) == ["1"]
        assert any(p.read_bytes() == data for p in (a.records / "aside").glob("*.bin"))
        again = synced(a, stick)
        assert (again.set_aside, again.refused_before) == ([], 1)

    def test_a_stick_full_of_junk_does_not_fill_the_laptop(self, laptops, stick, monkeypatch):
        monkeypatch.setattr("rounds.records.refusing._KEPT", 2)
        a, *_ = laptops
        for n in range(5):
            put(stick, b"junk %d" % n)
        assert len(synced(a, stick).set_aside) == 5
        assert len(list((a.records / "aside").glob("*.bin"))) == 2
        assert synced(a, stick).refused_before == 5

    def test_a_wrong_digest_is_refused_and_asked_again_when_it_changed(self, laptops, stick):
        a, *_ = laptops
        path = put(stick, GOOD[:-70], name=sealed_name(GOOD))
        assert "cut short" in synced(a, stick).set_aside[0].reason
        path.write_bytes(GOOD)
        report = synced(a, stick)
        assert (report.fetched, report.refused_before) == (1, 0)
        assert len(values(a.read())) == 3

    def test_giants_links_and_folders_are_not_taken(self, laptops, stick, tmp_path):
        a, *_ = laptops
        giant = put(stick, b"")
        with giant.open("wb") as file:
            file.truncate(MAX_FILE + 1)
        (tmp_path / "secret").write_bytes(GOOD)
        folder = stick / SITE / "p3x9tf"
        folder.mkdir()
        (folder / sealed_name(GOOD)).symlink_to(tmp_path / "secret")
        (folder / sealed_name(b"x")).mkdir()
        (stick / SITE / "aaaaaa").symlink_to(tmp_path)
        (stick / SITE / "bbbbbb").symlink_to(stick / SITE)
        report = synced(a, stick)
        assert report.fetched == 0
        assert [r.reason for r in report.set_aside] == [f"is larger than {MAX_FILE} bytes"]
        assert report.strange == 4
        assert not sealed_segments(a)

    @pytest.mark.parametrize(
        "name",
        [
            "000001_20261124_..%2f.jsonl",
            "000001_20261124_" + "A" * 32 + ".jsonl",
            "000001_20261124_" + "0" * 31 + "\u0660.jsonl",
            "000001_20261124_" + "0" * 32 + ".jsonl\n",
            "000001_20261124_" + "0" * 32 + " (1).jsonl",
            "\u001b[2J.jsonl",
            "con",
            "-rf",
        ],
    )
    def test_names_that_are_none_are_left_there_and_shown_clean(self, laptops, stick, name):
        a, *_ = laptops
        put(stick, GOOD, name=name)
        report = synced(a, stick)
        assert (report.fetched, report.strange) == (0, 1)
        assert not any("\u001b" in text or "\n" in text for text in report.strangers)
        assert not sealed_segments(a)
        assert (stick / SITE / "k7q2md" / name).exists()

    def test_junk_names_by_the_thousand_are_counted_not_kept(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        folder = stick / SITE / "k7q2md"
        folder.mkdir(parents=True)
        for i in range(2000):
            (folder / f"junk{i}").touch()
        report = synced(a, stick)
        assert report.strange == 2000
        assert len(report.strangers) == 10
        assert report.sent == 1

    def test_another_sites_folder_is_not_touched(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        folder = stick / "zzzzzzzz" / "k7q2md"
        folder.mkdir(parents=True)
        data = segment(2, site="zzzzzzzz")
        (folder / sealed_name(data)).write_bytes(data)
        before = tree(stick / "zzzzzzzz")
        report = synced(a, stick)
        assert (report.fetched, report.sent) == (0, 1)
        assert tree(stick / "zzzzzzzz") == before

    def test_nothing_on_the_stick_is_overwritten(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        (path,) = sealed_segments(a)
        there = put(stick, b"rotten", writer=path.parent.name, name=path.name)
        synced(a, stick)
        assert there.read_bytes() == b"rotten"

    def test_rot_on_this_laptop_is_not_spread(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        (path,) = sealed_segments(a)
        path.chmod(0o600)
        path.write_bytes(path.read_bytes().replace(b'"1"', b'"2"'))
        report = synced(a, stick)
        assert (report.sent, len(report.damaged)) == (0, 1)
        assert on(stick) == {}


class TestEndless:
    """What an address holds without end costs a bounded time and memory."""

    def test_a_million_names_in_a_folder_are_looked_at_up_to_a_bound(self):
        seen = 0

        def endless():
            nonlocal seen
            while True:
                seen += 1
                yield f"junk{seen}", True

        found = told_apart("k7q2md", endless())
        assert (seen, found.strange, len(found.strangers)) == (MAX_NAMES, MAX_NAMES, 10)

    def test_a_million_folders_of_laptops_are_looked_at_up_to_a_bound(self):
        asked = []

        def of(writer):
            asked.append(writer)
            return Listing(())

        letters = "abcdefghjk"
        names = ("".join(parts) for parts in product(letters, repeat=6))
        found = joined(islice(((name, True) for name in names), 100_000), of)
        assert len(asked) == 1000
        assert found.files == ()

    def test_the_root_of_an_address_full_of_junk(self, laptops, stick):
        a, *_ = laptops
        a.write("1")
        (stick / SITE).mkdir()
        for n in range(2000):
            (stick / SITE / f"junk{n}").touch()
        report = synced(a, stick)
        assert (report.sent, report.strange, len(report.strangers)) == (1, 2000, 10)
