"""What the tests of sync share: a sync of one laptop, what is sealed, what is on the stick."""

from __future__ import annotations

from pathlib import Path

from record_making import SITE, Laptop, sealed_name, sealed_segments, tree

from rounds.records.sync import sync


def synced(laptop: Laptop, stick: Path):
    """Sync a laptop that knows every laptop it meets there."""
    knows(laptop, *(p.name for p in (stick / SITE).glob("??????") if p.is_dir()))
    return sync(laptop.here().folder, SITE, stick)


def knows(laptop: Laptop, *writers: str) -> None:
    """Let laptops belong to the site, as if a person had taken them in here long ago."""
    for writer in writers:
        (laptop.records / "sealed" / writer).mkdir(parents=True, exist_ok=True)


def sealed(laptop: Laptop) -> dict[str, bytes]:
    return {f"{p.parent.name}/{p.name}": p.read_bytes() for p in sealed_segments(laptop)}


def on(stick: Path) -> dict[str, bytes]:
    return {name: data for name, data in tree(stick / SITE).items() if name.endswith(".jsonl")}


def put(stick: Path, data: bytes, *, writer: str = "k7q2md", name: str = "") -> Path:
    folder = stick / SITE / writer
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / (name or sealed_name(data))
    path.write_bytes(data)
    return path
