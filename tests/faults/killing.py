"""Kill -9 of writing processes, two at a time on one folder."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from rounds.records.backup import BackupFailed, backup, restore
from rounds.records.entry import Note
from tests.faults.row import SITE, Child, Row, append_on, book, texts, workplace

MARK = "0 lost, no lie, none doubled"
WHOLE = "no half backup under its name"


def rows(count: int = 300, backups: int = 50, seed: int = 1) -> Iterator[Row]:
    """Kill writing processes, then backups."""
    yield _writers(count, Random(seed))
    yield _backups(backups, Random(seed))


def _backups(count: int, chance: Random) -> Row:
    """Kill backups at random moments; what has its final name must be whole."""
    half = whole = 0
    with workplace() as place:
        folder = place / "site"
        folder.mkdir()
        (folder / "site.toml").write_text("[site]\n")
        with book(folder) as writing:
            for n in range(400):
                writing.append(Note(text=f"note {n}"))
                if n % 20 == 19:
                    writing.seal()
        took_s = 0.1
        for number in range(count):
            target = place / f"{number}.zip"
            began = time.monotonic()
            child = Child(_backing_up(folder, target))
            child.heard_so_many(1)
            if number:
                time.sleep(chance.random() * 1.2 * took_s)
            else:
                child.heard_so_many(1)
                took_s = min(5.0, time.monotonic() - began)
            child.kill()
            child.close()
            if target.exists():
                try:
                    whole += restore(target, place / f"back{number}").report.entries == 400
                except BackupFailed:
                    half += 1
    passed = not half and (count < 20 or 0 < whole < count)
    return Row("kill -9 of a backup", count, whole, half, WHOLE, passed)


def _backing_up(folder: Path, target: Path) -> Callable[[Callable[[str], None]], None]:
    def act(told: Callable[[str], None]) -> None:
        told("begins")
        backup(folder, SITE, target, datetime.now(UTC))
        told("done")

    return act


def _writers(count: int, chance: Random) -> Row:
    """Start two writers, kill one after a while, then the other; so on until `count` are dead."""
    acked: set[str] = set()
    with workplace() as place:
        folder = place / "site"
        folder.mkdir()
        killed = 0
        while killed < count:
            pair = [
                Child(append_on(folder, f"{killed}.{n}", 25)) for n in range(min(2, count - killed))
            ]
            for child in pair:
                acked.update(child.heard_so_many(chance.randrange(60)))
                child.kill()
                acked.update(child.close())
                killed += 1
        there = texts(folder)
        with book(folder) as after:
            problems = len(after.problems())
        still = texts(folder)
    lost = len(acked - set(there)) + len(acked - set(still))
    more = len(there) - len(set(there)) + max(0, len(there) - len(acked) - count) + problems
    note = f"{more} doubled, invented or damaged" if more else ""
    passed = not lost and not more and len(acked) > 5 * count
    what = "kill -9 of a writing process, two at once"
    return Row(what, count, len(acked), lost, MARK, passed, note)
