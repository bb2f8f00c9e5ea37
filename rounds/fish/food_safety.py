"""Fish for raw eating: freezing rules, the farmed-fish exemption, and the fast before harvest.

A rule met or not met is all that is said here; the local food authority decides, and no fish is
called safe to eat raw.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final, Literal

from rounds.water.ranges import within

Raised = Literal["tank", "pond_on_land", "net_pen"]
RAISED: Final = ("tank", "pond_on_land", "net_pen")


def _check(frozen_c: float, hold_c: float, hold_h: float) -> None:
    within("freezing temperature", frozen_c, -200, 40, "degC")
    within("holding temperature", hold_c, -200, 40, "degC")
    within("holding time", hold_h, 0, 1e6, "h")


def meets_us_freezing(frozen_c: float, hold_c: float, hold_h: float) -> bool:
    """Return whether a freezing met the US rule against parasites.

    Args:
        frozen_c: Temperature at which it was frozen until solid, degC, -200 to 40.
        hold_c: Temperature it was then held at, degC, same range.
        hold_h: Hours held there, 0 to 1e6.

    Returns:
        True for -20 degC or below for 168 h; solid at -35 and held at -35 for 15 h; solid at -35
        and held at -20 for 24 h.

    Raises:
        ValueError: An argument is out of range.

    Source: FDA Food Code 3-402.11, as in WAC 246-215-03425.
    """
    _check(frozen_c, hold_c, hold_h)
    slow = frozen_c <= -20 and hold_c <= -20 and hold_h >= 168
    fast = frozen_c <= -35 and (
        (hold_c <= -35 and hold_h >= 15) or (hold_c <= -20 and hold_h >= 24)
    )
    return slow or fast


def meets_eu_freezing(frozen_c: float, hold_c: float, hold_h: float) -> bool:
    """Return whether a freezing met the EU rule against parasites other than flukes.

    Args:
        frozen_c: Temperature at which it was frozen until solid, degC, -200 to 40.
        hold_c: Temperature all through the product, degC, same range.
        hold_h: Hours held there, 0 to 1e6.

    Returns:
        True for -20 degC or below for 24 h, or -35 degC or below for 15 h.

    Raises:
        ValueError: An argument is out of range.

    Source: Commission Regulation (EU) 1276/2011.
    """
    _check(frozen_c, hold_c, hold_h)
    return (hold_c <= -20 and hold_h >= 24) or (hold_c <= -35 and hold_h >= 15)


def us_exemption_may_apply(raised: Raised, ever_fed_live_or_raw: bool) -> bool:
    """Return whether the US exemption from freezing may apply to a lot.

    Args:
        raised: "tank", "pond_on_land" or "net_pen".
        ever_fed_live_or_raw: The lot, or any lot mixed into it, ever had live or raw fish.

    Returns:
        True: may apply, confirm locally. False: do not claim it, and mark the lot for good.

    Raises:
        ValueError: Raised in another way.

    Source: FDA Food Code 3-402.11, as in WAC 246-215-03425.
    """
    if raised not in RAISED:
        raise ValueError(f"raised {raised!r}: allowed is {', '.join(RAISED)}")
    return not ever_fed_live_or_raw


def earliest_harvest(feeds: Sequence[datetime], fast_h: float) -> datetime:
    """Return when a fast before harvest is over; any feed starts it anew.

    Args:
        feeds: Times of feeding, in any order; at least one.
        fast_h: Hours of fast, 0 to 240; a site setting.

    Returns:
        Last feed plus the fast.

    Raises:
        ValueError: No feed known, or the fast out of range.

    Source: common practice.
    """
    within("fast", fast_h, 0, 240, "h")
    if not feeds:
        raise ValueError("no feeding time is known: write down when the fish were last fed")
    return max(feeds) + timedelta(hours=fast_h)
