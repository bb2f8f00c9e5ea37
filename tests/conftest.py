"""What many rooms share: an invented farm is made once for all workers of a test run."""

from __future__ import annotations

import gc
import os
import pickle
import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from pathlib import Path
from unittest.mock import patch

import pytest
from filelock import FileLock
from hypothesis import settings

from rounds.records import ballast
from rounds.sample.make import make

Made = Callable[[date, int], Path]


settings.register_profile("suite", max_examples=50, database=None)
settings.load_profile("suite")


def pytest_collection_finish() -> None:
    """Search for no garbage: what a run leaves fits into memory, and a search takes time."""
    gc.disable()


@pytest.fixture(scope="session", autouse=True)
def spared() -> Iterator[None]:
    """Spare the disk: no test cuts the power, and those of its calls put their own in place."""
    with patch.object(os, "fsync", lambda fd: None), patch.object(ballast, "_SIZE", 2048):
        yield


@pytest.fixture(scope="session", autouse=True)
def parsed_once() -> Iterator[None]:
    """Parse each text of the sites' files once: the same ones are loaded for test after test."""
    real = tomllib.loads

    @cache
    def parsed(text: str) -> bytes:
        return pickle.dumps(real(text))

    with patch.object(tomllib, "loads", lambda text: pickle.loads(parsed(text))):  # noqa: S301
        yield


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
