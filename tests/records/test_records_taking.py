"""A sealed segment taken in all at once says what its lines say one by one, whatever they hold."""

from __future__ import annotations

import json

import pytest
from record_making import SITE, bodies, sealed_name

from rounds.records import taking
from rounds.records.layout import sealed_file
from rounds.records.segment import chained
from rounds.records.taking import Taken, taken

WRITER = "k7q2md"
PAIR = "2026-11-24T07:02:35.323Z\n2026-11-24T07:02:35.323Z"
CHANGES = [
    {},
    *({"t": f"2026-11-24T{at}"} for at in ("19:59:59.999Z", "20:00:00.000Z", "23:00:00.000Z",
      "24:00:00.000Z", "07:60:00.000Z", "07:00:60.000Z", "07:02:35Z", "07:02:35.32Z",
      "07:02:35.3235Z", "7:02:35.323Z", "07:02:35.323+00:00")),
    *({"t": f"{day}T07:02:35.323Z"} for day in ("2026-11-25", "2026-02-29", "2026-13-01",
      "2026-00-10", "1969-12-31", "2200-01-01", "2026-11-2x")),
    {"t": ""}, {"t": PAIR}, {"read_at": PAIR}, {"read_at": "2026-11-24T05:02:35.323Z"},
    {"read_at": "2026-11-24T25:02:35.323Z"}, {"read_at": ""},
    *({"value": value} for value in ("", "-3", "3.", "12345678901234567", "1\n2", "1e3", "٣", "+1",
      " 1", "1.2.3", "nan", "0x1", "1.1234567890123456")),
    *({"off": off} for off in ("+01:00", "+0100", "", "+19:59", "+29:00")),
    *({"day": day} for day in ("2026-11-23", "2026-11-31", "")),
    *({"id": f"{WRITER}-r4t9zb-{n}"} for n in ("7", "07", "2", "1", "1000000000", "x", "3\n")),
    {"id": "k7q2md-r4t9zc-3"}, {"id": "aaaaaa-r4t9zb-3"},
    {"h": "0" * 32}, {"kind": "treated"}, {"kind": "open"}, {"kind": "died", "count": -1},
    {"by": "a\x1b[2J"}, {"by": "a\x7f"}, {"by": "zoë"}, {"by": "a\\b"}, {"step": "x" * 5000},
    {"place": 3}, {"more": 1},
]  # fmt: skip


@pytest.mark.parametrize("change", CHANGES, ids=str)
@pytest.mark.parametrize("line", [2, 3])
def test_at_once_or_line_by_line_is_the_same(change, line, tmp_path, monkeypatch):
    lines = bodies(4)
    keys = json.loads(lines[line])
    first = {key: keys[key] for key in ("kind", "id", "t", "off", "day", "mono", "by", "place")}
    document = {**first, **({"h": change["h"]} if "h" in change else {}), **keys, **change}
    lines[line] = json.dumps(document, separators=(",", ":"), ensure_ascii=False).encode()
    data = chained(lines)
    file = sealed_file(f"{WRITER}/{sealed_name(data)}")
    path = tmp_path / "segment"
    path.write_bytes(data)
    at_once, again = taken(path, file, SITE), taken(path, file, SITE, sound=True)
    monkeypatch.setattr(taking, "_whole", lambda *_: None)
    assert at_once == taken(path, file, SITE)
    if not (at_once.problems or at_once.unknown):
        assert again.entries == at_once.entries
    assert len(at_once.entries) + len(at_once.problems) + sum(at_once.unknown.values()) == 5


def test_a_whole_segment_is_taken_in_at_once(tmp_path, monkeypatch):
    for n, first in ((4, 0), (700, 0), (4, 5000)):
        lines = bodies(n)
        for at, body in enumerate(lines):
            lines[at] = body.replace(b'-r4t9zb-%d"' % at, b'-r4t9zb-%d"' % (at + first), 1)
        data = chained(lines)
        path = tmp_path / "segment"
        path.write_bytes(data)
        monkeypatch.setattr(taking, "scan_bytes", lambda data: pytest.fail("line by line"))
        found = taken(path, sealed_file(f"{WRITER}/{sealed_name(data)}"), SITE)
        assert isinstance(found, Taken)
        assert len(found.entries) == len({one.h for one in found.entries}) == n + 1
