"""The README is run: every command stands in its table, every example works as it is written."""

from __future__ import annotations

import argparse
import re
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rounds.cli.options import parser

Run = Callable[..., Any]

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
ROW = re.compile(r"^\| `(?:rounds|[a-z]+)` \|[^|]*\| `(rounds[^`]*)` \|$", re.MULTILINE)
LINE = re.compile(r"^(rounds .*)$", re.MULTILINE)
EXAMPLES = [*ROW.findall(README), *LINE.findall(README)]


def _commands() -> dict[str, argparse.ArgumentParser]:
    for action in parser()._actions:
        if isinstance(action, argparse._SubParsersAction):
            return dict(action.choices)
    raise AssertionError("no commands")


def test_every_command_has_a_row_with_an_example() -> None:
    named = set(re.findall(r"^\| `([a-z]+)` \|.*`rounds", README, re.MULTILINE))
    assert named == {"rounds", *_commands()}
    assert len(ROW.findall(README)) == len(named)


@pytest.mark.parametrize("example", EXAMPLES)
def test_example_works(
    rounds: Run, farm: Path, example: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    shutil.move(farm, tmp_path / "samphire-house")
    (tmp_path / "stick").mkdir()
    monkeypatch.setenv("ROUNDS_SITE", "samphire-house")
    monkeypatch.setenv("ROUNDS_BY", "ana")
    if "restore" in example:
        rounds("backup", "stick/farm.zip")
    ran = rounds(*shlex.split(example)[1:], typed="q\n")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out


def test_readme_begins_with_what_it_is_for_and_two_commands() -> None:
    title, job, *_ = README.split("\n\n")
    assert title == "# rounds"
    assert "\n" not in job
    assert "technician" in job
    blocks = re.findall(r"<!-- command: (\w+) -->\n```sh\n(.*?)\n```", README, re.DOTALL)
    assert [name for name, _ in blocks] == ["sample", "tests"]
    assert all("\n" not in text and "pip install" in text for _, text in blocks)


def test_ci_runs_the_test_command_of_the_readme_word_for_word(tmp_path: Path) -> None:
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    extract = script[script.index("tests=$(") : script.index("step()")] + 'printf "%s" "$tests"\n'
    wanted = re.search(r"<!-- command: tests -->\n```sh\n(.*?)\n```", README, re.DOTALL)
    assert wanted is not None
    (tmp_path / "README.md").write_text(README, "utf-8")
    done = subprocess.run(
        ["bash", "-c", extract], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, wanted[1])
    (tmp_path / "README.md").write_text(README.replace("command: tests", "command: x"), "utf-8")
    lost = subprocess.run(
        ["bash", "-c", extract], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert lost.returncode == 1
    assert "no test command" in lost.stderr


def test_every_key_of_the_readme_is_bound() -> None:
    from rounds.screens.keys import KEYS

    shown = {
        part for key in KEYS.values() for part in re.split(r"[, ]+", f"{key.shown} {key.twins}")
    }
    table = README[README.index("| Key |") : README.index("Point or comma")]
    for cell in re.findall(r"^\| ([^|]+) \|", table, re.MULTILINE)[1:]:
        for name in re.findall(r"\b[A-Z](?:[a-z]+(?:\+[A-Z])?)?\b|[/*!?]", cell):
            assert name in shown, name
