"""`rounds backup` and `rounds restore`: a site in one file, and back from it."""

from __future__ import annotations

import argparse

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import present, the_site
from rounds.cli.out import emit, say
from rounds.day.when import spoken
from rounds.records.backup import BackedUp, BackupFailed, Restored, backup, restore
from rounds.records.entry import instant
from rounds.site.loading import load


def run(asked: argparse.Namespace) -> int:
    """Write an archive, or make a site's folder from one."""
    try:
        return _restore(asked) if asked.command == "restore" else _backup(asked)
    except BackupFailed as error:
        raise Failure(str(error)) from None


def _backup(asked: argparse.Namespace) -> int:
    site = the_site(asked)
    made = backup(site.folder, site.id, asked.file, present())
    if getattr(asked, "json", False):
        emit("backup", site.id, present(), [made], site.display_units)
    else:
        _tell_backup(made)
    return FINDINGS if made.damaged or made.left_out or made.waiting else 0


def _tell_backup(made: BackedUp) -> None:
    say(f"Wrote {made.file}: {made.files} files, {made.size / 1e6:.1f} MB.")
    for writer, head in sorted(made.heads.items()):
        say(f"  head of {writer}: {head}")
    for name in made.damaged:
        say(f"DAMAGED here, kept as it is: {name}. Sync: another laptop may hold it whole.", hang=2)
    for name in made.left_out:
        say(f"NOT in it: {name}.", hang=2)
    if made.waiting:
        say(f"NOT in it: {made.waiting} entries of an open program. Close it, then back up again.")
    say("It was read back and is whole: it is safe to remove the stick.")


def _restore(asked: argparse.Namespace) -> int:
    made = restore(asked.file, asked.folder)
    site = load(made.folder)
    if getattr(asked, "json", False):
        emit("restore", site.id, present(), [made], site.display_units)
    else:
        when = spoken(instant(made.made), present(), site.timezone)
        _tell_restore(made, when)
    return FINDINGS if made.report.findings else 0


def _tell_restore(made: Restored, when: str) -> None:
    report = made.report
    say(f"Restored {made.folder}: {made.files} files, {report.entries} entries, as of {when}.")
    for one in report.findings:
        at = f", line {one.line}" if one.line else ""
        say(f"{one.file}{at}: {one.says}", hang=2)
    say(
        "It writes under a new laptop's name from now on.",
        "Sync it next: what was written after this backup may lie on other laptops.",
        f"  rounds --site {made.folder}          opens it",
    )
