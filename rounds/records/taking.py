"""Taking in a sealed segment: all of it at once where it is as its writer left it, else by line.

The name of a sealed segment says what its bytes were. Where they are so still, and are as our own
encoder writes them, no line needs a look of its own.
"""

from __future__ import annotations

import os
from collections import Counter, deque
from collections.abc import Iterable, Sequence
from hashlib import sha256
from itertools import repeat
from pathlib import Path
from typing import Any, Final
from zlib import crc32

import msgspec

from rounds.records.decoding import (
    DECIMAL,
    OFFSET,
    PLAIN,
    Unreadable,
    check_own,
    cleaned,
    is_day,
)
from rounds.records.durable import read_plain
from rounds.records.entry import FORMAT, Correction, Entry, Known, Open, Reading
from rounds.records.layout import ENTRY_ID, OpenFile, SealedFile
from rounds.records.segment import MAX_FILE, MAX_LINE, Scan, scan_bytes
from rounds.text import MAX_TEXT

_DECODER: Final = msgspec.json.Decoder(Known)
_ENCODER: Final = msgspec.json.Encoder()
_TAIL: Final = b',"h":"%b"}' % (32 * b"0")
"""How each line ends, with other digits."""
_ZEROS: Final = bytes.maketrans(b"123456789abcdef", 15 * b"0")
_DIGITS: Final = bytes.maketrans(b"123456789", 9 * b"0")
_TIME: Final = b"0000-00-00T00:00:00.000Z\n"
_NUMBERS: Final = tuple(map(str, range(600)))
"""Of the entries of a segment, as a rule."""
_set: Final = msgspec.structs.force_setattr


class Taken(msgspec.Struct):
    """What a sealed segment holds."""

    entries: list[Entry]
    body: bytes
    """The lines of these entries without `h`."""
    unknown: Counter[str]
    problems: list[tuple[int, str]]
    refused: str = ""
    """Why nothing in it counts."""

    @property
    def bodies(self) -> list[bytes]:
        """Of each entry, its line without `h`."""
        return self.body.split(b"\n")[:-1]


class Facts(msgspec.Struct, array_like=True, frozen=True, gc=False):
    """What is known of a sealed segment without reading it again."""

    name: str
    run: str
    low: int
    high: int
    """The numbers of its first and last entry in their run."""
    days: tuple[str, ...]
    """The site-local days it touches: of its entries, and of what its corrections correct."""
    since: str
    until: str
    """When its first and last entry were written."""
    unknown: dict[str, int]
    problems: tuple[tuple[int, str], ...]
    seen: tuple[int, int] = (0, 0)
    """Its size and when it was changed last, as it was read."""
    fixes: tuple[str, ...] = ()
    """What its corrections correct in other segments, or of other days."""

    @property
    def mark(self) -> int:
        """The digest in its name, and another while it holds less than that says."""
        digest = int(self.name[-38:-6], 16)
        return digest + crc32(repr(self.problems).encode()) if self.problems else digest


def misplaced(found: Scan, file: OpenFile | SealedFile, site_id: str) -> str:
    """Say why a segment does not belong under its name; empty when it does."""
    if found.newer:
        return "was written by a newer version of rounds: update this laptop"
    header = found.header
    if header is not None and header.site != site_id:
        return "belongs to another site"
    if found.run and found.writer != file.writer:
        return "holds the entries of another laptop"
    if found.run and isinstance(file, OpenFile) and found.run != f"{file.writer}-{file.run}":
        return "holds the entries of another run"
    if header is not None and (header.writer, header.seg) != (file.writer, file.seg):
        return "names another laptop or number in its first line"
    return ""


def taken(path: Path, file: SealedFile, site_id: str, *, sound: bool = False) -> Taken:
    """Read a sealed segment.

    Args:
        path: Where it lies.
        file: What its name says.
        site_id: The site it has to be of.
        sound: The bytes of this digest were looked at before, and nothing was wrong with them.

    Raises:
        NotPlain: Not a plain file, or larger than 4 MB.
        OSError: It cannot be read.
    """
    data = read_plain(path, MAX_FILE)
    if sha256(data).hexdigest()[:32] == file.digest:
        whole = _whole(data, file, site_id, sound)
        if whole is not None:
            return whole
    found = scan_bytes(data)
    if refused := misplaced(found, file, site_id):
        return Taken([], b"", Counter(), [(0, refused)], refused)
    problems = [(bad.number, bad.reason) for bad in found.bad]
    if found.digest != file.digest:
        problems.append((0, "was changed after it was sealed"))
    known = [line for line in found.lines if isinstance(line.entry, Entry)]
    return Taken(
        [line.entry for line in known if isinstance(line.entry, Entry)],
        b"".join(line.body + b"\n" for line in known),
        Counter(line.entry.kind for line in found.lines if not isinstance(line.entry, Entry)),
        problems,
    )


