"""Amounts as a scale or a water meter shows them, split into portions that add up exactly."""

from __future__ import annotations

from typing import Final

from rounds.water.ranges import within

PH_RISE_PER_PORTION: Final = 0.1  # common practice
PH_CEILING: Final = 8.5  # common practice
PH_READ_AFTER_MIN: Final = 30  # after a portion of alkali; common practice


def portions(amount: float, count: int) -> tuple[float, ...]:
    """Return an amount, rounded down to what is weighed, split into nearly equal portions.

    Grams or litres: by 1 below 1,000, by 10 below 20,000, by 100 above. Rounding is down, so that
    a limit is never passed; later portions are the larger ones by one step at most.

    Args:
        amount: Grams or litres, 0 to 1e9.
        count: Wanted number of portions, 1 to 100; fewer where the amount has fewer steps.

    Returns:
        The portions, whole numbers whose sum is the rounded amount; empty when it rounds to 0.

    Raises:
        ValueError: Outside the range.
    """
    within("amount", amount, 0, 1e9)
    within("number of portions", count, 1, 100)
    step = 1 if amount < 1000 else 10 if amount < 20_000 else 100
    units = int(amount / step + 1e-9)
    count = min(count, units)
    if count == 0:
        return ()
    each, extra = divmod(units, count)
    return tuple(float(step * (each + (n >= count - extra))) for n in range(count))
