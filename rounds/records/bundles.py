"""A month of segments in one compressed file, for a laptop that lacks most of them.

Where each file costs several ways over a network, a first sync fetches months in place of files.
A bundle is a way to travel and nothing else: what comes out of it is let in or refused like any
file that came by itself, and what a bundle lacks is fetched by itself.
"""

from __future__ import annotations

import re
import zlib
from collections import Counter
from collections.abc import Collection, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Final

from rounds.records.admission import is_what_it_says
from rounds.records.carrying import Carrier
from rounds.records.durable import NotPlain, read_plain
from rounds.records.layout import BUNDLES, SealedFile, sealed_file
from rounds.records.segment import MAX_FILE

LEAST: Final = 32
"""Files of a month below which a bundle is not worth its while."""
MAX_PACKED: Final = 16 * 1024 * 1024
MAX_RAW: Final = 64 * 1024 * 1024
_NAME: Final = re.compile(r"([0-9]{6})_([0-9a-f]{32})\.gz", re.ASCII)
_HEAD: Final = re.compile(rb"([!-~]{1,80}) ([1-9][0-9]{0,6})\n")
_LOOKED_AT: Final = 2
"""Bundles of one month that are tried."""
_SETTLED: Final = timedelta(days=3)


def packed(tree: Path, files: Collection[SealedFile]) -> bytes:
    """Return the segments in one compressed piece: name and length of each, then its bytes.

    Args:
        tree: Where they lie; one that is damaged there is left out.
        files: The segments; beyond 64 MB the rest are left out.
    """
    parts: list[bytes] = []
    room = MAX_RAW
    for file in sorted(files):
        with suppress(NotPlain, OSError):
            data = read_plain(file.path(tree), MAX_FILE)
            head = f"{file.name} {len(data)}\n".encode()
            room -= len(head) + len(data)
            if room < 0:
                break
            if data and is_what_it_says(data, file):
                parts += (head, data)
    squeeze = zlib.compressobj(6, wbits=31)
    return squeeze.compress(b"".join(parts)) + squeeze.flush()


def unpacked(data: bytes) -> Iterator[tuple[SealedFile, bytes]]:
    """Yield what a bundle holds, as far as it can be read. Nothing of it is proved by this.

    Args:
        data: The bundle, from anyone.
    """
    widen = zlib.decompressobj(wbits=31)
    try:
        raw = widen.decompress(data, MAX_RAW)
    except zlib.error:
        return
    at = 0
    while head := _HEAD.match(raw, at):
        end = head.end() + int(head[2])
        file = sealed_file(head[1].decode())
        if file is None or int(head[2]) > MAX_FILE or end > len(raw):
            return
        yield file, raw[head.end() : end]
        at = end


def fetched(
    carrier: Carrier, lacking: Collection[SealedFile]
) -> Iterator[tuple[SealedFile, bytes]]:
    """Yield lacking segments out of the bundles of months of which many lack.

    Args:
        carrier: The address.
        lacking: What is wanted; what is taken out of it meanwhile is not yielded again.

    Raises:
        OSError: The address failed.
    """
    months = Counter(file.day[:6] for file in lacking)
    tried: Counter[str] = Counter()
    for name in carrier.names(BUNDLES):
        match = _NAME.fullmatch(name)
        if not match or months[match[1]] < LEAST or tried[match[1]] == _LOOKED_AT:
            continue
        tried[match[1]] += 1
        with suppress(NotPlain):
            data = carrier.read(f"{BUNDLES}/{name}", MAX_PACKED)
            if sha256(data).hexdigest()[:32] == match[2]:
                yield from ((file, part) for file, part in unpacked(data) if file in lacking)


def offer(tree: Path, carrier: Carrier, files: Collection[SealedFile], now_s: float) -> int:
    """Put bundles of months that are over to an address that has none of them.

    Args:
        tree: The sealed segments here.
        carrier: The address.
        files: What lies here.
        now_s: Seconds since 1970.

    Returns:
        How many were put.

    Raises:
        OSError: The address failed.
    """
    present = f"{datetime.fromtimestamp(now_s, UTC) - _SETTLED:%Y%m}"
    by_month: dict[str, list[SealedFile]] = {}
    for file in files:
        by_month.setdefault(file.day[:6], []).append(file)
    due = [m for m, those in by_month.items() if m < present and len(those) >= LEAST]
    if not due:
        return 0
    there = {match[1] for name in carrier.names(BUNDLES) if (match := _NAME.fullmatch(name))}
    count = 0
    for month in sorted(set(due) - there):
        data = packed(tree, by_month[month])
        if len(data) <= MAX_PACKED:
            carrier.put(f"{BUNDLES}/{month}_{sha256(data).hexdigest()[:32]}.gz", data)
            count += 1
    return count
