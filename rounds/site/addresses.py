"""Reads the [[sync]] tables: where the laptops of a site meet, and how often."""

from __future__ import annotations

from collections.abc import Iterable

from rounds.address import Address, AddressError, is_whole, read_address
from rounds.site.model import SyncAddress
from rounds.site.reading import Table

_MOST = 8


def read_sync(tables: Iterable[Table]) -> tuple[SyncAddress, ...]:
    """Read the [[sync]] tables; a secret in one is a problem, and is not repeated."""
    found: dict[str, SyncAddress] = {}
    for table in tables:
        name = table.code("name", longest=20)
        address = _address(table)
        every_min = table.number("every", "min", 1, 7 * 24 * 60, 15.0)
        table.close()
        if len(found) == _MOST:
            table.problem("name", name, f"is one too many: at most {_MOST} addresses")
        elif name.casefold() in {other.casefold() for other in found}:
            table.problem("name", name, "is there twice: every name must differ")
        elif name and address is not None:
            found[name] = SyncAddress(name, address, every_min)
    return tuple(found.values())


def _address(table: Table) -> Address | None:
    said = table.take("address", allowed='a folder or a URL, such as "sftp://host/srv/rounds"')
    if said is None:
        return None
    if not isinstance(said, str):
        table.problem("address", said, "must be a text in quotes")
        return None
    try:
        address = read_address(said)
    except AddressError as error:
        table.problem("address", None, str(error))
        return None
    if not is_whole(address):
        shown = None if "@" in said or ":" in said[2:] else said  # scp's way may hold a password
        table.problem("address", shown, "must be a whole path, such as /media/stick or E:\\rounds")
        return None
    return address
