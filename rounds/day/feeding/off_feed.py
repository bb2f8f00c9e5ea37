"""Fish off their feed: what they left day by day against their own habit, and what stands beside.

A tenth of a day's feed left is told on that day; a twentieth on the second day running, where it is
twice what they left before. The readings out of band and the dead since it began are named with
it: what was found later may be its cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import FedAt
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import Judgement, in_words, with_unit, word_of
from rounds.day.when import local_day, spoken, week_day
from rounds.fish.conditions import REFUSED_PART
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Place

REFUSED: Final = 1 / REFUSED_PART
SLOW: Final = 0.05
"""Part left of a day's feed that counts where it comes back (common practice)."""
HABIT_DAYS: Final = 14
STANDS: Final = timedelta(hours=72)
"""How long it is told while nobody looks at a meal again (common practice)."""
_DELAY: Final = (
    "told on the day a tenth is left, or on the second day running of a twentieth that is twice "
    "the habit; common practice"
)
_LOOK: Final = (
    "Look at the fish and their gills, read oxygen, temperature, pH and ammonia; "
    "feed only what the ration sheet says."
)


class _Day(Struct, frozen=True):
    day: date
    given_g: float
    left_g: float
    last: FedAt

    @property
    def share(self) -> float:
        return self.left_g / self.given_g


def off_feed(farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return what says that the fish of a place are off their feed.

    Args:
        farm: The farm.
        place: Where; larvae are judged by counts, not here.
        now: The present.

    Returns:
        One judgement to watch, none where they eat as they did.
    """
    days = _days(farm, place, now) if farm.stocks.get(place.code) else []
    if place.stage == "larval" or not days or now - days[-1].last.at > STANDS:
        return []
    run = len(days)
    while run and days[run - 1].share >= SLOW:
        run -= 1
    before, off = days[:run], days[run:]
    habit = None
    if before:
        habit = sum(d.left_g for d in before) / sum(d.given_g for d in before)
    twice = len(off) > 1 and habit is not None and min(d.share for d in off[-2:]) >= 2 * habit
    if not off or (off[-1].share < REFUSED and not twice):
        return []
    water = _out_of_band(farm, place, off[0].day, now)
    says = "; ".join([_said(farm, off, habit, now), *water, *_dead(farm, place, off[0].day, now)])
    do = f"Mend the water first. {_LOOK}" if water else _LOOK
    told = Reason("{says}", {"says": says}, _DELAY)
    last = off[-1]
    return [
        Judgement("appetite", place.code, "watch", says, last.last.at, do, (told,), last.share, "1")
    ]


def _days(farm: Farm, place: Place, now: datetime) -> list[_Day]:
    """Return the days of which somebody looked at what was left, oldest first."""
    zone = farm.site.timezone
    by_day: dict[date, list[FedAt]] = {}
    for fed in farm.fed(place.code, now - timedelta(days=HABIT_DAYS + 2)):
        if fed.at <= now and fed.left_g is not None and fed.amount_g > 0:
            by_day.setdefault(local_day(fed.at, zone), []).append(fed)
    first = local_day(now, zone) - timedelta(days=HABIT_DAYS)
    return [
        _Day(day, sum(f.amount_g for f in meals), sum(f.left_g or 0.0 for f in meals), meals[-1])
        for day, meals in sorted(by_day.items())
        if day >= first
    ]


def _said(farm: Farm, off: Sequence[_Day], habit: float | None, now: datetime) -> str:
    shares = ", ".join(f"{100 * one.share:.0f}" for one in off[-4:])
    since = f"since {week_day(off[0].day)}"
    before = "" if habit is None else f", {100 * habit:.0f} % before"
    fed = off[-1].last
    last = f"{fed.left_g:g} of {fed.amount_g:g} g at the last meal"
    who = f"{named(farm, fed.by)}, {spoken(fed.at, now, farm.site.timezone)}"
    return f"Off feed {since}: {shares} % left{before}; {last} ({who})"


def _out_of_band(farm: Farm, place: Place, since: date, now: datetime) -> list[str]:
    """Tell the last reading of each measure since then that is out of its band."""
    zone, found = farm.site.timezone, []
    for measure in MEASURES:
        read = farm.latest(place.code, measure, now)
        if read is None or local_day(read.at, zone) < since:
            continue
        if word_of(farm.site, place, measure, read.value, read.at) in ("watch", "act"):
            value = with_unit(read.typed, read.unit)
            found.append(f"{in_words(measure)} {value} ({spoken(read.at, now, zone)})")
    return found


def _dead(farm: Farm, place: Place, since: date, now: datetime) -> list[str]:
    zone = farm.site.timezone
    dead = [
        d
        for d in farm.dead(place.code, now - timedelta(days=HABIT_DAYS + 2))
        if d.count and d.at <= now and local_day(d.at, zone) >= since
    ]
    causes = ", ".join(dict.fromkeys(d.cause for d in dead if d.cause))
    total = sum(d.count for d in dead)
    return [f"{total} dead since{f', {causes}' if causes else ''}"] if dead else []
