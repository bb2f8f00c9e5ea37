"""Laptops that come and go: who took one in, who said that one is no longer in use."""

from __future__ import annotations

from rounds.day.fold.farm import Farm
from rounds.records.entry import Laptop, stamp


class CannotRetire(Exception):
    """The laptop stays in use; the message says why in a sentence."""


def enrolled(farm: Farm, writer: str) -> Laptop:
    """Return the entry that says that a laptop was taken in.

    Args:
        farm: The farm.
        writer: The laptop.
    """
    heard = farm.heard.get(writer)
    return Laptop(laptop=writer, event="enrolled", last=stamp(heard.at) if heard else "")


def retirable(farm: Farm, here: str) -> tuple[str, ...]:
    """Return the other laptops that are in use, those heard longest ago first."""
    others = [one for one in farm.heard.values() if one.writer not in (here, *farm.retired)]
    return tuple(one.writer for one in sorted(others, key=lambda one: (one.at, one.writer)))


def retired(farm: Farm, writer: str, here: str) -> Laptop:
    """Return the entry that says that a laptop is no longer in use.

    Its entries stay. It is awaited no more, is no place where entries are safe, and its site files
    count no more; all that ends with the next entry it writes.

    Args:
        farm: The farm.
        writer: The laptop.
        here: This laptop.

    Raises:
        CannotRetire: It is this laptop, is retired already, or never wrote.
    """
    if writer == here:
        raise CannotRetire(f"{writer} is this laptop: say it on one that stays in use.")
    if writer in farm.retired:
        raise CannotRetire(f"Laptop {writer} is retired already.")
    if writer not in farm.heard:
        others = ", ".join(retirable(farm, here)) or "there is no other"
        raise CannotRetire(f"No laptop {writer!r} has written here: {others}.")
    return Laptop(laptop=writer, event="retired", last=stamp(farm.heard[writer].at))
