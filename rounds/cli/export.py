"""`rounds export`: the records as CSV or Parquet, for an inspector or a statistician."""

from __future__ import annotations

import argparse
from datetime import date

from rounds.cli import FINDINGS
from rounds.cli.failure import Failure
from rounds.cli.opened import the_site
from rounds.cli.out import emit, say
from rounds.records.book import Book
from rounds.records.gaps import not_whole
from rounds.records.reaching import sentence
from rounds.reports.cells import KINDS
from rounds.reports.export import SPREADSHEET_ROWS, NoDuckDB, Wanted, Written, export


def run(asked: argparse.Namespace) -> int:
    """Write the entries asked for into new files."""
    site = the_site(asked)
    suffix = asked.target.suffix
    if suffix not in (".csv", ".parquet") and suffix[1:2].isalpha():
        raise Failure(f"{asked.target}: a table ends in .csv or .parquet, a folder in neither")
    wanted = Wanted(
        _kinds(asked.kinds), _day("--from", asked.first), _day("--to", asked.last),
        asked.parquet, asked.bom,
    )  # fmt: skip
    with Book.open(site.folder, site.id, site.digest, tz=site.timezone, read_only=True) as book:
        try:
            written = export(book.entries(), asked.target, wanted, site.timezone)
        except NoDuckDB as error:
            raise Failure(str(error)) from None
        except FileExistsError:
            raise
        except OSError as error:
            raise Failure(sentence(str(asked.target), error, "export again")) from None
        unread, newer = len(book.problems()), sum(book.unknown.values())
    if asked.json:
        emit("export", written, site)
    else:
        _tell(written, unread, newer)
    return FINDINGS if unread else 0


def _tell(written: tuple[Written, ...], unread: int, newer: int) -> None:
    if not written:
        say("Nothing to export: no entry of those days and kinds.")
    for one in written:
        say(f"{one.rows:7} rows  {one.file}")
        if one.file.suffix == ".csv" and one.rows >= SPREADSHEET_ROWS:
            say("        More than a spreadsheet shows: export fewer days with --from and --to.")
    if newer:
        say(f"{newer} entries of a newer version are not in it: update this laptop.")
    if unread:
        say(f"NOT in it: {not_whole(unread)} names them.")


def _kinds(text: str) -> tuple[str, ...]:
    kinds = tuple(word.strip() for word in text.split(",") if word.strip())
    for kind in kinds:
        if kind not in KINDS:
            raise Failure(f"--kinds {kind} is none: {', '.join(KINDS)}")
    return kinds


def _day(option: str, text: str) -> str:
    try:
        return text and date.fromisoformat(text).isoformat()
    except ValueError:
        raise Failure(f"{option} {text} is not a date: write 2026-11-23") from None
