"""What could not be read is put aside with the reason, and never parsed again."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path
from typing import Final

import msgspec
from msgspec import Struct

from rounds.records.durable import NotPlain, make_folder, read_plain, write_new
from rounds.text import clean

TORN = "an unfinished line: writing stopped in it, and it was never ticked"
_MAX_LABEL: Final = 64 * 1024


class Label(msgspec.Struct, frozen=True, omit_defaults=True):
    """Why some bytes lie aside; beside them as `<name>.json`."""

    file: str
    reason: str
    line: int = 0
    """Line in the file; 0 for the whole file."""
    size: int = -1
    """Of a file that was refused, as it lay at the address."""
    changed: int = 0
    """When it was changed last, by that clock."""
    app: str = ""
    """The version that refused it."""


class Problem(Struct, frozen=True):
    """Something in the book that a person should know; it stops nothing."""

    file: str
    line: int
    says: str


def set_aside(records: Path, label: Label, raw: bytes | None = None) -> None:
    """Keep a label, and the bytes it is about where there are any. Doing it twice changes nothing.

    Raises:
        OSError: It cannot be kept.
    """
    folder = records / "aside"
    make_folder(folder)
    key = sha256(f"{label.file}\n{label.line}\n".encode() + (raw or b"")).hexdigest()[:32]
    if raw is not None and not (folder / f"{key}.bin").exists():
        write_new(folder / f"{key}.bin", raw)
    text = msgspec.json.format(msgspec.json.encode(label))
    write_new(folder / f"{key}.json", text)


def labels(records: Path) -> tuple[Label, ...]:
    """Return the labels of all that lies aside."""
    found = []
    for path in sorted((records / "aside").glob("*.json")):
        try:
            found.append(msgspec.json.decode(read_plain(path, _MAX_LABEL), type=Label))
        except (OSError, NotPlain, ValueError, RecursionError):
            continue
    return tuple(found)


def shown_name(name: str) -> str:
    """Return a listed file name as it may be shown and kept."""
    return clean(name, limit=120)
