"""The fluidised sand bed: how far it is expanded."""

from __future__ import annotations

from typing import Final, Literal

from rounds.water.ranges import within

LOW_PERCENT: Final = 20.0  # common practice
HIGH_PERCENT: Final = 120.0  # common practice
SITE_BAND_PERCENT: Final = (40.0, 100.0)  # from memory, until the site sets its own


def expansion_percent(settled_m: float, running_m: float) -> float:
    """Return how far a sand bed is expanded, %.

    Args:
        settled_m: Height of the bed at rest, m, 0.01 to 20.
        running_m: Height running, m, 0 to 20.

    Returns:
        100 (H - H0) / H0.

    Raises:
        ValueError: An argument is out of range.

    Source: definition.
    """
    within("settled bed", settled_m, 0.01, 20, "m")
    within("running bed", running_m, 0, 20, "m")
    return round(100 * running_m / settled_m - 100, 9)


def expansion_verdict(
    percent: float, band_percent: tuple[float, float] = SITE_BAND_PERCENT
) -> Literal["ok", "watch", "act"]:
    """Return the verdict on an expansion.

    Args:
        percent: Expansion, -100 to 2000 %.
        band_percent: The site's set-points, low and high, %.

    Returns:
        "act" below 20 % (clogged nozzle, flow down) or above 120 % (sand lost), "watch" outside
        the site's band, else "ok".

    Raises:
        ValueError: The expansion is out of range.

    Source: common practice.
    """
    within("expansion", percent, -100, 2000, "%")
    if not LOW_PERCENT <= percent <= HIGH_PERCENT:
        return "act"
    low, high = band_percent
    return "ok" if low <= percent <= high else "watch"
