"""What sync needs of an address, for one that is a folder: list, read, put new names."""

from __future__ import annotations

import errno
from pathlib import Path

from rounds.records.durable import make_folder, read_plain, sweep, write_new
from rounds.records.layout import Listing, SealedFile, listed, writer_folders
from rounds.records.segment import MAX_FILE


class FolderCarrier:
    """A tree of sealed segments in a folder: on a stick, on a mounted share."""

    def __init__(self, root: Path, mark: str) -> None:
        self.root = root
        self._mark = mark

    def listed(self) -> Listing:
        """List the segments that are there; nothing is there before the first sync."""
        return listed(self.root)

    def state(self, file: SealedFile) -> tuple[int, int]:
        """Return size and time of last change, to tell whether a file is still the same."""
        status = file.path(self.root).lstat()
        return status.st_size, status.st_mtime_ns

    def read(self, file: SealedFile) -> bytes:
        """Read a segment, at most 4 MB.

        Raises:
            NotPlain: A link, a giant, no file.
            OSError: It cannot be read.
        """
        return read_plain(file.path(self.root), MAX_FILE)

    def put(self, file: SealedFile, data: bytes) -> None:
        """Write a segment under its name: proved, durable and whole, or not at all.

        Raises:
            OSError: It is not there.
        """
        path = file.path(self.root)
        if path.parent.is_symlink():
            raise OSError(errno.ELOOP, "a folder in it is a link", str(path.parent))
        make_folder(path.parent, 0o777)
        write_new(path, data, mode=0o666, mark=self._mark, prove=True)

    def check_there(self) -> None:
        """Raise OSError if the address is gone."""
        self.root.parent.stat()

    def sweep(self, older_than_s: float) -> None:
        """Remove what a killed sync of this machine left long ago; never another's."""
        for writer in writer_folders(self.root):
            sweep(self.root / writer, self._mark, older_than_s)
