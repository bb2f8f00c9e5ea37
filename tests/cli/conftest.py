"""A small sample farm, made once a run, and a way to run a command on it."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any, Final

import pytest

from rounds.cli import main, opened
from rounds.records import writing

BEGINS: Final = datetime(2026, 11, 24, 7, 30, tzinfo=UTC)
"""When every test begins: a Tuesday in winter time, the morning round is due."""


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
    """A sample of four days that ended the day before every test begins."""
    return made_once(BEGINS.date() - timedelta(days=1), 4)


@pytest.fixture
def farm(made: Path, tmp_path: Path) -> Path:
    """A copy of the sample that a test may write to."""
    return Path(shutil.copytree(made, tmp_path / "farm"))


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the clocks of commands and books begin at BEGINS, whatever the hour of the run."""
    real = time.monotonic()

    class Begun(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Begun:
            elapsed = timedelta(seconds=time.monotonic() - real)
            return cls.fromtimestamp((BEGINS + elapsed).timestamp(), tz)

    for module in (opened, writing):
        monkeypatch.setattr(module, "datetime", Begun)


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
