"""A small sample farm, made once a run, and a way to run a command on it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from rounds.cli import main


@dataclass
class Ran:
    """What a command left: its code and what it printed."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Run = Callable[..., Ran]


@pytest.fixture(scope="session")
def made(made_once: Callable[[date, int], Path]) -> Path:
    """A sample of four days that ended yesterday."""
    yesterday = date.today() - timedelta(days=1)
    return made_once(yesterday, 4)


@pytest.fixture
def farm(made: Path, tmp_path: Path) -> Path:
    """A copy of the sample that a test may write to."""
    return Path(shutil.copytree(made, tmp_path / "farm"))


@pytest.fixture
def rounds(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Run:
    """Run a command as `rounds(*arguments, typed="lines for stdin")`."""
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "state"))
    monkeypatch.delenv("ROUNDS_SITE", raising=False)
    monkeypatch.delenv("ROUNDS_BY", raising=False)
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str | Path, typed: str = "") -> Ran:
        import io

        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        try:
            code = main([str(one) for one in arguments])
        except SystemExit as end:
            code = int(end.code or 0)
        captured = capsys.readouterr()
        return Ran(code, captured.out, captured.err)

    return run
