"""`rounds sync` and `rounds verify`: carry the records, check that they are as written."""

from __future__ import annotations

import argparse

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import present, the_site
from rounds.cli.out import emit, say
from rounds.day.when import spoken
from rounds.records.entry import instant
from rounds.records.reaching import SyncFailed
from rounds.records.sync import SyncReport, sync
from rounds.records.verifying import verify
from rounds.site.model import Site


def run(asked: argparse.Namespace) -> int:
    """Sync with a folder, or verify the records."""
    site = the_site(asked)
    as_json = getattr(asked, "json", False)
    if asked.command == "verify":
        return _verify(site, as_json)
    try:
        report = sync(site.folder, site.id, asked.folder)
    except SyncFailed as error:
        raise Failure(str(error)) from None
    found = bool(report.set_aside or report.damaged)
    if as_json:
        emit("sync", site.id, present(), [report], site.display_units)
    else:
        _tell(site, report)
    return FINDINGS if found else 0


def _tell(site: Site, report: SyncReport) -> None:
    say(f"Sent {report.sent}, fetched {report.fetched} files of entries.")
    if report.waiting:
        say(f"{report.waiting} entries of an open program wait here: close it, then sync again.")
    now = present()
    for writer, at in sorted(report.heard.items()):
        say(f"  laptop {writer}: newest entry {spoken(instant(at), now, site.timezone)}")
    for one in report.set_aside:
        say(f"REFUSED there: {one.name}: {one.reason}.", hang=2)
    if report.set_aside:
        say("Why each was refused is kept in records/aside, with the bytes of the first of them.")
    for one in report.damaged:
        say(f"DAMAGED here, not sent: {one.name}: {one.reason}.", hang=2)
    if report.refused_before:
        say(f"{report.refused_before} files there were refused before and have not changed.")
    if report.strange:
        names = ", ".join(report.strangers)
        say(f"{report.strange} other names lie there and were left alone: {names}.", hang=2)
    if report.safe_to_remove:
        all_ = "All else" if report.set_aside or report.damaged or report.refused_before else "All"
        say(f"{all_} is written and read back: it is safe to remove the stick.")


def _verify(site: Site, as_json: bool) -> int:
    report = verify(site.folder, site.id)
    if as_json:
        emit("verify", site.id, present(), [report], site.display_units)
        return FINDINGS if report.findings else 0
    for one in report.findings:
        at = f", line {one.line}" if one.line else ""
        say(f"{one.file}{at}: {one.says}", hang=2)
    count = len(report.findings)
    found = f"{count} finding{'s' if count > 1 else ''}" if count else "all as it was written"
    say(f"{report.entries} entries in {report.files} files: {found}.")
    for writer, head in sorted(report.heads.items()):
        say(f"  head of {writer}: {head}")
    for line in report.cannot_know:
        say(f"Not known: {line}", hang=2)
    return FINDINGS if report.findings else 0
