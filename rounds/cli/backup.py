"""`rounds backup`: a site in one file."""

from __future__ import annotations

import argparse

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import present, the_site
from rounds.cli.out import emit, say
from rounds.records.backup import BackedUp, BackupFailed, backup


def run(asked: argparse.Namespace) -> int:
    """Write the site and its records into one file."""
    site = the_site(asked)
    try:
        made = backup(site.folder, site.id, asked.file, present())
    except BackupFailed as error:
        raise Failure(str(error)) from None
    if asked.json:
        emit("backup", [made], site)
    else:
        _tell(made)
    return FINDINGS if made.damaged or made.missing or made.left_out or made.waiting else 0


def _tell(made: BackedUp) -> None:
    say(f"Wrote {made.file}: {made.files} files, {made.size / 1e6:.1f} MB.")
    for writer, head in sorted(made.heads.items()):
        say(f"  head of {writer}: {head}")
    for name in made.damaged:
        say(f"DAMAGED here, kept as it is: {name}. Sync: another laptop may hold it whole.", hang=2)
    for name in made.missing:
        say(f"MISSING here: {name}.", hang=2)
    for name in made.left_out:
        say(f"NOT in it: {name}.", hang=2)
    if made.waiting:
        say(f"NOT in it: {made.waiting} entries of an open program. Close it, then back up again.")
    if made.damaged or made.missing or made.left_out or made.waiting:
        say("The zip was read back and holds what is said above, not the whole records.")
    else:
        say("It was read back and is whole: it is safe to remove the stick.")
