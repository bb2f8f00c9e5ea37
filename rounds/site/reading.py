"""Reads TOML tables key by key and notes every problem; no problem stops the reading."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping
from datetime import time
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final, TypeVar

from msgspec import Struct

from rounds.text import MAX_TEXT, clean
from rounds.units import UnitError, quantity

_CODE: Final = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_HOURS: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)\s*-\s*([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)
REQUIRED: Final = object()
"""The default of a key that must be there."""
Word = TypeVar("Word", bound=str)


class Problem(Struct, frozen=True):
    """One thing wrong in a site's files: where it is, what it says, what is allowed."""

    file: str
    table: str
    key: str
    value: str
    allowed: str

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.file, self.table) if part)
        what = " = ".join(part for part in (self.key, self.value) if part)
        return ": ".join(part for part in (where, what, self.allowed) if part)


class SiteErrors(ValueError):
    """Everything that is wrong in a site's files, at once."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


class Table:
    """One table of a file. Each method reads a key and marks it as known; `close` tells the rest.

    A key that is missing or wrong is noted in `problems` and read as a stand-in, so that one
    reading finds everything; whoever opened the problems raises them at the end.
    """

    def __init__(self, data: object, file: str, name: str, problems: list[Problem]) -> None:
        self.file, self.name, self.problems = file, name, problems
        self.data: dict[str, Any] = data if isinstance(data, dict) else {}
        self._known: set[str] = set()
        if not isinstance(data, dict):
            self.problem("", data, "must be a table")

    @property
    def _prefix(self) -> str:
        return f"{self.name}, " if self.name else ""

    def problem(self, key: str, value: object, allowed: str) -> None:
        """Note a problem with a key of this table; `value` None says the key is missing."""
        shown = "" if value is None else clean(_toml(value), limit=60)
        self.problems.append(Problem(self.file, self.name, clean(key, limit=40), shown, allowed))

    def take(self, key: str, default: object = REQUIRED, allowed: str = "") -> Any:
        """Return a key's raw value, or the default; a missing key without one is a problem."""
        self._known.add(key)
        if key in self.data:
            return self.data[key]
        if default is REQUIRED:
            self.problem(key, None, f"is missing: {allowed}" if allowed else "is missing")
            return None
        return default

    def has(self, key: str) -> bool:
        """Tell whether the key is there."""
        return key in self.data

    def text(self, key: str, default: object = REQUIRED, allowed: str = "") -> str:
        """Return one line of clean text, or a long one for what people must read."""
        value = self.take(key, default, allowed or "a text in quotes")
        if value is None:
            return ""
        if not isinstance(value, str):
            self.problem(key, value, allowed or "must be a text in quotes")
            return ""
        if default is REQUIRED and not value.strip():
            self.problem(key, value, "must not be empty")
        return clean(value, limit=MAX_TEXT)

    def texts(self, key: str, default: object = REQUIRED, allowed: str = "") -> tuple[str, ...]:
        """Return a list of texts; a single text is a list of one."""
        value = self.take(key, default, allowed or 'a list of texts, such as ["one", "two"]')
        if isinstance(value, str):
            value = [value]
        if value is None:
            return ()
        if not isinstance(value, list | tuple) or not all(isinstance(item, str) for item in value):
            self.problem(key, value, allowed or 'must be a list of texts, such as ["one", "two"]')
            return ()
        return tuple(clean(item, limit=MAX_TEXT) for item in value)

    def code(self, key: str = "code", longest: int = 12) -> str:
        """Return a code people type."""
        rule = f"1 to {longest} of the letters A-Z a-z, digits, - and _"
        value = self.take(key, allowed=rule)
        if value is None:
            return ""
        if not isinstance(value, str) or not _CODE.fullmatch(value) or len(value) > longest:
            self.problem(key, value, f"must be {rule}")
            return ""
        return value

    def word(self, key: str, words: Collection[Word], default: object = REQUIRED) -> Word:
        """Return one of a closed list of words; the nearest is named when it is not."""
        value = self.take(key, default, f"one of {', '.join(words)}")
        if key in self.data and value not in words:
            self.problem(key, value, nearest(value, words))
            value = ""
        chosen: Word = value
        return chosen

    def number(
        self, key: str, unit: str, low: float, high: float, default: float | None = None
    ) -> float:
        """Return a quantity in `unit`, written as a number or as text with a unit."""
        found = self.maybe(key, unit, low, high)
        if key in self.data or default is None:
            if key not in self.data:
                self.problem(key, None, f"is missing: {_wanted(unit)}")
            return 0.0 if found is None else found
        return default

    def maybe(self, key: str, unit: str, low: float, high: float) -> float | None:
        """Return a quantity in `unit`, or None where the key is missing."""
        value = self.take(key, None)
        if value is None:
            return None
        kinds = int | float if unit == "1" else int | float | str
        if isinstance(value, bool) or not isinstance(value, kinds):
            self.problem(key, value, f"must be {_wanted(unit)}")
            return None
        try:
            number = quantity(value, unit)
        except UnitError as error:
            self.problem(key, value, clean(str(error)))
            return None
        except OverflowError:
            number = float("inf")
        if not low <= number <= high:
            self.problem(key, value, f"must be from {low:g} to {high:g} {_named(unit)}".rstrip())
            return None
        return number

    def fraction(self, key: str) -> float | None:
        """Return a fraction: a number from 0 to 1, or text in percent such as "99 %"."""
        if isinstance(self.data.get(key), str):
            percent = self.maybe(key, "%", 0, 100)
            return None if percent is None else percent / 100
        return self.maybe(key, "1", 0, 1)

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """Return a whole number."""
        rule = f"a whole number from {low} to {high}"
        value = self.take(key, REQUIRED if default is None else default, rule)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        if value is not None:
            self.problem(key, value, f"must be {rule}")
        return low

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self.take(key, default)
        if not isinstance(value, bool):
            self.problem(key, value, "must be true or false")
        return bool(value)

    def hours(self, key: str) -> tuple[time, time] | None:
        """Return a part of the day such as "06:00-18:00", or None where none is given."""
        value = self.take(key, None)
        if value is None:
            return None
        found = _HOURS.fullmatch(value) if isinstance(value, str) else None
        if not found:
            self.problem(key, value, 'must be hours of the day such as "06:00-18:00"')
            return None
        a, b, c, d = (int(part) for part in found.groups())
        return time(a, b), time(c, d)

    def table(self, key: str) -> Table:
        """Return a table under this one; an absent one is empty."""
        return Table(self.take(key, {}), self.file, f"{self._prefix}[{key}]", self.problems)

    def tables(self, key: str, label: str = "code") -> list[Table]:
        """Return the tables of an array of tables, each named by its number and its label."""
        value = self.take(key, [])
        if not isinstance(value, list):
            self.problem(key, value, f"must be written as [[{key}]]")
            return []
        found = []
        for number, data in enumerate(value, 1):
            name = f"{self._prefix}[[{key}]] {number}"
            if not isinstance(data, dict):
                self.problem(key, data, f"must be written as [[{key}]]")
                continue
            said = data.get(label)
            shown = f" ({clean(said, limit=20)})" if isinstance(said, str) else ""
            found.append(Table(data, self.file, name + shown, self.problems))
        return found

    def close(self) -> None:
        """Note every key nobody asked for, with the nearest key that exists."""
        for key in self.data:
            if key not in self._known:
                self.problem(key, None, f"unknown key: {nearest(key, sorted(self._known))}")


