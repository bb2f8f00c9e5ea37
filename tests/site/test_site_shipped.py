"""What ships is found in a clone and in the layout a wheel unpacks to."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import rounds
from rounds.site import shipped as module
from rounds.site.shipped import shipped

PACKAGE = Path(rounds.__file__).parent
TOP = PACKAGE.parent
TELL = (
    "from rounds.site.shipped import shipped as s; "
    "print(s('checklists'), s('sample_site'), s('species'), sep='\\n')"
)


@pytest.mark.parametrize("what", ["checklists", "sample_site", "species"])
def test_clone(what):
    assert list(shipped(what).glob("*.toml"))


def test_wheel_layout(tmp_path):
    project = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))
    forced = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    shutil.copytree(PACKAGE / "site", tmp_path / "rounds" / "site")
    shutil.copy(PACKAGE / "__init__.py", tmp_path / "rounds" / "__init__.py")
    for source, target in forced.items():
        shutil.copytree(TOP / source, tmp_path / target)
    environment = {**os.environ, "PYTHONPATH": str(tmp_path)}
    run = subprocess.run(
        [sys.executable, "-c", TELL], cwd=tmp_path, env=environment, capture_output=True, text=True
    )
    assert run.returncode == 0, run.stderr
    folders = [Path(line).resolve() for line in run.stdout.splitlines()]
    assert len(folders) == 3
    for folder in folders:
        assert folder.is_relative_to(tmp_path.resolve())
        assert list(folder.glob("*.toml"))


def test_incomplete_installation_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "_PACKAGE", tmp_path / "rounds")
    with pytest.raises(FileNotFoundError, match="checklists is missing from this installation"):
        shipped("checklists")
