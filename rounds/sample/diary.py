"""Keeps what invented people write, laptop by laptop, and seals it as the book does."""

from __future__ import annotations

from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Final, TypeVar

from msgspec import Struct, field
from msgspec.structs import replace

from rounds import __version__
from rounds.records.decoding import check, encode
from rounds.records.durable import make_folder, write_new
from rounds.records.entry import FORMAT, Entry, Open, stamp
from rounds.records.layout import SealedFile, sealed_tree
from rounds.records.segment import chained
from rounds.site.model import Site

_LETTERS: Final = "abcdefghjkmnpqrstvwxyz23456789"
SEALED_MODE: Final = 0o444

E = TypeVar("E", bound=Entry)


def word(chance: Random, length: int) -> str:
    """Return a random name of small letters and digits that are not taken for one another."""
    return "".join(chance.choice(_LETTERS) for _ in range(length))


class Run(Struct):
    """One run of the program on one laptop: what it wrote, in order."""

    name: str
    by: str
    began: datetime
    seen: dict[str, str]
    entries: list[Entry] = field(default_factory=list)


class Laptop:
    """An invented laptop: it numbers its runs and stamps what is written."""

    def __init__(self, site: Site, chance: Random) -> None:
        self.site, self.chance = site, chance
        self.writer = word(chance, 6)
        self.sealed: list[tuple[SealedFile, bytes]] = []
        self.run: Run | None = None

    @property
    def head(self) -> str:
        """The newest sealed segment, as other laptops name it."""
        return self.sealed[-1][0].head if self.sealed else ""

    def begin(self, by: str, at: datetime, seen: dict[str, str]) -> None:
        """Begin a run; the one before it is sealed first."""
        self.seal()
        self.run = Run(word(self.chance, 6), by, at, seen)

    def write(self, draft: E, at: datetime) -> E:
        """Stamp a draft as the book would have, and keep it."""
        run = self.run
        assert run is not None  # noqa: S101 - a run has begun
        local = at.astimezone(self.site.timezone)
        entry = replace(
            draft,
            id=f"{self.writer}-{run.name}-{len(run.entries) + 1}",
            t=stamp(at),
            off=local.isoformat()[-6:],
            day=draft.day or local.date().isoformat(),
            mono=round((at - run.began) / timedelta(seconds=1), 3),
            by=draft.by or run.by,
        )
        check(entry)
        run.entries.append(entry)
        return entry

    def seal(self) -> None:
        """Seal the run: nothing is written to it any more."""
        run, self.run = self.run, None
        if run is None or not run.entries:
            return
        seg = len(self.sealed) + 1
        first = run.entries[0]
        header = Open(
            id=f"{self.writer}-{run.name}-0",
            t=stamp(run.began),
            off=first.off,
            day=first.day,
            by=run.by,
            format=FORMAT,
            site=self.site.id,
            site_digest=self.site.digest,
            writer=self.writer,
            seg=seg,
            prev=self.sealed[-1][0].digest if self.sealed else "",
            seen=run.seen,
            app=__version__,
        )
        data = chained(encode(entry) for entry in (header, *run.entries))
        digest = sha256(data).hexdigest()[:32]
        name = SealedFile(self.writer, seg, first.day.replace("-", ""), digest)
        self.sealed.append((name, data))

    def store(self, records: Path) -> None:
        """Write the sealed segments into a records folder."""
        for name, data in self.sealed:
            path = name.path(sealed_tree(records))
            make_folder(path.parent)
            write_new(path, data, mode=SEALED_MODE)
