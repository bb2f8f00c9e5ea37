"""`rounds air`: shortest first, reasons for one place, nothing written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def test_air_lists_every_stocked_tank_and_names_what_to_measure(rounds: Run, made: Path) -> None:
    ran = rounds("--site", made, "air")
    assert (ran.code, ran.err) == (0, "")
    assert all(len(line) <= 80 for line in ran.out.splitlines())
    assert {"G1", "G2", "Q1"} <= {line.split(" ")[0] for line in ran.out.splitlines()}
    assert "not an alarm" in ran.out


def test_air_json_is_shortest_first(rounds: Run, made: Path) -> None:
    rows = rounds("--site", made, "--json", "air").json["rows"]
    known = [row for row in rows if row["cases"]]
    assert rows[: len(known)] == known
    for row in rows:
        assert all(isinstance(line, str) for line in row["reasons"])
        assert row["cases"] or row["missing"]


def test_air_of_one_place_prints_its_reasons(rounds: Run, made: Path) -> None:
    ran = rounds("--site", made, "air", "g1")
    assert ran.code == 0
    assert "Why:" in ran.out
    assert rounds("--site", made, "air", "HOUSE").code == 2
    assert "no place X9" in rounds("--site", made, "air", "X9").err
