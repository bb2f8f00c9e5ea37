"""A number half typed: whether typing on can still make it one that needs no second look."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from typing import Final

from rounds.day.larvae.look import JUDGED, WANTED
from rounds.day.walking.plausible import likeness
from rounds.site.measures import MEASURES
from rounds.site.model import Limits, Step
from rounds.units import convert

_HALF: Final = re.compile(r"([+-]?)([0-9]*)(?:([.,])([0-9]*))?", re.ASCII)
_MOST_DIGITS: Final = 9


def still_typing(text: str, spans: Iterable[tuple[float, float]], decimals: int) -> bool:
    """Tell whether digits typed behind a number can bring it into one of the spans.

    Args:
        text: What stands in the field so far.
        spans: Lowest and highest of the values that are likely, in the unit typed.
        decimals: Digits usually typed behind the point, 0 or more: with these it is complete.

    Returns:
        True for "2" of 24.9; False for what is complete, and where nothing typed on would help.
    """
    match = _HALF.fullmatch(text.strip())
    if match is None or not match[0]:
        return False
    sign, whole, mark, part = match[1], match[2], match[3] or "", match[4] or ""
    if part and len(part) >= decimals:
        return False
    around = [(-high, -low) if sign == "-" else (low, high) for low, high in spans]
    if not whole and not mark:
        return any(high > 0 for _, high in around)
    if mark:
        reached = [(float(f"{whole or 0}.{part or 0}"), 10.0 ** -len(part))]
    else:
        more = _MOST_DIGITS - len(whole) if int(whole) else 0
        reached = [(int(whole) * 10.0**n, 10.0**n) for n in range(0 if decimals else 1, more + 1)]
    return any(at < high and at + step > low for at, step in reached for low, high in around)


def decimals(step: Step) -> int:
    """Return how many digits are usually typed behind the point at a step."""
    if step.check is not None:
        return 0 if step.check.finds == "slope" else MEASURES[step.check.measure].decimals
    return MEASURES[step.measure].decimals if step.measure else 0


def likely(
    step: Step, unit: str, limits: Limits | None, last: float | None, typed: Decimal | None
) -> list[tuple[float, float]]:
    """Return where a value typed at a step would lie as a rule.

    Args:
        step: The step.
        unit: The unit it is typed in.
        limits: What governs its measure here, if anything does.
        last: The last reading here, in the measure's unit.
        typed: The number typed so far.

    Returns:
        Lowest and highest of each span, in the unit typed: the band aimed at, and what is near
        the last reading, unless the number is near it as it stands.
    """
    if step.check is not None:
        return [step.check.good]
    if step.measure is None:
        return [(WANTED / 2, WANTED)] if step.code in JUDGED else []
    info = MEASURES[step.measure]
    low, high = (limits.target_low, limits.target_high) if limits else (None, None)
    low = next(one for one in (low, info.suspicious_low, info.impossible_low) if one is not None)
    high = next(
        one for one in (high, info.suspicious_high, info.impossible_high) if one is not None
    )
    spans = [(low, high)]
    if last:
        width = likeness(info, last)
        now = None if typed is None else convert(float(typed), unit, info.unit)
        if now is None or abs(now - last) > width:
            spans.append((last - width, last + width))
    return [(convert(a, info.unit, unit), convert(b, info.unit, unit)) for a, b in spans]
