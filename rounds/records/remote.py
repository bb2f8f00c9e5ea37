"""An address that is no folder: SFTP, S3, WebDAV or what else fsspec knows, on one carrier.

What connects loads only when an address asks for it. Secrets come from the system's own places
(ssh agent and keys, netrc, environment, the usual cloud configuration); a host whose key is not
known is refused. No text of an error of theirs is passed on: it could hold what must not be seen.
"""

from __future__ import annotations

import errno
import io
import logging
import os
import posixpath
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Any, Final, NamedTuple

from rounds.address import Address
from rounds.records.carrying import NoWay
from rounds.records.durable import PART, NotPlain
from rounds.records.layout import Listing, is_writer, joined, told_apart
from rounds.records.memory import Known

_CONNECT_S: Final = 10
_ANSWER_S: Final = 30
_SETTLED_S: Final = 4.0
"""Within this time of a change a folder may change again and keep the time of it."""
_LOCAL: Final = ("localhost", "127.0.0.1", "::1")
_EXTRAS: Final = {"sftp": "sftp", "s3": "s3", "webdav": "webdav", "webdavs": "webdav"}
_RENAMES: Final = ("sftp", "ssh", "smb", "local", "webdav", "webdavs")
"""Where a file is written under another name first; elsewhere a PUT is whole by itself.

A WebDAV server that is cut off in a PUT may leave half of it under the name."""
_AT_ONCE: Final = {"webdav": 4, "webdavs": 4}
"""Files under way side by side, where it is not 16: small servers lock each other out."""
_DATED: Final = ("sftp", "ssh")
"""Where a folder's time of change tells whether names in it are new."""
_STATUS: Final = {
    401: (errno.EACCES, "asks who this is: put user and password into ~/.netrc"),
    403: (errno.EACCES, "does not let this laptop in"),
    404: (errno.ENOENT, "is not there"),
    507: (errno.ENOSPC, "is full"),
}


class _Item(NamedTuple):
    kind: str
    size: int
    changed: float


