"""Which version of an entry counts: corrections by reference, never by time.

A correction names what it corrects and the corrections its author had seen. One that others have
seen is superseded; two that have not seen each other are a conflict, and neither counts until a
third names both. Of a reading the worse side counts so long, by the verdict it was given: nobody
is to feed on a quarrel.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Final

import msgspec

from rounds.day.fold.state import Conflict
from rounds.records.entry import Correction, Entry, Reading

_WORSE: Final = {"watch": 1, "act": 2}
KEPT: Final = frozenset({"id", "t", "off", "day", "mono", "by", "h", "kind"})
"""Keys of an entry that no correction can set: they say who wrote what, and when."""


def by_target(entries: Iterable[Entry]) -> dict[str, tuple[Correction, ...]]:
    """Return the corrections of each entry, in the order of their ids.

    A correction of a correction counts as one of the entry itself, having seen what it names.
    """
    corrections = {entry.id: entry for entry in entries if isinstance(entry, Correction)}
    of: defaultdict[str, list[Correction]] = defaultdict(list)
    for _, correction in sorted(corrections.items()):
        target, passed = correction.of, {correction.id}
        while target in corrections and target not in passed:
            passed.add(target)
            target = corrections[target].of
        seen = [*correction.after, *(passed - {correction.id})]
        of[target].append(msgspec.structs.replace(correction, after=seen))
    return {target: tuple(group) for target, group in of.items()}


def effective(
    entry: Entry, corrections: tuple[Correction, ...]
) -> tuple[Entry | None, Conflict | None]:
    """Return the entry as its corrections leave it, None when it is void, and any conflict.

    In a conflict the corrections that every side had seen count, the sides themselves do not, but
    for a side of a reading whose verdict is worse.
    """
    if not corrections:
        return entry, None
    known = {c.id: c for c in corrections}
    seen = {c.id: _ancestors(c, known) for c in corrections}
    heads = [c for c in corrections if not any(c.id in seen[other] for other in seen)]
    if len(heads) > 1:
        shared = set.intersection(*(seen[head.id] for head in heads))
        conflict = Conflict(entry.id, tuple(head.id for head in heads))
    else:
        shared, conflict = set(known), None
    current, void = entry, False
    for correction in sorted((known[i] for i in shared), key=lambda c: (len(seen[c.id]), c.id)):
        void = correction.void
        current = _applied(current, correction)
    if conflict is not None and isinstance(current, Reading):
        sides = [current, *(_applied(current, head) for head in heads if not head.void)]
        worse = max(sides, key=lambda one: _WORSE.get(getattr(one, "verdict", ""), 0))
        if worse is not current and worse != current:
            current, void = worse, False
    return (None if void else current), conflict


def _ancestors(correction: Correction, known: Mapping[str, Correction]) -> set[str]:
    found: set[str] = set()
    pending = list(correction.after)
    while pending:
        name = pending.pop()
        if name in known and name not in found and name != correction.id:
            found.add(name)
            pending.extend(known[name].after)
    return found


def _applied(entry: Entry, correction: Correction) -> Entry:
    changes = {k: v for k, v in correction.set.items() if k not in KEPT}
    if not changes:
        return entry
    try:
        changed = msgspec.convert({**msgspec.to_builtins(entry), **changes}, type(entry))
        _ = changed.at  # a time that cannot be read makes the whole correction unreadable
    except ValueError:
        return entry
    return changed
