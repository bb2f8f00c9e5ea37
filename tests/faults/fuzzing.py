"""Hostile bytes for the reader of segments: no exception escapes, no value out of its type."""

from __future__ import annotations

import json
import math
import re
from datetime import date
from random import Random
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from rounds.records.decoding import DECIMALS
from rounds.records.entry import Entry, Unknown
from rounds.records.segment import Scan, chained, scan_bytes
from rounds.text import MAX_TEXT
from tests.faults.flipping import segment
from tests.faults.golden import golden_bodies
from tests.faults.row import Row

MARK = "no exception, no value out of type"
_FORBIDDEN = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]"
)
_NUMBER = re.compile(r"-?\d+\.?\d*", re.ASCII)
HOSTILE: tuple[str, ...] = (
    "NaN", "Infinity", "-Infinity", "1e999", "-1e999", "1e-999", "0", "-0", "-1", "1.5", "true",
    "false", "null", '""', '"x"', '"\\u001b[2J"', '"\\u202e1.8"', '"\\ud800"', '"\\u0000"', '"8,1"',
    '"NaN"', '"1e5"', '"\u0661.\u0662"', '"[@click=app.quit]x[/]"', '"=1+1"', "[]", "{}", '["a"]',
    '[null]', '{"a":1}', '{"a":{"a":{}}}', "99999999999999999999", "-99999999999999999999",
    '"' + "9" * 40 + '"', '"' + "A" * 3000 + '"', "[" * 900 + "]" * 900, "[" * 3000,
    '"2026-13-45"', '"9999-12-31"', '"2026-11-24T07:02:35.323Z"', '"2026-11-24T07:02:35+01:00"',
    '"+99:99"', '"../../etc/passwd"', '"k7q2md-r4t9zb-999999999999"', '"correction"', '"open"',
)  # fmt: skip


def rows(inputs: int = 100_000, seed: int = 1) -> list[Row]:
    """Read mutated segments: raw bytes spoilt, and lines spoilt before they are chained."""
    chance = Random(seed)
    kinds = [*golden_bodies(), *(line.body for line in scan_bytes(segment()).lines[:2])]
    whole = segment()[:2400]
    escaped = wrong = got = 0
    first = ""
    for _ in range(inputs):
        data = _raw(whole, chance) if chance.random() < 0.25 else _chained(kinds, chance)
        try:
            found = scan_bytes(data)
        except Exception as error:
            escaped += 1
            first = first or f"{type(error).__name__}: {error}"
            continue
        bad = _wrong(found)
        got += len(found.lines)
        wrong += bool(bad)
        first = first or bad
    failed = escaped + wrong
    return [
        Row("fuzz of the segment reader", inputs, got, failed, MARK, not failed and got > 0, first)
    ]


def _raw(data: bytes, chance: Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.randrange(1, 6)):
        at = chance.randrange(len(changed))
        match chance.randrange(4):
            case 0:
                changed[at] = chance.randrange(256)
            case 1:
                del changed[at : at + chance.randrange(80)]
                changed = changed or bytearray(b"x")
            case 2:
                changed[at:at] = chance.randbytes(chance.randrange(40))
            case _:
                changed[at:at] = changed[chance.randrange(len(changed)) :][:200]
    return bytes(changed)


def _chained(kinds: list[bytes], chance: Random) -> bytes:
    """Three lines with right hashes, of which the last ones are not what they should be."""
    head = kinds[-2]
    return chained([head, *(_spoilt(chance.choice(kinds), n, chance) for n in (1, 2))])


def _spoilt(body: bytes, n: int, chance: Random) -> bytes:
    document = json.loads(body)
    document["id"] = f"k7q2md-r4t9zb-{n}"
    pairs = [
        (key, json.dumps(value, ensure_ascii=False, separators=(",", ":")))
        for key, value in document.items()
    ]
    for _ in range(chance.randrange(3)):
        at = chance.randrange(len(pairs))
        key = pairs[at][0]
        match chance.randrange(5):
            case 0:
                del pairs[at]
                pairs = pairs or [("kind", '"note"')]
            case 1:
                pairs.append((key, chance.choice(HOSTILE)))
            case 2:
                pairs.append(
                    (chance.choice(("h", "new", "kind", "", "\\u0000")), chance.choice(HOSTILE))
                )
            case _:
                pairs[at] = (key, chance.choice(HOSTILE))
    text = "{" + ",".join(f'"{key}":{value}' for key, value in pairs) + "}"
    data = text.encode("utf-8", "surrogatepass").replace(b"\n", b" ")
    if chance.random() < 0.1:
        at = chance.randrange(len(data))
        data = (
            data[:at]
            + bytes([chance.choice((0x80, 0xFF, 0xC0, 0x1B, 0x22, 0x5C))])
            + data[at + 1 :]
        )
    return data


def _wrong(found: Scan) -> str:
    for line in found.lines:
        entry = line.entry
        if isinstance(entry, Unknown):
            if not isinstance(entry.kind, str) or _FORBIDDEN.search(entry.kind):
                return f"kind is {entry.kind!r}"
            continue
        if not isinstance(entry, Entry):
            return f"{type(entry).__name__} is no entry"
        for key, hint in _hints(type(entry)).items():
            value = getattr(entry, key)
            if not _fits(value, hint, newline=key == "text"):
                return f"{type(entry).__name__}.{key} is {value!r}"[:200]
        for key in DECIMALS.get(type(entry), ()):
            if (text := getattr(entry, key)) and not _NUMBER.fullmatch(text):
                return f"{type(entry).__name__}.{key} is {text!r}"
        if not (1970 <= entry.at.year < 2200 and date.fromisoformat(entry.day).year >= 1970):
            return f"its time is {entry.t!r}, its day {entry.day!r}"
    return ""


_KNOWN: dict[type, dict[str, Any]] = {}


def _hints(kind: type) -> dict[str, Any]:
    if kind not in _KNOWN:
        hints = get_type_hints(kind)
        _KNOWN[kind] = {key: hints[key] for key in kind.__struct_fields__}  # type: ignore[attr-defined]
    return _KNOWN[kind]


def _fits(value: Any, hint: Any, *, newline: bool) -> bool:
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Literal:
        return value in inner
    if origin is list:
        return type(value) is list and all(_fits(x, inner[0], newline=False) for x in value)
    if origin is dict:
        return type(value) is dict and all(
            _fits(k, inner[0], newline=False) and _fits(v, inner[1], newline=False)
            for k, v in value.items()
        )
    if origin is Union or inner:
        return any(_fits(value, one, newline=newline) for one in inner)
    if hint is str:
        clean = type(value) is str and len(value) <= MAX_TEXT and not _FORBIDDEN.search(value)
        return clean and (newline or "\n" not in value)
    if hint is float:
        return type(value) in (float, int) and math.isfinite(value)
    return type(value) is hint
