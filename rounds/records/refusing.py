"""Files at an address that are refused: told once, remembered, looked at within bounds.

Whoever can write there can fill it with junk that bears the names of segments. A sync looks at so
much junk and no more, and the next one goes on behind it: what is whole gets through, however much
lies before it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection
from pathlib import Path
from typing import Final

from msgspec import Struct

from rounds import __version__
from rounds.records.aside import Label, set_aside
from rounds.records.layout import SealedFile
from rounds.records.memory import Memory

_LOOKED_AT: Final = 256 * 1024 * 1024
"""Bytes of refused files that a sync reads."""
_A_LOOK: Final = 64 * 1024
"""What a look at a file costs of these, however small it is."""
_NAMED: Final = 50
"""Refused files that a sync names; more of them are counted."""
_REMEMBERED: Final = 100_000
_NOTED: Final = 1000
"""Refused files of which the reason is kept in records/aside."""
_KEPT: Final = 16
"""Refused files, at most 4 MB each, of which the bytes are kept too."""

State = tuple[int, int]
"""Size of a file at an address, and when it was changed last."""


class Refused(Struct, frozen=True):
    """A file that was not carried, and why."""

    name: str
    reason: str


class Refusals:
    """What one sync refuses."""

    def __init__(self, records: Path, memory: Memory, there: Collection[SealedFile]) -> None:
        self.named: list[Refused] = []
        self.more = 0
        """Refused now beyond those named."""
        self.before = 0
        """Refused by an earlier sync, and the same since."""
        self._records = records
        self._memory = memory
        self._left = _LOOKED_AT
        self._aside: int | None = None
        self._first, memory.look_next = memory.look_next, ""
        if memory.refused and memory.app == __version__:
            names = {file.name for file in there}
            memory.refused = {n: at for n, at in memory.refused.items() if n in names}
        else:  # another version may take what this one refused
            memory.refused, memory.app = {}, __version__

    def in_turn(self, files: Collection[SealedFile]) -> list[SealedFile]:
        """Return files in the order to look at them: first those the last sync did not reach."""
        ordered = sorted(files)
        at = bisect_left(ordered, self._first, key=lambda file: file.name)
        return ordered[at:] + ordered[:at]

    def enough(self, file: SealedFile) -> bool:
        """Tell whether no more is looked at; the next sync begins with this file."""
        if self._left <= 0 and not self._memory.look_next:
            self._memory.look_next = file.name
        return self._left <= 0

    def knows(self, file: SealedFile, state: State) -> bool:
        """Tell whether a file was refused before and is the same."""
        return self._memory.refused.get(file.name) == state

    def refuse(
        self, file: SealedFile, reason: str, state: State | None = None, data: bytes | None = None
    ) -> bool:
        """Refuse a file; tells whether it is named, as the first of many are.

        Args:
            file: The file.
            reason: Why.
            state: Of the file, to know it again; none where it may be readable the next time.
            data: Its bytes, where it was read.

        Raises:
            OSError: The reason cannot be kept on this disk.
        """
        self._left -= _A_LOOK + len(data or b"")
        named = len(self.named) < _NAMED
        if named:
            self.named.append(Refused(file.name, reason))
        else:
            self.more += 1
        if state is not None:
            if len(self._memory.refused) < _REMEMBERED:
                self._memory.refused[file.name] = state
            self._note(Label(file.name, reason, 0, *state, __version__), data)
        return named

    def _note(self, label: Label, data: bytes | None) -> None:
        if self._aside is None:
            self._aside = sum(1 for _ in (self._records / "aside").glob("*.json"))
        if self._aside < _NOTED:
            set_aside(self._records, label, data if self._aside < _KEPT else None)
            self._aside += 1
