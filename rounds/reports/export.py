"""The book as tables that other programs read: CSV, and Parquet where DuckDB is installed.

Sorted by time through a temporary database on the disk, so that memory does not grow with years.
"""

from __future__ import annotations

import csv
import errno
import os
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import ExitStack, closing
from datetime import tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import msgspec
from msgspec import Struct

from rounds.day.fold.corrections import by_target
from rounds.records.decoding import encode
from rounds.records.durable import name_new
from rounds.records.entry import Correction, Entry, Known
from rounds.reports.cells import KINDS, cells, columns, safe, types

if TYPE_CHECKING:
    from _csv import Writer

SPREADSHEET_ROWS: Final = 1_048_576
"""Rows, with the names of the columns, that spreadsheets show."""


class NoDuckDB(Exception):
    """Parquet was asked for and what writes it is not installed."""


class Wanted(Struct, frozen=True):
    """Which entries, and in what form."""

    kinds: tuple[str, ...] = ()
    """Empty for all but the headers of files."""
    first: str = ""
    """The first site-local day, "2026-11-24"; empty for all before `last`."""
    last: str = ""
    parquet: bool = False
    bom: bool = False
    """Begin each CSV with the mark by which some spreadsheets know UTF-8."""

    def takes(self, entry: Entry) -> bool:
        """Tell whether an entry is wanted."""
        kind = type(entry).__struct_config__.tag
        late = bool(self.last) and entry.day > self.last
        asked = kind in self.kinds if self.kinds else kind != "open"
        return asked and entry.day >= self.first and not late


class Written(Struct, frozen=True):
    """A file that was written, with its number of rows."""

    file: Path
    rows: int


def export(
    entries: Iterable[Entry], target: Path, wanted: Wanted, zone: tzinfo
) -> tuple[Written, ...]:
    """Write entries as one table, or as a folder with one for each kind.

    Args:
        entries: All entries of the book, in any order: corrections may stand anywhere.
        target: A new .csv or .parquet file for one table, else a new folder.
        wanted: Which entries, and in what form.
        zone: The site's, for local times.

    Returns:
        The files; none when no entry is wanted.

    Raises:
        FileExistsError: `target` is there: nothing is overwritten.
        NoDuckDB: Parquet, without DuckDB.
        OSError: It cannot be written; nothing is left.
    """
    if os.path.lexists(target):
        raise _is_there(target)
    parquet = wanted.parquet or target.suffix == ".parquet"
    if parquet:
        _duckdb()
    with closing(sqlite3.connect("")) as sorter, ExitStack() as cleanup:
        corrections, counted = _sorted(sorter, entries, wanted)
        if not counted:
            return ()
        part = cleanup.enter_context(
            tempfile.TemporaryDirectory(prefix=".part-", dir=target.absolute().parent)
        )
        made = Path(part) / "made"
        made.mkdir()
        single = target.suffix in (".csv", ".parquet")
        kinds = [kind for kind in KINDS if kind in counted]
        tables = {target.stem: kinds} if single else {kind: [kind] for kind in kinds}
        rows = _rows(sorter, corrections, zone)
        written = _csv(made, tables, rows, wanted, raw=parquet)
        if parquet:
            written = [_parquet(one, tables[one.file.stem]) for one in written]
        try:
            if single:
                name_new(written[0].file, target)
                return (Written(target, written[0].rows),)
            if os.name != "nt":  # where a folder never takes another's place
                target.mkdir()
            made.rename(target)
        except FileExistsError:
            raise _is_there(target) from None
        return tuple(Written(target / one.file.name, one.rows) for one in written)


def _is_there(target: Path) -> FileExistsError:
    return FileExistsError(errno.EEXIST, "is there already: name a new file or folder", str(target))


def _sorted(
    sorter: sqlite3.Connection, entries: Iterable[Entry], wanted: Wanted
) -> tuple[dict[str, tuple[Correction, ...]], Counter[str]]:
    """Put the wanted entries into the sorter; keep every correction."""
    corrections: list[Correction] = []
    counted: Counter[str] = Counter()

    def taken() -> Iterator[tuple[float, str, bytes]]:
        for entry in entries:
            if isinstance(entry, Correction):
                corrections.append(entry)
            if wanted.takes(entry):
                counted[str(type(entry).__struct_config__.tag)] += 1
                yield entry.at.timestamp(), entry.id, encode(entry)

    sorter.execute("CREATE TABLE entry (at REAL, id TEXT, body BLOB)")
    sorter.executemany("INSERT INTO entry VALUES (?, ?, ?)", taken())
    return by_target(corrections), counted


def _rows(
    sorter: sqlite3.Connection, corrections: dict[str, tuple[Correction, ...]], zone: tzinfo
) -> Iterator[dict[str, str]]:
    decoder = msgspec.json.Decoder(Known)
    for (body,) in sorter.execute("SELECT body FROM entry ORDER BY at, id"):
        entry: Entry = decoder.decode(body)
        yield cells(entry, corrections.get(entry.id, ()), zone)


def _csv(
    folder: Path,
    tables: Mapping[str, Collection[str]],
    rows: Iterable[dict[str, str]],
    wanted: Wanted,
    *,
    raw: bool,
) -> list[Written]:
    """Write the rows, each into the table of its kind; `raw` for a program, not for a person."""
    names = {name: columns(kinds) for name, kinds in tables.items()}
    of_kind = {kind: name for name, kinds in tables.items() for kind in kinds}
    counted: Counter[str] = Counter()
    with ExitStack() as files:
        encoding = "utf-8-sig" if wanted.bom and not raw else "utf-8"
        writers: dict[str, Writer] = {}
        for name in tables:
            path = folder / f"{name}.csv"
            file = files.enter_context(path.open("w", encoding=encoding, newline=""))
            writers[name] = csv.writer(file)
            writers[name].writerow(names[name])
        for row in rows:
            name = of_kind[row["kind"]]
            line = [row.get(key, "") for key in names[name]]
            writers[name].writerow(line if raw else map(safe, line))
            counted[name] += 1
    return [Written(folder / f"{name}.csv", counted[name]) for name in tables]


def _duckdb() -> Any:
    try:
        import duckdb
    except ImportError as error:
        raise NoDuckDB(
            "Parquet needs a part that is not installed: pip install 'rounds[survey]'"
        ) from error
    return duckdb


def _parquet(table: Written, kinds: list[str]) -> Written:
    """Turn a CSV of ours into Parquet, with the types that all its kinds agree on."""
    typed = types(kinds)
    chosen = ", ".join(
        f'TRY_CAST("{key}" AS {typed[key]}) AS "{key}"' if key in typed else f'"{key}"'
        for key in columns(kinds)
    )
    target = table.file.with_suffix(".parquet")
    source = f"read_csv('{_quoted(table.file)}', header = true, all_varchar = true)"
    with _duckdb().connect(config={"threads": 1, "memory_limit": "200MB"}) as database:
        database.execute(f"COPY (SELECT {chosen} FROM {source}) TO '{_quoted(target)}'")  # noqa: S608 - no foreign text
    table.file.unlink()
    return Written(target, table.rows)


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")
