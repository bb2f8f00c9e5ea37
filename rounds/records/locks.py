"""Locks of the operating system: they die with their process. filelock loads when one is taken."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filelock import BaseFileLock


def taken(path: Path, timeout_s: float = 0.0) -> BaseFileLock | None:
    """Take the lock of a file in a folder that exists; None when another holds it.

    Raises:
        OSError: The lock's file cannot be made.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(path, thread_local=False)
    try:
        lock.acquire(timeout=timeout_s)
    except Timeout:
        return None
    return lock


@contextmanager
def folder_lock(records: Path, timeout_s: float = 0.0) -> Iterator[bool]:
    """Hold the records folder for sealing and sync; yields whether it was taken."""
    lock = taken(records / "folder.lock", timeout_s)
    try:
        yield lock is not None
    finally:
        if lock is not None:
            lock.release()
