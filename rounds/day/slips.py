"""What is kept only when the person says that it is meant: ten times too much, or too soon."""

from __future__ import annotations

from typing import Final

MUCH: Final = 1.5
"""More than this many times what is advised, or left of the day, is asked about."""
LITTLE: Final = 0.1


class Unsure(ValueError):
    """A likely slip, in one sentence; the same call with `confirmed=True` keeps it."""


def amount_slip(given: float, portion: float, left: float, unit: str, one: str, day: str) -> str:
    """Tell what looks wrong about an amount somebody typed.

    Args:
        given: What was typed, in `unit`.
        portion: What is advised now; 0 for nothing.
        left: What is left of the day.
        unit: "g" or "L".
        one: What the portion is called: "meal".
        day: What is left is of this: "day's ration".

    Returns:
        One question; empty where nothing is strange.
    """
    said, usual = f"{given:g} {unit}", f"the {one} of {portion:g} {unit}"
    if 0 < given <= LITTLE * portion:
        part = "a tenth" if given > 0.08 * portion else f"only {given / portion:.1%}"
        return f"{said} is {part} of {usual}: a decimal point?"
    if given <= MUCH * max(portion, left):
        return ""
    for ten in (10, 100, 1000):
        if 0.8 * ten <= given / (portion or given) <= 1.25 * ten:
            about = "" if abs(given / portion / ten - 1) < 0.01 else "about "
            return f"{said} is {about}{ten} times {usual}: a decimal point?"
    if left <= 0:
        return f"{said}, and nothing is left of the {day}: is it meant?"
    return f"{said} is more than the whole {day}, {left:g} {unit} are left: is it meant?"
