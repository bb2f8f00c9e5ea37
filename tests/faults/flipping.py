"""Every bit of a segment flipped, every byte cut, every line swapped, deleted and doubled."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256
from itertools import chain, combinations, islice
from pathlib import Path

import msgspec

from rounds.records.decoding import encode
from rounds.records.entry import FORMAT, Note, Open, Reading
from rounds.records.layout import OpenFile, SealedFile
from rounds.records.segment import chained, scan_bytes
from tests.faults.row import SITE, Row, book, workplace

LINES = 30
Damages = Callable[[], Iterator[bytes]]


def rows(bits: int = 1_000_000, starts: int = 600, seed: int = 1) -> Iterator[Row]:
    """Damage a segment of 30 lines in every way, and start the book on some of the damaged."""
    whole = segment()
    each = _damages(whole)
    for name, damages in each.items():
        yield _read(name, whole, _some(damages, bits))
    yield _started(whole, _some(lambda: chain(*(make() for make in each.values())), starts))


def _some(make: Damages, wanted: int) -> Iterator[bytes]:
    """Take so many of all, evenly."""
    step = max(1, sum(1 for _ in make()) // wanted)
    return islice(make(), 0, None, step)


def segment() -> bytes:
    """A header, readings and a note: 30 lines as this version writes them."""
    common = {"t": "2026-11-24T07:02:35.323Z", "off": "+00:00", "day": "2026-11-24"}
    seen = {"p3x9tf": "398:" + "ab12" * 8}
    first = Open(
        id="k7q2md-r4t9zb-0", **common, format=FORMAT, site=SITE, site_digest="0" * 16,
        writer="k7q2md", seg=1, prev="", seen=seen, app="0.1.0",
    )  # fmt: skip
    lines = [encode(first)]
    for n in range(1, LINES - 1):
        entry = Reading(
            id=f"k7q2md-r4t9zb-{n}", **common, mono=n * 1.5, by="ana", place=f"G{n % 7}",
            measure="oxygen", value=f"{5 + n % 4}.{n % 10}0", unit="mg/L", verdict="ok",
        )  # fmt: skip
        lines.append(encode(entry))
    lines.append(
        encode(Note(id=f"k7q2md-r4t9zb-{LINES - 1}", **common, text="a smell: o cheiro é acre"))
    )
    return chained(lines)


def _damages(whole: bytes) -> dict[str, Damages]:
    lines = whole.splitlines(keepends=True)
    bytes_, bits, numbers = range(len(whole)), range(8), range(len(lines))
    places = range(len(lines) + 1)
    return {
        "every bit flipped": lambda: (_flipped(whole, at, bit) for at in bytes_ for bit in bits),
        "every byte cut: the rest is missing": lambda: (whole[:at] for at in bytes_),
        "every byte taken out": lambda: (whole[:at] + whole[at + 1 :] for at in bytes_),
        "every two lines swapped": lambda: (
            _swapped(lines, a, b) for a, b in combinations(numbers, 2)
        ),
        "every line deleted": lambda: (b"".join(lines[:n] + lines[n + 1 :]) for n in numbers),
        "every line doubled at every place": lambda: (
            b"".join([*lines[:to], lines[n], *lines[to:]]) for n in numbers for to in places
        ),
    }


def _flipped(data: bytes, at: int, bit: int) -> bytes:
    changed = bytearray(data)
    changed[at] ^= 1 << bit
    return bytes(changed)


def _swapped(lines: list[bytes], a: int, b: int) -> bytes:
    changed = list(lines)
    changed[a], changed[b] = changed[b], changed[a]
    return b"".join(changed)


def _read(what: str, whole: bytes, damaged: Iterable[bytes]) -> Row:
    """Read each as a sealed file, by its name, and as an open one, by its lines alone.

    Lines taken off the end of an open file, where nothing yet says how many there were, are the
    one change that only the name of a sealed file shows.
    """
    good = scan_bytes(whole)
    bodies = [line.body for line in good.lines]
    may_go = 4 if "swapped" in what else 2
    trials = wrong = 0
    for data in damaged:
        trials += 1
        found = scan_bytes(data)
        here = [line.body for line in found.lines]
        told = bool(found.bad or found.torn)
        ended = here == bodies[: len(here)] and len(here) >= data.count(b"\n")
        gone = (data.count(b"\n") if "cut" in what else len(bodies)) - len(here)
        noticed = found.digest != good.digest and (told or ended)
        wrong += not (noticed and set(here) <= set(bodies) and gone <= may_go)
    mark = f"0 unnoticed, at most {may_go} lines gone"
    return Row(what, trials, trials * LINES, wrong, mark, trials > 0 and not wrong)


def _started(whole: bytes, damaged: Iterable[bytes]) -> Row:
    """Start the book on a dead run's damaged file and on a damaged sealed one, and write on."""
    refused = tried = 0
    with workplace() as place:
        folder = place / "site"
        for data in damaged:
            for path in (_as_open(folder), _as_sealed(folder, whole)):
                path.parent.mkdir(parents=True)
                path.write_bytes(data)
                tried += 1
                refused += not _writes_on(folder)
                shutil.rmtree(folder)
    return Row(
        "the book opened on such files, and written on", tried, tried, refused,
        "no refusal to start", tried > 0 and not refused,
    )  # fmt: skip


def _as_open(folder: Path) -> Path:
    return OpenFile("k7q2md", 1, "r4t9zb").path(folder / "records")


def _as_sealed(folder: Path, whole: bytes) -> Path:
    digest = sha256(whole).hexdigest()[:32]
    return SealedFile("k7q2md", 1, "20261124", digest).path(folder / "records" / "sealed")


def _writes_on(folder: Path) -> bool:
    try:
        with book(folder) as writing:
            before = len(list(writing.entries()))
            writing.append(Note(text="on"))
            after = list(book(folder, read_only=True).entries())
    except Exception:
        return False
    return len(after) >= before + 1 and isinstance(msgspec.to_builtins(after), list)
