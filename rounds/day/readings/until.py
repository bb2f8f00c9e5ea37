"""Until when a decision holds: as it is typed, kept in a matter, and read from one."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from rounds.day.fold.state import OpenMatter
from rounds.day.when import local_day
from rounds.text import number

LONGEST: Final = timedelta(days=14)
"""A decision for longer is taken again (common practice)."""
_HOURS: Final = re.compile(r"([0-9.,]+)\s*h(?:ours?)?", re.ASCII | re.IGNORECASE)
_CLOCK: Final = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", re.ASCII)


def end_of(matter: OpenMatter, zone: ZoneInfo) -> datetime | None:
    """Return until when a matter holds; None where it does not say, or cannot be read."""
    try:
        end = datetime.fromisoformat(matter.until)
    except ValueError:
        return None
    return end if end.tzinfo else end.replace(tzinfo=zone)


def kept(said: str, now: datetime, zone: ZoneInfo) -> str:
    """Return the end that is typed as a matter keeps it: a local day and time.

    Args:
        said: "24 h" from now, "18:00" of today or tomorrow, or "2026-03-12 08:00".
        now: The present.
        zone: The site's.

    Raises:
        ValueError: It is no time, is over, or is too far away.
    """
    end = _meant(said.strip(), now, zone)
    if not now < end <= now + LONGEST:
        raise ValueError(f"{said} is not within the next {LONGEST.days} days: look again by then.")
    return f"{end.astimezone(zone):%Y-%m-%d %H:%M}"


def _meant(said: str, now: datetime, zone: ZoneInfo) -> datetime:
    if hours := _HOURS.fullmatch(said):
        return now + timedelta(hours=min(float(number(hours[1])), 10_000))
    if at := _CLOCK.fullmatch(said):
        clock = time(int(at[1]), int(at[2]))
        end = datetime.combine(local_day(now, zone), clock, zone)
        return end if end > now else end + timedelta(days=1)
    try:
        end = datetime.fromisoformat(said)
    except ValueError:
        rule = "24 h, 18:00, or a day and time such as"
        example = f"{local_day(now + timedelta(days=1), zone)} 08:00"
        raise ValueError(f"{said or 'Nothing'} is not a time: {rule} {example}.") from None
    return end if end.tzinfo else end.replace(tzinfo=zone)
