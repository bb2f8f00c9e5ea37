"""Words of the trade for a first day: what each means here, in a sentence or two."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from msgspec import Struct


class Word(Struct, frozen=True):
    """A word and what it means; `name` holds its short forms too."""

    name: str
    says: str


@cache
def glossary() -> tuple[Word, ...]:
    """Return the words in the order of the alphabet."""
    data = tomllib.loads(Path(__file__).with_name("glossary.toml").read_text("utf-8"))
    words = (Word(name, says) for name, says in data.items())
    return tuple(sorted(words, key=lambda word: word.name.casefold()))
