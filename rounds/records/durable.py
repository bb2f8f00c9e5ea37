"""Bytes that are really on the disk: fsync of files and folders, new files that appear whole."""

from __future__ import annotations

import errno
import os
import stat
import sys
import time
from contextlib import suppress
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


def sync_folder(folder: Path) -> None:
    """Put a folder's new and gone names on the disk.

    Raises:
        OSError: Any error but that the file system has no such call.
    """
    if sys.platform == "win32":
        return
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(fd)
    except OSError as error:
        if error.errno not in _NO_FOLDER_SYNC:
            raise
    finally:
        os.close(fd)


def make_folder(folder: Path, mode: int = 0o700) -> None:
    """Make a folder and its parents, each one durable in its parent."""
    if folder.is_dir():
        return
    make_folder(folder.parent, mode)
    folder.mkdir(mode=mode, exist_ok=True)
    sync_folder(folder.parent)


def write_new(
    path: Path, data: bytes, *, mode: int = 0o600, mark: str = "local", prove: bool = False
) -> None:
    """Write a file that appears whole under its name, or not at all.

    Args:
        path: The final name. Where it exists it is replaced, so give content its digest as a name.
        data: Its bytes.
        mode: Its permissions, before the user's mask.
        mark: Who writes, part of the temporary name.
        prove: Read the bytes back before they get their name.

    Raises:
        OSError: It was not written; nothing new is left under the final name.
    """
    part = path.with_name(f"{PART}{mark}-{os.urandom(6).hex()}")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    fd = os.open(part, flags, mode | 0o200)
    try:
        try:
            left = memoryview(data)
            while left:
                left = left[os.write(fd, left) :]
            sync_file(fd)
        finally:
            os.close(fd)
        if prove and _read_back(part) != data:
            raise OSError(errno.EIO, "does not hold what was written to it", str(path))
        if not mode & 0o200 and sys.platform != "win32":  # which neither replaces nor removes such
            part.chmod(mode)
        rename(part, path)
        sync_folder(path.parent)
    except OSError:
        with suppress(OSError):
            part.unlink()
        raise


def rename(part: Path, path: Path) -> None:
    """Give a written file its name; on Windows try again for two seconds while another holds it.

    Raises:
        OSError: It has not got its name.
    """
    for wait_s in _WAITS_S:
        try:
            part.replace(path)
            return
        except OSError as error:
            if getattr(error, "winerror", None) not in _HELD:
                raise
        time.sleep(wait_s)
    part.replace(path)


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
        if path.exists():
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
    if hasattr(os, "posix_fadvise"):
        fd = os.open(path, os.O_RDONLY)
        try:
            os.posix_fadvise(fd, 0, 0, os.POSIX_FADV_DONTNEED)
        finally:
            os.close(fd)


def _read_back(path: Path) -> bytes:
    drop_cached(path)
    return path.read_bytes()


def read_plain(path: Path, cap: int) -> bytes:
    """Read a plain file of at most `cap` bytes; no link, no pipe, no giant.

    Raises:
        NotPlain: It is none.
        OSError: It cannot be read.
    """
    flags = os.O_RDONLY
    for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"):
        flags |= getattr(os, name, 0)
    try:
        fd = os.open(path, flags)
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise NotPlain("is a link") from error
        raise
    try:
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            raise NotPlain("is not a plain file")
        pieces = []
        left = cap + 1
        while left and (piece := os.read(fd, min(left, 1 << 20))):
            pieces.append(piece)
            left -= len(piece)
        if not left:
            raise NotPlain(f"is larger than {cap} bytes")
        return b"".join(pieces)
    finally:
        os.close(fd)
