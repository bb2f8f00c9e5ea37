"""`rounds start` and `rounds sample`: a site to fill in, and an invented one to learn on."""

from __future__ import annotations

import argparse
from datetime import date, timedelta
from pathlib import Path

from rounds.cli import opening
from rounds.cli.failure import Failure
from rounds.cli.opened import present
from rounds.cli.out import emit, say
from rounds.site.files import FILE
from rounds.site.loading import load


def run(asked: argparse.Namespace) -> int:
    """Make a site in a new folder."""
    return _start(asked) if asked.command == "start" else _sample(asked)


def _start(asked: argparse.Namespace) -> int:
    from rounds.site.starting import start

    folder: Path = asked.folder
    start(folder)
    if getattr(asked, "json", False):
        _row(asked, folder)
        return 0
    say(
        f"Made {folder / FILE}.", "Fill it in, then see that nothing is wrong:",
        f"  rounds --site {folder} check",
    )  # fmt: skip
    return 0


def _sample(asked: argparse.Namespace) -> int:
    folder: Path = asked.folder
    there = (folder / FILE).is_file()
    if there and not asked.open:
        raise Failure(f"{folder} is there already: rounds --site {folder} opens it")
    if not there:
        from rounds.sample.make import make

        make(folder, ending=_ending(asked.ending), days=asked.days, seed=asked.seed)
    asked.site = folder
    if asked.open:
        return opening.run(asked)
    if getattr(asked, "json", False):
        _row(asked, folder)
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


def _row(asked: argparse.Namespace, folder: Path) -> None:
    site = load(folder)
    emit(asked.command, site.id, present(), [{"folder": folder, "name": site.name}], "metric")
