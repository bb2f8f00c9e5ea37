"""Bytes that are really on the disk, and files of anybody opened without trust.

Every file of the records, and of an address that is a folder, is read by `read_plain` or
`read_start`: regular files only, no link followed, no pipe or device waited for. It is made by
`write_new`: whole under its name or not at all, at an address within `folder_within`.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

if sys.platform != "win32":
    import fcntl

PART: Final = ".part-"
"""How the name of a file that is still being written begins."""
_HELD: Final = frozenset({5, 32, 33})
"""Windows errors of a rename while a virus scanner or an indexer holds the file for a moment."""
_WAITS_S: Final = (0.05, 0.1, 0.2, 0.4, 0.8, 0.45)
_NO_FOLDER_SYNC: Final = frozenset({errno.EINVAL, errno.ENOTSUP, errno.EBADF})
_LINKED: Final = "a folder in it is a link or a file"
_TO_READ: Final = os.O_RDONLY | sum(
    getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY")
)


class NotPlain(Exception):
    """Not a plain file of an allowed size; the message says which."""


def sync_file(fd: int) -> None:
    """Put what was written to `fd` on the disk, through the disk's own cache where that is asked.

    Raises:
        OSError: It may not be there. Never try again on the same descriptor: the kernel has
            marked the pages clean, and a second call would seem to succeed.
    """
    if sys.platform == "darwin":
        try:
            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
            return
        except OSError as error:
            if error.errno not in _NO_FOLDER_SYNC:
                raise
    os.fsync(fd)


def sync_folder(folder: Path | int) -> None:
    """Put a folder's new and gone names on the disk.

    Args:
        folder: The folder, or its descriptor.

    Raises:
        OSError: Any error but that the file system has no such call.
    """
    if sys.platform == "win32":
        return
    fd = folder if isinstance(folder, int) else os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(fd)
    except OSError as error:
        if error.errno not in _NO_FOLDER_SYNC:
            raise
    finally:
        if fd is not folder:
            os.close(fd)


def barred(folder: Path) -> str:
    """Say that nothing can be written to a site's records; empty where it can."""
    records = folder / "records"
    places = [place for place in (records, records / "open") if place.exists()] or [folder]
    if all(os.access(place, os.W_OK) for place in places):
        return ""
    return (
        "Nothing can be kept: records cannot be written. Take off its write protection, or ask "
        f"whose folder it is: {records}"
    )


def make_folder(folder: Path, mode: int = 0o700) -> None:
    """Make a folder and its parents, each one durable in its parent."""
    if folder.is_dir():
        return
    make_folder(folder.parent, mode)
    folder.mkdir(mode=mode, exist_ok=True)
    sync_folder(folder.parent)


@contextmanager
def folder_within(base: Path, *names: str) -> Iterator[int | None]:
    """Hold a folder below `base`, made where it is missing; no link on the way is followed.

    Yields:
        Its descriptor for `write_new`, so that no link can take its place meanwhile; None where
        the system has none, and links are looked for before.

    Raises:
        OSError: It cannot be made, or a link or a file has its name.
    """
    if os.open not in os.supports_dir_fd:
        for count in range(1, len(names) + 1):
            if base.joinpath(*names[:count]).is_symlink():
                raise OSError(errno.ELOOP, _LINKED, str(base.joinpath(*names)))
        make_folder(base.joinpath(*names), 0o777)
        yield None
        return
    fd = os.open(base, os.O_RDONLY | os.O_DIRECTORY)
    try:
        for name in names:
            inner = _folder_in(fd, name)
            os.close(fd)
            fd = inner
        yield fd
    finally:
        os.close(fd)


def _folder_in(folder: int, name: str) -> int:
    flags = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW
    try:
        with suppress(FileNotFoundError):
            return os.open(name, flags, dir_fd=folder)
        with suppress(FileExistsError):
            os.mkdir(name, 0o777, dir_fd=folder)
        sync_folder(folder)
        return os.open(name, flags, dir_fd=folder)
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.ENOTDIR):
            raise OSError(errno.ELOOP, _LINKED, name) from None
        raise


