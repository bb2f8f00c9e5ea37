"""The page of a day: its series as they lie in the cache, decoded only where somebody looks.

Places, measures, people come a thousand times a day: a page holds each such text once. A board
looks at a month of them: in memory a page is its bytes, and where in them a series lies.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate
from struct import Struct
from struct import error as StructError
from typing import Any, Final

import msgspec

from rounds.day.fold.shelf import RECORDS, Shelf

_OWN: Final = ("id", "typed")
"""Texts that hardly come twice."""
_TEXTS: Final = {
    kind: tuple(
        at
        for at, (name, hint) in enumerate(of.__annotations__.items())
        if hint in ("str", "str | None") and name not in _OWN
    )
    for kind, of in RECORDS.items()
}
"""Of each kind of series, where in a record the texts stand that a page holds once."""
_SPAN: Final = Struct(">II")
_ROWS: Final = msgspec.msgpack.Decoder(list[list[Any]])
_ENCODER: Final = msgspec.msgpack.Encoder()


class Page(msgspec.Struct, array_like=True, frozen=True):
    """The series of a day that hold something."""

    texts: list[str | None]
    names: str
    """The kind and name of each series; with most days these are the same."""
    starts: memoryview
    """Where each begins, and where the last one ends: four bytes, big-endian."""
    series: memoryview
    """Records as rows, with the number of a text in place of it."""

    def records(self, kind: str, name: str) -> list[Any]:
        """Return a series.

        Raises:
            ValueError, RecursionError, IndexError, TypeError: It is none of ours.
        """
        number = _numbers(self.names).get(f"{kind}\t{name}")
        if number is None:
            return []
        try:
            first, last = _SPAN.unpack_from(self.starts, 4 * number)
        except StructError as error:
            raise ValueError(str(error)) from None
        texts, at_texts, of = self.texts, _TEXTS[kind], RECORDS[kind]
        rows = _ROWS.decode(self.series[first:last])
        for row in rows:
            for at in at_texts:
                row[at] = texts[row[at]]
        return [of(*row) for row in rows]


@lru_cache(16)
def _numbers(names: str) -> dict[str, int]:
    return {name: number for number, name in enumerate(names.split("\0"))}


def paged(shelf: Shelf) -> bytes:
    """Return the page of a day, for `Page` to be read from."""
    known: dict[str | None, int] = {}
    page: dict[str, bytes] = {}
    for kind, named in shelf.series.items():
        for name, records in named.items():
            rows = [list(msgspec.structs.astuple(record)) for record in records]
            for row in rows:
                for at in _TEXTS[kind]:
                    row[at] = known.setdefault(row[at], len(known))
            if rows:
                page[f"{kind}\t{name}"] = _ENCODER.encode(rows)
    starts = accumulate(map(len, page.values()), initial=0)
    return _ENCODER.encode(
        [
            list(known),
            "\0".join(page),
            b"".join(start.to_bytes(4, "big") for start in starts),
            b"".join(page.values()),
        ]
    )
