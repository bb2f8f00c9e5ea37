"""A command is quick: it loads what it uses, and never the app."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

PROBE = """
import sys
from rounds.cli import main
try:
    code = main(sys.argv[1:])
except SystemExit as end:
    code = end.code
print("LOADED", *sorted(name for name in ("textual", "tinydb", "pint", "fsspec", "rich.markdown",
    "rounds.day", "rounds.site") if name in sys.modules))
sys.exit(code)
"""


def _loaded(*arguments: str, site: Path | None = None) -> set[str]:
    env = {**os.environ, "ROUNDS_SITE": str(site or "")}
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *arguments], env=env, capture_output=True, text=True,
        check=False, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return set(done.stdout.splitlines()[-1].split()[1:])


def test_help_loads_nothing_of_the_farm() -> None:
    assert _loaded("--help") == set()
    assert _loaded("dose", "alkalinity", "--help") == set()


@pytest.mark.parametrize("command", ["today", "ration", "check", "verify"])
def test_commands_do_not_load_the_app_or_pint(made: Path, command: str) -> None:
    assert not _loaded(command, site=made) & {"textual", "pint", "fsspec", "rich.markdown"}


def test_a_dumb_terminal_is_none_and_gets_the_sheet(
    made: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from rounds.cli import main

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("rounds.screens.app.run", lambda *_: 3)
    monkeypatch.setenv("ROUNDS_STATE", str(made.parent / "state"))
    monkeypatch.setenv("TERM", "dumb")
    assert main(["--site", str(made)]) == 0
    assert capsys.readouterr().out.startswith("Today, Samphire House")


def test_pipe_that_closes_early_is_no_error(made: Path) -> None:
    done = subprocess.run(
        ["bash", "-c", f'"{sys.executable}" -c "{_MAIN}" today | head -n 1'],
        env={**os.environ, "ROUNDS_SITE": str(made)}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.startswith("Today, Samphire House")
    assert done.stderr == ""


_MAIN = "import sys; from rounds.cli import main; sys.exit(main())"


def test_fault_of_the_program_is_told_and_leaves_a_report_without_what_was_typed(
    made: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path))
    from rounds.cli import main, today

    def broken(_: object) -> int:
        raise KeyError("G9")

    monkeypatch.setattr(today, "run", broken)
    assert main(["--site", str(made), "today"]) == 2
    first, safe, where = capsys.readouterr().err.splitlines()
    assert first == "rounds: a fault of the program, KeyError: 'G9'"
    assert safe == "Everything shown as kept is on the disk."
    report = Path(where.rpartition(": ")[2]).read_text("utf-8")
    assert report.endswith("KeyError\n")
    assert "G9" not in report
    assert "test_cli_start.py" in report
