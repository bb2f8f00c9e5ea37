"""What happens when the app fails: the terminal is whole, a file says why, the next start tells.

This is the one module that touches Textual's private handling of exceptions.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections import deque
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from textual.app import App, ReturnType
from textual.dom import DOMNode

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


class Crashing(App[ReturnType]):
    """An app that ends on an unexpected error with a report instead of a page of traceback."""

    def __init__(self, logs: Path) -> None:
        super().__init__()
        self.logs = logs
        self.crashed: BaseException | None = None
        self.report: Path | None = None
        self._actions: deque[str] = deque(maxlen=50)

    async def run_action(
        self,
        action: Any,
        default_namespace: DOMNode | None = None,
        namespaces: Mapping[str, DOMNode] | None = None,
    ) -> bool:
        """Remember the action's name, then do it."""
        self._actions.append(action if isinstance(action, str) else str(action[1]))
        return await super().run_action(action, default_namespace, namespaces)

    def _handle_exception(self, error: Exception) -> None:
        if self.crashed is None:
            self.crashed = error
            facts = {
                "term": os.environ.get("TERM", ""),
                "size": f"{self.size.width}x{self.size.height}",
                "theme": self.theme,
                "last actions": " ".join(self._actions),
            }
            self.report = write(error, facts, datetime.now().astimezone(), self.logs)
        if self.is_headless:
            super()._handle_exception(error)
            return
        self._return_code = 1
        self._close_messages_no_wait()

    def last_words(self) -> list[str]:
        """Return the three lines a person reads after a crash; none when there was none."""
        if self.crashed is None:
            return []
        where = str(self.report) if self.report else "could not be written"
        return [
            f"rounds stopped because of a fault in the program ({type(self.crashed).__name__}).",
            "Everything shown as saved is on disk; start again and go on where you were.",
            f"Report for the developers (no farm data in it): {where}",
        ]
