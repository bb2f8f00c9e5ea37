"""Guards of arguments: one sentence that names the argument, its value, unit and allowed range."""

from __future__ import annotations

import math


def within(name: str, value: float, unit: str, low: float, high: float = math.inf) -> float:
    """Return the value when it lies in the closed range, else refuse it.

    Args:
        name: Name of the argument, as the caller knows it.
        value: The value, finite.
        unit: Its unit; "" for a number without one.
        low: Smallest value allowed.
        high: Greatest value allowed; infinite when there is none.

    Returns:
        The value, unchanged.

    Raises:
        ValueError: Not finite, or outside low to high.
    """
    if math.isfinite(value) and low <= value <= high:
        return value
    allowed = f"{low:g} or more" if math.isinf(high) else f"{low:g} to {high:g}"
    raise ValueError(
        f"{name} {value:g} {unit}".rstrip() + f": allowed is {allowed} {unit}".rstrip()
    )


def positive(name: str, value: float, unit: str) -> float:
    """Return the value when it is finite and above zero, else refuse it.

    Args:
        name: Name of the argument, as the caller knows it.
        value: The value.
        unit: Its unit; "" for a number without one.

    Returns:
        The value, unchanged.

    Raises:
        ValueError: Not finite, zero or negative.
    """
    if math.isfinite(value) and value > 0:
        return value
    raise ValueError(f"{name} {value:g} {unit}".rstrip() + f": allowed is above 0 {unit}".rstrip())
