"""Quiet farms and planted stories at length: what is told, how late, and what is told for nothing.

    python -m tests.sample.quiet 5 60        # seeds 1 to 5, 60 days each

Each seed is lived twice: without troubles, and with all four planted in its last days.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections import Counter
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Final

from tests.sample.planting import ENDING, TOLD, Told, lived, planted, told

BEGINS: Final = {"off feed": -5, "broken fast": -4, "missing fish": -3, "few eggs": -6}
STORY: Final = "".join(planted(what, day) for what, day in BEGINS.items())

OUT_OF_ORDER: Final = re.compile(r"^\w+ +(?:! WATCH|X ACT NOW) ([A-Za-z ]+)")
"""A place that is not OK, and the first words of why."""


def main(seeds: int, days: int) -> int:
    """Print the table; return how often something was told for nothing or not at all."""
    wrong, others = 0, Counter[str]()
    print(f"{'seed':<6}{'story':<14}{'told after':<12}first told as")
    for seed in range(1, seeds + 1):
        quiet = _told(days, seed, "")
        others.update(
            place[1] for _, line in quiet.lines if (place := OUT_OF_ORDER.search(line)) is not None
        )
        for what, pattern in TOLD.items():
            said = [line for _, line in quiet.lines if pattern.search(line)]
            wrong += bool(said)
            if said:
                print(f"{seed:<6}{what:<14}{'QUIET FARM':<12}{len(said)} times: {said[0][:90]}")
        with_all = _told(days, seed, STORY)
        for what, pattern in TOLD.items():
            begins = datetime.combine(ENDING + timedelta(days=BEGINS[what]), time())
            lines = [(at, line) for at, line in with_all.lines if pattern.search(line)]
            days_on = [(at.replace(tzinfo=None) - begins) / timedelta(days=1) for at, _ in lines]
            first = next((n for n, late in enumerate(days_on) if late >= 0), None)
            wrong += first is None
            told_after = "NEVER" if first is None else f"{days_on[first]:.1f} days"
            says = "" if first is None else lines[first][1][:90]
            print(f"{seed:<6}{what:<14}{told_after:<12}{says}")
    for says, times in others.most_common(8):
        print(f"besides, in quiet farms: {times} x {says}")
    print(f"{seeds} seeds of {days} days, twice each: {wrong} wrong")
    return wrong


def _told(days: int, seed: int, story: str) -> Told:
    with tempfile.TemporaryDirectory() as folder:
        return told(*lived(Path(folder), days, seed, story))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])) > 0)
