"""A site's files as one text that can travel: packed, named by content, unpacked without trust."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from msgspec import Struct

from rounds.site.files import FILE, digest_of, site_files

MAX_VERSION: Final = 1024 * 1024
"""Bytes of a packed version."""
_MAX_FILES: Final = 200
_MAX_LINE: Final = 500
"""A longer one may hold a key of so many parts that to read it takes hours."""
_NAME: Final = re.compile(
    r"site\.toml|(?:checklists|species)/[a-z0-9][a-z0-9_-]{0,59}\.toml"
    r"|feeds/[a-z0-9][a-z0-9_-]{0,59}\.csv",
    re.ASCII | re.IGNORECASE,
)
_RESERVED: Final = re.compile(r"(?:.*/)?(?:con|prn|aux|nul|com\d|lpt\d)\.\w+", re.IGNORECASE)


class VersionError(ValueError):
    """Why files cannot travel, or what came is no version of this site, in a sentence."""


class Version(Struct, frozen=True):
    """One version of a site's files."""

    digest: str
    """What the headers of the records call it, 16 hex digits."""
    files: Mapping[str, str]

    @property
    def data(self) -> bytes:
        """The version as it travels."""
        return json.dumps(
            {"files": dict(sorted(self.files.items())), "format": 1}, ensure_ascii=False, indent=0
        ).encode()

    @property
    def name(self) -> str:
        """The name it travels under: digest, and the SHA-256 of its bytes."""
        return f"{self.digest}-{sha256(self.data).hexdigest()[:32]}.json"


def pack(folder: Path) -> Version:
    """Pack a site's own files.

    Args:
        folder: The site's folder.

    Returns:
        The version; its digest is the one `loading.digest` gives.

    Raises:
        VersionError: A file's name or content cannot travel.
        OSError: A file cannot be read.
    """
    files = {}
    for name, path in site_files(folder):
        if not _portable(name):
            raise VersionError(
                f"{name} cannot travel: name it with a-z, 0-9, _ and -, in its folder itself"
            )
        try:
            files[name] = path.read_bytes().decode()
        except UnicodeDecodeError:
            raise VersionError(f"{name} cannot travel: save it as UTF-8 text") from None
    return _checked(files)


def unpack(data: bytes, name: str = "") -> Version:
    """Read a version that came from elsewhere.

    Args:
        data: Its bytes.
        name: The name it came under, to be matched; empty for any.

    Raises:
        VersionError: It is none, or not what its name says.
    """
    if len(data) > MAX_VERSION:
        raise VersionError("these site files are too large")
    try:
        top = json.loads(data.decode(), object_pairs_hook=_once)
    except (ValueError, RecursionError):
        raise VersionError("these site files cannot be read") from None
    files = top.get("files") if isinstance(top, dict) else None
    if not isinstance(files, dict) or top.get("format") != 1:
        raise VersionError("these site files have a form this version does not know")
    for key, value in files.items():
        if not isinstance(value, str) or not _portable(key):
            raise VersionError("these site files hold a name or content that must not be written")
    found = _checked(files)
    if name and found.name != name:
        raise VersionError("these site files are not what their name says")
    return found


def changes(old: Version, new: Version) -> tuple[str, ...]:
    """Say what a version changes, a line a file.

    Args:
        old: The version in use.
        new: The one to adopt.
    """
    lines = []
    for name in sorted(old.files.keys() | new.files.keys()):
        before, after = old.files.get(name), new.files.get(name)
        if before is None:
            lines.append(f"{name}: new")
        elif after is None:
            lines.append(f"{name}: goes")
        elif before != after:
            a, b = Counter(before.splitlines()), Counter(after.splitlines())
            count = max((a - b).total(), (b - a).total(), 1)
            lines.append(f"{name}: {count} line{'s differ' if count > 1 else ' differs'}")
    return tuple(lines)


def _checked(files: dict[str, str]) -> Version:
    if FILE not in files or len(files) > _MAX_FILES:
        raise VersionError(f"site files must hold {FILE}, and at most {_MAX_FILES} files")
    if len({name.casefold() for name in files}) < len(files):
        raise VersionError("two site files differ in capitals only")
    if any(len(line) > _MAX_LINE for text in files.values() for line in text.split("\n")):
        raise VersionError(f"a line of these site files is longer than {_MAX_LINE} characters")
    try:
        version = Version(digest_of((n, text.encode()) for n, text in files.items()), files)
        too_large = len(version.data) > MAX_VERSION
    except UnicodeEncodeError:
        raise VersionError("these site files hold half a character") from None
    if too_large:
        raise VersionError(f"the site's files hold more than {MAX_VERSION} bytes together")
    return version


def _portable(name: str) -> bool:
    return bool(_NAME.fullmatch(name)) and not _RESERVED.fullmatch(name)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a key is there twice")
    return found
