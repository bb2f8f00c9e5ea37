"""Reaching an address, and saying in a sentence what failed there."""

from __future__ import annotations

import errno
import os
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rounds.address import Address, AddressError, read_address
from rounds.records import identity
from rounds.records.carrying import Carrier, FolderCarrier, NoWay


class SyncFailed(Exception):
    """The sync did not end. The message is a sentence or two; what was carried stays."""


class NotThere(SyncFailed):
    """The address does not answer: the stick is out, the network is down."""


def read(address: Address | Path | str) -> Address:
    """Return an address as it is reached: a folder by its whole path.

    Raises:
        SyncFailed: It is none.
    """
    if isinstance(address, str):
        try:
            address = read_address(address)
        except AddressError as error:
            raise SyncFailed(f"The address {error}.") from None
    if isinstance(address, Address) and address.scheme:
        return address
    place = Path(address.path if isinstance(address, Address) else address)
    try:
        return Address("", os.path.abspath(place.expanduser()))
    except (RuntimeError, OSError):  # no home, no folder to be in
        return Address("", str(place))


def reach(folder: Path, site_id: str, address: Address) -> Carrier:
    """Reach an address. Nothing should be locked meanwhile: it may take its time.

    Args:
        folder: The site's folder.
        site_id: Its id.
        address: The address.

    Raises:
        NotThere: It does not answer.
        SyncFailed: It cannot be used.
    """
    if address.scheme:
        from rounds.records.remote import opened

        try:
            return opened(address, site_id, identity.machine())
        except NoWay as error:
            raise SyncFailed(f"{address.text} {error}.") from None
        except OSError as error:
            raise NotThere(sentence(address.text, error)) from None
    place = Path(address.path)
    if not _is_folder(place):
        raise NotThere(f"{place} is not there: put the stick in or connect the share, then sync.")
    if (place / site_id).resolve().is_relative_to(folder.resolve()):
        raise SyncFailed(f"{place} lies in the site's own folder: name a stick or a share.")
    if (place / site_id).is_symlink():
        raise SyncFailed(f"{place / site_id} is a link: name the folder it stands for.")
    return FolderCarrier(place / site_id, identity.machine())


def same_disk(folder: Path, address: Address) -> bool:
    """Tell whether a folder lies on the disk that the site lies on: one fault takes both.

    Args:
        folder: The site's folder.
        address: The address; one that is no folder is elsewhere.
    """
    try:
        return not address.scheme and os.stat(address.path).st_dev == os.stat(folder).st_dev
    except OSError:
        return False


def _is_folder(place: Path) -> bool:
    try:
        return place.is_dir()
    except OSError:
        return False


@contextmanager
def said(what: str, so_far: Callable[[], str]) -> Iterator[None]:
    """Turn an error of the system into a sentence about what failed and what is safe."""
    try:
        yield
    except NoWay as error:
        raise SyncFailed(f"{what} {error}.{so_far()}") from None
    except OSError as error:
        raise SyncFailed(sentence(what, error) + so_far()) from error


def sentence(what: str, error: OSError, then: str = "sync again") -> str:
    """Say what an error of the system means for who stands before it, and what to do.

    Args:
        what: The address, or the disk.
        error: The error.
        then: What to do after the remedy.
    """
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{what} is full: free some space, then {then}."
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return f"{what} cannot be written: take off its write protection or ask whose it is."
    if isinstance(error, TimeoutError | ConnectionError | socket.gaierror) or error.errno in (
        errno.EHOSTUNREACH,
        errno.ENETUNREACH,
    ):
        return f"{what} does not answer: is the network up?"
    if error.errno in (errno.ENOENT, errno.EIO, errno.ENODEV, errno.ENXIO, errno.ENOTCONN):
        return f"{what} is gone or failing: make sure it is there, then {then}."
    return f"{what} answered '{error.strerror or error}': {then}."
