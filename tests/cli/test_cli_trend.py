"""`rounds trend`: a drawing that fits the terminal, the same as JSON, and what it refuses."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def test_a_trend_says_draws_and_fits(rounds: Run, made: Path) -> None:
    ran = rounds("--site", made, "trend", "g2", "oxygen", "--days", "3", "--compare", "G1", "g2")
    assert (ran.code, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "G2 G1 Oxygen, mg/L, 21 Nov to 24 Nov 2026"
    assert all(len(line) <= 80 for line in lines)
    assert ran.out.isascii()
    assert "a G2   b G1   --- ! watch below 5.0" in ran.out
    assert any(line.split("|")[0].strip() == "fed" for line in lines)


def test_json_holds_points_limits_and_events_of_each_place(rounds: Run, made: Path) -> None:
    rows = rounds("--site", made, "--json", "trend", "G2", "ph", "--life", "--compare", "P1").json
    one, other = rows["rows"]
    assert (one["place"], other["place"]) == ("G2", "P1")
    assert {"at", "value", "by", "laptop", "verdict", "doubt"} <= set(one["points"][0])
    assert one["limits"][0]["side"] in ("below", "above")
    assert other["limits"] is None  # those of a pond are others
    assert any(event["kind"] == "fed" for event in one["events"])


def test_json_without_a_measure_lists_what_was_read(rounds: Run, made: Path) -> None:
    rows = rounds("--site", made, "--json", "trend", "G2").json["rows"]
    assert {"place": "G2", "measure": "oxygen"} in rows
    assert rows[-1] == {"place": "G2", "measure": "weight"}


def test_growth_is_drawn_by_both_commands(rounds: Run, made: Path) -> None:
    drawing = rounds("--site", made, "trend", "G4", "weight").out
    assert "RD-18 in G4, mean weight, g" in drawing
    assert rounds("--site", made, "growth", "RD-18", "--chart").out.endswith(drawing)
    assert "weight" in rounds("--site", made, "trend", "G4").out


def test_what_is_not_there_is_told(rounds: Run, made: Path) -> None:
    assert "no place X9" in rounds("--site", made, "trend", "X9", "ph").err
    assert "no measure moon" in rounds("--site", made, "trend", "G2", "moon").err
    assert "HOUSE has no fish" in rounds("--site", made, "trend", "HOUSE", "weight").err
    ran = rounds("--site", made, "trend", "STORE", "ph")
    assert (ran.code, "Nothing was read of pH" in ran.out) == (0, True)
