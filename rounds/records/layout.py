"""Names in the book's folder. A listed name is matched whole against one pattern and rebuilt."""

from __future__ import annotations

import itertools
import os
import re
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final, NamedTuple

from msgspec import Struct

from rounds.records.durable import PART

SITE_FILES: Final = "site"
"""The folder of an address, and of the records, where versions of the site's files lie."""
BUNDLES: Final = "bundles"
"""The folder of an address where months of segments lie, for a first sync."""
LAST_SEG: Final = 999_999
"""The greatest number of a segment: six digits, as a name is matched."""
_MAX_WRITERS: Final = 1000
_SITE: Final = re.compile(r"[a-z0-9]{8}", re.ASCII)
_WRITER: Final = re.compile(r"[a-z0-9]{6}", re.ASCII)
_OPEN: Final = re.compile(r"([a-z0-9]{6})-([0-9]{6})-([a-z0-9]{6})\.jsonl", re.ASCII)
_SEALED: Final = re.compile(r"([0-9]{6})_([0-9]{8})_([0-9a-f]{32})\.jsonl(\.want)?", re.ASCII)
SEALED_LETTERS: Final = 54
"""Letters of the name of a sealed segment in its writer's folder."""
ENTRY_ID: Final = re.compile(r"([a-z0-9]{6})-([a-z0-9]{6})-(0|[1-9][0-9]{0,8})", re.ASCII)
WANT: Final = ".want"
_EXAMPLES: Final = 10
MAX_NAMES: Final = 200_000
"""More names than this in one folder are not looked at."""


class OpenFile(Struct, frozen=True, order=True):
    """The segment one run of the program is writing, or left behind."""

    writer: str
    seg: int
    run: str

    @property
    def name(self) -> str:
        """The file's name."""
        return f"{self.writer}-{self.seg:06d}-{self.run}.jsonl"

    def path(self, records: Path) -> Path:
        """Where it lies in a records folder."""
        return records / "open" / self.name

    def lock_path(self, records: Path) -> Path:
        """Its lock, which also reserves the number among the runs of one laptop."""
        return records / "open" / f"{self.writer}-{self.seg:06d}.lock"


class SealedFile(NamedTuple):
    """A finished segment; `digest` is the SHA-256 of its bytes, so it can never change."""

    writer: str
    seg: int
    day: str
    digest: str

    @property
    def name(self) -> str:
        """The name below the folder of sealed segments: <writer>/<seg6>_<day>_<digest>.jsonl."""
        return f"{self.writer}/{self.base}"

    @property
    def base(self) -> str:
        """The name in the writer's folder."""
        return f"{self.seg:06d}_{self.day}_{self.digest}.jsonl"

    @property
    def head(self) -> str:
        """How other laptops and paper name it: "<seg>:<digest>"."""
        return f"{self.seg}:{self.digest}"

    @property
    def want(self) -> str:
        """The name of the mark that asks for it anew, because what lies there is damaged."""
        return self.name + WANT

    def path(self, tree: Path) -> Path:
        """Where it lies in a tree of sealed segments."""
        return tree / self.writer / self.base


class Listing(Struct, frozen=True):
    """What a tree of sealed segments holds: the segments, sorted, and the names that are none."""

    files: tuple[SealedFile, ...]
    strangers: tuple[str, ...] = ()
    """Some of them, as examples."""
    strange: int = 0
    """How many there are."""
    wants: tuple[SealedFile, ...] = ()
    """Files marked as damaged there."""


def checked_site_id(site_id: str) -> str:
    """Return the site id, which becomes part of folder names.

    Raises:
        ValueError: Not 8 characters of a-z and 0-9.
    """
    if not _SITE.fullmatch(site_id):
        raise ValueError(f"site id is {site_id!r}, allowed are 8 characters of a-z and 0-9")
    return site_id


def sealed_tree(records: Path) -> Path:
    """The tree of sealed segments in a records folder."""
    return records / "sealed"


