"""What five years of entries cost, against five days of the same farm: ratios of minima.

Each figure is of its own process, in random order; processor seconds where a start is compared,
since other programs on the machine do not count in them. The farms stay as they were made: each run
measures copies of them, whose last entries are those of this morning.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec

from rounds.day.fold.snapshot import Snapshot
from rounds.records.book import Book
from rounds.records.entry import Known, Reading
from rounds.site.loading import load
from rounds.site.model import Site
from tests.bench.first_board import starts
from tests.bench.keystrokes import keystrokes
from tests.bench.years import YEARS, made, morning

STARTS = 7
APPENDS = 300
_DECODER = msgspec.json.Decoder(Known)


def figures(folder: Path | None) -> None:
    """Print every figure of age with its aim; the five-year farm is made where it is missing."""
    with tempfile.TemporaryDirectory() as place:
        kept = folder or Path(place)
        kept.mkdir(exist_ok=True)
        for name, count in (("years", YEARS), ("days", 5)):
            if not (kept / name).exists():
                begun = time.perf_counter()
                made(kept / name, count, date.today() - timedelta(days=1))
                print(f"made {count} days in {time.perf_counter() - begun:.0f} s")
        with tempfile.TemporaryDirectory(dir=kept) as run:
            root = Path(run)
            os.environ["ROUNDS_STATE"] = str(root / "state")
            _compared(root, _copied(kept, root, "years"), _copied(kept, root, "days"))


def _copied(kept: Path, root: Path, name: str) -> Path:
    """Return a farm that may be written to: its sealed files are the kept one's, by hard links."""
    farm = root / name
    farm.mkdir()
    shutil.copy(kept / name / "site.toml", farm)
    shutil.copytree(kept / name / "records", farm / "records", copy_function=os.link)
    morning(farm, date.today())
    return farm


def _compared(root: Path, years: Path, days: Path) -> None:
    _rebuild(years)
    _measured(days, "open")
    _starts(years, days)
    farms = {"five years": years, "five days": days}
    starts({n: {"ROUNDS_SITE": str(farm), "ROUNDS_BY": "ana"} for n, farm in farms.items()})
    keystrokes({"ROUNDS_SITE": str(years), "ROUNDS_BY": "ana"})
    _appends(root, years, days)


def _measured(farm: Path, what: str) -> dict[str, Any]:
    """Run one measurement in a process of its own."""
    told = subprocess.run(
        [sys.executable, "-m", "tests.bench.age", what, str(farm)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    found: dict[str, Any] = json.loads(told.stdout)
    return found


def _rebuild(years: Path) -> None:
    """All entries folded with nothing of the cache, against decoding the same bytes."""
    decode = min(_measured(years, "decode")["cpu"] for _ in range(3))
    anew = _measured(years, "anew")
    print(
        f"rebuild               {anew['cpu']:6.1f} s for {anew['read']} entries, decoding alone "
        f"{decode:.1f} s: ratio {anew['cpu'] / decode:.1f} (aim 1.5); most memory {anew['rss']} MB"
    )


def _starts(years: Path, days: Path) -> None:
    found: dict[str, list[dict[str, Any]]] = {"years": [], "days": []}
    for _ in range(STARTS):
        for name, farm in random.sample([("years", years), ("days", days)], 2):
            found[name].append(_measured(farm, "board"))
    for key, says, digits in (
        ("whole", "start with a board", 3), ("open", "opening alone", 3), ("pss", "Pss, MB", 0),
    ):  # fmt: skip
        old, new = (min(one[key] for one in found[name]) for name in ("years", "days"))
        print(
            f"{says:20}  {old:6.{digits}f} at five years, {new:.{digits}f} at five days: ratio "
            f"{old / new:.2f} (aim 1.3)"
        )
    read = {name: found[name][0]["read"] for name in found}
    print(f"entries read at start {read['years']} at five years, {read['days']} at five days")


def _appends(root: Path, years: Path, days: Path) -> None:
    """An accepted reading with a history of 0, some thousand and all entries behind it."""
    empty = root / "empty"
    empty.mkdir()
    shutil.copy(days / "site.toml", empty)
    draft = Reading(
        measure="oxygen", value="6.31", unit="mg/L", step="oxygen", verdict="ok", place="T1",
        by="ana", walk="first-light.2026-11-24.061204000000.ana",
    )  # fmt: skip
    farms = [("0", empty), ("5 thousand", days), ("1.7 million", years)]
    books = [(name, *_opened(farm, writes=True)) for name, farm in farms]
    state = {name: Snapshot(site, book).open(datetime.now(UTC)) for name, site, book in books}
    times: dict[str, list[float]] = {name: [] for name, _ in farms} | {"raw": []}
    fd = os.open(root / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    for name, _, book in books:
        state[name] = state[name].add(book.append(draft))
    for _ in range(APPENDS):
        begun = time.perf_counter()
        os.write(fd, b"x" * 260 + b"\n")
        os.fsync(fd)
        times["raw"].append(time.perf_counter() - begun)
        for name, _, book in books:
            begun = time.perf_counter()
            state[name] = state[name].add(book.append(draft))
            times[name].append(time.perf_counter() - begun)
    os.close(fd)
    for _, _, book in books:
        book.close()
    raw, first = min(times["raw"]), min(times["0"])
    for name, _ in farms:
        best = min(times[name])
        print(
            f"accepted reading      {1000 * best:6.3f} ms with {name} behind it, kept and folded: "
            f"{best / raw:.2f} of a raw write and fsync (aim 2), {best / first:.2f} of none (aim "
            f"1.3); median {1000 * statistics.median(times[name]):.3f}"
        )


def _opened(farm: Path, *, writes: bool = False) -> tuple[Site, Book]:
    site = load(farm)
    book = Book.open(site.folder, site.id, site.digest, tz=site.timezone, read_only=not writes)
    return site, book


def _one(what: str, farm: Path) -> dict[str, Any]:
    """Return one measurement of this process."""
    import resource

    if what == "decode":
        begun = time.process_time()
        for path in (farm / "records" / "sealed").rglob("*.jsonl"):
            _DECODER.decode_lines(path.read_bytes())
        return {"cpu": time.process_time() - begun}
    if what == "anew":
        shutil.rmtree(farm / "cache", ignore_errors=True)
    now = datetime.now(UTC)
    site, book = _opened(farm)
    snapshot = Snapshot(site, book)
    begun = time.process_time()
    state = snapshot.open(now)
    opened = time.process_time() - begun
    if what == "board":
        from rounds.day.telling.board import board

        board(site, state, now)
    whole = time.process_time()
    if (ended := snapshot.ended(state, now)) is not None:
        snapshot.keep(ended, now)
    return {
        "cpu": opened, "open": opened, "whole": whole, "read": snapshot.read, "pss": _pss_mb(),
        "rss": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }  # fmt: skip


def _pss_mb() -> float:
    rows = Path("/proc/self/smaps_rollup").read_text("utf-8").splitlines()
    return next(int(row.split()[1]) for row in rows if row.startswith("Pss:")) / 1024


if __name__ == "__main__":
    print(json.dumps(_one(sys.argv[1], Path(sys.argv[2]))))
