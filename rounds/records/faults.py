"""A fault of the program: a file says where it happened, and the next start of the app tells."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

_UNTOLD = "untold"
"""Holds the name of a report until a start has told of it."""


def write(error: BaseException, facts: Mapping[str, str], at: datetime, into: Path) -> Path | None:
    """Write a report without any value a person typed, readable by its owner only.

    Args:
        error: What went wrong.
        facts: Lines such as terminal, size, theme, last actions.
        at: When.
        into: The folder, made if need be.

    Returns:
        The file, or None where it could not be written.
    """
    import platform
    from importlib.metadata import version  # these two cost a start 20 ms

    frames = traceback.extract_tb(error.__traceback__)
    lines = [
        f"{name}: {says}"
        for name, says in {
            "rounds": version("rounds"),
            "textual": version("textual"),
            "python": sys.version.split()[0],
            "system": platform.platform(),
            **facts,
        }.items()
    ]
    lines += ["", *(f"{f.filename}:{f.lineno} in {f.name}" for f in frames)]
    lines += [type(error).__name__]
    try:
        into.mkdir(mode=0o700, parents=True, exist_ok=True)
        path = into / f"crash-{at:%Y%m%dT%H%M%S}-{os.getpid()}.txt"
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as report:
            report.write("\n".join(lines) + "\n")
        (into / _UNTOLD).write_text(path.name, "utf-8")
    except OSError:
        return None
    return path


def untold(into: Path) -> Path | None:
    """Return the report of the last fault if no start has told of it yet, and mark it told."""
    mark = into / _UNTOLD
    try:
        name = mark.read_text("utf-8")
        mark.unlink()
    except (OSError, UnicodeDecodeError):
        return None
    return into / Path(name).name
