"""Random histories of a few laptops, a share and a stick, with every kind of fault on the way.

A fault that destroys strikes only where another whole copy lies somewhere: two faults on the last
copy have no cure. Everything else may happen at any time, and nothing is cleared up at the end.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch
from zoneinfo import ZoneInfo

from rounds.day.fold.farm import Farm, fold
from rounds.records import identity
from rounds.records import sync as sync_room
from rounds.records.admission import newcomers
from rounds.records.book import Book
from rounds.records.carrying import FolderCarrier
from rounds.records.entry import Correction, Died, Entry, Note, Reading
from rounds.records.layout import SealedFile, listed, sealed_tree
from rounds.records.sync import SyncFailed, enrol, sync
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.shipped import shipped
from tests.faults.holding import copied, whole
from tests.faults.hostile import HOSTILE_TEXT, plant
from tests.faults.row import SITE, Row, workplace

MARK = "converge, 0 lost, 0 hostile"
BEGAN = datetime(2026, 10, 24, 20, 0, tzinfo=UTC)
"""The night before clocks in the site's zone are set back."""
STEPS = 45
LISBON = ZoneInfo("Europe/Lisbon")
CLOCKS = ("right", "right", "days before", "days after", "1970", "2106")


def rows(histories: int = 500, seed: int = 1) -> list[Row]:
    """Live through so many histories."""
    count: Counter[str] = Counter()
    first = ""
    with ExitStack() as patches:
        patches.enter_context(patch.object(os, "fsync", lambda fd: None))  # not what is tried here
        for number in range(histories):
            fast = Path("/dev/shm")  # noqa: S108 - memory, where there is such a folder
            with workplace(fast if fast.is_dir() else None) as place:
                world = World(place, Random(f"{seed}.{number}"))
                try:
                    wrong = world.live()
                except Exception as error:
                    wrong = f"{type(error).__name__}: {error}"
            count.update(world.count)
            count["failed"] += bool(wrong)
            if wrong and not first:
                first = f"history {number}: {wrong}"
    lost = count["lost"] + count["failed"]
    what = f"histories of 3 to 5 laptops, {count['faults']:,} faults"
    return [
        Row(what, histories, count["acknowledged"], lost, MARK, histories > 0 and not lost, first)
    ]


@dataclass
class Laptop:
    """One laptop: its copy of the site, its identity, its clock."""

    root: Path
    machine: str
    wrong_s: float = 0.0
    backups: list[Path] = field(default_factory=list)

    @property
    def folder(self) -> Path:
        return self.root / "site"

    @property
    def tree(self) -> Path:
        return sealed_tree(self.folder / "records")


