"""What this laptop remembers of each address: when it answered, and what it listed. A cache."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from hashlib import sha256
from pathlib import Path

import msgspec

from rounds.records.index import got, put
from rounds.records.layout import WANT, Listing, SealedFile, told_apart

_LATEST_S = 2.0**32
"""The year 2106."""


class Known(msgspec.Struct, omit_defaults=True):
    """What one writer's folder at an address held when it was last listed."""

    names: list[str] = msgspec.field(default_factory=list)
    changed: float = 0.0
    """Time of its last change there, by that clock."""
    since: float = 0.0
    """When that change was first seen, by this clock."""
    settled: bool = False
    """Seen twice, some seconds apart: while the change is that one, the names are these."""

    def files(self, writer: str) -> tuple[SealedFile, ...]:
        """Return its segments, without those that are marked as damaged there."""
        found = told_apart(writer, ((name, True) for name in self.names))
        wanted = set(found.wants)
        return tuple(file for file in found.files if file not in wanted)


class Memory(msgspec.Struct, omit_defaults=True):
    """What is known of one address."""

    address: str = ""
    tried: float = 0.0
    done: float = 0.0
    """When a sync with it last ended well."""
    failed: str = ""
    """Why the last one did not; empty when it did."""
    whole: float = 0.0
    """When every folder there was last listed."""
    scrubbed: float = 0.0
    refused: dict[str, tuple[int, int]] = msgspec.field(default_factory=dict)
    """Files there that were refused, with their size and the time of their last change then."""
    app: str = ""
    """The version that refused them."""
    look_next: str = ""
    """The file at which the last sync gave up looking."""
    emptied: int = 0
    """1: it held files and was found empty; 2: a person who asked was told; 0 else."""
    same_disk: bool = False
    """It lies on the disk that the site lies on."""
    folders: dict[str, Known] = msgspec.field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many names lay there."""
        return sum(len(known.names) for known in self.folders.values())

    @property
    def files(self) -> tuple[SealedFile, ...]:
        """Every segment that lay there; none where it was found empty."""
        if self.emptied:
            return ()
        return tuple(f for writer, known in self.folders.items() for f in known.files(writer))

    def note(self, there: Listing, sent: Sequence[SealedFile]) -> None:
        """Remember what the address holds now: what it listed, and what was sent since."""
        if not sent and len(there.files) + len(there.wants) == self.count:
            return
        names: dict[str, list[str]] = {}
        for file in (*there.files, *sent):
            names.setdefault(file.writer, []).append(file.base)
        for file in there.wants:
            names.setdefault(file.writer, []).append(file.base + WANT)
        changed = {file.writer for file in sent}
        for writer, those in names.items():
            known = self.folders.get(writer)
            if known is None or writer in changed or not known.changed:
                self.folders[writer] = Known(those)
        for gone in self.folders.keys() - names.keys():
            del self.folders[gone]


def recall(folder: Path, address: str) -> Memory:
    """Return what is known of an address; nothing but its name where nothing is."""
    found = _read(_place(folder, address))
    return found if found and found.address == address else Memory(address)


def recall_all(folder: Path) -> tuple[Memory, ...]:
    """Return what is known of every address this laptop ever synced with, by name."""
    found = map(_read, sorted((folder / "cache" / "sync").glob("*.mp")))
    return tuple(sorted((one for one in found if one), key=lambda one: one.address))


def remember(folder: Path, memory: Memory) -> None:
    """Keep what is known of an address; that it cannot be kept stops nothing."""
    with suppress(OSError):
        put(_place(folder, memory.address), msgspec.msgpack.encode(memory))


def _place(folder: Path, address: str) -> Path:
    key = sha256(address.encode("utf-8", "surrogatepass")).hexdigest()[:16]
    return folder / "cache" / "sync" / f"{key}.mp"


def _read(path: Path) -> Memory | None:
    try:
        found = msgspec.msgpack.decode(got(path), type=Memory)
    except (OSError, ValueError, RecursionError):
        return None
    times = (found.tried, found.done, found.whole, found.scrubbed)
    return found if all(0 <= one < _LATEST_S for one in times) else None
