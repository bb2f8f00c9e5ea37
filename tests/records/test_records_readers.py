"""Programs that know nothing of rounds read its records, by the very lines of the README."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from rounds.records.entry import Reading
from rounds.records.layout import listed
from rounds.records.segment import scan

ROOT = Path(__file__).resolve().parents[2]
TREES = [Path(__file__).parent / "golden"]
"""A folder of each form there ever was."""


def _lines() -> list[str]:
    text = (ROOT / "README.md").read_text("utf-8")
    found = re.search(r"<!-- readers -->\n```sh\n(.*?)\n```", text, re.DOTALL)
    assert found is not None
    return found[1].splitlines()


def _run(line: str, tree: Path) -> str:
    line = line.replace("python3", f"'{sys.executable}'")
    done = subprocess.run(
        ["bash", "-c", line], cwd=tree, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def _readings(tree: Path) -> list[Reading]:
    sealed = tree / "records" / "sealed"
    lines = (line for file in listed(sealed).files for line in scan(file.path(sealed)).lines)
    return [line.entry for line in lines if isinstance(line.entry, Reading)]


def _needs(module: str) -> None:
    if importlib.util.find_spec(module) is None:
        pytest.skip(f"{module} is not installed: pip install '.[test]'")


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.name)
def test_jq(tree):
    if not shutil.which("jq"):
        pytest.skip("jq is not installed")
    (line,) = (one for one in _lines() if one.startswith("jq "))
    rows = [[json.loads(cell) for cell in row.split(",")] for row in _run(line, tree).splitlines()]
    oxygen = [r for r in _readings(tree) if r.measure == "oxygen"]
    assert rows == [[r.t, r.place, r.value, r.unit] for r in oxygen]
    assert rows


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.name)
def test_duckdb(tree):
    _needs("duckdb")
    (line,) = (one for one in _lines() if "duckdb" in one)
    cells = re.findall(r"│\s*(\w+)\s*│\s*(\d+)\s*│\s*([\d.]+)\s*│", _run(line, tree))
    oxygen = [r for r in _readings(tree) if r.measure == "oxygen"]
    assert {place: int(count) for place, count, _ in cells} == {
        place: sum(r.place == place for r in oxygen) for place in {r.place for r in oxygen}
    }
    assert sum(float(mean) * int(count) for _, count, mean in cells) == pytest.approx(
        sum(float(r.value) for r in oxygen)
    )


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.name)
def test_pandas(tree):
    _needs("pandas")
    (line,) = (one for one in _lines() if "pandas" in one)
    counted = dict(re.findall(r"^(\w+)\s+(\d+)$", _run(line, tree), re.MULTILINE))
    readings = _readings(tree)
    assert {name: int(count) for name, count in counted.items()} == {
        name: sum(r.measure == name for r in readings) for name in {r.measure for r in readings}
    }
