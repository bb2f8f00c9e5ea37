"""The page of a day: its series as they lie in the cache, decoded only where somebody looks.

Places, measures, people come a thousand times a day: a page holds each such text once.
"""

from __future__ import annotations

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
_ROWS: Final = msgspec.msgpack.Decoder(list[list[Any]])
_ENCODER: Final = msgspec.msgpack.Encoder()


class Page(msgspec.Struct, array_like=True, frozen=True):
    """The series of a day that hold something."""

    texts: list[str | None]
    series: dict[str, dict[str, msgspec.Raw]]
    """By kind and name: records as rows, with the number of a text in place of it."""

    def records(self, kind: str, name: str) -> list[Any]:
        """Return a series.

        Raises:
            ValueError, RecursionError, IndexError, TypeError: It is none of ours.
        """
        raw = self.series.get(kind, {}).get(name)
        if raw is None:
            return []
        texts, at_texts, of, rows = self.texts, _TEXTS[kind], RECORDS[kind], _ROWS.decode(raw)
        for row in rows:
            for at in at_texts:
                row[at] = texts[row[at]]
        return [of(*row) for row in rows]


def paged(shelf: Shelf) -> bytes:
    """Return the page of a day, for `Page` to be read from."""
    known: dict[str | None, int] = {}
    page: dict[str, dict[str, list[list[Any]]]] = {}
    for kind, named in shelf.series.items():
        for name, records in named.items():
            rows = [list(msgspec.structs.astuple(record)) for record in records]
            for row in rows:
                for at in _TEXTS[kind]:
                    row[at] = known.setdefault(row[at], len(known))
            if rows:
                page.setdefault(kind, {})[name] = rows
    return _ENCODER.encode([list(known), page])
