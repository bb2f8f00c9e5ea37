"""An entry in a table that others read: columns, and cells that no spreadsheet runs."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import tzinfo
from typing import Any, Final, get_args, get_type_hints

from rounds.day.fold.corrections import KEPT, effective
from rounds.records.decoding import DECIMALS, fields
from rounds.records.entry import Correction, Entry, Known, instant

KINDS: Final[Mapping[str, type[Entry]]] = {
    str(kind.__struct_config__.tag): kind for kind in get_args(Known)
}
_FIRST: Final = ("time", "day", "kind", "place", "loop", "lot")
_LAST: Final = (
    "by", "walk", "written", "utc", "laptop", "entry", "stands", "as_written", "corrections",
)  # fmt: skip
_NUMBER: Final = re.compile(r"-?[0-9]+(?:\.[0-9]*)?", re.ASCII)
_FORMULA: Final = r"(?:[^\S\t\r\n]|\ufffd)*[=+\-@\uff1d\uff0b\uff0d\uff20]"
"""How what spreadsheets run begins: wide forms and what stands before it are forgiven there."""
_AT_START: Final = re.compile(rf"[\t\r\n]|{_FORMULA}")
_WITHIN: Final = re.compile(
    rf"([;|\t\r\n])(?![^\S\t\r\n]*-?[0-9]+(?:\.[0-9]*)?(?:[;|\t\r\n]|$))(?={_FORMULA})"
)
"""The same after what some take for the end of a cell."""


def columns(kinds: Iterable[str]) -> tuple[str, ...]:
    """Return the columns of a table of these kinds: where and when, what, then who and how sure."""
    common = set(Entry.__struct_fields__)
    own = [key for kind in kinds for key in KINDS[kind].__struct_fields__ if key not in common]
    return (*_FIRST, *dict.fromkeys(own), *_LAST)


def types(kinds: Iterable[str]) -> dict[str, str]:
    """Return what columns are in a typed table: those that hold one type in all of these kinds.

    Every other column is text. A quantity becomes a number, and loses how many digits were typed.
    """
    found: dict[str, set[str]] = {}
    for kind in map(KINDS.__getitem__, kinds):
        decimals = DECIMALS.get(kind, ())
        hints = get_type_hints(kind)
        for key in kind.__struct_fields__:
            name = "DOUBLE" if key in decimals else _TYPES.get(hints[key], "VARCHAR")
            found.setdefault(key, set()).add(name)
    alone = {key: names.pop() for key, names in found.items() if len(names) == 1}
    return {
        **alone,
        "time": "TIMESTAMP",
        "written": "TIMESTAMP",
        "utc": "TIMESTAMPTZ",
        "day": "DATE",
    }


_TYPES: Final[Mapping[object, str]] = {int: "BIGINT", float: "DOUBLE", bool: "BOOLEAN"}


def cells(entry: Entry, corrections: tuple[Correction, ...], zone: tzinfo) -> dict[str, str]:
    """Return an entry as a row: its cells as they stand, and what was written before.

    Args:
        entry: The entry as it was written.
        corrections: Those of this entry, as `by_target` gives them.
        zone: The site's, for the times.

    Returns:
        Cells by column; a column that is missing is empty.
    """
    before = fields(entry)
    row = {
        "kind": before.pop("kind"),
        "day": entry.day,
        "by": entry.by,
        "written": _local(entry.t, zone),
        "laptop": entry.id.partition("-")[0],
        "entry": entry.id,
        "stands": "as written",
    }
    shown, read = before, entry.read_at or entry.t
    if corrections:
        now, conflict = effective(entry, corrections)
        row["stands"] = "in conflict" if conflict else "corrected" if now else "void"
        row["corrections"] = "; ".join(_corrected(one, zone) for one in corrections)
        if now is not None:
            shown, read = fields(now), now.read_at or now.t
        changed = [k for k in before.keys() | shown.keys() if before.get(k) != shown.get(k)]
        row["as_written"] = "; ".join(
            f"{key}={_text(before.get(key))}" for key in sorted(changed) if key not in KEPT
        )
    row |= {key: _text(value) for key, value in shown.items() if key not in KEPT}
    row["utc"] = read
    row["time"] = row["written"] if read == entry.t else _local(read, zone)
    return row


def safe(cell: str) -> str:
    """Return a cell as text to a spreadsheet, where it would be a formula; numbers stay numbers."""
    if _NUMBER.fullmatch(cell):
        return cell
    cell = _WITHIN.sub(r"\1'", cell)
    return f"'{cell}" if _AT_START.match(cell) else cell


def _corrected(one: Correction, zone: tzinfo) -> str:
    what = "void" if one.void else ", ".join(f"{k}={_text(v)}" for k, v in one.set.items())
    why = f" ({one.why})" if one.why else ""
    return f"{one.by or '?'} {_local(one.t, zone)}: {what}{why}"


def _local(text: str, zone: tzinfo) -> str:
    """Return an instant as the site's clocks showed it; `utc` tells the two 01:30 apart."""
    return instant(text).astimezone(zone).isoformat(" ", "seconds")[:19]


def _text(value: Any) -> str:
    if type(value) is str:
        return value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "; ".join(map(_text, value))
    if isinstance(value, dict):
        return "; ".join(f"{key}={_text(one)}" for key, one in value.items())
    return str(value)