def open_files(records: Path) -> tuple[OpenFile, ...]:
    """List the open segments of every run of this laptop, dead or alive, sorted."""
    try:
        names = os.listdir(records / "open")
    except (FileNotFoundError, NotADirectoryError):
        return ()
    found = (_OPEN.fullmatch(name) for name in names)
    return tuple(sorted(OpenFile(m[1], int(m[2]), m[3]) for m in found if m))


def writer_folders(tree: Path) -> tuple[str, ...]:
    """List the writers that have a folder in a tree of sealed segments, sorted. No links."""
    try:
        with os.scandir(tree) as items:
            return tuple(
                sorted(
                    item.name
                    for item in items
                    if _WRITER.fullmatch(item.name) and item.is_dir(follow_symlinks=False)
                )
            )
    except (FileNotFoundError, NotADirectoryError):
        return ()


def writer_files(tree: Path, writer: str) -> Listing:
    """List one writer's folder in a tree of sealed segments. No links, no folders."""
    with os.scandir(tree / writer) as items:
        return told_apart(writer, ((i.name, i.is_file(follow_symlinks=False)) for i in items))


def told_apart(writer: str, names: Iterable[tuple[str, bool]]) -> Listing:
    """Tell the segments in a writer's folder from what else lies there.

    Args:
        writer: The writer, whose name was matched already.
        names: Each name, and whether it is a plain file; endless ones are cut.
    """
    files: list[SealedFile] = []
    wants: list[SealedFile] = []
    strangers: list[str] = []
    strange = 0
    for name, plain in itertools.islice(names, MAX_NAMES):
        match = _SEALED.fullmatch(name) if plain else None
        if match:
            seg, day, digest, want = match.groups()
            (wants if want else files).append(SealedFile(writer, int(seg), day, digest))
        elif not name.startswith(PART):
            strange += 1
            if len(strangers) < _EXAMPLES:
                strangers.append(f"{writer}/{name}")
    files.sort()
    return Listing(tuple(files), tuple(sorted(strangers)), strange, tuple(wants))


def listed(tree: Path) -> Listing:
    """List a tree of sealed segments: this laptop's own, or the one at an address."""
    try:
        with os.scandir(tree) as items:
            root = [
                (i.name, i.is_dir(follow_symlinks=False))
                for i in itertools.islice(items, MAX_NAMES)
            ]
    except (FileNotFoundError, NotADirectoryError):
        return Listing(())
    return joined(root, lambda writer: writer_files(tree, writer))


def joined(root: Iterable[tuple[str, bool]], of: Callable[[str], Listing]) -> Listing:
    """Return the listing of a tree from the names in its root and the listing of each writer.

    Args:
        root: Each name in the root, and whether it is a folder.
        of: Lists the folder of one writer.
    """
    writers, others = [], []
    for name, is_folder in root:
        if is_folder and _WRITER.fullmatch(name):
            writers.append(name)
        elif not name.startswith(PART) and not (is_folder and name in (SITE_FILES, BUNDLES)):
            others.append(name)
    parts = [of(writer) for writer in sorted(writers)[:_MAX_WRITERS]]
    others.sort()
    return Listing(
        tuple(file for part in parts for file in part.files),
        tuple([*others, *(name for part in parts for name in part.strangers)][:_EXAMPLES]),
        len(others) + sum(part.strange for part in parts),
        tuple(file for part in parts for file in part.wants),
    )


def sealed_file(name: str) -> SealedFile | None:
    """Return the segment a name "<writer>/<segment>" stands for; None when it is none."""
    writer, _, base = name.partition("/")
    if not is_writer(writer):
        return None
    return next(iter(told_apart(writer, [(base, True)]).files), None)


def is_writer(text: str) -> bool:
    """Tell whether a text can be a writer's id."""
    return bool(_WRITER.fullmatch(text))
