"""Two megabytes kept back, given to the disk when it is full, so that a round can be finished."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Final

_SIZE: Final = 2 * 1024 * 1024
_ROOM: Final = 16 * _SIZE
"""On a disk with less free than this nothing is kept back."""


def _path(folder: Path) -> Path:
    return folder / "cache" / "ballast"


def keep(folder: Path) -> None:
    """Keep the ballast of a site, if it is not there; a failure costs nothing but the help."""
    path = _path(folder)
    try:
        if path.exists() or shutil.disk_usage(folder).free < _ROOM:
            return
        path.parent.mkdir(mode=0o700, exist_ok=True)
        with path.open("xb") as file:
            file.write(os.urandom(_SIZE))
    except OSError:
        free(folder)


def free(folder: Path) -> bool:
    """Give the ballast to the disk; tells whether there was any."""
    try:
        _path(folder).unlink()
    except OSError:
        return False
    return True
