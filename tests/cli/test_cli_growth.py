"""`rounds growth`: all lots, one lot, one place; JSON; what is not there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

Run = Callable[..., Any]


def test_growth_of_all_and_of_one(rounds: Run, made: Path) -> None:
    for command in (("growth",), ("growth", "g1"), ("growth", "RD-18")):
        ran = rounds("--site", made, *command)
        assert (ran.code, ran.err) == (0, "")
        assert all(len(line) <= 80 for line in ran.out.splitlines())
    assert "Market size:" in ran.out
    assert "Why:" in ran.out


def test_growth_json_holds_the_points_and_the_projection(rounds: Run, made: Path) -> None:
    rows = rounds("--site", made, "--json", "growth", "G4").json["rows"]
    assert [row["place"] for row in rows] == ["G4"]
    assert rows[0]["points"][0]["what"] == "stocked"
    assert isinstance(rows[0]["projection"]["market"]["says"], str)
    assert all(isinstance(line, str) for line in rows[0]["reasons"])


def test_growth_of_nothing_is_told(rounds: Run, made: Path) -> None:
    assert "no lot or place X9" in rounds("--site", made, "growth", "X9").err
    assert "HOUSE has no fish" in rounds("--site", made, "growth", "HOUSE").err
