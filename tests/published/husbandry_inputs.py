"""The inputs of a row of husbandry_checks.csv, and the words its results are told in."""

from __future__ import annotations

Result = float | str | None | tuple[float, ...]


class Inputs:
    """The `key=value;key=value` of a row: numbers by key, lists and words on request."""

    def __init__(self, text: str) -> None:
        self.words = dict(pair.split("=", 1) for pair in text.split(";") if pair)

    def __getitem__(self, key: str) -> float:
        return float(self.words[key])

    def get(self, key: str, default: float) -> float:
        return float(self.words.get(key, default))

    def numbers(self, key: str) -> list[float]:
        return [float(word) for word in self.words[key].split("|")]

    def whole(self, key: str) -> list[int]:
        return [int(word) for word in self.words[key].split("|")]

    def points(self, key: str) -> list[tuple[float, ...]]:
        return [tuple(map(float, word.split(":"))) for word in self.words[key].split("|")]

    def part(self, key: str) -> float:
        return self[key] / 100

    def ends(self, key: str) -> tuple[float, float]:
        found = self.numbers(key)
        return found[0], found[-1]

    def daily(self, key: str) -> list[float | None]:
        return [None if w == "missing" else float(w) for w in self.words[key].split("|")]


def flag(raised: bool) -> str:
    return "flag" if raised else "ok"


def known_or(value: float | None, word: str = "not_meaningful") -> float | str:
    return word if value is None else value
