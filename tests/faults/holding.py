"""What a tree of sealed files holds, seen from behind."""

from __future__ import annotations

import shutil
from hashlib import sha256
from pathlib import Path

from rounds.records.layout import listed


def held(tree: Path) -> dict[str, bool]:
    """Return the final names in a tree, and whether each is what it says."""
    return {
        file.name: sha256(file.path(tree).read_bytes()).hexdigest().startswith(file.digest)
        for file in listed(tree).files
    }


def emptied(tree: Path) -> None:
    """Take a tree away, with all that a killed sync left in it."""
    shutil.rmtree(tree, ignore_errors=True)
