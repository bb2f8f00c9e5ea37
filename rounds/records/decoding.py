"""From the bytes of one line to a typed entry and back: strict, bounded, clean.

A line that our own encoder would have written byte for byte needs no second look; every other
one is parsed once more by the standard library, which sees doubled keys.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from typing import Any, Final, NoReturn, TypeVar

import msgspec

from rounds.records import entry as kinds
from rounds.records.entry import Entry, Known, Unknown, instant
from rounds.records.layout import ENTRY_ID
from rounds.text import MAX_TEXT, clean

_E = TypeVar("_E", bound=Entry)

_DECODER: Final = msgspec.json.Decoder(Known)
_ENCODER: Final = msgspec.json.Encoder()
INSTANT: Final = re.compile(
    r"(?:19[7-9]|20[0-9]|21[0-9])[0-9]-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,6})?Z",
    re.ASCII,
)
_DAY: Final = re.compile(r"(?:19[7-9]|20[0-9]|21[0-9])[0-9]-[0-9]{2}-[0-9]{2}", re.ASCII)
OFFSET: Final = re.compile(r"[+-][01][0-9]:[0-5][0-9]", re.ASCII)
DECIMAL: Final = re.compile(r"-?[0-9]{1,15}(?:\.[0-9]{0,15})?", re.ASCII)
PLAIN: Final = re.compile(rb"[ -\[\]-~]*")
"""ASCII that prints, no escape: nothing in it needs cleaning."""
_MAX_COUNT: Final = 10**12

DECIMALS: Final[Mapping[type[Entry], tuple[str, ...]]] = {
    kinds.Reading: ("value",),
    kinds.Stocked: ("mean_weight",),
    kinds.Moved: ("mass",),
    kinds.Removed: ("mass",),
    kinds.Died: ("mass",),
    kinds.Weighed: ("mass",),
    kinds.Fed: ("amount", "left", "minutes"),
    kinds.Dosed: ("amount",),
    kinds.Exchanged: ("volume_out", "volume_in", "salinity_in"),
    kinds.State: ("volume",),
    kinds.Calibrated: ("slope", "offset"),
    kinds.Hatch: ("amount", "nominal"),
    kinds.Enriched: ("hours",),
}
"""Which keys of a kind hold decimal strings."""
_COUNTS: Final[Mapping[type[Entry], tuple[str, ...]]] = {
    kinds.Stocked: ("count",),
    kinds.Moved: ("count",),
    kinds.Removed: ("count",),
    kinds.Counted: ("count",),
    kinds.Died: ("count",),
    kinds.Weighed: ("count",),
    kinds.Fed: ("meal",),
    kinds.Dosed: ("portion",),
    kinds.Hatch: ("nauplii",),
}


class Unreadable(Exception):
    """A line is no entry; the message says why."""


def encode(entry: Entry) -> bytes:
    """Return the body of an entry's line: JSON without `h`, which the segment adds."""
    return _ENCODER.encode(entry)


def fields(entry: Entry) -> dict[str, Any]:
    """Return an entry as the document it is in the file, `kind` first; defaults are left out."""
    document: dict[str, Any] = msgspec.to_builtins(entry)
    return document


def decode(body: bytes, h: str) -> Entry | Unknown:
    """Read the body of a line whose hash is right.

    Args:
        body: The line without `h`.
        h: The line's hash, given to the entry.

    Returns:
        The entry with clean texts, or `Unknown` for a kind or a shape of a newer version.

    Raises:
        Unreadable: Not one JSON object, doubled keys, NaN, bad UTF-8, too deep, no time or
            number where one belongs.
    """
    try:
        entry: Known = _DECODER.decode(body)
    except msgspec.ValidationError:
        return _unknown(_strict(body))
    except (ValueError, RecursionError) as error:
        raise Unreadable(_why(error)) from error
    if _ENCODER.encode(entry) != body:
        _strict(body)
    if entry.h:
        raise Unreadable("has h twice")
    check(entry)
    if len(body) > MAX_TEXT or not PLAIN.fullmatch(body):
        entry = cleaned(entry)
    msgspec.structs.force_setattr(entry, "h", h)
    return entry


def check(entry: Entry) -> None:
    """Hold an entry to what its keys may contain.

    Raises:
        Unreadable: An id, a time or a number is not one.
    """
    if not ENTRY_ID.fullmatch(entry.id):
        raise Unreadable("its id is none")
    _time("t", entry.t)
    if entry.read_at is not None:
        _time("read_at", entry.read_at)
    if not OFFSET.fullmatch(entry.off):
        raise Unreadable("off is no offset")
    if not is_day(entry.day):
        raise Unreadable("day is no date")
    check_own(entry)


def check_own(entry: Entry) -> None:
    """Hold an entry to what the keys of its kind may contain.

    Raises:
        Unreadable: A number or a date is not one.
    """
    kind = type(entry)
    for key in DECIMALS.get(kind, ()):
        text = getattr(entry, key)
        if text and not DECIMAL.fullmatch(text):
            raise Unreadable(f"{key} is no number")
    for key in _COUNTS.get(kind, ()):
        if not 0 <= getattr(entry, key) <= _MAX_COUNT:
            raise Unreadable(f"{key} is no count")
    if isinstance(entry, kinds.Stocked) and entry.hatched and not is_day(entry.hatched):
        raise Unreadable("hatched is no date")
    if isinstance(entry, kinds.Weighed) and not all(map(DECIMAL.fullmatch, entry.weights)):
        raise Unreadable("weights are no numbers")


def cleaned(entry: _E) -> _E:
    """Return the entry with every text cleaned; line breaks stay in `text` only."""
    return msgspec.structs.replace(
        entry, **{key: _clean(getattr(entry, key), key) for key in entry.__struct_fields__}
    )


def _clean(value: Any, key: str) -> Any:
    if isinstance(value, str):
        return clean(value, limit=MAX_TEXT, newlines=key == "text")
    if isinstance(value, list):
        return [_clean(item, key) for item in value]
    if isinstance(value, dict):
        return {_clean(name, ""): _clean(item, name) for name, item in value.items()}
    return value


@lru_cache(4096)
def is_day(text: str) -> bool:
    """Tell whether a text is a date as entries hold it."""
    try:
        return bool(_DAY.fullmatch(text) and date.fromisoformat(text))
    except ValueError:
        return False


def _time(key: str, text: str) -> None:
    try:
        if not INSTANT.fullmatch(text):
            raise ValueError
        instant(text)
    except ValueError as error:
        raise Unreadable(f"{key} is no time") from error


def _unknown(document: dict[str, Any]) -> Unknown:
    name, kind = document.get("id"), document.get("kind")
    if not isinstance(kind, str) or not isinstance(name, str) or not ENTRY_ID.fullmatch(name):
        raise Unreadable("has no kind or id")
    if "h" in document:
        raise Unreadable("has h twice")
    return Unknown(id=name, kind=clean(kind, limit=40))


def _strict(body: bytes) -> dict[str, Any]:
    """Parse once more, refusing what parsers differ on."""
    import json  # for lines that are not as we write them

    try:
        document = json.loads(
            body.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant
        )
    except (ValueError, RecursionError) as error:
        raise Unreadable(_why(error)) from error
    if not isinstance(document, dict):
        raise Unreadable("is not one object")
    return document


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    document = dict(pairs)
    if len(document) != len(pairs):
        raise ValueError("a key stands twice")
    return document


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number")


def _why(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "is nested too deep"
    if isinstance(error, UnicodeDecodeError):
        return "is not UTF-8"
    return clean(str(error), limit=120) or "is not JSON"