class RemoteCarrier:
    """A tree of sealed segments on a file system of fsspec."""

    def __init__(self, fs: Any, root: str, site_id: str, address: Address, mark: str) -> None:
        self.shown = address.text
        self.proves = False
        self.at_once = _AT_ONCE.get(address.scheme, 16)
        self._fs = fs
        self._there = address.host if address.scheme == "s3" else root or "/"
        self._root = f"{root}/{site_id}"
        self._part = f"{PART}{mark}-"
        self._renames = address.scheme in _RENAMES
        self._dated = address.scheme in _DATED
        self._moves = address.scheme in ("webdav", "webdavs")
        self._foldered = address.scheme != "s3"
        self._states: dict[str, _Item] = {}
        self._made: set[str] = set()

    def listed(self, known: dict[str, Known], *, whole: bool) -> Listing:
        """List the segments that are there; a folder that did not change is not listed again."""
        root = dict(self._items(""))
        now = time.time()
        for writer, item in root.items():
            if item.kind != "directory" or not is_writer(writer):
                continue
            before = known.get(writer)
            same = self._dated and before is not None and before.changed == item.changed
            if before is None or whole or not (same and before.settled):
                names = [n for n, one in self._items(writer) if one.kind == "file"]
                since = before.since if before and same else now
                settled = same and now - since > _SETTLED_S
                known[writer] = Known(names, item.changed, since, settled)
        for gone in known.keys() - root.keys():
            del known[gone]
        return joined(
            ((name, item.kind == "directory") for name, item in root.items()),
            lambda writer: told_apart(writer, ((name, True) for name in known[writer].names)),
        )

    def names(self, folder: str) -> Sequence[str]:
        """List the plain files in a folder."""
        return sorted(name for name, item in self._items(folder) if item.kind == "file")

    def state(self, name: str) -> tuple[int, int]:
        """Return size and time of last change."""
        found = self._states.get(name)
        if found is None:
            with _words():
                found = _item(self._fs.info(self._path(name)))
        return found.size, int(found.changed)

    def read(self, name: str, cap: int) -> bytes:
        """Read a file."""
        size, _ = self.state(name)
        if size > cap:
            raise NotPlain(f"is larger than {cap} bytes")
        if size == 0:
            return b""
        with _words():
            data = self._first(self._path(name), cap + 1)
        if len(data) > cap:
            raise NotPlain(f"is larger than {cap} bytes")
        return data

    def put(self, name: str, data: bytes) -> None:
        """Write a file: under another name first where the server renames, else in one PUT."""
        path = self._path(name)
        folder = posixpath.dirname(path)
        with _words():
            if self._foldered and folder not in self._made:
                self._fs.makedirs(folder, exist_ok=True)
                self._made.add(folder)
            if not self._renames:
                self._fs.pipe_file(path, data)
            else:
                part = f"{folder}/{self._part}{os.urandom(6).hex()}"
                try:
                    self._place(part, path, data)
                except BaseException:
                    with suppress(Exception):
                        self._fs.rm_file(part)
                    raise
        self._states.pop(name, None)

    def remove(self, name: str) -> None:
        """Take a mark away."""
        with _words(), suppress(FileNotFoundError):
            self._fs.rm_file(self._path(name))

    def check_there(self) -> None:
        """Raise OSError if the address does not answer."""
        with _words():
            self._fs.info(self._there)

    def sweep(self, older_than_s: float) -> None:
        """Remove what a killed sync of this machine left long ago, where folders were listed."""
        before = time.time() - older_than_s
        for name, item in list(self._states.items()):
            if name.rpartition("/")[2].startswith(self._part) and 0 < item.changed < before:
                with suppress(OSError):
                    self.remove(name)

    def close(self) -> None:
        """Let go of the connection. It ends here, as nothing holds it once its parts are gone.

        A file system of fsspec holds itself through its own methods: left alone it would be
        closed whenever waste happens to be collected.
        """
        if self._moves:
            self._fs.client.http.close()
        vars(self._fs).clear()
        self._fs = None

    def _place(self, part: str, path: str, data: bytes) -> None:
        if self._moves:  # its own `pipe_file` makes the folder each time, its own `mv` copies
            self._fs.client.upload_fileobj(io.BytesIO(data), part, overwrite=True, size=len(data))
            self._fs.client.move(part, path, overwrite=True)
        else:
            self._fs.pipe_file(part, data)
            self._fs.mv(part, path)

    def _first(self, path: str, most: int) -> bytes:
        if not self._dated:
            return bytes(self._fs.cat_file(path, end=most))
        with self._fs.open(path, "rb") as file:  # its own `cat_file` knows no end
            return bytes(file.read(most))

    def _path(self, name: str) -> str:
        return f"{self._root}/{name}" if name else self._root

    def _items(self, folder: str) -> Iterator[tuple[str, _Item]]:
        try:
            with _words():
                found = self._fs.ls(self._path(folder), detail=True)
        except (FileNotFoundError, NotADirectoryError):
            found = []
        at = self._path(folder).strip("/")
        for info in found:
            whole = str(info.get("name", "")).strip("/")
            name = posixpath.basename(whole)
            if whole == at or not name:
                continue  # some servers list the folder itself
            item = _item(info)
            if item.kind == "file":
                self._states[f"{folder}/{name}"] = item
            yield name, item


def _item(info: Mapping[str, Any]) -> _Item:
    size = info.get("size")  # some servers tell none
    for key in ("mtime", "modified", "LastModified"):
        changed = info.get(key)
        if isinstance(changed, datetime):
            changed = changed.timestamp()
        if isinstance(changed, int | float):
            break
    else:
        changed = 0.0
    return _Item(str(info.get("type")), size if isinstance(size, int) else -1, float(changed))


def opened(address: Address, site_id: str, mark: str) -> RemoteCarrier:
    """Connect to an address.

    Args:
        address: Any that is no folder.
        site_id: The site, whose folder there is used, and made at the first file.
        mark: This machine, part of temporary names.

    Raises:
        NoWay: This laptop lacks a part, a key or a right; the message says what to do.
        OSError: It does not answer.
    """
    make = {"sftp": _sftp, "s3": _s3, "webdav": _webdav, "webdavs": _webdav}.get(address.scheme)
    try:
        with _words():
            fs, root = (make or _other)(address)
    except ImportError as error:
        extra = _EXTRAS.get(address.scheme)
        raise NoWay(
            f"needs a part that is not installed: pip install 'rounds[{extra}]'"
            if extra
            else f"is reached by a part that is not installed: {error.name or 'unknown'}"
        ) from error
    carrier = RemoteCarrier(fs, root, site_id, address, mark)
    try:
        carrier.check_there()
    except BaseException:
        carrier.close()
        raise
    return carrier


