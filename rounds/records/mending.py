"""What rots is found and replaced: marks that ask for a file anew, and a weekly look at all.

A file is damaged when its bytes are not those its name was made from. It is replaced only by
bytes that are, so whoever replaces it, and how often, the outcome is the same.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

from rounds.records.admission import is_what_it_says
from rounds.records.carrying import Carrier, NoWay, side_by_side
from rounds.records.durable import NotPlain, read_plain, write_new
from rounds.records.index import Index
from rounds.records.layout import Listing, SealedFile, sealed_tree
from rounds.records.memory import Memory
from rounds.records.segment import MAX_FILE

WEEK_S: Final = 7 * 24 * 3600.0
SAMPLE: Final = 48
"""Files looked at in a week where each has to come over a network."""


def answer_wants(tree: Path, carrier: Carrier, there: Listing) -> int:
    """Send again what is marked as damaged there and whole here; take the marks away.

    Returns:
        How many files were replaced.

    Raises:
        OSError: The address failed.
    """
    mended = 0
    for file in there.wants:
        ours = _whole(tree, file)
        if ours is None:
            continue
        if _read(carrier, file) != ours:
            carrier.put(file.name, ours)
            mended += 1
        carrier.remove(file.want)
    return mended


def scrub(
    tree: Path, carrier: Carrier, there: Listing, memory: Memory, now: float
) -> tuple[int, int]:
    """Once a week, compare what lies there and here with its names: all, or over a network some.

    Args:
        tree: The sealed segments here.
        carrier: The address.
        there: What it listed.
        memory: When the last one was; the first is a week after the first sync.
        now: Seconds since 1970.

    Returns:
        How many were replaced there, and here.

    Raises:
        OSError: The address or this disk failed.
    """
    if not memory.scrubbed:
        memory.scrubbed = now
    if 0 <= now - memory.scrubbed < WEEK_S:
        return 0, 0
    both = [file for file in there.files if file.path(tree).exists()]
    if carrier.at_once > 1 and len(both) > SAMPLE:
        both = random.sample(both, SAMPLE)
    replaced = compare(tree, carrier, both, set(there.wants))
    memory.scrubbed = now
    return replaced


def heal(
    folder: Path, site_id: str, carrier: Carrier, there: Listing, here: Iterable[SealedFile]
) -> tuple[int, list[SealedFile]]:
    """Fetch anew what is damaged here, of what the book could not read whole or has not read since.

    Returns:
        How many files were replaced here, and which are damaged still.

    Raises:
        OSError: The address or this disk failed.
    """
    tree, files = sealed_tree(folder / "records"), {file.name: file for file in here}
    index, names = _read_before(folder, site_id, files.values())
    if not (index or index.changed):  # nothing was read yet, or the cache is gone
        return 0, []
    doubted = {name for name, one in index.near.items() if one.problems}
    doubted |= {f"{writer}/{b}" for writer in names for b in index.strange(writer, names[writer])}
    found = [f for n in sorted(doubted) if (f := files.get(n)) and _whole(tree, f) is None]
    both = sorted(set(there.files).intersection(found))
    healed = compare(tree, carrier, both, set(there.wants))[1]
    return healed, [file for file in found if _whole(tree, file) is None]


def distrust(
    folder: Path, site_id: str, files: Iterable[SealedFile], found: Collection[str]
) -> None:
    """Let files be read anew that were found damaged: the book tells, and the next sync asks.

    Args:
        folder: The site's folder.
        site_id: Its id.
        files: The sealed segments here.
        found: The names of those that are damaged.
    """
    index, _ = _read_before(folder, site_id, files)
    if index:
        index.forget(found)
        with suppress(OSError):
            index.save(folder / "cache", "")


def _read_before(
    folder: Path, site_id: str, files: Iterable[SealedFile]
) -> tuple[Index, dict[str, list[str]]]:
    """Return what earlier runs read and what lies unchanged since, and all names, by writer."""
    names: dict[str, list[str]] = {}
    for file in files:
        names.setdefault(file.writer, []).append(file.base)
    index = Index(site_id)
    tree = sealed_tree(folder / "records")
    index.load(folder / "cache", tree, dict.fromkeys(names, ()), names.get)
    return index, names


def compare(
    tree: Path, carrier: Carrier, files: Sequence[SealedFile], wanted: set[SealedFile]
) -> tuple[int, int]:
    """Replace what is damaged on one side by what is whole on the other.

    Returns:
        How many were replaced there, and here.

    Raises:
        OSError: The address or this disk failed.
    """
    mended = healed = 0
    for file, theirs in side_by_side(carrier.at_once, files, lambda f: _read(carrier, f)):
        if isinstance(theirs, Exception):
            raise theirs
        ours = _whole(tree, file)
        whole = is_what_it_says(theirs, file)
        if whole and ours is None:
            write_new(file.path(tree), theirs, mode=0o444)
            healed += 1
        elif not whole and ours is not None:
            carrier.put(file.name, ours)
            mended += 1
        elif not whole and file not in wanted:
            with suppress(OSError, NoWay):
                carrier.put(file.want, b"")
    return mended, healed


def _read(carrier: Carrier, file: SealedFile) -> bytes:
    """Read a file there; what is no plain file of an allowed size counts as damaged."""
    try:
        return carrier.read(file.name, MAX_FILE)
    except (NotPlain, FileNotFoundError):
        return b""


def _whole(tree: Path, file: SealedFile) -> bytes | None:
    try:
        ours = read_plain(file.path(tree), MAX_FILE)
    except (NotPlain, OSError):
        return None
    return ours if is_what_it_says(ours, file) else None
