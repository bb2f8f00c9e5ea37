"""The short form of the harness runs in the suite; the whole by hand: python -m tests.faults."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_short_form_of_every_part_passes() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", "--short"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count(" pass") >= 9
    assert " FAIL" not in done.stdout