def _whole(data: bytes, file: SealedFile, site_id: str, sound: bool) -> Taken | None:
    """Return what a segment holds where every line is as our own encoder writes it, else None.

    Of one that is known to be sound the lines need only look like ours.
    """
    *lines, torn = data.split(b"\n")
    size = len(_TAIL)
    tails = b"".join([line[-size:] for line in lines])
    if torn or not lines or tails.translate(_ZEROS) != _TAIL * len(lines):
        return None
    body = b"}\n".join([line[:-size] for line in lines]) + b"}\n"
    longest = max(map(len, lines))
    if longest >= MAX_LINE:
        return None
    try:
        entries: list[Any] = _DECODER.decode_lines(body)
        ours = sound or (
            _ENCODER.encode_lines(entries) == body
            and not "".join([entry.h for entry in entries])
            and _sound(entries, file, site_id)
        )
    except (ValueError, RecursionError, Unreadable):
        return None
    if not ours:
        return None
    if longest > MAX_TEXT or not data.isascii() or b"\\" in data or b"\x7f" in data:
        entries = [
            entry if len(line) <= MAX_TEXT and PLAIN.fullmatch(line) else cleaned(entry)
            for entry, line in zip(entries, body.split(b"\n"), strict=False)
        ]
    hashes = tails[6:-2].decode().split('"},"h":"')
    deque(map(_set, entries, repeat("h"), hashes), 0)
    return Taken(entries, body, Counter(), [])


def _sound(entries: list[Any], file: SealedFile, site_id: str) -> bool:
    """Hold entries to what a line alone is held to, the readings among them all at once."""
    first = entries[0]
    if not isinstance(first, Open) or first.format != FORMAT or first.site != site_id:
        return False
    run, _, low = first.id.rpartition("-")
    if (first.writer, first.seg) != (file.writer, file.seg) or not run.startswith(file.writer):
        return False
    if not ENTRY_ID.fullmatch(first.id):
        return False
    ids, begun = [entry.id for entry in entries], int(low)
    numbers: Sequence[int] = range(begun, begun + len(ids))
    if not _numbered(ids, run, _NUMBERS[begun : begun + len(ids)]):
        numbers = [int(name[len(run) + 1 :]) for name in ids]  # some was given to no entry, or many
        if not _numbered(ids, run, map(str, numbers)) or sorted(set(numbers)) != numbers:
            return False
    kinds = list(map(type, entries))
    if kinds.count(Open) > 1 or numbers[-1] >= 10**9:
        return False
    for entry, kind in zip(entries, kinds, strict=True):
        if kind is not Reading:
            check_own(entry)
    return (
        _are_times([entry.t for entry in entries])
        and _are_times([entry.read_at for entry in entries if entry.read_at is not None])
        and all(map(OFFSET.fullmatch, {entry.off for entry in entries}))
        and all(map(is_day, {entry.day for entry in entries}))
        and _are_numbers(
            [entry.value for entry, kind in zip(entries, kinds, strict=True) if kind is Reading]
        )
    )


def _numbered(ids: list[str], run: str, numbers: Iterable[str]) -> bool:
    return "\n".join(ids) == f"{run}-" + f"\n{run}-".join(numbers)


def _are_times(texts: list[str]) -> bool:
    """Tell whether texts are times as `stamp` writes them: their digits a column at a time."""
    rows, long = "\n".join([*texts, ""]).encode(), len(_TIME)
    if rows.translate(_DIGITS) != _TIME * len(texts):
        return False
    days = {rows[:10].decode()} if rows.count(rows[:11]) == len(texts) else {t[:10] for t in texts}
    hours = {t[11:13] for t in texts} if max(rows[11::long], default=0) > ord("1") else set()
    return (
        all(map(is_day, days))
        and max(hours, default="") < "24"
        and max(rows[14::long] + rows[17::long], default=0) <= ord("5")
    )


def _are_numbers(texts: list[str]) -> bool:
    """Tell whether texts are decimal strings, or empty: by the few forms they have."""
    forms = "\n".join(texts).encode().translate(_DIGITS).split(b"\n")
    return len(forms) <= max(1, len(texts)) and all(
        not form or DECIMAL.fullmatch(form.decode()) for form in set(forms)
    )


def seen(path: Path | str) -> tuple[int, int]:
    """Return the size of a file and when it was changed last; zeros where nobody can tell."""
    try:
        found = os.stat(path, follow_symlinks=False)
    except OSError:
        return 0, 0
    return found.st_size, found.st_mtime_ns


def facts(file: SealedFile, found: Taken, was: tuple[int, int]) -> Facts:
    """Return what to remember of a segment, its corrections not yet followed.

    Args:
        file: The segment.
        found: What it holds.
        was: Its size and when it was changed last, as it was read.
    """
    entries = found.entries
    if not entries:
        told = dict(found.unknown), tuple(found.problems)
        return Facts(file.name, "", 0, 0, (), "", "", *told, was)
    run, _, low = entries[0].id.rpartition("-")
    high, times = entries[-1].id.rpartition("-")[2], [entry.t for entry in entries]
    return Facts(
        file.name, run, int(low), int(high),
        tuple(sorted({entry.day for entry in entries[type(entries[0]) is Open :]})),
        min(times)[:19], max(times)[:19],
        dict(found.unknown), tuple(found.problems), was, _elsewhere(entries),
    )  # fmt: skip


def _elsewhere(entries: list[Entry]) -> tuple[str, ...]:
    """Return what these entries correct that does not stand among them on the same day."""
    fixes = [entry for entry in entries if type(entry) is Correction]
    here = {entry.id: entry.day for entry in entries} if fixes else {}
    return tuple(fix.of for fix in fixes if here.get(fix.of) != fix.day)
