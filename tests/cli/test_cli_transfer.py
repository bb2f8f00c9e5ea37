"""`rounds transfer`: the sheet first, kept in one go, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

BALANCED = ("G4", "g3=40/16.4", "--out", "41/16.8", "--dead", "1/0.4")
OFF = ("G4", "G3=40/16.4", "--out", "42/17.2", "--dead", "1/0.4")


def test_the_sheet_is_printed_and_nothing_kept(rounds: Run, made: Path) -> None:
    ran = rounds("--site", made, "transfer", *BALANCED)
    assert (ran.code, ran.err) == (0, "")
    assert all(len(line) <= 80 for line in ran.out.splitlines())
    assert "Balances: number and mass out are in and lost." in ran.out
    assert ran.out.index("First:") < ran.out.index("Account:")
    assert "Kept" not in ran.out
    off = rounds("--site", made, "transfer", *OFF)
    assert off.code == 1
    assert "DOES NOT BALANCE: 1 fish fewer came than left" in off.out


def test_it_is_kept_in_one_go_and_told_when_asked_again(rounds: Run, farm: Path) -> None:
    def count() -> dict[str, int]:
        rows = rounds("--site", farm, "--json", "growth").json["rows"]
        return {row["place"]: row["count"] for row in rows if row["place"] in ("G3", "G4")}

    before = count()
    ran = rounds("--site", farm, "--by", "ana", "transfer", *BALANCED, "--keep", "--confirm")
    assert (ran.code, ran.err) == (0, "")
    assert [line[5:20] for line in ran.out.splitlines() if line.startswith("Kept")] == [
        " RD-18: 1 dead ",
        " RD-18: 40 fish",
    ]
    assert "handling" in ran.out
    assert count() == {"G3": before["G3"] + 40, "G4": before["G4"] - 41}
    again = rounds("--site", farm, "--by", "ana", "transfer", *BALANCED, "--keep")
    assert again.code == 2
    assert "the same was kept at" in again.err


def test_off_is_kept_only_when_named_and_json_says_what_was_kept(rounds: Run, farm: Path) -> None:
    asked = ("--site", farm, "--by", "ana", "transfer", *OFF, "--keep", "--confirm")
    refused = rounds(*asked)
    assert refused.code == 2
    assert "nothing is kept" in refused.err
    (row,) = rounds(*asked, "--named", "one jumped", "--json").json["rows"]
    assert (row["balances"], row["off_fish"], len(row["kept"])) == (False, 1, 3)
    assert {one["verdict"] for one in row["checks"]} <= {"ok", "watch", "act", "unknown"}
    assert row["into"]["G3"] == {"count": 40, "mass": "16.4", "unit": "kg"}


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("G4", "G3"), "G3 is not PLACE=FISH/MASS"),
        (("G4", "X9=3"), "there is no place X9"),
        (("HOUSE", "G3=3"), "HOUSE has no fish"),
        (("G4", "HOUSE=3", "--keep", "--confirm", "--by", "ana"), "no place for fish HOUSE"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    rounds: Run, made: Path, asked: tuple[str, ...], says: str
) -> None:
    ran = rounds("--site", made, "transfer", *asked)
    assert ran.code == 2
    assert says in ran.err
    assert ran.err.count("\n") == 1
