"""Trees of sealed files, seen from behind: what they hold, and copies of them."""

from __future__ import annotations

import os
import shutil
from functools import cache
from hashlib import sha256
from pathlib import Path

from rounds.records.layout import SealedFile, listed


def held(tree: Path) -> dict[str, bool]:
    """Return the final names in a tree, and whether each is what it says."""
    return {
        file.name: sha256(file.path(tree).read_bytes()).hexdigest().startswith(file.digest)
        for file in listed(tree).files
    }


def emptied(tree: Path) -> None:
    """Take a tree away, with all that a killed sync left in it."""
    shutil.rmtree(tree, ignore_errors=True)


def copied(source: Path, target: Path) -> None:
    """Copy a place with all that lies there; giants stay sparse, pipes stay out."""
    target.mkdir(parents=True)
    for path in source.iterdir():
        to = target / path.name
        if path.is_symlink():
            to.symlink_to(path.readlink())
        elif path.is_dir():
            copied(path, to)
        elif path.is_file():
            size = path.stat().st_size
            to.write_bytes(path.read_bytes() if size < 1 << 24 else b"")
            os.truncate(to, size)


def whole(file: SealedFile, tree: Path) -> bool:
    """Tell whether a file lies in a tree as it was sealed."""
    path = file.path(tree)
    try:
        return path.stat().st_size < 1 << 20 and _digest(path.read_bytes()) == file.digest
    except OSError:
        return False


@cache
def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()[:32]
