"""How many deaths are more than chance: a count against what the lot lost before."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from rounds.day.farm import Farm
from rounds.day.judgement import SIGNS, Judgement, Word
from rounds.day.state import Stock
from rounds.day.when import local_day
from rounds.fish.mortality import ACT_BELOW, WATCH_BELOW, expected_a_day, judge
from rounds.reason import Reason
from rounds.site.model import Place

WINDOW_DAYS: Final = 14
_MOST: Final = 1_000_000
"""Above this many dead the chance is nothing, whatever was expected."""
_DO: Final[dict[Word, str]] = {
    "watch": "Look at the fish, read oxygen, pH and ammonia, count again this evening.",
    "act": "Hold the feed, check the water now, call the supervisor, keep fresh dead for the vet.",
}


def lot_of(farm: Farm, place: Place) -> Stock | None:
    """Return the lot dead fish of a place are counted to: the largest one there; None if empty."""
    return max(farm.stocks.get(place.code, ()), key=lambda s: (s.count, s.lot), default=None)


def judge_deaths(
    farm: Farm, place: Place, lot: str, count: int, now: datetime, replacing: str | None = None
) -> Judgement:
    """Judge a count of dead fish against the lot's last 14 days in this place.

    Expected a day is (deaths of those days + half a fish) over the days; deaths already counted
    today are added, days nobody looked widen what is expected.

    Args:
        farm: The farm, with the deaths on record.
        place: Where they were found.
        lot: The lot they are counted to; none of it may be left.
        count: Dead fish found now, 0 or more.
        now: The present.
        replacing: Id of the entry this count corrects, left out of what is on record.

    Returns:
        act when a chance of this many or more is below 0.001, watch below 0.01. Larvae are judged
        by their own curve, not here.
    """
    zone = farm.site.timezone
    today = local_day(now, zone)
    on_record = [
        dead
        for dead in farm.dead(place.code)
        if dead.lot == lot and dead.at <= now and dead.id != replacing
    ]
    earlier = [
        (day, dead.count)
        for dead in on_record
        if today - timedelta(days=WINDOW_DAYS) <= (day := local_day(dead.at, zone)) < today
    ]
    total = count + sum(d.count for d in on_record if local_day(d.at, zone) == today)
    days = WINDOW_DAYS
    for stock in farm.stocks.get(place.code, ()):
        if stock.lot == lot:
            days = min(max((today - local_day(stock.stocked_at, zone)).days, 1), WINDOW_DAYS)
    looked = max((day for day, _ in earlier), default=today - timedelta(days=1))
    since = min(max((today - looked).days, 1), days)
    expected = min(expected_a_day(min(sum(n for _, n in earlier), _MOST), days) * since, _MOST)
    found = judge(min(total, _MOST), expected)
    word: Word = found.verdict
    says = f"{total or 'None'} dead of {lot}"
    if place.stage == "larval":
        reason = Reason("Larvae: compare with their own curve, not with the last 14 days")
        return _judged(
            place, total, "ok", f"{says}, larvae: compare with the day before", now, reason
        )
    if word != "ok":
        says += f", {expected:.1f} expected"
    reason = Reason(
        "{total} dead of {lot} today; {expected:.2f} expected from {days} days (and half a fish), "
        "{since} since the last count: chance {chance:.4f}, {word}; watch below {watch}, act below "
        "{act}",
        {
            "total": total, "lot": lot, "expected": expected, "days": days, "since": since,
            "chance": found.probability, "word": SIGNS[word], "watch": WATCH_BELOW,
            "act": ACT_BELOW,
        },
        "Poisson tail; common practice",
    )  # fmt: skip
    return _judged(place, total, word, says, now, reason)


def _judged(
    place: Place, total: int, word: Word, says: str, now: datetime, reason: Reason
) -> Judgement:
    do = _DO.get(word, "")
    return Judgement("dead", place.code, float(total), "1", word, says, do, None, now, (reason,))
