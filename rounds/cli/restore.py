"""`rounds restore`: a site's folder from a backup."""

from __future__ import annotations

import argparse

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import present
from rounds.cli.out import emit, say
from rounds.day.when import spoken
from rounds.records.backup import BackupFailed, restore
from rounds.records.entry import instant
from rounds.site.loading import load


def run(asked: argparse.Namespace) -> int:
    """Make a site's folder from an archive."""
    try:
        made = restore(asked.file, asked.folder)
    except BackupFailed as error:
        raise Failure(str(error)) from None
    site, report = load(made.folder), made.report
    if asked.json:
        emit("restore", [made], site)
        return FINDINGS if report.findings else 0
    when = spoken(instant(made.made), present(), site.timezone)
    say(f"Restored {made.folder}: {made.files} files, {report.entries} entries, as of {when}.")
    for one in report.findings:
        at = f", line {one.line}" if one.line else ""
        say(f"{one.file}{at}: {one.says}", hang=2)
    say(
        "It writes under a new laptop's name from now on.",
        "Sync it next: what was written after this backup may lie on other laptops.",
        f"  rounds --site {made.folder}          opens it",
    )
    return FINDINGS if report.findings else 0
