"""A meal, a portion or any other entry that was a mistake, taken back: the old line stays."""

from __future__ import annotations

from typing import Final

from rounds.day.fold.farm import Farm
from rounds.records.entry import Correction

UNDO_WHYS: Final = ("pressed by mistake", "wrong tank or loop", "typed wrong", "not given")
"""Reasons one digit away."""


def void(farm: Farm, entry_id: str, why: str) -> Correction:
    """Draft the correction that takes an entry back, as if it had never been.

    Args:
        farm: The farm.
        entry_id: What is taken back: `FedAt.id`, `DosedAt.id`, `ExchangedAt.id`.
        why: The person's reason.

    Returns:
        The draft; it has seen every correction of the entry that is on record.

    Raises:
        ValueError: No reason, no such entry, or it is taken back already.
    """
    entry = farm.as_written(entry_id)
    if entry is None or isinstance(entry, Correction):
        raise ValueError("There is no such entry to take back.")
    if farm.entry(entry_id) is None:
        raise ValueError("It is taken back already.")
    if not why.strip():
        raise ValueError("Say why it is taken back.")
    after = list(farm.corrections_of(entry_id))
    return Correction(of=entry_id, after=after, void=True, why=why.strip(), day=entry.day)
