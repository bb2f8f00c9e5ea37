"""What sync needs of an address: list, read, put. Here for a folder; `remote` has the others."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import Protocol, TypeVar

from rounds.records.durable import folder_within, read_plain, sweep, write_new
from rounds.records.layout import MAX_NAMES, Listing, listed, writer_folders
from rounds.records.memory import Known

_T = TypeVar("_T")
_R = TypeVar("_R")


class NoWay(Exception):
    """The address cannot be used from this laptop as it is; the message says what to do."""


class Carrier(Protocol):
    """A place that holds `<site id>/<writer>/<segment>`. Names given to it were matched before."""

    shown: str
    """The address as it may be shown."""
    at_once: int
    """How many files may travel side by side."""
    proves: bool
    """Whether what is put there is read back."""

    def listed(self, known: dict[str, Known], *, whole: bool) -> Listing:
        """List the segments that are there, and note them in `known`.

        Args:
            known: What each folder held before; a carrier may trust what has not changed.
            whole: Trust nothing, list all.
        """

    def names(self, folder: str) -> Sequence[str]:
        """List the plain files in another folder of the site's; none where it is not there."""

    def state(self, name: str) -> tuple[int, int]:
        """Return size and time of last change, to tell whether a file is still the same."""

    def read(self, name: str, cap: int) -> bytes:
        """Read a file.

        Raises:
            NotPlain: A link, no file, larger than `cap` bytes.
            OSError: It cannot be read.
        """

    def put(self, name: str, data: bytes) -> None:
        """Write a file, whole or not at all. What bears its name already was found damaged.

        Raises:
            OSError: It is not there.
        """

    def remove(self, name: str) -> None:
        """Take a mark away.

        Raises:
            OSError: It is still there.
        """

    def check_there(self) -> None:
        """Raise OSError if the address is gone."""

    def sweep(self, older_than_s: float) -> None:
        """Remove what a killed sync of this machine left long ago; never another's."""

    def close(self) -> None:
        """Let go of the address."""


class FolderCarrier:
    """An address that is a folder: on a stick, on a mounted share."""

    at_once = 1
    proves = True

    def __init__(self, root: Path, mark: str) -> None:
        self.root = root
        self.shown = str(root.parent)
        self._mark = mark

    def listed(self, known: dict[str, Known], *, whole: bool) -> Listing:
        """List the segments that are there; nothing is there before the first sync."""
        return listed(self.root)

    def names(self, folder: str) -> Sequence[str]:
        """List the plain files in a folder."""
        found = []
        try:
            with os.scandir(self.root / folder) as items:
                for item in items:
                    if item.is_file(follow_symlinks=False):
                        found.append(item.name)
                    if len(found) == MAX_NAMES:
                        break
        except (FileNotFoundError, NotADirectoryError):
            pass
        return sorted(found)

    def state(self, name: str) -> tuple[int, int]:
        """Return size and time of last change."""
        status = (self.root / name).lstat()
        return status.st_size, status.st_mtime_ns

    def read(self, name: str, cap: int) -> bytes:
        """Read a file."""
        return read_plain(self.root / name, cap)

    def put(self, name: str, data: bytes) -> None:
        """Write a file under its name: proved, durable and whole, or not at all."""
        path = self.root / name
        with folder_within(self.root.parent, self.root.name, *name.split("/")[:-1]) as folder:
            write_new(path, data, mode=0o666, mark=self._mark, prove=True, folder=folder)

    def remove(self, name: str) -> None:
        """Take a mark away."""
        (self.root / name).unlink(missing_ok=True)

    def check_there(self) -> None:
        """Raise OSError if the address is gone."""
        self.root.parent.stat()

    def sweep(self, older_than_s: float) -> None:
        """Remove what a killed sync of this machine left long ago; never another's."""
        for writer in writer_folders(self.root):
            sweep(self.root / writer, self._mark, older_than_s)

    def close(self) -> None:
        """Nothing is held."""


def side_by_side(
    at_once: int, items: Iterable[_T], do: Callable[[_T], _R]
) -> Iterator[tuple[_T, _R | Exception]]:
    """Do something with each item, several at once where that is quicker; in the order given.

    Args:
        at_once: How many; 1 does them one after the other, without threads.
        items: The items.
        do: What is done; an exception is handed on as the result.
    """

    def tried(item: _T) -> tuple[_T, _R | Exception]:
        try:
            return item, do(item)
        except Exception as error:
            return item, error

    if at_once == 1:
        yield from map(tried, items)
        return
    jobs: SimpleQueue[tuple[_T, Future[tuple[_T, _R | Exception]]] | None] = SimpleQueue()
    under_way: deque[Future[tuple[_T, _R | Exception]]] = deque()
    threads: list[Thread] = []

    def work() -> None:
        while (job := jobs.get()) is not None:
            item, done = job
            if done.set_running_or_notify_cancel():
                done.set_result(tried(item))

    try:
        for item in items:
            done: Future[tuple[_T, _R | Exception]] = Future()
            jobs.put((item, done))
            under_way.append(done)
            if len(threads) < at_once:  # of a pool, the end of the program would wait
                threads.append(Thread(target=work, name="carrier", daemon=True))
                threads[-1].start()
            if len(under_way) == 2 * at_once:
                yield under_way.popleft().result()
        while under_way:
            yield under_way.popleft().result()
    finally:
        for left in under_way:
            left.cancel()
        for _ in threads:
            jobs.put(None)
        for thread in threads:
            thread.join()
