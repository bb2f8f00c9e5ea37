"""Junk under the names of segments: told once, remembered, and nothing good waits behind it."""

from __future__ import annotations

import os

import pytest
from record_making import SITE, sealed_name, segment, values
from syncing import put, synced

from rounds.records import refusing
from rounds.records.carrying import FolderCarrier
from rounds.records.memory import recall

GOOD = segment(3, seg=9)


@pytest.fixture
def few(monkeypatch):
    """A sync looks at three refused files and no more."""
    monkeypatch.setattr(refusing, "_A_LOOK", 100)
    monkeypatch.setattr(refusing, "_LOOKED_AT", 250)


def junk(stick, count: int) -> None:
    for n in range(count):
        put(stick, b"x", name=f"000001_20261124_{n:032x}.jsonl")


def test_what_is_whole_comes_behind_junk_that_is_told_once(laptop, stick):
    junk(stick, 300)
    put(stick, GOOD, name=sealed_name(GOOD, seg=9))
    report = synced(laptop, stick)
    assert (report.fetched, len(report.set_aside), report.refused_more) == (1, 50, 250)
    assert len(list((stick / SITE).rglob("*.want"))) == 50
    again = synced(laptop, stick)
    assert (again.set_aside, again.refused_more, again.refused_before) == ([], 0, 300)


def test_the_next_sync_begins_where_the_last_gave_up(laptop, stick, few):
    junk(stick, 8)
    put(stick, GOOD, name=sealed_name(GOOD, seg=9))
    counts = []
    for _ in range(4):
        report = synced(laptop, stick)
        found = (report.fetched, len(report.set_aside), report.refused_before, report.unseen)
        counts.append(found)
    assert counts == [(0, 3, 0, True), (0, 3, 0, True), (1, 2, 6, False), (0, 0, 8, False)]


def test_what_cannot_be_read_or_remembered_holds_nothing_up(laptop, stick, few, monkeypatch):
    monkeypatch.setattr(refusing, "_REMEMBERED", 0)
    read = FolderCarrier.read

    def refused(self, name, cap):
        if "000001_" in name:
            raise PermissionError(13, os.strerror(13))
        return read(self, name, cap)

    monkeypatch.setattr(FolderCarrier, "read", refused)
    junk(stick, 7)
    put(stick, GOOD, name=sealed_name(GOOD, seg=9))
    assert [synced(laptop, stick).fetched for _ in range(3)] == [0, 0, 1]
    assert len(values(laptop.read())) == 3


def test_another_version_looks_again_and_what_is_gone_is_forgotten(laptop, stick, monkeypatch):
    junk(stick, 2)
    assert len(synced(laptop, stick).set_aside) == 2
    next((stick / SITE).rglob("*.jsonl")).unlink()
    assert synced(laptop, stick).refused_before == 1
    assert len(recall(laptop.folder, str(stick)).refused) == 1
    monkeypatch.setattr(refusing, "__version__", "0.9")
    assert len(synced(laptop, stick).set_aside) == 1


def test_memory_of_what_is_refused_is_no_larger_than_a_bound(laptop, stick, monkeypatch):
    monkeypatch.setattr(refusing, "_REMEMBERED", 3)
    junk(stick, 5)
    synced(laptop, stick)
    assert len(recall(laptop.folder, str(stick)).refused) == 3
    again = synced(laptop, stick)
    assert (len(again.set_aside), again.refused_before) == (2, 3)
