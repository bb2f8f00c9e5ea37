"""`rounds sample`: an invented farm with some weeks of history, to learn on."""

from __future__ import annotations

import argparse
from datetime import date, timedelta
from pathlib import Path

from rounds.cli import app
from rounds.cli.failure import Failure
from rounds.cli.opened import present
from rounds.cli.out import emit, say
from rounds.site.files import FILE
from rounds.site.loading import load


def run(asked: argparse.Namespace) -> int:
    """Make a sample in a new folder; with --open, open the app on it."""
    folder: Path = asked.folder
    there = (folder / FILE).is_file()
    if there and not asked.open:
        raise Failure(f"{folder} is there already: rounds --site {folder} opens it")
    if not there:
        from rounds.sample.make import make

        make(folder, ending=_ending(asked.ending), days=asked.days, seed=asked.seed)
    asked.site = folder
    if asked.open:
        return app.run(asked)
    if asked.json:
        site = load(folder)
        emit("sample", [{"folder": folder, "name": site.name}], site)
        return 0
    say(
        f"Made {folder}: an invented farm, with {asked.days} days of invented history.",
        f"  rounds --site {folder}          opens it",
        f"  rounds --site {folder} today    prints today's sheet",
    )
    return 0


def _ending(text: str | None) -> date:
    """Return the last day of the history: yesterday, by the sample's own clock, unless given."""
    if text is None:
        from rounds.site.shipped import shipped

        zone = load(shipped("sample_site")).timezone
        return present().astimezone(zone).date() - timedelta(days=1)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Failure(f"--ending {text} is not a date: write 2026-11-23") from None