def write_new(
    path: Path,
    data: bytes,
    *,
    mode: int = 0o600,
    mark: str = "local",
    prove: bool = False,
    folder: int | None = None,
) -> None:
    """Write a file that appears whole under its name, or not at all.

    Args:
        path: The final name. Where it exists it is replaced, so give content its digest as a name.
        data: Its bytes.
        mode: Its permissions, before the user's mask.
        mark: Who writes, part of the temporary name.
        prove: Read the bytes back before they get their name.
        folder: The descriptor of the folder it lies in, from `folder_within`.

    Raises:
        OSError: It was not written; nothing new is left under the final name.
    """
    path = path if folder is None else Path(path.name)
    part = path.with_name(f"{PART}{mark}-{os.urandom(6).hex()}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    fd = os.open(part, flags, mode | 0o200, dir_fd=folder)
    try:
        try:
            left = memoryview(data)
            while left:
                left = left[os.write(fd, left) :]
            sync_file(fd)
            if not mode & 0o200 and sys.platform != "win32":  # which never renames such
                os.fchmod(fd, mode)
        finally:
            os.close(fd)
        if prove and _read_back(part, len(data), folder) != data:
            raise OSError(errno.EIO, "does not hold what was written to it", str(path))
        rename(part, path, folder)
        sync_folder(path.parent if folder is None else folder)
    except OSError:
        with suppress(OSError):
            os.unlink(part, dir_fd=folder)
        raise


def rename(part: Path, path: Path, folder: int | None = None) -> None:
    """Give a written file its name; on Windows try again for two seconds while another holds it.

    Raises:
        OSError: It has not got its name.
    """
    for wait_s in _WAITS_S:
        try:
            os.replace(part, path, src_dir_fd=folder, dst_dir_fd=folder)
            return
        except OSError as error:
            if getattr(error, "winerror", None) not in _HELD:
                raise
        time.sleep(wait_s)
    os.replace(part, path, src_dir_fd=folder, dst_dir_fd=folder)


def name_new(part: Path, path: Path) -> None:
    """Give a written file a name that nothing has yet.

    Raises:
        OSError: It has not got its name; FileExistsError where something has it.
    """
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError as error:  # a stick's file system knows no second name
        if os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from error
        rename(part, path)
    else:
        part.unlink()


def sweep(folder: Path, mark: str, older_than_s: float) -> None:
    """Remove what a killed `write_new` of the same mark left in a folder long ago."""
    with suppress(OSError):
        for part in folder.glob(f"{PART}{mark}-*"):
            if time.time() - part.lstat().st_mtime > older_than_s:
                part.unlink()


def drop_cached(path: Path) -> None:
    """Let the next reading of a file come from the device, as far as the system lets go of it."""
    with _plain(path) as fd:
        _drop_cached(fd)


def _drop_cached(fd: int) -> None:
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)


def _read_back(part: Path, size: int, folder: int | None) -> bytes:
    try:
        with _plain(part, folder) as fd:
            _drop_cached(fd)
            return _read(fd, size + 1)
    except NotPlain:
        return b""


def read_plain(path: Path, cap: int) -> bytes:
    """Read a plain file of at most `cap` bytes; no link, no pipe, no giant.

    Raises:
        NotPlain: It is none.
        OSError: It cannot be read.
    """
    with _plain(path) as fd:
        data = _read(fd, cap + 1)
    if len(data) > cap:
        raise NotPlain(f"is larger than {cap} bytes")
    return data


def read_start(path: Path, most: int) -> bytes:
    """Read at most the first `most` bytes of a plain file.

    Raises:
        NotPlain: It is none.
        OSError: It cannot be read.
    """
    with _plain(path) as fd:
        return _read(fd, most)


@contextmanager
def _plain(path: Path, folder: int | None = None) -> Iterator[int]:
    """Open a regular file to read; `path` is a name in `folder` where that is given."""
    if not hasattr(os, "O_NOFOLLOW") and path.is_symlink():
        raise NotPlain("is a link")
    try:
        fd = os.open(path, _TO_READ, dir_fd=folder)
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise NotPlain("is a link") from error
        raise
    try:
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            raise NotPlain("is not a plain file")
        yield fd
    finally:
        os.close(fd)


def _read(fd: int, most: int) -> bytes:
    pieces = []
    room = min(os.fstat(fd).st_size + 1, 1 << 20)  # a read makes room for all it asks for
    while most and (piece := os.read(fd, min(most, room))):
        pieces.append(piece)
        most -= len(piece)
    return b"".join(pieces)
