"""Prints one table of what the book and the sync stand: python -m tests.faults [part ...]"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from importlib import import_module

from tests.faults.row import HEAD, Child, Row

PARTS = {
    "words": ("words", {"failures": (1, 0)}),
    "kill": ("killing", {"count": (300, 4), "backups": (50, 2)}),
    "power": ("power", {"cuts": (100, 0), "controls": (20, 0)}),
    "full": ("filling", {"fills": (10, 0), "failures": (300, 12)}),
    "flips": ("flipping", {"bits": (1_000_000, 150), "starts": (600, 4)}),
    "fuzz": ("fuzzing", {"inputs": (100_000, 700)}),
    "sim": ("histories", {"histories": (500, 2)}),
    "sync": ("carried", {"kills": (50, 2), "remote": (50, 0)}),
}
"""Of each part its module and the counts of the whole and of the short form."""


def main() -> int:
    """Run the parts asked for; 1 when a row fails."""
    asked = _asked()
    print(HEAD)
    failed = 0
    began = time.monotonic()
    for part in asked.parts or PARTS:
        for row in _rows(part, asked):
            print(row, flush=True)
            failed += row.passed is False
    print(f"{failed} failed, {time.monotonic() - began:.0f} s, seed {asked.seed}")
    return 1 if failed else 0


def _rows(part: str, asked: argparse.Namespace) -> Iterator[Row]:
    module, counts = PARTS[part]
    given = {}
    for name, (whole, short) in counts.items():
        count = short if asked.short else whole
        given[name] = min(count, asked.count) if asked.count else count
    if any(given.values()):
        try:
            yield from import_module(f"tests.faults.{module}").rows(**given, seed=asked.seed)
        except Exception as error:
            note = f"{type(error).__name__}: {error}"
            yield Row(f"the part {part} itself", 0, 0, 0, "runs to its end", False, note)
        finally:
            for child in list(Child.running.values()):
                child.kill()


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--count", type=int, metavar="N", help="at most so many trials a row")
    parser.add_argument("--short", action="store_true", help="the form that runs in the suite")
    parser.add_argument("--seed", type=int, default=1, help="another number, other faults (1)")
    asked = parser.parse_args()
    if unknown := set(asked.parts) - set(PARTS):
        parser.error(f"there is no part {min(unknown)}: {', '.join(PARTS)}")
    return asked


if __name__ == "__main__":
    sys.exit(main())
