"""File systems of our own on loop devices: made, mounted, cut off from their journal, filled."""

from __future__ import annotations

import fcntl
import os
import shutil
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_SHUTDOWN = 0x8004587D
"""_IOR('X', 125, __u32): EXT4_IOC_SHUTDOWN and XFS_IOC_GOINGDOWN are the same number."""
_NOLOGFLUSH = 2
_SIZES = {"ext4": 64, "xfs": 320}
_MAKE = {
    "ext4": ("mkfs.ext4", "-q", "-F"),
    "xfs": ("mkfs.xfs", "-q", "-f"),
}


def impossible(kind: str) -> str:
    """Say why there can be no file system of this kind here; empty when there can."""
    if sys.platform != "linux":
        return "needs Linux"
    if os.geteuid() != 0:
        return "needs root, for a loop device"
    for tool in ("losetup", "mount", _MAKE[kind][0]):
        if not shutil.which(tool):
            return f"{tool} is not installed"
    try:
        _run("losetup", "--find")
    except subprocess.CalledProcessError:
        return "no loop device is free"
    return ""


def _run(*words: str | Path) -> str:
    done = subprocess.run(list(map(str, words)), check=True, capture_output=True, text=True)
    return done.stdout.strip()


class Disk:
    """A mounted file system that can lose its power."""

    def __init__(self, kind: str, place: Path) -> None:
        self.at = place / f"mnt-{kind}"
        self.at.mkdir()
        image = place / f"{kind}.img"
        with image.open("wb") as file:
            file.truncate(_SIZES[kind] << 20)
        self._loop = _run("losetup", "--find", "--show", image)
        _run(*_MAKE[kind], self._loop)
        self.mount()

    def mount(self, *options: str) -> None:
        _run("mount", *options, self._loop, self.at)

    def unmount(self) -> None:
        for _ in range(50):
            try:
                _run("umount", self.at)
                return
            except subprocess.CalledProcessError:
                time.sleep(0.02)
        _run("umount", "--lazy", self.at)

    def cut(self) -> None:
        """Cut the power: what is not in the journal or on the disk now will never be."""
        fd = os.open(self.at, os.O_RDONLY)
        try:
            fcntl.ioctl(fd, _SHUTDOWN, struct.pack("I", _NOLOGFLUSH))
        finally:
            os.close(fd)

    def free(self) -> int:
        status = os.statvfs(self.at)
        return status.f_bfree * status.f_frsize

    def release(self) -> None:
        if os.path.ismount(self.at):
            self.unmount()
        _run("losetup", "--detach", self._loop)


@contextmanager
def disk(kind: str, place: Path) -> Iterator[Disk]:
    """Make and mount a file system, and take it away again whatever happens."""
    made = Disk(kind, place)
    try:
        yield made
    finally:
        made.release()
