"""What was half typed in a walk, beside the book: it outlives the program, and is offered again.

A small file a walk and person in the laptop's own folder, there only while something is half
typed. It holds no value of the farm, so nothing waits for the disk.
"""

from __future__ import annotations

from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Final

import msgspec

from rounds.screens.field import NUMBER

_LONGEST: Final = 16

Halves = dict[tuple[str, str], str]
"""By place and step: what was typed there and not kept."""


class HalfTyped:
    """The half-typed values of one person on this laptop, by walk."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.left: dict[str, tuple[str, str]] = {}
        """By walk: the place and step it was left at in this run."""
        self._of: dict[str, Halves] = {}
        self._turn = Lock()

    def of(self, walk: str, by: str) -> Halves:
        """Return what is half typed in a walk; read from the disk once."""
        if walk not in self._of:
            self._of[walk] = _read(self._file(walk, by))
        return self._of[walk]

    def hold(self, walk: str, by: str, at: tuple[str, str], typed: str) -> None:
        """Remember what stands in the field; an empty one forgets it."""
        with self._turn:
            self._write(walk, by, at, typed)

    def _write(self, walk: str, by: str, at: tuple[str, str], typed: str) -> None:
        halves = self.of(walk, by)
        if halves.pop(at, "") == typed == "":
            return
        if typed:
            halves[at] = typed
        file = self._file(walk, by)
        with suppress(OSError):  # not kept, it is typed again
            if not halves:
                file.unlink(missing_ok=True)
                return
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            file.write_bytes(msgspec.json.encode([[*key, one] for key, one in halves.items()]))

    def forget(self, walk: str, by: str) -> None:
        """Forget all that was half typed in a walk that is done."""
        for at in list(self.of(walk, by)):
            self.hold(walk, by, at, "")

    def _file(self, walk: str, by: str) -> Path:
        name = sha256(f"{walk}\n{by}".encode()).hexdigest()[:16]
        return self.folder / f"half-{name}.json"


def _read(file: Path) -> Halves:
    """Return what a file holds; what is no half-typed number is left out."""
    try:
        found = msgspec.json.decode(file.read_bytes())
        rows = [(str(place), str(step), str(typed)) for place, step, typed in found]
    except (OSError, ValueError, TypeError, RecursionError):
        return {}
    return {
        (place, step): typed
        for place, step, typed in rows
        if 0 < len(typed) <= _LONGEST and set(typed) <= NUMBER
    }
