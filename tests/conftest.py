"""What many rooms share: an invented farm is made once for all workers of a test run."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from filelock import FileLock

from rounds.sample.make import make

Made = Callable[[date, int], Path]


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Return the folder of a sample that ends on a day after so many; to be read, or copied."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base

    def once(ending: date, days: int) -> Path:
        folder = shared / f"sample-{ending}-{days}"
        with FileLock(f"{folder}.lock"):
            if not folder.exists():
                make(folder, ending=ending, days=days)
        return folder

    return once
