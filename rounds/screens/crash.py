"""What happens when the app fails: the terminal is whole, and a file says why.

This is the one module that touches Textual's private handling of exceptions.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from textual.app import App, ReturnType
from textual.dom import DOMNode

from rounds.records.faults import write


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
