"""`rounds start`: a site to fill in."""

from __future__ import annotations

import argparse
from pathlib import Path

from rounds.cli.out import emit, say
from rounds.site.files import FILE
from rounds.site.loading import load
from rounds.site.starting import start


def run(asked: argparse.Namespace) -> int:
    """Make a site in a new folder."""
    folder: Path = asked.folder
    start(folder)
    if asked.json:
        site = load(folder)
        emit("start", [{"folder": folder, "name": site.name}], site)
        return 0
    say(
        f"Made {folder / FILE}.", "Fill it in, then see that nothing is wrong:",
        f"  rounds --site {folder} check",
    )  # fmt: skip
    return 0
