"""A folder of the first format, kept for ever: every later version reads it the same.

It holds every kind of entry by two laptops, a kind and keys of a newer version, and an open
segment with a damaged line and a torn end. Never write it anew: add another folder beside it.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import get_args

import pytest
from record_making import LISBON, SITE, sealed_segments

from rounds.records.book import Book
from rounds.records.decoding import fields
from rounds.records.entry import Known
from rounds.records.segment import scan
from rounds.records.verifying import verify

GOLDEN = Path(__file__).parent / "golden"
EXPECTED = [json.loads(line) for line in (GOLDEN / "expected.jsonl").read_bytes().splitlines()]


@pytest.fixture
def site(tmp_path, monkeypatch):
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "state"))
    shutil.copytree(GOLDEN, tmp_path / "site")
    return tmp_path / "site"


ADDED_SINCE = {"calibrated", "enriched", "hatch", "laptop", "signed"}
"""Kinds younger than these files, which are never written anew."""


def _by_id(document):
    return document["id"]


def test_it_holds_every_kind():
    kinds = {kind.__struct_config__.tag for kind in get_args(Known)}
    assert {document["kind"] for document in EXPECTED} == kinds - ADDED_SINCE


def test_every_entry_is_read_as_it_was(site):
    book = Book.open(site, SITE, "", tz=LISBON, read_only=True)
    found = [fields(entry) for entry in book.entries()]
    assert sorted(found, key=_by_id) == sorted(EXPECTED, key=_by_id)
    assert book.unknown == {"calibrated": 1}
    assert [(p.file, p.line) for p in book.problems()] == [("k7q2md-000003-m7j4sy.jsonl", 4)]


def test_verify_finds_the_damage_and_nothing_else(site):
    report = verify(site, SITE)
    assert [(f.file[:13], f.line) for f in report.findings] == [
        ("k7q2md/000002", 4),  # what an earlier sealing put in the place of a line
        ("k7q2md-000003", 4),
    ]
    assert (report.files, report.entries) == (4, 30)


def test_sealing_keeps_the_bytes_of_every_whole_line(site):
    before = scan(GOLDEN / "records" / "open" / "k7q2md-000003-m7j4sy.jsonl")
    Book.open(site, SITE, "", tz=LISBON).close()
    (sealed,) = (p for p in sealed_segments(site) if p.name.startswith("000003_"))
    after = scan(sealed)
    assert {line.body for line in before.lines} < {line.body for line in after.lines}
    assert sealed.name == "000003_20261125_bd7668370e63d1dbb2163140a320e76f.jsonl"
