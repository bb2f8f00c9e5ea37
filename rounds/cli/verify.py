"""`rounds verify`: check that the records are as they were written."""

from __future__ import annotations

import argparse

from rounds.cli import FINDINGS
from rounds.cli.opened import the_site
from rounds.cli.out import emit, say
from rounds.records.verifying import verify


def run(asked: argparse.Namespace) -> int:
    """Verify the records."""
    site = the_site(asked)
    report = verify(site.folder, site.id)
    if asked.json:
        emit("verify", [report], site)
        return FINDINGS if report.findings else 0
    for one in report.findings:
        at = f", line {one.line}" if one.line else ""
        say(f"{one.file}{at}: {one.says}", hang=2)
    if report.notes:
        say("Explained, no damage:")
    for note in report.notes:
        say(f"  {note.file}: {note.says}.", hang=4)
    count = len(report.findings)
    found = f"{count} finding{'s' if count > 1 else ''}" if count else "all as it was written"
    say(f"{report.entries} entries in {report.files} files: {found}.")
    if report.heads:
        say("Heads today, to write on the signed sheet of paper:")
    for writer, head in sorted(report.heads.items()):
        say(f"  head of {writer}: {head}")
    for line in report.cannot_know:
        say(f"Not known: {line}", hang=2)
    return FINDINGS if report.findings else 0
