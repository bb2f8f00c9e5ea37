"""Which lines of a site's files another version changes, to read before it is taken over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from itertools import takewhile, zip_longest
from typing import Final

from rounds.site.files import FILE
from rounds.site.versions import Version
from rounds.text import clean

_SHOWN: Final = 60
"""Lines told of one file."""
_ALL: Final = 400
"""Lines told of all files, but for two of each further one."""
_MATCHED: Final = 1000
"""Lines of a stretch that are matched; in a longer one of a hostile file that could take hours."""
_MATCHED_ALL: Final = 4000
_AROUND: Final = 5
"""Same lines left around a stretch: a line that stands there often is matched beside a rare one."""
_LONGEST: Final = 500
"""Characters of a line; a longer one does not travel."""


def difference(old: Version, new: Version) -> tuple[str, ...]:
    """Return the lines a version takes away ("- "), brings ("+ ") and keeps around them ("= ").

    Args:
        old: The version in use.
        new: The one to take over; from anyone, so its text comes out clean.

    Returns:
        site.toml first; of each file at most 60 lines, and how many more there are.
    """
    told: list[str] = []
    left = _MATCHED_ALL
    for name in sorted(old.files.keys() | new.files.keys(), key=lambda name: (name != FILE, name)):
        before, after = _lines(old, name), _lines(new, name)
        if before == after:
            continue
        matched = max(len(before), len(after)) if left > 0 else 0
        left -= matched
        lines = list(_differing(before, after, min(matched, _MATCHED)))
        room = max(0, min(_SHOWN, _ALL - len(told)))
        told += [f"{name}:", *(clean(line, limit=_LONGEST + 2) for line in lines[:room])]
        if len(lines) > room:
            told.append(f"and {len(lines) - room} more lines of {name}")
    return tuple(told)


def _lines(version: Version, name: str) -> list[str]:
    text = version.files.get(name, "")
    return text.removesuffix("\n").split("\n") if text else []


def _differing(before: Sequence[str], after: Sequence[str], most: int) -> Iterator[str]:
    """Yield what differs; of stretches longer than `most` without a look for lines that moved."""
    first = max(0, _alike(before, after) - _AROUND)
    before, after = before[first:], after[first:]
    last = max(0, _alike(before[::-1], after[::-1]) - _AROUND)
    before, after = before[: len(before) - last], after[: len(after) - last]
    if max(len(before), len(after)) > most:
        yield f"from line {first + 1}"
        for gone, come in zip_longest(before, after):
            yield from [f"- {gone}"] * (gone != come and gone is not None)
            yield from [f"+ {come}"] * (gone != come and come is not None)
        return
    for group in SequenceMatcher(None, before, after).get_grouped_opcodes(1):
        yield f"from line {first + group[0][3] + 1}"
        for tag, a, b, c, d in group:
            if tag == "equal":
                yield from (f"= {line}" for line in after[c:d])
            else:
                yield from (f"- {line}" for line in before[a:b])
                yield from (f"+ {line}" for line in after[c:d])


def _alike(before: Sequence[str], after: Sequence[str]) -> int:
    """Return with how many same lines both begin."""
    pairs = zip(before, after, strict=False)
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], pairs))