def _sftp(address: Address) -> tuple[Any, str]:
    from sshfs import SSHFileSystem

    logging.getLogger("asyncio").setLevel(logging.ERROR)  # it tells each write to a lost connection
    home = Path.home() / ".ssh" / "known_hosts"
    files = [str(path) for path in (home, Path("/etc/ssh/ssh_known_hosts")) if path.is_file()]
    options: dict[str, Any] = {"username": address.user} if address.user else {}
    if address.port:
        options["port"] = address.port
    fs = SSHFileSystem(
        address.host,
        known_hosts=files or b"",  # no file at all: no host is known, and none is trusted
        connect_timeout=_CONNECT_S,
        login_timeout=_ANSWER_S,
        keepalive_interval=15,
        keepalive_count_max=3,
        skip_instance_cache=True,
        **options,
    )
    return fs, address.path


def _s3(address: Address) -> tuple[Any, str]:
    from s3fs import S3FileSystem

    limits = {"connect_timeout": _CONNECT_S, "read_timeout": _ANSWER_S, "max_pool_connections": 32}
    fs = S3FileSystem(
        config_kwargs={**limits, "retries": {"max_attempts": 2}},
        use_listings_cache=False,
        skip_instance_cache=True,
    )
    return fs, f"{address.host}{address.path}"


def _webdav(address: Address) -> tuple[Any, str]:
    import httpx
    from webdav4.fsspec import WebdavFileSystem

    meant = os.environ.get("ROUNDS_WEBDAV_HOST", "").casefold() == address.host
    secret = os.environ.get("ROUNDS_WEBDAV_PASSWORD") if meant else None
    user = address.user or os.environ.get("ROUNDS_WEBDAV_USER", "")
    auth: Any = (user, secret) if secret is not None else None
    with suppress(Exception):  # no netrc, or one that cannot be read
        auth = auth or httpx.NetRCAuth(None)
    if auth and address.scheme == "webdav" and address.host not in _LOCAL:
        raise NoWay("would send a password that anybody can read: write webdavs://")
    port = f":{address.port}" if address.port else ""
    scheme = "https" if address.scheme == "webdavs" else "http"
    fs = WebdavFileSystem(
        f"{scheme}://{address.host}{port}{address.path}/",
        auth=auth,
        skip_instance_cache=True,
        timeout=httpx.Timeout(_ANSWER_S, connect=_CONNECT_S),
    )
    return fs, ""


def _other(address: Address) -> tuple[Any, str]:
    from fsspec import filesystem

    try:
        options: dict[str, Any] = {"username": address.user} if address.user else {}
        if address.port:
            options["port"] = address.port
        if address.scheme in ("ftp", "smb"):
            options["host"] = address.host
            return filesystem(address.scheme, skip_instance_cache=True, **options), address.path
        fs = filesystem(address.scheme, skip_instance_cache=True, **options)
    except ValueError as error:
        raise NoWay(f"begins with {address.scheme}://, which nothing here knows") from error
    return fs, f"/{address.host}{address.path}"


@contextmanager
def _words() -> Iterator[None]:
    """Turn what a library raises into an OSError of our own words, or NoWay."""
    try:
        yield
    except (NotPlain, NoWay, ImportError):
        raise
    except Exception as error:
        raise _told(error) from None


def _told(error: BaseException) -> OSError | NoWay:
    for known, number in ((FileNotFoundError, errno.ENOENT), (NotADirectoryError, errno.ENOTDIR)):
        if isinstance(error, known):  # some libraries give it no number
            return known(number, "is not there")
    if isinstance(error, TimeoutError):
        return TimeoutError(errno.ETIMEDOUT, "does not answer")
    if isinstance(error, OSError) and error.errno is not None:
        return OSError(error.errno, os.strerror(error.errno))
    kind = type(error).__name__
    kinds = {one.__name__ for one in type(error).__mro__}
    if kind == "HostKeyNotVerifiable":
        return NoWay(
            "shows a host key that ~/.ssh/known_hosts does not hold, or holds differently. Compare "
            "it with whoever runs that host, then log in once with ssh"
        )
    if kinds & {"PermissionDenied", "PermissionError", "NoCredentialsError"}:
        return NoWay(
            "does not let this laptop in: look whether its key is loaded (ssh-add) and its "
            "credentials are set"
        )
    status = getattr(getattr(error, "status_code", None), "real", None)
    if status in _STATUS:
        number, says = _STATUS[status]
        return NoWay(says) if number == errno.EACCES else OSError(number, says)
    if kinds & {"InsufficientStorage", "SFTPNoSpaceOnFilesystem", "SFTPQuotaExceeded"}:
        return OSError(errno.ENOSPC, "is full")
    if kind in ("ForbiddenOperation", "SFTPWriteProtect", "SFTPPermissionDenied"):
        return OSError(errno.EACCES, "cannot be written")
    return OSError(errno.EIO, f"does not answer as it should ({kind})")
