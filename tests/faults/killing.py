"""Kill -9 of writing processes, two at a time on one folder."""

from __future__ import annotations

from random import Random

from tests.faults.row import Child, Row, append_on, book, texts, workplace

MARK = "0 lost, no lie, none doubled"


def rows(count: int = 300, seed: int = 1) -> list[Row]:
    """Start two writers, kill one after a while, then the other; so on until `count` are dead."""
    chance = Random(seed)
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
    return [
        Row(
            "kill -9 of a writing process, two at once", count, len(acked), lost, MARK, passed, note
        )
    ]
