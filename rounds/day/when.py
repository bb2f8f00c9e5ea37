"""Times as people on the farm say them: "today 06:11", "yesterday 19:40", "Sun 22 Nov 06:11"."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo


def local_day(at: datetime, zone: ZoneInfo) -> date:
    """Return the site's date at an instant."""
    return at.astimezone(zone).date()


def short_day(day: date) -> str:
    """Return a date in few cells, "12 Dec"."""
    return f"{day.day} {day:%b}"


def week_day(day: date) -> str:
    """Return a date of about now, "Sat 12 Dec"."""
    return f"{day:%a} {short_day(day)}"


def long_day(day: date) -> str:
    """Return a date in words, "12 Dec 2026"."""
    return f"{day.day} {day:%b %Y}"


def clock(at: datetime, zone: ZoneInfo) -> str:
    """Return the site's time of day, "06:11"."""
    return f"{at.astimezone(zone):%H:%M}"


def spoken(at: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Return an instant in the site's time, by the day it lies on as seen from now.

    Args:
        at: The instant, aware.
        now: The present, aware.
        zone: The site's time zone.

    Returns:
        "today 06:11", "yesterday 19:40" or "Sun 22 Nov 06:11".
    """
    day, today = local_day(at, zone), local_day(now, zone)
    if day == today:
        return f"today {clock(at, zone)}"
    if day == today - timedelta(days=1):
        return f"yesterday {clock(at, zone)}"
    return f"{week_day(day)} {clock(at, zone)}"
