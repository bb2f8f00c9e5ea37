"""The site as it was read last, in its cache: a start reads its files again when one has changed.

It is found by a mark of all it was made of: the bytes of the site's files, this version, and the
files of the program that read them.
"""

from __future__ import annotations

from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

import rounds.site
from rounds import __version__
from rounds.records.index import got, put
from rounds.site.files import digest
from rounds.site.model import Site
from rounds.site.shipped import shipped


def find(folder: Path) -> Site | None:
    """Return the site of a folder as an earlier start kept it; None where it is to be read."""
    with suppress(OSError, ValueError, TypeError):
        mark, _, data = bytes(got(_path(folder))).partition(b"\n")
        if mark.decode() == _mark(folder):
            return msgspec.msgpack.decode(data, type=Site, dec_hook=_object)
    return None


def keep(site: Site) -> None:
    """Keep a site for the next start; where it cannot be written it is read again."""
    with suppress(OSError):
        data = msgspec.msgpack.encode(site, enc_hook=str)
        put(_path(site.folder), f"{_mark(site.folder)}\n".encode() + data)


def _path(folder: Path) -> Path:
    return folder / "cache" / "site.mp"


def _mark(folder: Path) -> str:
    told = [__version__, str(folder), digest(folder)]
    code = Path(rounds.site.__file__).parent
    for part, kind in ((code, "*.py"), (shipped("species"), "*"), (shipped("checklists"), "*")):
        for path in sorted(part.glob(kind)):
            was = path.stat()
            told.append(f"{path.name} {was.st_size} {was.st_mtime_ns}")
    return sha256("\n".join(told).encode()).hexdigest()


def _object(kind: type, text: Any) -> Any:
    """Make of a text what the file has no type for: a time zone, a path."""
    return kind(text) if kind is ZoneInfo else Path(text)
