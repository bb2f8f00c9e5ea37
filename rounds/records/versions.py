"""Versions of the site's files, as they travel: kept under names made from their content.

Nothing here reads them. A laptop takes from an address only the version that the newest segment
of a laptop of the site names, keeps every one it ever had, and puts its own there.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final, NamedTuple

from rounds.records.admission import newest_headers
from rounds.records.carrying import Carrier
from rounds.records.durable import NotPlain, make_folder, read_plain, write_new
from rounds.records.entry import Open
from rounds.records.layout import SITE_FILES, sealed_tree, writer_folders

MAX_VERSION: Final = 1024 * 1024
_NAME: Final = re.compile(r"([0-9a-f]{16})-([0-9a-f]{32})\.json", re.ASCII)
_SHOWN: Final = 3
"""Files that claim one version and are looked at, drawn by lot: others may be junk."""


class SiteFiles(NamedTuple):
    """The site's files as they are here, and who can tell whether others are such."""

    name: str
    """The name they travel under; empty where they cannot."""
    data: bytes
    fits: Callable[[str, bytes], bool]
    """Tells whether a name and bytes that came are a version of a site's files."""


def held(records: Path) -> dict[str, Path]:
    """Return the versions kept here, by digest."""
    paths = sorted((records / SITE_FILES).glob("*.json"))
    return {match[1]: path for path in paths if (match := _NAME.fullmatch(path.name))}


def used(records: Path) -> Mapping[str, Open]:
    """Return, by writer, the newest header of each laptop: it names the version it works with."""
    tree = sealed_tree(records)
    found = newest_headers(tree, writer_folders(tree)).items()
    return {writer: first for writer, first in found if len(first.site_digest) == 16}


def keep(records: Path, name: str, data: bytes) -> None:
    """Keep a version; one that is kept already stays as it is, unless it is damaged.

    Raises:
        OSError: It cannot be written.
    """
    path = records / SITE_FILES / name
    with suppress(NotPlain, FileNotFoundError):
        if read_plain(path, MAX_VERSION) == data:
            return
    make_folder(path.parent)
    write_new(path, data, mode=0o444)


def exchange(records: Path, carrier: Carrier, site_files: SiteFiles) -> int:
    """Put the versions kept here to the address, and take those that laptops of the site use.

    Args:
        records: The records folder.
        carrier: The address.
        site_files: The version in use here.

    Returns:
        How many went or came.

    Raises:
        OSError: The address or this disk failed.
    """
    if site_files.name:
        keep(records, site_files.name, site_files.data)
    here = held(records)
    wanted = {first.site_digest for first in used(records).values()} - here.keys()
    if not here and not wanted:
        return 0
    there = {name for name in carrier.names(SITE_FILES) if _NAME.fullmatch(name)}
    count = 0
    for path in here.values():
        if path.name not in there:
            with suppress(NotPlain):
                carrier.put(f"{SITE_FILES}/{path.name}", read_plain(path, MAX_VERSION))
                count += 1
    for digest in sorted(wanted):
        claim = [name for name in there if name.startswith(f"{digest}-")]
        for name in random.sample(claim, min(_SHOWN, len(claim))):
            with suppress(NotPlain):
                data = carrier.read(f"{SITE_FILES}/{name}", MAX_VERSION)
                if site_files.fits(name, data):
                    keep(records, name, data)
                    count += 1
                    break
    return count
