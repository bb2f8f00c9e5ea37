"""What the exchange tells: OK only where everything was carried."""

from __future__ import annotations

import pytest

from rounds.records.refusing import Refused
from rounds.records.sync import SyncReport
from rounds.reports.syncing import told

ONE = Refused("000002_20260310_abc.jsonl", "its digest is another")


def test_ok_only_when_nothing_was_refused() -> None:
    assert told(SyncReport(sent=2, fetched=1))[0] == "Sent 2, fetched 1 files. OK"


def test_entries_that_did_not_travel_are_not_among_all() -> None:
    found = told(SyncReport(waiting=5, safe_to_remove=True))
    assert found == [
        "Sent 0, fetched 0 files",
        "5 entries of programs still open travel once these are closed",
        "All else is written and read back: it is safe to remove a stick",
    ]


@pytest.mark.parametrize(
    ("report", "says"),
    [
        (SyncReport(set_aside=[ONE]), f"! {ONE.name} was not taken: {ONE.reason}"),
        (
            SyncReport(damaged=[ONE]),
            f"! {ONE.name} is damaged here and does not lie whole there: sync with another address",
        ),
        (SyncReport(set_aside=[ONE], refused_more=7), "! 7 more were not taken"),
        (
            SyncReport(set_aside=[ONE], unseen=True),
            "! Not all that lies there was looked at: sync again, it goes on from here",
        ),
        (SyncReport(refused_before=3), "! 3 files refused before lie there unchanged"),
    ],
)
def test_what_was_refused_is_told_in_place_of_ok(report: SyncReport, says: str) -> None:
    found = told(report)
    assert says in found
    assert not any("OK" in line for line in found)


def test_nobody_takes_a_folder_of_this_disk_for_a_stick() -> None:
    *_, last, second = told(SyncReport(safe_to_remove=True, same_disk=True))
    assert last == "All is written and read back"
    assert "no second place" in second
