"""Measures the promises of the app on this machine: ratios against a bare app and a raw write.

Run it by hand, on a quiet machine: python -m tests.bench, and python -m tests.bench --five-years
[FOLDER] for what age costs, on a farm of five years that is made there once.
"""

from __future__ import annotations

import compileall
import os
import statistics
import sys
import tempfile
import time
import warnings
from datetime import date, timedelta
from pathlib import Path

import rounds
from rounds.records.book import Book
from rounds.records.entry import Reading
from rounds.sample.make import make
from rounds.site.loading import load
from rounds.water.figures import Readings, figures
from tests.bench import age
from tests.bench.first_board import starts
from tests.bench.keystrokes import keystrokes

APPENDS = 300
WATERS = 40


def main() -> None:
    """Print every figure with its aim."""
    if os.getloadavg()[0] > 1:
        print(f"The machine is busy (load {os.getloadavg()[0]:.1f}): figures will be too high.")
    compileall.compile_dir(str(Path(rounds.__file__).parent), quiet=2)
    if sys.argv[1:2] == ["--five-years"]:
        age.figures(Path(sys.argv[2]) if sys.argv[2:] else None)
        return
    with tempfile.TemporaryDirectory() as place:
        root = Path(place)
        farm = make(root / "farm", ending=date.today() - timedelta(days=1))
        env = {"ROUNDS_STATE": str(root / "state"), "ROUNDS_SITE": str(farm), "ROUNDS_BY": "ana"}
        os.environ.update(env)
        starts({"rounds": env})
        keystrokes(env)
        appends(root)
        water()


def appends(root: Path) -> None:
    """An accepted reading, against a raw write and fsync of a line as long."""
    site = load(root / "farm")
    draft = Reading(
        measure="oxygen", value="6.31", unit="mg/L", step="oxygen", verdict="ok", place="G1",
        by="ana", walk="first-light.2026-11-24.061204000000.ana",
    )  # fmt: skip
    ours: list[float] = []
    raw: list[float] = []
    fd = os.open(root / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    line = b"x" * 260 + b"\n"
    with Book.open(site.folder, site.id, site.digest, tz=site.timezone) as book:
        book.append(draft)
        for _ in range(APPENDS):
            begun = time.perf_counter()
            os.write(fd, line)
            os.fsync(fd)
            raw.append(time.perf_counter() - begun)
            begun = time.perf_counter()
            book.append(draft)
            ours.append(time.perf_counter() - begun)
    os.close(fd)
    print(
        f"accepted reading      {1000 * min(ours):6.3f} ms, raw write and fsync "
        f"{1000 * min(raw):.3f} ms: ratio of minima {min(ours) / min(raw):.2f} (aim 2), of medians "
        f"{statistics.median(ours) / statistics.median(raw):.2f}"
    )


def water() -> None:
    """Everything that follows from a stop's readings, beside one call of PyCO2SYS."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import PyCO2SYS as pyco2
    read = Readings(
        temperature_c=25.1, practical_salinity=31.2, oxygen_mg_l=6.3, ph=7.52, tan_mg_l=0.8,
        alkalinity_mg_l=96.0,
    )  # fmt: skip
    settings = {"opt_k_carbonic": 15, "opt_total_borate": 2, "opt_pH_scale": 4}
    ours: list[float] = []
    theirs: list[float] = []
    for _ in range(WATERS):
        begun = time.perf_counter()
        pyco2.sys(1885.0, 7.52, 1, 3, temperature=25.1, salinity=31.2, **settings)
        theirs.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        figures(read)
        ours.append(time.perf_counter() - begun)
    print(
        f"water of a stop       {1e6 * min(ours):6.0f} us, one PyCO2SYS call "
        f"{1e6 * min(theirs):.0f} us: ratio of minima {min(theirs) / min(ours):.0f} (aim 300)"
    )


if __name__ == "__main__":
    main()
