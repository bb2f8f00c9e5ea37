"""Kill -9 of a sync at random moments, in both directions: nothing is half, a later one ends it."""

from __future__ import annotations

import importlib
import time
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path
from random import Random

from rounds.records.layout import sealed_tree
from rounds.records.segment import chained
from rounds.records.sync import sync
from tests.faults.holding import emptied, held
from tests.faults.hostile import bodies
from tests.faults.row import SITE, Child, Row, skipped, workplace
from tests.faults.servers import SERVERS, There, impossible

MARK = "0 half files, all there in the end"
WRITER = "k7q2md"
FILES = 120


def rows(kills: int = 50, remote: int = 50, seed: int = 1) -> Iterator[Row]:
    """Kill a first sync with each kind of address, so many times in each direction."""
    for words, (serve, modules) in SERVERS.items():
        count = kills if words == "a folder" else remote
        if not count:
            continue
        if why := impossible(words):
            yield skipped(f"kill -9 of a sync with {words}", MARK, why)
            continue
        for module in modules:
            importlib.import_module(module)  # before the fork, so that a kill meets the sync
        with workplace() as place, serve(place) as there:
            yield from _killed(place, there, count, Random(seed))


def _killed(place: Path, there: There, kills: int, chance: Random) -> Iterator[Row]:
    sender, receiver = place / "sender", place / "receiver"
    names = sealed_book(sender, FILES)
    (receiver / "records").mkdir(parents=True)
    tree = sealed_tree(receiver / "records")
    yield _row(
        f"kill -9 of a sync that sends to {there.words}", sender, there, there.held,
        there.emptied, names, kills, chance,
    )  # fmt: skip
    yield _row(
        f"kill -9 of a sync that fetches from {there.words}", receiver, there,
        lambda: held(tree), lambda: emptied(tree), names, kills, chance,
    )  # fmt: skip


def _row(
    what: str,
    folder: Path,
    there: There,
    holds: Callable[[], dict[str, bool]],
    clear: Callable[[], None],
    names: set[str],
    kills: int,
    chance: Random,
) -> Row:
    half = within = 0
    error, took_s = _ended(folder, there.address)
    for number in range(kills):
        if set(holds()) >= names:
            clear()
        child = Child(_syncing(folder, there.address))
        child.heard_so_many(1)
        time.sleep(chance.random() * min(took_s, 5.0))
        if there.cut and number % 2:  # the other end dies, this one must notice and end
            there.cut()
            child.close()
            child.kill()
        else:
            child.kill()
            child.close()
        now = holds()
        half += sum(not whole for whole in now.values())
        within += 0 < len(now) < len(names)
    error, _ = (error, 0) if error else _ended(folder, there.address)
    missing = len(names - set(holds()))
    idle = kills >= 20 and within * 5 < kills
    passed = not half and not missing and not error and not idle
    note = error or (f"only {within} kills met it at work" if idle else "")
    return Row(what, kills, len(names), half + missing, MARK, passed, note)


def _syncing(folder: Path, address: str) -> Callable[[Callable[[str], None]], None]:
    def act(told: Callable[[str], None]) -> None:
        told("begins")
        sync(folder, SITE, address)
        told("done")

    return act


def _ended(folder: Path, address: str) -> tuple[str, float]:
    """Sync until it ends by itself; returns what went wrong, and how long it took."""
    began = time.monotonic()
    child = Child(_syncing(folder, address))
    said = child.close()
    child.kill()
    return "" if "done" in said else child.error or "it did not end", time.monotonic() - began


def sealed_book(folder: Path, count: int) -> set[str]:
    """Make a book of many sealed files; return their names."""
    tree = sealed_tree(folder / "records") / WRITER
    tree.mkdir(parents=True)
    names = set()
    for seg in range(1, count + 1):
        run = f"r{seg:05d}".translate(str.maketrans("01", "ab"))
        data = chained(bodies(WRITER, seg, run))
        name = f"{seg:06d}_20261124_{sha256(data).hexdigest()[:32]}.jsonl"
        (tree / name).write_bytes(data)
        names.add(f"{WRITER}/{name}")
    return names
