"""The files a site is read from, and a digest of them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path
from typing import Final

FILE: Final = "site.toml"


def digest(folder: Path) -> str:
    """Return which version of a site's files this is.

    Args:
        folder: The site's folder.

    Returns:
        The first 16 hex digits of the SHA-256 of site.toml and of every TOML file under
        checklists and species and CSV file under feeds, by name and content.
    """
    return digest_of((name, path.read_bytes()) for name, path in site_files(folder))


def digest_of(files: Iterable[tuple[str, bytes]]) -> str:
    """Return the digest of a site's files, given as (name, content) in any order."""
    sha = hashlib.sha256()
    for name, content in sorted(files, key=lambda one: (one[0] != FILE, one[0].split("/"))):
        sha.update(f"{name}\0{len(content)}\0".encode())
        sha.update(content)
    return sha.hexdigest()[:16]


def site_files(folder: Path) -> tuple[tuple[str, Path], ...]:
    """Return the names and paths of the files a site is read from; no editor's leavings."""
    found = [(FILE, folder / FILE)]
    for part, kind in (("checklists", ".toml"), ("feeds", ".csv"), ("species", ".toml")):
        found += [
            (path.relative_to(folder).as_posix(), path)
            for path in sorted((folder / part).rglob(f"*{kind}"))
            if path.is_file()
        ]
    return tuple(found)
