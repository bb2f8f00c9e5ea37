"""Which laptop this is, on one site: a writer id kept outside the site's folder.

A copied folder, a copied home on another machine and a moved site each get a new id, so that two
laptops never write under one name.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from random import SystemRandom
from typing import Final

import msgspec

from rounds.records.durable import NotPlain, make_folder, read_plain, write_new
from rounds.records.locks import taken

_LETTERS: Final = "abcdefghjkmnpqrstvwxyz23456789"
"""Without those that are mistaken for another."""


class _Identity(msgspec.Struct, frozen=True):
    writer: str
    machine: str


def state_root() -> Path:
    """Where what this laptop knows of itself lies. `ROUNDS_STATE` overrides the place."""
    place = os.environ.get("ROUNDS_STATE")
    if place is None:
        from platformdirs import user_state_dir

        place = user_state_dir("rounds", appauthor=False)
    return Path(place)


def state_folder(folder: Path, site_id: str) -> Path:
    """Where what this laptop knows of itself on a site lies."""
    at = sha256(os.fsencode(folder.resolve())).hexdigest()[:12]
    return state_root() / f"{site_id}-{at}"


def token() -> str:
    """Return six random characters, for a writer or a run."""
    return "".join(SystemRandom().choices(_LETTERS, k=6))


def machine() -> str:
    """Return a hash that tells this machine from another."""
    return sha256(_machine().encode()).hexdigest()[:16]


def writer_id(folder: Path, site_id: str) -> str | None:
    """Return this laptop's writer id on a site; None when it has not written yet."""
    known = _read(state_folder(folder, site_id) / "identity.json")
    return known.writer if known and known.machine == machine() else None


def make_writer_id(folder: Path, site_id: str) -> str:
    """Return this laptop's writer id, made now if there is none.

    Raises:
        OSError: It cannot be kept.
    """
    known = writer_id(folder, site_id)
    if known is not None:
        return known
    state = state_folder(folder, site_id)
    make_folder(state)
    lock = taken(state / "identity.lock", timeout_s=2.0)
    try:
        known = writer_id(folder, site_id)
        if known is None:
            known = token()
            made = _Identity(known, machine())
            write_new(state / "identity.json", msgspec.json.encode(made))
        return known
    finally:
        if lock is not None:
            lock.release()


def forget_writer_id(folder: Path, site_id: str) -> None:
    """Let the next run take a new id: another laptop writes under this one."""
    state = state_folder(folder, site_id)
    with suppress(FileNotFoundError):
        known = writer_id(folder, site_id)
        (state / "identity.json").replace(state / f"was-{known or 'another'}.json")


def own_names(site_id: str) -> frozenset[str]:
    """Return every writer id this machine has or had on a site, in whatever folder."""
    found = map(_read, state_root().glob(f"{site_id}-*/*.json"))
    here = machine()
    return frozenset(one.writer for one in found if one and one.machine == here)


def _read(path: Path) -> _Identity | None:
    try:
        found = msgspec.json.decode(read_plain(path, 4096), type=_Identity)
    except (OSError, NotPlain, ValueError, RecursionError):  # what msgspec raises on junk
        return None
    return found if len(found.writer) == 6 and set(found.writer) <= set(_LETTERS) else None


def _machine() -> str:
    for place in ("/etc/machine-id", "/var/lib/dbus/machine-id"):
        try:
            text = Path(place).read_text("ascii").strip()
        except (OSError, ValueError):
            continue
        if text:
            return text
    if sys.platform == "win32":
        import winreg

        where = r"SOFTWARE\Microsoft\Cryptography"
        with suppress(OSError), winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, where) as key:
            return str(winreg.QueryValueEx(key, "MachineGuid")[0])
    import uuid

    node = uuid.getnode()
    return f"{node:012x}" if not node >> 40 & 1 else "unknown"
