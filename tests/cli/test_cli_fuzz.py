"""Nonsense commands: one sentence each, no traceback, nothing that is not finite.

A short run; `python -m tests.cli.fuzz 10000 1` is the whole, and runs beside the suite.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.cli.fuzz import commands, fault, run


@pytest.mark.parametrize("seed", range(4))
def test_nonsense_is_one_sentence(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "state"))
    monkeypatch.delenv("ROUNDS_SITE", raising=False)
    monkeypatch.delenv("ROUNDS_BY", raising=False)
    monkeypatch.chdir(tmp_path)
    assert run(500, seed, tmp_path) == []


def test_the_same_seed_makes_the_same_commands(tmp_path: Path) -> None:
    assert list(commands(50, 7, tmp_path)) == list(commands(50, 7, tmp_path))


@pytest.mark.parametrize(
    ("printed", "code", "told", "as_json"),
    [
        ("Density: nan kg/m3\n", 0, "", False),
        ('{"rows": [NaN]}', 0, "", True),
        ("", 2, "two\nlines\n", False),
        ("", 2, "rounds: a fault of the program, KeyError: 'x'\n", False),
        ("", 3, "", False),
        ("half", 2, "one\n", False),
        ("done", 0, "but\n", False),
    ],
)
def test_it_sees_a_fault(
    printed: str, code: int, told: str, as_json: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def faulty(_: list[str]) -> int:
        sys.stdout.write(printed)
        sys.stderr.write(told)
        return code

    monkeypatch.setattr("tests.cli.fuzz.main", faulty)
    assert fault(["--json"] if as_json else [])
