"""Round instants of the site's clock, to stand under an axis of time."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from rounds.day.when import short_day

_STEPS_H: Final = (1, 2, 3, 6, 12)
_STEPS_D: Final = (1, 2, 7, 14)
_STEPS_M: Final = (1, 2, 3, 6, 12)


def ticks(
    since: datetime, until: datetime, zone: ZoneInfo, columns: int
) -> tuple[tuple[float, str], ...]:
    """Return round instants of the site's clock with their names, as many as columns hold.

    Args:
        since: Begin of the axis.
        until: Its end.
        zone: The site's time zone.
        columns: Cells of the axis.
    """
    span_h = (until - since) / timedelta(hours=1)
    fits = columns / span_h  # cells an hour
    first = since.astimezone(zone).date()
    days = [first + timedelta(days=n) for n in range(int(span_h // 24) + 3)]
    found: list[tuple[datetime, str]] = []
    if (step_h := next((h for h in _STEPS_H if h * fits >= 7), 0)) and span_h <= 24 * 4:
        for day in days:
            for hour in range(0, 24, step_h):
                at = datetime.combine(day, time(hour), zone)
                found.append((at, f"{at:%a} {day.day}" if hour == 0 else f"{at:%H:%M}"))
    elif step_d := next((d for d in _STEPS_D if d * 24 * fits >= 8), 0):
        chosen = [day for day in days if day.toordinal() % step_d == (1 if step_d > 2 else 0)]
        short = step_d == 1
        found = [
            (
                datetime.combine(day, time(0), zone),
                f"{day:%a} {day.day}" if short else short_day(day),
            )
            for day in chosen
        ]
    else:
        months = [day for day in days if day.day == 1]
        step_m = next((m for m in _STEPS_M if m * 730 * fits >= 6), 12)
        found = [
            (datetime.combine(day, time(0), zone), f"{day:%Y}" if day.month == 1 else f"{day:%b}")
            for day in months
            if (day.month - 1) % step_m == 0
        ]
    return tuple((at.timestamp(), text) for at, text in found if since <= at <= until)
