"""Minutes of air in words: how long a tank lasts if air or flow stops, the shorter one first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from rounds.day.loops.air import AirLine, Case, in_minutes
from rounds.day.when import spoken
from rounds.reports.told import Told, measured

MOST = 6
"""Tanks told on a card; the sheet has them all."""


def air(one: AirLine, now: datetime, zone: ZoneInfo) -> Told:
    """Tell how long a tank or loop lasts from now, with each supply off.

    Args:
        one: Its minutes of air.
        now: The present.
        zone: The site's time zone.
    """
    short = one.shortest
    title = _case(one, short, now, zone) if short else f"{one.place}  cannot be worked out"
    others = (_case(one, case, now, zone) for case in one.cases if case is not short)
    reasons = (*one.reasons, *(reason for case in one.cases for reason in case.reasons))
    return Told(title, (*others, *measured(one.missing, one.cautions)), reasons)


def shortest(lines: Iterable[AirLine], now: datetime, zone: ZoneInfo) -> tuple[str, ...]:
    """Tell the places that last shortest, for an emergency card.

    Args:
        lines: Minutes of air, the shortest first.
        now: The present.
        zone: The site's time zone.
    """
    known = [(one, one.shortest) for one in lines if one.kind == "place"]
    return tuple(_case(one, case, now, zone) for one, case in known if case)[:MOST]


def _case(one: AirLine, case: Case, now: datetime, zone: ZoneInfo) -> str:
    off = {"both": "air and flow"}.get(case.off, case.off)
    state = f"off since {spoken(case.since, now, zone)}" if case.since else "off"
    if case.to_act_min is None and case.to_loss_min is None:
        return f"{one.place}  {off} {state}: it lasts"
    old = "~" if one.text.startswith("~") else ""
    act, loss = in_minutes(case.to_act_min), in_minutes(case.to_loss_min)
    return f"{one.place}  {off} {state}: act by {old}{act}, losses from {old}{loss}"