class World:
    """Laptops, two places they sync with, and what was acknowledged."""

    def __init__(self, root: Path, chance: Random) -> None:
        self.root, self.chance = root, chance
        self.now = BEGAN
        self.count: Counter[str] = Counter()
        self.acked: dict[str, str] = {}
        self.legit: set[str] = set()
        self.places = [root / "share", root / "stick"]
        self.old: dict[Path, Any] = {}
        for place in self.places:
            place.mkdir()
        self.laptops = [self._laptop(f"machine {n}") for n in range(chance.randrange(3, 6))]

    def _laptop(self, machine: str) -> Laptop:
        made = Laptop(self.root / f"laptop{self.count['laptops']}", machine)
        self.count["laptops"] += 1
        made.folder.mkdir(parents=True)
        return made

    def live(self) -> str:
        """Live through the history; returns what is wrong at its end."""
        clock = SimpleNamespace(time=lambda: self.now.timestamp())
        with patch.object(sync_room, "time", clock):
            self.write(self.laptops[0])
            for laptop in self.laptops:
                self.sync(laptop, self.places[0])
                self.write(laptop)
                self.sync(laptop, self.places[0])
            for _ in range(STEPS):
                self.now += timedelta(hours=self.chance.expovariate(1 / 12))
                laptop = self.chance.choice(self.laptops)
                act = self.chance.choices(list(ACTS), list(ACTS.values()))[0]
                self.count["faults"] += act not in (World.write, World.sync)
                act(self, laptop)
            for _ in range(4):
                self.now += timedelta(days=8)
                for laptop in self.laptops:
                    for place in self.places:
                        self.sync(laptop, place)
        return self.judged()

    def here(self, laptop: Laptop) -> None:
        os.environ["ROUNDS_STATE"] = str(laptop.root / "state")
        identity._machine = lambda: laptop.machine

    def book(self, laptop: Laptop, *, read_only: bool = False) -> Book:
        self.here(laptop)
        began = self.now

        def wall() -> datetime:
            return self.now + timedelta(seconds=laptop.wrong_s)

        return Book.open(
            laptop.folder, SITE, "", tz=LISBON, clock=wall, read_only=read_only,
            steady=lambda: (self.now - began).total_seconds(),
        )  # fmt: skip

    # What people do

    def write(self, laptop: Laptop) -> None:
        """Write a few entries, now and then with two programs, now and then until it is killed."""
        books = [self.book(laptop) for _ in range(self.chance.choice((1, 1, 1, 2)))]
        for _ in range(self.chance.randrange(1, 6)):
            writing = self.chance.choice(books)
            self.now += timedelta(seconds=self.chance.randrange(1, 600))
            entry = writing.append(self.draft())
            self.acked[entry.id] = entry.h
            self.legit.add(entry.id.partition("-")[0])
            self.count["acknowledged"] += 1
        for writing in books:
            if self.chance.random() < 0.3 and writing._writer is not None:
                self.count["faults"] += 1
                self._killed(laptop, writing)
            else:
                writing.close()

    def draft(self) -> Entry:
        """A reading, a note, or a correction of anything anybody wrote, whether seen or not."""
        ids = list(self.acked)
        match self.chance.randrange(5):
            case 0 if ids:
                seen = self.chance.sample(ids, min(2, len(ids)))
                value = {"value": str(self.chance.randrange(1, 9))}
                of, void = self.chance.choice(ids), self.chance.random() < 0.2
                return Correction(of=of, after=seen, set={} if void else value, void=void)
            case 1:
                return Note(text=f"note {len(ids)}")
            case 2:
                dead = self.chance.randrange(3)
                return Died(lot="RD-23", place=self.chance.choice(("G2", "G3")), count=dead)
        return Reading(
            measure="oxygen", value=f"{len(ids) % 9}.{len(ids) % 7}", unit="mg/L", place="G2"
        )

    def _killed(self, laptop: Laptop, writing: Book) -> None:
        assert writing._writer is not None
        writing._writer.close()
        if self.chance.random() < 0.5:
            for path in (laptop.folder / "records" / "open").glob("*.jsonl"):
                with path.open("ab") as file:
                    file.write(b'{"kind":"note","id":"torn')
                return

    def sync(self, laptop: Laptop, place: Path | None = None) -> None:
        """Exchange with a place, and take in the laptops one knows."""
        self.here(laptop)
        place = place or self.chance.choice(self.places)
        try:
            sync(laptop.folder, SITE, place)
        except SyncFailed as error:
            if "sync once more" not in str(error):
                raise
            self.count["emptied places filled anew when asked twice"] += 1
            sync(laptop.folder, SITE, place)
        for one in newcomers(laptop.folder / "records"):
            if one.writer in self.legit:
                enrol(laptop.folder, SITE, one.writer)

    # What goes wrong

    def cloned(self, laptop: Laptop) -> None:
        """Copy a laptop's disk to another machine, or as an image that cannot tell it is one."""
        if len(self.laptops) >= 6:
            return
        image = self.chance.random() < 0.5
        twin = self._laptop(laptop.machine if image else f"machine {len(self.laptops)}")
        twin.folder.rmdir()
        shutil.copytree(laptop.root, twin.root, symlinks=True, dirs_exist_ok=True)
        if image:
            self.here(laptop)
            old = identity.state_folder(laptop.folder, SITE)
            self.here(twin)
            new = identity.state_folder(twin.folder, SITE)
            if (copied := twin.root / "state" / old.name).exists():
                copied.rename(new)
        self.laptops.append(twin)

    def backed_up(self, laptop: Laptop) -> None:
        """Copy a laptop's folder, to be restored one day, perhaps more than once."""
        self.book(laptop).close()
        copy = self.root / f"backup{self.count['backups']}"
        self.count["backups"] += 1
        shutil.copytree(laptop.folder, copy, symlinks=True)
        laptop.backups.append(copy)

    def restored(self, laptop: Laptop) -> None:
        """Put an old copy in the place of a laptop's folder."""
        if not laptop.backups:
            return
        self.book(laptop).close()
        if all(self.elsewhere(file, laptop.tree) for file in listed(laptop.tree).files):
            shutil.rmtree(laptop.folder)
            shutil.copytree(self.chance.choice(laptop.backups), laptop.folder, symlinks=True)

    def place_restored(self, laptop: Laptop) -> None:
        """Put a place back to what it was before this step's history, or remember it as it is."""
        place = self.chance.choice(self.places)
        old = self.root / f"old-{place.name}"
        if not old.exists():
            copied(place, old)
        elif all(self.elsewhere(file, place / SITE) for file in listed(place / SITE).files):
            shutil.rmtree(place)
            copied(old, place)

    def cut(self, laptop: Laptop) -> None:
        """Leave half a file under its final name at a place: a plain copy that was broken off."""
        files = listed(laptop.tree).files
        place = self.chance.choice(self.places) / SITE
        if files and self.elsewhere(file := self.chance.choice(files), place):
            path = file.path(place)
            path.parent.mkdir(parents=True, exist_ok=True)
            data = file.path(laptop.tree).read_bytes()
            path.unlink(missing_ok=True)
            path.write_bytes(data[: self.chance.randrange(len(data))])

    def rotten(self, laptop: Laptop) -> None:
        """Flip one bit of a sealed file, at a place or on a laptop."""
        tree = self.chance.choice([laptop.tree, *(place / SITE for place in self.places)])
        files = listed(tree).files
        if files and self.elsewhere(file := self.chance.choice(files), tree):
            data = bytearray(file.path(tree).read_bytes())
            if data:
                data[self.chance.randrange(len(data))] ^= 1 << self.chance.randrange(8)
                file.path(tree).chmod(0o600)
                file.path(tree).write_bytes(data)

    def folded(self, laptop: Laptop) -> None:
        """A share that gives names back in capitals."""
        place = self.chance.choice(self.places) / SITE
        files = listed(place).files
        if files and self.elsewhere(file := self.chance.choice(files), place):
            path = file.path(place)
            path.rename(path.with_name(path.name.upper()))

    def hostile(self, laptop: Laptop) -> None:
        """Something hostile lies at a place."""
        plant(self.chance.choice(self.places) / SITE, self.chance, sorted(self.legit))

    def clock(self, laptop: Laptop) -> None:
        """Set a laptop's clock wrong, or right again."""
        day = 86_400.0
        match self.chance.choice(CLOCKS):
            case "right":
                laptop.wrong_s = 0
            case "days before":
                laptop.wrong_s = -day * self.chance.randrange(1, 400)
            case "days after":
                laptop.wrong_s = day * self.chance.randrange(1, 400)
            case "1970":
                laptop.wrong_s = datetime(1970, 1, 2, tzinfo=UTC).timestamp() - self.now.timestamp()
            case _:
                laptop.wrong_s = datetime(2106, 2, 7, tzinfo=UTC).timestamp() - self.now.timestamp()

    def stale(self, laptop: Laptop) -> None:
        """A share whose listing is that of an earlier day."""
        place = self.chance.choice(self.places)
        old, self.old[place] = self.old.get(place), listed(place / SITE)
        if old is not None:
            with patch.object(FolderCarrier, "listed", lambda *_, **__: old):
                self._may_fail(laptop, place)

    def read_only(self, laptop: Laptop) -> None:
        """A share that takes nothing."""

        def refuses(*_: object) -> None:
            raise OSError(30, "Read-only file system")

        with (
            patch.object(FolderCarrier, "put", refuses),
            patch.object(FolderCarrier, "remove", refuses),
        ):
            self._may_fail(laptop, self.chance.choice(self.places))

    def vanished(self, laptop: Laptop) -> None:
        """A share that is not there."""
        place = self.chance.choice(self.places)
        gone = place.rename(place.with_name("gone"))
        self._may_fail(laptop, place)
        gone.rename(place)

    def _may_fail(self, laptop: Laptop, place: Path) -> None:
        try:
            self.sync(laptop, place)
        except SyncFailed:
            self.count["syncs that failed and said so"] += 1

    # What is left

    def elsewhere(self, file: SealedFile, than: Path) -> bool:
        """Tell whether a whole copy lies in another tree than this one."""
        trees = [one.tree for one in self.laptops] + [place / SITE for place in self.places]
        return any(whole(file, tree) for tree in trees if tree != than)

    def judged(self) -> str:
        """Compare what the laptops hold with what was acknowledged and with each other."""
        views = []
        for laptop in self.laptops:
            entries = list(self.book(laptop, read_only=True).entries())
            views.append({entry.id: entry.h for entry in entries})
            if any(HOSTILE_TEXT in repr(entry) for entry in entries):
                return f"{laptop.root.name} let in something hostile"
        one, other = (_folded(entries, self.chance) for _ in range(2))
        if one != other:
            return "the state depends on the order"
        lost = self.acked.items() - set.intersection(*(set(view.items()) for view in views))
        self.count["lost"] += len(lost)
        if lost:
            return f"{len(lost)} entries are not on every laptop, {min(lost)[0]} for one"
        if any(view != views[0] for view in views):
            return "laptops differ"
        if rot := self.rot():
            return f"{rot} is still damaged"
        return ""

    def rot(self) -> str:
        """Name a file of a legitimate laptop that is not what its name says."""
        for tree in [*(one.tree for one in self.laptops), *(place / SITE for place in self.places)]:
            for file in listed(tree).files:
                real = any(whole(file, one.tree) for one in self.laptops)
                if real and not whole(file, tree):
                    return f"{tree.parent.name}: {file.name}"
        return ""


def _folded(entries: list[Entry], chance: Random) -> Farm:
    """The farm from entries in an order of chance."""
    return fold(_site(), chance.sample(entries, len(entries)))


@cache
def _site() -> Site:
    return load(shipped("sample_site"))


ACTS: dict[Callable[[World, Laptop], None], int] = {
    World.write: 30, World.sync: 30, World.cloned: 2, World.backed_up: 3, World.restored: 3,
    World.place_restored: 3, World.cut: 4, World.rotten: 5, World.folded: 2, World.hostile: 6,
    World.clock: 4, World.stale: 2, World.read_only: 2, World.vanished: 2,
}  # fmt: skip
