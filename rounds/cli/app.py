"""`rounds` alone: opens the app; where there is no terminal, or a dumb one, it prints the sheet."""

from __future__ import annotations

import gc
import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def run(asked: argparse.Namespace) -> int:
    """Open the app on the site, or print today's sheet."""
    if asked.json or not _terminal():
        from rounds.cli.today import run as print_sheet

        return print_sheet(asked)
    gc.disable()  # until the first board is painted: what a start makes stays
    from rounds.cli import opened as at
    from rounds.records.book import Book

    site = at.the_site(asked)
    by = at.who(asked, site)
    with Book.open(site.folder, site.id, site.digest, tz=site.timezone) as book:
        from rounds.screens.app import run as show

        return show(site, book, by or None, book.writer or "")


def _terminal() -> bool:
    """Tell whether the app can be shown: a person at a terminal that can place a character."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"
