"""Feed withheld by decision: who decided it, why and until when, and a fast that was broken.

The decision is an open matter about "no feed" with its place, owner and end. It stops feeding until
its end or until it is settled; what was fed meanwhile is told at once, for any feed starts a fast
anew.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import FedAt, OpenMatter
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import Judgement
from rounds.day.readings.until import end_of, kept
from rounds.day.when import spoken
from rounds.fish.food_safety import earliest_harvest
from rounds.reason import Reason
from rounds.records.entry import Matter

NO_FEED: Final = "no feed"
"""What a matter is about that withholds feed."""
WHYS: Final = ("before transport", "before grading", "treatment", "harvest", "the vet said so")
AGAIN_WHYS: Final = ("it is over", "decided otherwise", "put down by mistake")
"""Reasons, one digit away, not to feed, and to feed again."""


class Fast(Struct, frozen=True):
    """A decision not to feed a place. `until` is None where its end cannot be read: it stands."""

    matter: OpenMatter
    place: str
    until: datetime | None
    owner: str
    """Who decided it, by name."""
    fed: tuple[FedAt, ...]
    """What was given all the same before its end, oldest first."""

    def over(self, now: datetime) -> bool:
        """Tell whether its end has passed."""
        return self.until is not None and self.until <= now

    def says(self, now: datetime, zone: ZoneInfo) -> str:
        """Return the decision: "feed withheld until Thu 12 Mar 08:00 by Ana: harvest"."""
        end = "it is settled" if self.until is None else spoken(self.until, now, zone)
        over = "fast over, feed again: " if self.over(now) else ""
        return f"{over}feed withheld until {end} by {self.owner}: {self.matter.text}"


def fasts(farm: Farm, now: datetime) -> tuple[Fast, ...]:
    """Return every decision not to feed that still matters, in walking order.

    One that is over matters until fish are fed again after its end.

    Args:
        farm: The farm.
        now: The present.
    """
    found = {code: fast_of(farm, code, now) for code in farm.site.places}
    return tuple(fast for fast in found.values() if fast is not None)


def fast_of(farm: Farm, place: str, now: datetime) -> Fast | None:
    """Return the decision not to feed a place that ends last; None where there is none.

    Args:
        farm: The farm.
        place: Where.
        now: The present.
    """
    found = [
        _fast(farm, matter, now)
        for matter in farm.matters
        if matter.about == NO_FEED and matter.place == place and matter.at <= now
    ]
    latest = datetime.max.replace(tzinfo=UTC)
    held = [fast for fast in found if not _fed_since(farm, fast, now)]
    return max(held, key=lambda fast: fast.until or latest, default=None)


def done(farm: Farm, matter: OpenMatter, now: datetime) -> bool:
    """Tell whether a matter is a fast that is over and after which fish were fed again."""
    return matter.about == NO_FEED and _fed_since(farm, _fast(farm, matter, now), now)


def _fast(farm: Farm, matter: OpenMatter, now: datetime) -> Fast:
    place, end = matter.place or "", end_of(matter, farm.site.timezone)
    fed = tuple(
        one
        for one in farm.fed(place, matter.at)
        if one.amount_g > 0 and matter.at < one.at <= now and (end is None or one.at < end)
    )
    return Fast(matter, place, end, named(farm, matter.owner or matter.by), fed)


def _fed_since(farm: Farm, fast: Fast, now: datetime) -> bool:
    return fast.until is not None and any(
        one.amount_g > 0 and fast.until <= one.at <= now for one in farm.fed(fast.place, fast.until)
    )


def broken(farm: Farm, place: str, now: datetime) -> list[Judgement]:
    """Return the judgement of a fast that was broken, with what was fed, when and by whom.

    Args:
        farm: The farm.
        place: Where.
        now: The present.

    Returns:
        One to watch, or none.
    """
    fast, zone = fast_of(farm, place, now), farm.site.timezone
    if fast is None or not fast.fed:
        return []
    last = fast.fed[-1]
    grams = sum(one.amount_g for one in fast.fed)
    meals = f" in {len(fast.fed)} meals, the last" if len(fast.fed) > 1 else ""
    why = f": {last.why}" if last.why else ""
    says = (
        f"Fast broken: {grams:g} g fed{meals} {spoken(last.at, now, zone)} by "
        f"{named(farm, last.by) or 'somebody'}{why}"
    )
    do = f"Call {fast.owner}, who withheld it: {fast.matter.text}."
    reasons = [
        Reason(
            "{says}, decided {when}",
            {"says": fast.says(now, zone), "when": spoken(fast.matter.at, now, zone)},
        ),
    ]
    if fast.until is not None:
        hours = (fast.until - fast.matter.at) / timedelta(hours=1)
        try:
            again = earliest_harvest([one.at for one in fast.fed], hours)
        except ValueError:
            again = fast.until
        do += f" A fast as long, from that meal, ends {spoken(again, now, zone)}."
        says_anew = "any feed starts the fast of {hours:.0f} h anew"
        reasons.append(Reason(says_anew, {"hours": hours}, "common practice"))
    return [Judgement("fast", place, "watch", says, last.at, do, tuple(reasons), grams, "g")]


# -- what is written -------------------------------------------------------------------------------


def withhold(
    farm: Farm, place: str, until: str, why: str, now: datetime, owner: str = ""
) -> Matter:
    """Draft the entry by which feed is withheld from a place.

    Args:
        farm: The farm.
        place: Where.
        until: "24 h" from now, "18:00" of today or tomorrow, or "2026-03-12 08:00".
        why: The reason.
        now: The present.
        owner: Who decided it, a code of the site's people; left out, who writes it.

    Returns:
        The draft.

    Raises:
        ValueError: No reason, no time to come, too long, or it is withheld already.
    """
    zone, held = farm.site.timezone, fast_of(farm, place, now)
    if held is not None and not held.over(now):
        raise ValueError(f"{place}: {held.says(now, zone)}. Feed again first.")
    if not why.strip():
        raise ValueError(f"Say why {place} is not to be fed.")
    end = kept(until, now, zone)
    return Matter(place=place, text=why.strip(), owner=owner, until=end, about=NO_FEED)


def feed_again(farm: Farm, place: str, why: str, now: datetime) -> Matter:
    """Draft the entry that ends a fast before its time, or settles one that is over.

    Args:
        farm: The farm.
        place: Where.
        why: The reason.
        now: The present.

    Returns:
        The draft.

    Raises:
        ValueError: Nothing is withheld there, or no reason.
    """
    fast = fast_of(farm, place, now)
    if fast is None:
        raise ValueError(f"No feed is withheld from {place}.")
    if not why.strip():
        raise ValueError(f"Say why {place} is fed again.")
    return Matter(place=place, text=why.strip(), of=fast.matter.id)
