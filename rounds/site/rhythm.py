"""When a checklist is due, and in which window of the day: the texts `due` and `window`."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from rounds.site.model import Site
from rounds.site.sun import sun

DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
DUE_RULE: Final = (
    '"daily", "weekly Mon", days such as "Mon Wed Fri", "every 3 days", "monthly 1", "after event" '
    '(any incident; or "after power", "after fill")'
)
WINDOW_RULE: Final = '"05:30-09:00" or "sunrise-0:30 to sunrise+1:30" (sunset likewise)'
_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)
_SUN: Final = re.compile(r"(sunrise|sunset)(?:([+-])(\d{1,2}):([0-5]\d))?", re.ASCII)
_NO_SUN: Final = {"sunrise": time(6), "sunset": time(18)}


def due_on(due: str, day: date) -> bool:
    """Tell whether something with this rhythm is due on a site-local date.

    "every N days" counts from a fixed date, so that every laptop agrees; "monthly 31" is the last
    day of a shorter month; "after event" and "after power" are never due by the calendar.

    Args:
        due: The text of a checklist or step.
        day: The site-local date.

    Raises:
        ValueError: The text is none of the allowed ones.
    """
    match due.split():
        case ["daily"]:
            return True
        case ["after", _]:
            return False
        case ["every", number, "days"] if number.isdecimal() and 1 <= int(number) <= 366:
            return day.toordinal() % int(number) == 0
        case ["monthly", number] if number.isdecimal() and 1 <= int(number) <= 31:
            return day.day == min(int(number), _last_of_month(day))
        case ["weekly", name] if name in DAYS:
            return day.weekday() == DAYS.index(name)
        case [*names] if names and all(name in DAYS for name in names):
            return DAYS[day.weekday()] in names
    raise ValueError(f"due {due!r} must be {DUE_RULE}")


def event_of(due: str) -> str:
    """Return what a checklist comes after: "event" for any incident, "power", "fill"; else ""."""
    return due.removeprefix("after ") if due.startswith("after ") else ""


def window(text: str, day: date, site: Site) -> tuple[datetime, datetime]:
    """Return when a round's window opens and closes on a site-local date.

    Both are in UTC, so that their order and distance hold across a change of the clocks. A wall
    time that the clocks skip is the moment they change. An end that is not after the start lies
    on the next day. Where the sun does not rise or set that day, sunrise is 06:00, sunset 18:00.

    Args:
        text: The window of a checklist.
        day: The site-local date.
        site: Gives time zone and position.

    Raises:
        ValueError: The text is none of the allowed ones.
    """
    first, second = _ends(text)
    start, end = _moment(first, day, site), _moment(second, day, site)
    return start, end if end > start else _moment(second, day + timedelta(days=1), site)


def check_window(text: str) -> None:
    """Raise ValueError where the text of a window is none of the allowed ones."""
    _ends(text)


def _ends(text: str) -> tuple[str, str]:
    parts = text.split(" to ") if " to " in text else text.split("-")
    if len(parts) == 2:
        first, second = (part.strip() for part in parts)
        if all(_CLOCK.fullmatch(part) or _SUN.fullmatch(part) for part in (first, second)):
            return first, second
    raise ValueError(f"window {text!r} must be {WINDOW_RULE}")


def _last_of_month(day: date) -> int:
    return ((day.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)).day


def _moment(text: str, day: date, site: Site) -> datetime:
    clock = _CLOCK.fullmatch(text)
    if clock:
        return _local(day, time(int(clock[1]), int(clock[2])), site)
    found = _SUN.fullmatch(text)
    if not found:
        raise ValueError(f"time {text!r} must be like 05:30 or sunrise-0:30")
    times = sun(day, site.latitude, site.longitude)
    if times is None:
        at = _local(day, _NO_SUN[found[1]], site)
    else:
        at = times.rise if found[1] == "sunrise" else times.set
    shift = timedelta(hours=int(found[3] or 0), minutes=int(found[4] or 0))
    return (at - shift if found[2] == "-" else at + shift).replace(microsecond=0)


def _local(day: date, at: time, site: Site) -> datetime:
    wall = datetime.combine(day, at, site.timezone)
    moment = wall.astimezone(UTC)
    if moment.astimezone(site.timezone).replace(tzinfo=None) == wall.replace(tzinfo=None):
        return moment
    moment = wall.replace(fold=1).astimezone(UTC)  # skipped by the clocks: go to their change
    before = moment.astimezone(site.timezone).utcoffset()
    while moment.astimezone(site.timezone).utcoffset() == before:
        moment += timedelta(minutes=1)
    return moment
