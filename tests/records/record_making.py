"""What the tests of the records share: laptops, books and segments made by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from rounds.records.book import Book
from rounds.records.entry import FORMAT, Entry, Open, Reading
from rounds.records.segment import chained

SITE = "m4k8q2vz"
LISBON = ZoneInfo("Europe/Lisbon")
START = datetime(2026, 11, 24, 7, 0, tzinfo=UTC)
MACHINE_WRITER = "k7q2md"


class Clocks:
    """A wall clock and a steady one, moved by hand."""

    def __init__(self, at: datetime = START) -> None:
        self.at = at
        self.steady_s = 0.0

    def pass_s(self, seconds: float) -> None:
        self.at += timedelta(seconds=seconds)
        self.steady_s += seconds

    def wall(self) -> datetime:
        return self.at

    def steady(self) -> float:
        return self.steady_s


class Laptop:
    """A laptop with its own copy of the site and its own identity."""

    def __init__(self, root: Path, name: str, monkeypatch) -> None:
        self.state = root / name / "state"
        self.folder = root / name / "site"
        self.folder.mkdir(parents=True)
        self.records = self.folder / "records"
        self.clocks = Clocks()
        self._monkeypatch = monkeypatch

    def here(self) -> Laptop:
        self._monkeypatch.setenv("ROUNDS_STATE", str(self.state))
        return self

    def book(self, *, read_only: bool = False) -> Book:
        self.here()
        return Book.open(
            self.folder,
            SITE,
            "0" * 8,
            tz=LISBON,
            clock=self.clocks.wall,
            steady=self.clocks.steady,
            read_only=read_only,
        )

    def write(self, *values: str) -> list[Entry]:
        with self.book() as book:
            return [book.append(reading(value)) for value in values]

    def read(self) -> list[Entry]:
        return list(self.book(read_only=True).entries())


def reading(value: str = "8.10", **more) -> Reading:
    return Reading(measure="oxygen", value=value, unit="mg/L", place="G2", by="ana", **more)


def values(entries) -> list[str]:
    return [e.value for e in entries if isinstance(e, Reading)]


def tree(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b""
        for path in sorted(folder.rglob("*"))
    }


def open_segment(laptop: Laptop) -> Path:
    (path,) = (laptop.records / "open").glob("*.jsonl")
    return path


def sealed_segments(laptop: Laptop | Path) -> list[Path]:
    records = laptop / "records" if isinstance(laptop, Path) else laptop.records
    return sorted((records / "sealed").glob("*/*.jsonl"))


def bodies(count: int, writer: str = MACHINE_WRITER, run: str = "r4t9zb", **header) -> list[bytes]:
    """A header and `count` readings, as bodies of lines."""
    common = {"t": "2026-11-24T07:02:35.323Z", "off": "+00:00", "day": "2026-11-24"}
    first = {"format": FORMAT, "site": SITE, "site_digest": "", "writer": writer, "seg": 1}
    first |= {"prev": "", "seen": {}, "app": "0.1.0"}
    lines = [Open(id=f"{writer}-{run}-0", **common, **(first | header))]
    for n in range(1, count + 1):
        lines.append(
            Reading(
                id=f"{writer}-{run}-{n}",
                **common,
                mono=n * 1.5,
                by="ana",
                place=f"G{n % 7}",
                measure="oxygen",
                value=f"{5 + n % 4}.{n % 10}0",
                unit="mg/L",
            )
        )
    return [msgspec.json.encode(line) for line in lines]


def segment(count: int, **header) -> bytes:
    return chained(bodies(count, **header))


def sealed_name(data: bytes, seg: int = 1, day: str = "20261124") -> str:
    from hashlib import sha256

    return f"{seg:06d}_{day}_{sha256(data).hexdigest()[:32]}.jsonl"