def nearest(value: object, allowed: Collection[str]) -> str:
    """Say what is allowed instead of a word, the nearest one first."""
    names = ", ".join(allowed) or "nothing"
    folded = {name.casefold(): name for name in allowed}
    matches = get_close_matches(str(value).casefold(), list(folded), n=1)
    return (
        f"did you mean {folded[matches[0]]}? Allowed: {names}" if matches else f"allowed: {names}"
    )


def read_toml(path: Path, file: str, problems: list[Problem]) -> dict[str, Any] | None:
    """Return a TOML file's content, or None with its problem noted."""
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError:
        problems.append(Problem(file, "", "", "", "must be saved as UTF-8 text"))
    except (ValueError, RecursionError) as error:
        said = clean(str(error), limit=160)
        found = re.search(r"\(at line (\d+), column \d+\)", said)
        where = f"line {found[1]}" if found else "at its end"
        said = re.sub(r"\s*\(at .*\)$", "", said)
        problems.append(Problem(file, where, "", "", f"cannot be read as TOML: {said}"))
    except OSError as error:
        problems.append(Problem(file, "", "", "", f"cannot be read: {error.strerror}"))
    return None


def unique(codes: Mapping[str, object], code: str, table: Table) -> bool:
    """Tell whether a code is new (capitals do not count); note a problem where it is not."""
    if not code:
        return False
    if code.casefold() in {other.casefold() for other in codes}:
        table.problem("code", code, "is there twice: every code must differ, capitals do not count")
        return False
    return True


def _named(unit: str) -> str:
    return "" if unit == "1" else unit


def _wanted(unit: str) -> str:
    return f'a number in {unit}, or text such as "2 {unit}"' if _named(unit) else "a number"


def _toml(value: object) -> str:
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, bool):
        return str(value).lower()
    return str(value)
