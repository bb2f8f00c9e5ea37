"""One row of the table, and what the parts of the harness share."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar
from zoneinfo import ZoneInfo

from rounds.records.book import Book
from rounds.records.entry import Note

SITE = "m4k8q2vz"
WIDTHS = (52, 9, 14, 6, 36)


@dataclass(frozen=True)
class Row:
    """What was done, how often, what was promised and what of that was lost."""

    what: str
    trials: int
    acknowledged: int
    lost: int
    mark: str
    """What passes, in words."""
    passed: bool | None
    """None where it could not be tried; `note` says why."""
    note: str = ""

    def __str__(self) -> str:
        result = {True: "pass", False: "FAIL", None: "skipped"}[self.passed]
        cells = (self.what, f"{self.trials:,}", f"{self.acknowledged:,}", f"{self.lost:,}")
        if self.passed is None:
            cells = (self.what, "-", "-", "-")
        name, *figures = cells
        line = name.ljust(WIDTHS[0])
        line += "".join(f.rjust(w) for f, w in zip(figures, WIDTHS[1:], strict=False))
        line += f"  {self.mark.ljust(WIDTHS[4])}{result}"
        return f"{line}: {self.note}" if self.note else line


HEAD = (
    "what".ljust(WIDTHS[0])
    + "".join(
        n.rjust(w) for n, w in zip(("trials", "acknowledged", "lost"), WIDTHS[1:], strict=False)
    )
    + "  "
    + "pass mark".ljust(WIDTHS[4])
    + "result"
)


def skipped(what: str, mark: str, why: str) -> Row:
    """A row that could not be tried here."""
    return Row(what, 0, 0, 0, mark, None, why)


@contextmanager
def workplace(at: Path | None = None) -> Iterator[Path]:
    """A folder for one part, and a state of its own in it."""
    before = os.environ.get("ROUNDS_STATE")
    with tempfile.TemporaryDirectory(prefix="faults-", dir=at) as place:
        os.environ["ROUNDS_STATE"] = f"{place}/state"
        try:
            yield Path(place)
        finally:
            os.environ.pop("ROUNDS_STATE")
            if before is not None:
                os.environ["ROUNDS_STATE"] = before


def book(folder: Path, *, read_only: bool = False) -> Book:
    """Open the book of a folder."""
    return Book.open(folder, SITE, "", tz=ZoneInfo("Europe/Lisbon"), read_only=read_only)


def texts(folder: Path) -> list[str]:
    """The texts of the notes that a reader finds."""
    return [e.text for e in book(folder, read_only=True).entries() if isinstance(e, Note)]


class Child:
    """A forked process that acknowledges what it did through a pipe, a line each."""

    running: ClassVar[dict[int, Child]] = {}

    def __init__(self, act: Callable[[Callable[[str], None]], None]) -> None:
        mine, its = os.pipe()
        self.pid = os.fork()
        if not self.pid:
            os.close(mine)
            try:
                act(lambda word: _told(its, word))
            except BaseException as error:
                _told(its, f"!{type(error).__name__}: {error}")
            finally:
                os._exit(0)
        os.close(its)
        self.running[self.pid] = self
        self._fd = mine
        self._rest = b""
        self.ended = False
        self.error = ""

    def heard(self, *, wait: bool) -> list[str]:
        """Return what it acknowledged since; with `wait`, at least one unless it ended."""
        os.set_blocking(self._fd, wait)
        try:
            data = os.read(self._fd, 1 << 16)
        except BlockingIOError:
            return []
        self.ended = self.ended or not data
        *whole, self._rest = (self._rest + data).split(b"\n")
        words = [word.decode() for word in whole]
        self.error = next((word for word in words if word.startswith("!")), self.error)
        return [word for word in words if not word.startswith("!")]

    def heard_so_many(self, wanted: int) -> list[str]:
        """Return at least so many acknowledgements; it must not end before.

        Raises:
            RuntimeError: It did.
        """
        words: list[str] = []
        while len(words) < wanted:
            words += self.heard(wait=True)
            if self.ended:
                raise RuntimeError(f"the process under test ended by itself: {self.error}")
        return words

    def kill(self) -> None:
        """Kill it and wait until it is gone."""
        del self.running[self.pid]
        os.kill(self.pid, 9)
        os.waitpid(self.pid, 0)

    def close(self) -> list[str]:
        """Return the last it said."""
        last: list[str] = []
        while not self.ended:
            last += self.heard(wait=True)
        os.close(self._fd)
        return last


def _told(fd: int, word: str) -> None:
    os.write(fd, f"{word}\n".encode())


def append_on(
    folder: Path, who: str, seal_each: int = 40
) -> Callable[[Callable[[str], None]], None]:
    """What a writing process does until it is stopped: append, acknowledge, now and then seal."""

    def act(told: Callable[[str], None]) -> None:
        writing = book(folder)
        i = 0
        while True:
            text = f"{who} {i}"
            writing.append(Note(text=text))
            told(text)
            i += 1
            if i % seal_each == 0:
                writing.seal()

    return act
