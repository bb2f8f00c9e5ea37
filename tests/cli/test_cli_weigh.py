"""`rounds weigh`: plans a sample, tells what it says, keeps it once and by name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rounds.records.book import Book, NotSaved
from rounds.records.entry import Entry, Note

Run = Callable[..., Any]
GRAMS = "96 104 100 92 108 99 101 95 105 100"


def test_weigh_without_weights_says_how_many_and_writes_nothing(rounds: Run, made: Path) -> None:
    ran = rounds("--site", made, "weigh", "g1", "--precision", "10")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Weigh 18 of 4")
    assert "crowd the tank" in ran.out
    assert rounds("--site", made, "--json", "weigh", "G1").json["rows"][0]["wanted"] > 40


def test_a_sample_is_kept_by_name_and_used(rounds: Run, farm: Path) -> None:
    before = _kept(farm)
    nobody = rounds("--site", farm, "weigh", "G1", "--weights", GRAMS, "--keep")
    assert (nobody.code, "say who writes" in nobody.err) == (2, True)
    dry = rounds("--site", farm, "weigh", "G1", "--weights", GRAMS)
    assert (dry.code, dry.err) == (0, "")
    assert "Not kept" in dry.out
    assert all(len(line) <= 80 for line in dry.out.splitlines())
    assert _kept(farm) == before
    ran = rounds(
        "--site", farm, "--by", "ana", "--json", "weigh", "G1", "--weights", GRAMS,
        "--keep", "--lengths", "190 195 193 188 197 192 193 189 196 192 mm",
    )  # fmt: skip
    row = ran.json["rows"][0]
    assert (row["kept"], row["mean_g"], row["count"]) == (True, 100.0, 10)
    assert set(row["above_market"]) == {"sample", "normal", "log_normal"}
    assert _kept(farm) == before + 1
    after = rounds("--site", farm, "--json", "growth", "G1").json["rows"][0]
    assert after["points"][-1]["cv_percent"] == row["cv_percent"]
    assert abs(after["weight_g"] - row["adopted_g"]) < 1e-6


def test_lengths_that_are_not_saved_do_not_make_the_sample_be_kept_twice(
    rounds: Run, farm: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    append = Book.append

    def full(book: Book, entry: Entry) -> Entry:
        if isinstance(entry, Note):
            raise NotSaved("The disk is full.")
        return append(book, entry)

    monkeypatch.setattr(Book, "append", full)
    before = _kept(farm)
    ran = rounds(
        "--site", farm, "--by", "ana", "weigh", "G1", "--weights", "96 104", "--keep",
        "--lengths", "19 20", "--confirm",
    )  # fmt: skip
    assert (ran.code, _kept(farm)) == (2, before + 1)
    assert "The disk is full. The sample is kept, keep it no second time." in ran.err
    assert "cm: 19 20" in ran.err


def test_a_likely_slip_is_asked_about_before_it_is_kept(rounds: Run, farm: Path) -> None:
    command = ("--site", farm, "--by", "ana", "weigh", "G1", "--weights", "0.096 0.104 0.1")
    keep = (*command, "--keep")
    before = _kept(farm)
    assert "were these kg" in rounds(*command).out
    ran = rounds(*keep)
    assert (ran.code, "were these kg" in ran.err) == (2, True)
    assert _kept(farm) == before
    assert rounds(*keep, "--confirm").code == 0
    assert _kept(farm) == before + 1


def test_what_cannot_go_together_is_told(rounds: Run, made: Path) -> None:
    for words, says in (
        (("HOUSE",), "no fish on record"),
        (("G1", "--lot", "X"), "X is not in G1"),
        (("G1", "--weights", "5", "--nets", "1/5"), "not both"),
        (("G1", "--tare", "0.2"), "--tare goes with --nets"),
        (("G1", "--lengths", "19"), "--lengths goes with --weights"),
        (("G1", "--nets", "25"), "write fish/kg"),
        (("G1", "--keep"), "--keep goes with"),
    ):
        ran = rounds("--site", made, "weigh", *words)
        assert (ran.code, says in ran.err) == (2, True), (words, ran.err)


def _kept(farm: Path) -> int:
    return sum(
        path.read_text("utf-8").count('"kind":"weighed"')
        for path in (farm / "records").rglob("*.jsonl")
    )
