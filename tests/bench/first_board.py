"""Start to the first painted board, against the smallest Textual app: ratios of minima."""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

from tests.terminal.program import Program, command

ROUNDS = 12
BARE = Path(__file__).with_name("bare.py")


def starts(farms: Mapping[str, Mapping[str, str]]) -> None:
    """Start the app on each farm, and a bare app, in random order; time and memory.

    Args:
        farms: What a farm is called, and the environment in which the app opens it.
    """
    for env in farms.values():
        with Program([command()], env) as app:  # the first start says more, and fills the cache
            app.wait(lambda text: "not an alarm" in text or "BOARD" in text)
    runs: dict[str, tuple[Sequence[str | Path], Mapping[str, str], bytes]] = {
        name: ([command()], env, b"Samphire") for name, env in farms.items()
    }
    runs["bare"] = [sys.executable, BARE], {}, b"READY"
    times: dict[str, list[float]] = {name: [] for name in runs}
    sizes: dict[str, list[float]] = {name: [] for name in runs}
    for _ in range(ROUNDS):
        for name in random.sample(sorted(runs), len(runs)):
            seconds, pss_mb = _painted(*runs[name])
            times[name].append(seconds)
            sizes[name].append(pss_mb)
    bare, small = min(times["bare"]), min(sizes["bare"])
    for name in farms:
        ours, mb = min(times[name]), min(sizes[name])
        pairs = statistics.median(b / a for a, b in zip(times["bare"], times[name], strict=True))
        print(
            f"{name} to first board  {1000 * ours:4.0f} ms, bare app {1000 * bare:.0f} ms: ratio "
            f"of minima {ours / bare:.2f} (aim 1.5), median of pairs {pairs:.2f}; Pss {mb:.0f} MB, "
            f"bare app {small:.0f}: ratio {mb / small:.2f} (aim 1.35)"
        )


def _painted(
    argv: Sequence[str | Path], env: Mapping[str, str], marker: bytes
) -> tuple[float, float]:
    with Program(argv, env) as app:
        while marker not in app.wire:
            if not app.read(5.0):
                raise SystemExit(f"nothing painted by {argv}")
        seconds = time.perf_counter() - app.started
        rows = Path(f"/proc/{app.process.pid}/smaps_rollup").read_text("utf-8").splitlines()
        return seconds, next(int(r.split()[1]) for r in rows if r.startswith("Pss:")) / 1024
