"""Power cuts under a writer, on real file systems, and the controls that must lose.

Only what was acknowledged before the cut counts: the process lives on for a moment after it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path
from random import Random
from typing import Any

from rounds.records import durable, sealing, segment
from rounds.records.durable import make_folder, write_new
from tests.faults.devices import Disk, disk, impossible
from tests.faults.row import Child, Row, append_on, skipped, texts, workplace

Act = Callable[[Callable[[str], None]], None]
KEEPS = "0 lost"
LOSES = "must lose, else a broken harness"


def rows(cuts: int = 100, controls: int = 20, seed: int = 1) -> Iterator[Row]:
    """Cut the power of an ext4 and an XFS under the book and under whole files put on a stick."""
    for kind in ("ext4", "xfs"):
        tries = [
            (f"power cut, {kind}: entries", cuts, _append, KEEPS),
            (f"power cut, {kind}: whole files, as sync puts them", cuts, _put, KEEPS),
            (f"control, {kind}: entries without fsync", controls, _no_file(_append), LOSES),
            (
                f"control, {kind}: whole files without folder fsync",
                controls,
                _no_folder(_put),
                LOSES,
            ),
        ]
        if why := impossible(kind):
            yield from (skipped(what, mark, why) for what, _, _, mark in tries)
            continue
        for what, count, act, mark in tries:
            with workplace() as place, disk(kind, place) as mounted:
                yield _cut(what, mounted, count, act, mark, Random(seed))


def _cut(
    what: str, on: Disk, cuts: int, act: Callable[[Path, int], Act], mark: str, chance: Random
) -> Row:
    folder = on.at / "site"
    os.environ["ROUNDS_STATE"] = str(on.at / "state")
    make_folder(folder)
    acked: set[str] = set()
    lost: set[str] = set()
    for life in range(cuts):
        make_folder(folder)
        child = Child(act(folder, life))
        acked.update(child.heard_so_many(chance.randrange(1, 60)))
        on.cut()
        child.kill()
        child.close()
        on.unmount()
        on.mount()
        make_folder(folder)
        lost |= acked - _there(folder)
    passed = bool(lost) if mark == LOSES else not lost
    return Row(what, cuts, len(acked), len(lost), mark, passed)


def _append(folder: Path, life: int) -> Act:
    return append_on(folder, f"life {life}", seal_each=15)


def _put(folder: Path, life: int) -> Act:
    def act(told: Callable[[str], None]) -> None:
        tree = folder / "put" / f"life-{life}"
        make_folder(tree)
        i = 0
        while True:
            data = f"{life} {i} ".encode() * 300
            name = sha256(data).hexdigest()
            write_new(tree / name, data)
            told(f"put {life} {name}")
            i += 1

    return act


def _there(folder: Path) -> set[str]:
    whole = set(texts(folder))
    for path in folder.glob("put/*/*"):
        if sha256(path.read_bytes()).hexdigest() == path.name:
            whole.add(f"put {path.parent.name.removeprefix('life-')} {path.name}")
    return whole


def _no_file(act: Callable[[Path, int], Act]) -> Callable[[Path, int], Act]:
    def changed(folder: Path, life: int) -> Act:
        def without(told: Callable[[str], None]) -> None:
            os.fsync = _nothing
            act(folder, life)(told)

        return without

    return changed


def _no_folder(act: Callable[[Path, int], Act]) -> Callable[[Path, int], Act]:
    def changed(folder: Path, life: int) -> Act:
        def without(told: Callable[[str], None]) -> None:
            for module in (durable, segment, sealing):
                module.sync_folder = _nothing  # type: ignore[attr-defined]
            act(folder, life)(told)

        return without

    return changed


def _nothing(_: Any) -> None:
    """Take the place of a call that puts something on the disk."""
