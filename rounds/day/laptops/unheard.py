"""Whose laptop has not been heard: what it knows may not be in the book here yet."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.when import clock, long_day, spoken, week_day

HEARD_WITHIN: Final = timedelta(hours=1)
"""Newer than this a laptop counts as heard (common practice)."""
_CLOCK_WITHIN: Final = timedelta(minutes=10)
"""A clock set back by less is no news (common practice)."""
FORGOTTEN_AFTER: Final = timedelta(days=14)
"""Older than this it is no longer in use (common practice)."""
LONGEST_CODE: Final = 24
"""Signs of a person's code: what an entry holds beyond them is no code, and pushes nothing away."""


def unheard(farm: Farm, now: datetime, here: str = "") -> tuple[str, ...]:
    """Tell which other laptops have not been heard, and since when.

    Args:
        farm: The farm.
        now: The present.
        here: The writer of this laptop, left out.

    Returns:
        That this laptop's clock is behind, where it is; else and besides one sentence a laptop, by
        name; none of those retired, or silent for two weeks.
    """
    behind = clock_behind(farm, now, here)
    sentences, retired = [behind] if behind else [], farm.retired
    for writer, heard in sorted(farm.heard.items()):
        silent = now - heard.at
        if writer in retired or (behind and -silent > _CLOCK_WITHIN):
            continue
        if writer == here and -silent > _CLOCK_WITHIN:
            at = heard.at.astimezone(farm.site.timezone)
            when = f"{at.day} {at:%B %Y at %H:%M}"
            sentences.append(f"Set the clock, if it is wrong: this laptop wrote on {when} already.")
        if writer == here or timedelta(0) <= silent <= HEARD_WITHIN or silent > FORGOTTEN_AFTER:
            continue
        since = f"not heard since {spoken(heard.at, now, farm.site.timezone)}"
        if silent < timedelta(0):
            since = "writes times ahead of this clock"
        last = f" ({named(farm, heard.by)})" if heard.by else ""
        sentences.append(f"Ask before giving: laptop {writer}{last} {since}.")
    return tuple(sentences)


def clock_behind(farm: Farm, now: datetime, here: str = "") -> str:
    """Tell that this laptop's clock is behind, where all who speak of it agree; empty otherwise.

    Args:
        farm: The farm.
        now: The present, by this laptop's clock.
        here: The writer of this laptop; empty where it has not written.

    Returns:
        A sentence where two laptops wrote later than this clock says, this one among them if it
        wrote at all.
    """
    ahead = {
        writer: heard.at
        for writer, heard in farm.heard.items()
        if heard.at - now > _CLOCK_WITHIN and writer not in farm.retired
    }
    if len(ahead) < 2 or (here and here not in ahead):
        return ""
    zone = farm.site.timezone
    says, newest = now.astimezone(zone), max(ahead.values()).astimezone(zone)
    said, known = week_day(says.date()), week_day(newest.date())
    if says.year != newest.year:
        said, known = long_day(says.date()), long_day(newest.date())
    elif said == known:
        said, known = clock(says, zone), clock(newest, zone)
    return f"Set the clock before you write: it says {said}, records go to {known}."


def named(farm: Farm, code: str) -> str:
    """Return the name of a person of the site, or the code as written, of which 24 signs."""
    if (person := farm.site.people.get(code)) is not None:
        return person.name
    return code if len(code) <= LONGEST_CODE else f"{code[: LONGEST_CODE - 2]}.."
