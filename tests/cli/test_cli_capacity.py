"""`rounds capacity`: an answer in fish, every limit opened, JSON."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


def test_capacity_answers_how_many_and_opens_every_limit(rounds: Run, made: Path) -> None:
    ran = rounds("--site", made, "capacity", "g4", "--weight", "0.5 kg", "--count", "300")
    assert (ran.code, ran.err) == (0, "")
    assert all(len(line) <= 80 for line in ran.out.splitlines())
    assert "asked for fish of 500 g" in ran.out
    for name in ("oxygen", "ammonia", "carbon dioxide", "filter", "space"):
        assert f"\n{name}" in ran.out


def test_capacity_json(rounds: Run, made: Path) -> None:
    row = rounds("--site", made, "--json", "capacity", "G4").json["rows"][0]
    assert [one["name"] for one in row["limits"]][-1] == "space"
    # 5.7 m3 at 30 kg/m3
    assert abs(row["limits"][-1]["kg"] - 171) < 1e-9
    assert row["missing"]
    assert row["at_most"] is True


def test_capacity_refuses_what_it_cannot_know(rounds: Run, made: Path) -> None:
    assert rounds("--site", made, "capacity", "X9").code == 2
    assert rounds("--site", made, "capacity", "G4", "--weight", "-1").code == 2
    assert rounds("--site", made, "capacity", "G4", "--count", "-5").code == 2


@pytest.mark.parametrize("option", ["--weight=--", "--count=--"])
def test_two_dashes_are_no_value(rounds: Run, made: Path, option: str) -> None:
    ran = rounds("--site", made, "capacity", "G4", option)
    assert (ran.code, ran.out) == (2, "")
    assert f"{option[:-3]}: '--' is not a value" in ran.err
