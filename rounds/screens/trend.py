"""The last readings of a place drawn in signs every terminal has, with their figures beside."""

from __future__ import annotations

from collections.abc import Sequence

_STEPS = "_.:-=+*#"


def trend(values: Sequence[float]) -> str:
    """Return one sign a value, from "_" for the lowest to "#" for the highest."""
    if not values:
        return ""
    low, high = min(values), max(values)
    if high == low:
        return "-" * len(values)
    top = len(_STEPS) - 1
    return "".join(_STEPS[round((value - low) / (high - low) * top)] for value in values)
