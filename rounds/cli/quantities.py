"""Amounts as they are typed on the command line: a number, or a number with its unit."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from typing import Final

from rounds.text import NumberError, number, plain
from rounds.units import UnitError, quantity

_ANIMALS: Final = re.compile(r"\s*([0-9.,]+)(?:[eE]\+?([0-9]{1,2})|\s*(million))?\s*", re.ASCII)
_AMOUNT: Final = re.compile(r"\s*([+-]?[0-9.,]+)\s*(.*)", re.ASCII | re.DOTALL)


def amount(unit: str) -> Callable[[str], float]:
    """Return a reader of one quantity: a number in `unit`, or a number with its own unit."""

    def read(text: str) -> float:
        found = _AMOUNT.fullmatch(text)
        try:
            if found is None:
                raise UnitError(f"{text!r} is not a number, or a number with a unit (1.5 {unit})")
            return quantity(f"{plain(number(found[1]))} {found[2]}", unit)
        except (UnitError, NumberError) as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return read


def animals(text: str) -> float:
    """Read a number of animals: "12000000", "12e6" or "12 million"."""
    found = _ANIMALS.fullmatch(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text} is no number of animals, such as 12e6")
    power = 6 if found[3] else int(found[2] or 0)
    return amount("1")(found[1]) * 10.0**power


def fraction(text: str) -> float:
    """Read a purity: a fraction from 0 to 1, or percent ("99 %")."""
    value = amount("%")(text) / 100 if "%" in text else amount("1")(text)
    if not 0 < value <= 1:
        raise argparse.ArgumentTypeError(f"{text} is not a fraction from 0 to 1 (or 99 %)")
    return value
