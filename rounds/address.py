"""Where laptops meet: a folder's path, or a URL. Read and checked in one place; never a secret."""

from __future__ import annotations

import re
from pathlib import PurePosixPath, PureWindowsPath
from typing import Final
from urllib.parse import unquote, urlsplit

from msgspec import Struct

from rounds.text import clean

_URL: Final = re.compile(r"([A-Za-z][A-Za-z0-9+.-]+)://")
_WORD: Final = re.compile(r"[a-z][a-z0-9+.-]+", re.ASCII)
_HOSTED: Final = ("sftp", "webdav", "webdavs")
_LONGEST: Final = 400


class AddressError(ValueError):
    """What is wrong with an address, in words; never the address itself, it may hold a secret."""


class Address(Struct, frozen=True):
    """One place to sync with."""

    scheme: str
    """"" for a folder, else sftp, s3, webdav, webdavs, or another word fsspec knows."""
    path: str
    """The folder; the path on the host; the prefix in a bucket."""
    host: str = ""
    """The host, or the bucket."""
    port: int | None = None
    user: str = ""

    @property
    def text(self) -> str:
        """How it is written, and shown."""
        if not self.scheme:
            return self.path
        user = f"{self.user}@" if self.user else ""
        port = f":{self.port}" if self.port else ""
        return f"{self.scheme}://{user}{self.host}{port}{self.path}"


def read_address(text: str) -> Address:
    r"""Read a folder's path or a URL.

    Args:
        text: "/media/stick", "E:\rounds", "sftp://ana@host:22/srv/rounds", "s3://bucket/farm",
            "webdavs://host/farm", or another URL that fsspec knows.

    Returns:
        The address; a file:// URL becomes a folder.

    Raises:
        AddressError: It is empty, holds a secret, or lacks a part.
    """
    if not text.strip() or len(text) > _LONGEST or clean(text, limit=_LONGEST) != text:
        raise AddressError(f"must be a folder or a URL of at most {_LONGEST} plain characters")
    found = _URL.match(text)
    if not found:
        return Address("", text)
    try:
        parts = urlsplit(text)
        host, port = parts.hostname or "", parts.port
    except ValueError as error:
        raise AddressError("is no URL: its host or port cannot be read") from error
    if parts.password is not None:
        raise AddressError(
            "must not hold a password: site files travel. Take it out; the ssh agent, netrc or "
            "the environment give it"
        )
    if parts.query or parts.fragment or "::" in text or "?" in text or "#" in text:
        raise AddressError("must end with its path: no ?, # or :: after it")
    scheme = parts.scheme
    if not _WORD.fullmatch(scheme):
        raise AddressError("must begin with a word such as sftp://")
    user, path = unquote(parts.username or ""), unquote(parts.path)
    if clean(user + path, limit=_LONGEST) != user + path or set(user) & set(":/?#%"):
        raise AddressError("must hold plain characters only, none hidden as %xx")
    if any(part in (".", "..") for part in path.split("/")):
        raise AddressError("must not hold . or .. as a folder")
    if scheme == "file":
        if host or not parts.path.strip("/"):
            raise AddressError("must name a folder: file:///media/stick")
        return Address("", path)
    if scheme in ("http", "https"):
        raise AddressError("cannot be written by http: write webdavs://host/path")
    if scheme == "s3" and parts.username is not None:
        raise AddressError("must not hold a key: the usual cloud configuration gives it")
    if scheme in (*_HOSTED, "s3") and not host:
        raise AddressError(f"names no {'bucket' if scheme == 's3' else 'host'}")
    if scheme == "sftp" and not parts.path.strip("/"):
        raise AddressError("names no folder: sftp://host/srv/rounds")
    return Address(scheme, parts.path.rstrip("/"), host, port, user)


def is_whole(address: Address) -> bool:
    """Tell whether an address means the same place whatever folder a program runs in."""
    path = address.path
    return bool(
        address.scheme
        or path == "~"
        or path.startswith(("~/", "~\\"))
        or PurePosixPath(path).is_absolute()
        or PureWindowsPath(path).is_absolute()
    )
