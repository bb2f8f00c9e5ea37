"""Export, backup and restore by command: what was asked, what was found, and what is said."""

from __future__ import annotations

import csv
import errno
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


def test_export_by_days_and_kinds(rounds: Run, farm: Path, tmp_path: Path) -> None:
    ran = rounds("--site", farm, "export", "out.csv", "--kinds", "reading, fed")
    assert (ran.code, ran.err) == (0, "")
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["kind"] for row in rows} == {"reading", "fed"}
    assert ran.out.split()[:2] == [str(len(rows)), "rows"]
    days = sorted({row["day"] for row in rows})
    ran = rounds("--site", farm, "--json", "export", "one", "--from", days[1], "--to", days[1])
    assert {Path(row["file"]).suffix for row in ran.json["rows"]} == {".csv"}
    assert sum(row["rows"] for row in ran.json["rows"]) > 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--kinds", "oxygen"), "--kinds oxygen is none: "),
        (("--from", "24.11.2026"), "--from 24.11.2026 is not a date: write 2026-11-23"),
        (
            ("--parquet",),
            "Parquet needs a part that is not installed: pip install 'rounds[survey]'",
        ),
    ],
)
def test_what_cannot_be_exported_is_said_in_a_sentence(
    rounds: Run, farm: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], says: str
) -> None:
    monkeypatch.setitem(sys.modules, "duckdb", None)
    ran = rounds("--site", farm, "export", "out", *words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"rounds: {says}")


def test_a_full_disk_is_told_in_our_words(
    rounds: Run, farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("rounds.cli.export.export", full)
    ran = rounds("--site", farm, "export", "out.csv")
    assert "out.csv is full: free some space, then export again" in " ".join(ran.err.split())


def test_a_file_that_is_there_is_not_exported_over(rounds: Run, farm: Path, tmp_path: Path) -> None:
    (tmp_path / "out.csv").write_text("mine")
    ran = rounds("--site", farm, "export", "out.csv")
    assert (ran.code, ran.err) == (
        2,
        "rounds: out.csv: is there already: name a new file or folder\n",
    )


def test_nothing_found_is_said_and_makes_no_file(rounds: Run, farm: Path, tmp_path: Path) -> None:
    ran = rounds("--site", farm, "export", "out.csv", "--from", "2199-01-01")
    assert (ran.code, ran.out) == (0, "Nothing to export: no entry of those days and kinds.\n")
    assert not (tmp_path / "out.csv").exists()


def test_lines_that_cannot_be_read_are_a_finding(rounds: Run, farm: Path) -> None:
    path = max((farm / "records" / "sealed").glob("*/*.jsonl"))
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"kind"', b'"kinb"', 1))
    ran = rounds("--site", farm, "export", "out.csv")
    assert ran.code == 1
    assert "lines or files of the records could not be read or found" in ran.out


def test_a_whole_file_that_is_missing_is_told_by_all_that_is_drawn_from_the_records(
    rounds: Run, farm: Path
) -> None:
    lot = " ".join(rounds("--site", farm, "lot", "RD-26").out.split())
    assert "Every line of the records could be read" in lot
    assert "it proves nobody" in lot
    by_writer = [sorted(one.glob("*.jsonl")) for one in (farm / "records" / "sealed").iterdir()]
    files = max(by_writer, key=len)
    writer, seg = files[1].parent.name, int(files[1].name[:6])
    files[1].parent.chmod(0o700)
    files[1].unlink()
    short = "1 line or file of the records could not be read or found: rounds verify"
    assert short in rounds("--site", farm, "today").out
    assert f"Not whole: {short}" in " ".join(rounds("--site", farm, "lot", "RD-26").out.split())
    assert '"unread": 1' in rounds("--site", farm, "--json", "lot", "RD-26").out
    ran = rounds("--site", farm, "export", "short.csv")
    assert (ran.code, f"NOT in it: {short} names them." in " ".join(ran.out.split())) == (1, True)
    ran = rounds("--site", farm, "backup", "short.zip")
    assert ran.code == 1
    assert f"MISSING here: {writer}/: segment {seg} is missing: sync." in " ".join(ran.out.split())
    assert "is whole" not in ran.out


def test_backup_and_restore_say_what_they_hold(rounds: Run, farm: Path, tmp_path: Path) -> None:
    ran = rounds("--site", farm, "backup", "farm.zip")
    assert ran.code == 0
    assert ran.out.endswith("It was read back and is whole: it is safe to remove the stick.\n")
    (made,) = rounds("--json", "restore", "farm.zip", "new").json["rows"]
    assert made["report"]["findings"] == []
    assert all(f"{writer}: {head}" in ran.out for writer, head in made["report"]["heads"].items())
    assert rounds("--site", "new", "today").code == 0
    again = rounds("--site", farm, "backup", "farm.zip")
    assert (again.code, again.out) == (2, "")
    assert "nothing is overwritten, name a new file" in again.err
    junk = rounds("restore", farm / "site.toml", "other")
    assert (junk.code, "is no backup of rounds" in junk.err) == (2, True)
    assert "Another backup may do, or the site's folder" in " ".join(junk.err.split())
    gone = rounds("restore", "none.zip", "other")
    assert (gone.code, "none.zip is not there: put the stick in" in gone.err) == (2, True)
    assert not (tmp_path / "other").exists()


def test_a_backup_of_damaged_records_does_not_end_on_whole(rounds: Run, farm: Path) -> None:
    path = max((farm / "records" / "sealed").glob("*/*.jsonl"))
    path.chmod(0o600)
    path.write_bytes(path.read_bytes().replace(b'"kind"', b'"kinb"', 1))
    ran = rounds("--site", farm, "backup", "farm.zip")
    assert (ran.code, "whole: it is safe" in " ".join(ran.out.split())) == (1, False)
    assert ran.out.endswith("holds what is said above, not the whole records.\n")


@pytest.mark.parametrize("name", ["foo.xls", "foo.CSV"])
def test_a_name_that_means_another_sort_of_file_makes_no_folder(
    rounds: Run, farm: Path, tmp_path: Path, name: str
) -> None:
    ran = rounds("--site", farm, "export", name)
    assert (ran.code, ".csv or .parquet" in ran.err) == (2, True)
    assert not (tmp_path / name).exists()
