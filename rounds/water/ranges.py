"""Two small tools of every equation: refuse what lies outside its range, and find a root."""

from __future__ import annotations

from collections.abc import Callable


def within(name: str, value: float, low: float, high: float, unit: str = "") -> None:
    """Refuse a value outside the range of an equation.

    Args:
        name: The argument in the trade's words, "temperature".
        value: Its value.
        low: Least value allowed.
        high: Greatest value allowed.
        unit: The unit, as text; empty for a number without one.

    Raises:
        ValueError: Outside, or not a number; the text names value, unit and allowed range.
    """
    if not low <= value <= high:
        after = f" {unit}" if unit else ""
        raise ValueError(f"{name} {value:g}{after} is outside {low:g} to {high:g}{after}")


def root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function crosses zero, by bisection to the last digits.

    Args:
        rising: A function that never falls between `low` and `high`.
        low: Where it is below zero, or zero.
        high: Where it is above zero, or zero.

    Returns:
        The crossing, within (high - low) / 2**60.
    """
    for _ in range(60):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2
