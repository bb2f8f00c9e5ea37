"""The segments of days long over, folded up in the index until somebody looks so far back.

What every start asks is answered from a few figures of them: whether their names are those that
were there, what mark they make, whether one has to do with a run.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from hashlib import sha256
from typing import Final
from zlib import compress, decompressobj
from zlib import error as ZlibError

import msgspec

from rounds.records.layout import SEALED_LETTERS
from rounds.records.taking import Facts

_FACTS: Final = msgspec.msgpack.Decoder(list[Facts])
_NONE: Final = compress(msgspec.msgpack.encode([]))
_MOST: Final = 256 * 1024 * 1024


class Far(msgspec.Struct, array_like=True, frozen=True):
    """Sound segments that are named after a day until `until` and touch no later one."""

    until: str = ""
    """The day, site-local; empty where nothing is folded up."""
    names: dict[str, str] = {}
    """By writer, a mark of all its names after days until then."""
    runs: str = ""
    """The runs of which one holds an entry, or corrects one, each in a line."""
    newest: str = ""
    """When the last entry of them was written."""
    count: int = 0
    total: str = "0"
    """How many they are, and the sum of their marks, hexadecimal."""
    facts: memoryview = memoryview(_NONE)
    """What is known of each, compressed: hardly anybody looks there."""

    def has(self, run: str) -> bool:
        """Tell whether one of these holds an entry of a run, or corrects one."""
        return f"\n{run}\n" in self.runs

    def others(self, writer: str, bases: Sequence[str]) -> Sequence[str] | None:
        """Return the names in a writer's folder besides those of days until then.

        Returns:
            The others; None where those of days until then are not the ones that were there.
        """
        if not self.until:
            return bases
        far, others = _parted(bases, self.until)
        return others if _marked(far) == self.names.get(writer) else None

    def unfolded(self) -> list[Facts]:
        """Return what is known of each.

        Raises:
            ValueError: It is not what was folded up.
        """
        try:
            return _FACTS.decode(decompressobj().decompress(self.facts, _MOST))
        except ZlibError as error:
            raise ValueError(str(error)) from None


def folded(known: Mapping[str, Facts], until: str) -> tuple[dict[str, Facts], Far]:
    """Fold up the segments of days long over.

    Args:
        known: All segments, by name.
        until: The last of those days, site-local.

    Returns:
        The others, by name, and what is folded up.
    """
    listed: dict[str, list[str]] = {}
    near: dict[str, Facts] = {}
    far: list[Facts] = []
    for name, one in known.items():
        writer, _, base = name.partition("/")
        listed.setdefault(writer, []).append(base)
        over = base[7:15] <= until.replace("-", "") and one.days and one.days[-1] <= until
        if over and not one.problems and not one.unknown:
            far.append(one)
        else:
            near[name] = one
    runs = {one.run for one in far}
    runs.update(target.rpartition("-")[0] for one in far for target in one.fixes)
    marked = {writer: _marked(_parted(bases, until)[0]) for writer, bases in listed.items()}
    names = {writer: mark for writer, mark in marked.items() if mark}
    return near, Far(
        until, names, "\n".join(("", *sorted(runs), "")),
        max((one.until for one in far), default=""), len(far), f"{sum(x.mark for x in far):x}",
        memoryview(compress(msgspec.msgpack.encode(far), 1)),
    )  # fmt: skip


def _parted(bases: Iterable[str], until: str) -> tuple[list[str], list[str]]:
    """Part the names of segments after days until one from others, whatever these name."""
    day = until.replace("-", "")
    far = [base for base in bases if base[7:15] <= day and len(base) == SEALED_LETTERS]
    return far, [base for base in bases if base[7:15] > day or len(base) != SEALED_LETTERS]


def _marked(far: list[str]) -> str | None:
    """Return a mark of names; None where there are none."""
    names = "\n".join(sorted(far)).encode(errors="surrogateescape")
    return sha256(names).hexdigest() if far else None
