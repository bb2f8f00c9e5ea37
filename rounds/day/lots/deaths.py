"""How many deaths are more than chance: a count against what the lot lost before."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import DeadAt, Stock
from rounds.day.laptops.unheard import named
from rounds.day.readings.judgement import SIGNS, Judgement, Word
from rounds.day.when import local_day, spoken, week_day
from rounds.fish.mortality import ACT_BELOW, WATCH_BELOW, expected_a_day, judge
from rounds.reason import Reason
from rounds.site.model import Place

WINDOW_DAYS: Final = 14
RUN_DAYS: Final = 3
"""More dead than expected on so many days running is a matter for the veterinarian."""
COUNT_STANDS: Final = timedelta(hours=36)
"""How long a count of the dead is told while nobody counts again (common practice)."""
SHORT_STANDS: Final = timedelta(days=7)
"""How long a counted shortage is told while nobody counts again (common practice)."""
SHORT_PART: Final = 0.01
"""A shortage smaller than this part of the fish, or of one fish, is a slip in counting."""
SHORT_DO: Final = (
    "Count again; look at screens, outlets and the floor for jumpers; look for fish eating others; "
    "tell the supervisor."
)
_MOST: Final = 1_000_000
"""Above this many dead the chance is nothing, whatever was expected."""
HIGH_SHARE: Final = 0.05
"""From this part of a lot dead in one day, and two fish, it is watched whatever chance says
(common practice)."""
SUSPECTED: Final = "disease"
"""A cause of death with this word in it is for the veterinarian."""
SUSPICION_STANDS: Final = timedelta(days=7)
"""How long a suspected disease is told after the last dead of it (common practice)."""
_DO: Final[dict[Word, str]] = {
    "watch": "Look at the fish, read oxygen, pH and ammonia, count again this evening.",
    "act": "Check the water now, feed only what the ration sheet says, call the supervisor, "
    "keep fresh dead for the vet.",
}
LOOK_STEP: Final = "look"
"""Step code under which it is asked how the fish look."""
UNSEEN: Final = "cannot see them"
_VET: Final = (
    "Call the veterinarian today; check the water, keep two fresh dead cold, give no treatment."
)


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
    of_lot = [
        dead
        for dead in farm.dead(place.code, now - timedelta(days=WINDOW_DAYS + 2))
        if dead.lot == lot and dead.at <= now
    ]
    gone = sum(dead.count for dead in of_lot if local_day(dead.at, zone) == today)
    on_record = [dead for dead in of_lot if dead.id != replacing]
    earlier = [
        (day, dead.count)
        for dead in on_record
        if today - timedelta(days=WINDOW_DAYS) <= (day := local_day(dead.at, zone)) < today
    ]
    total = count + sum(d.count for d in on_record if local_day(d.at, zone) == today)
    days, held = WINDOW_DAYS, 0
    for stock in farm.stocks.get(place.code, ()):
        if stock.lot == lot:
            days = min(max((today - local_day(stock.stocked_at, zone)).days, 1), WINDOW_DAYS)
            held = stock.count
    looked = max((day for day, _ in earlier), default=today - timedelta(days=1))
    since = min(max((today - looked).days, 1), days)
    # dead of days nobody looked lie in this count: those days are not days before it
    before, span = min(sum(n for _, n in earlier), _MOST), max(days - since + 1, 1)
    expected = expected_a_day(before, span) * since
    found = judge(min(total, _MOST), since, before, span)
    word: Word = found.verdict
    says = f"{total or 'None'} dead of {lot}"
    if place.stage == "larval":
        reason = Reason("Larvae: compare with their own curve, not with the last 14 days")
        return _judged(
            place, total, "ok", f"{says}, larvae: compare with the day before", now, reason
        )
    share = total / (held + gone) if held else 0.0
    if word != "ok":
        says += f", {expected:.1f} expected"
    elif total > 1 and share >= HIGH_SHARE:
        word = "watch"
        says += f", {share:.0%} of the lot in a day"
    reason = Reason(
        "{total} dead of {lot} on {day}; {expected:.2f} expected from {days} days (and half a "
        "fish), {since} since the last count: chance {chance}, {word}; watch below {watch}, act "
        "below {act}; watch from {high:.0%} of a lot in a day too",
        {
            "total": total, "lot": lot, "day": week_day(today), "expected": expected, "days": span,
            "since": since,
            "chance": _chance(found.probability), "word": SIGNS[word], "watch": WATCH_BELOW,
            "act": ACT_BELOW, "high": HIGH_SHARE,
        },
        "gamma-Poisson tail; common practice",
    )  # fmt: skip
    return _judged(place, total, word, says, now, reason)


def _chance(part: float) -> str:
    return "below 0.0001" if part < 0.0001 else f"{part:.4f}"


def last_counts(farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Judge the dead of the last day anybody counted, lot by lot, until they are counted again.

    A lot of which no fish is left counts too.
    """
    found = []
    lasts = {dead.lot: dead for dead in farm.dead(place.code, now - COUNT_STANDS) if dead.at <= now}
    for lot, last in lasts.items():
        judged = judge_deaths(farm, place, lot, last.count, last.at, last.id)
        if judged.value and now - last.at <= COUNT_STANDS:
            found.append(judged)
    return found


def call_vet(farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return what the veterinarian must hear: days of deaths, an odd look, a suspected disease.

    Three days running with more dead than expected count where chance explains their sum less
    than one time in a thousand; expected is what the lot lost in the 14 days before them, itself
    a matter of chance. A day nobody counted ends the run, and one before it belongs to its first
    count. A run that ended with the count before is told for a day more, to watch. Larvae are
    judged by their own curve; a suspected disease is told of them too.

    Args:
        farm: The farm.
        place: Where.
        now: The present.

    Returns:
        A judgement a lot, none in most places.
    """
    suspected = _suspected(farm, place, now)
    if place.stage == "larval":
        return suspected
    dead = [one for one in farm.dead(place.code, now - COUNT_STANDS) if one.at <= now]
    recent = [one for one in dead if now - one.at <= COUNT_STANDS]
    found = []
    for lot in dict.fromkeys(one.lot for one in recent):
        judged = _three_days(farm, place, lot, now)
        if judged is not None:
            found.append(judged)
    if not found and (sign := _sign(farm, place, recent, now)) is not None:
        found.append(sign)
    told = {one.measure for one in found}
    return found + [one for one in suspected if one.measure not in told]


def _suspected(farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return the lots of which fish died of a suspected disease in the last week."""
    by_lot: dict[str, list[DeadAt]] = {}
    for dead in farm.dead(place.code, now - SUSPICION_STANDS):
        recent = timedelta(0) <= now - dead.at <= SUSPICION_STANDS
        if recent and dead.count and SUSPECTED in dead.cause.casefold():
            by_lot.setdefault(dead.lot, []).append(dead)
    found = []
    for lot, every in by_lot.items():
        last, count = every[-1], sum(one.count for one in every)
        says = f"{count} dead of {lot}, {last.cause} ({spoken(last.at, now, farm.site.timezone)})"
        reason = Reason("{says}: told for a week", {"says": says}, "common practice")
        found.append(
            Judgement(
                "dead", place.code, "watch", says, last.at, _VET, (reason,), float(count), "1"
            )
        )
    return found


def _sign(farm: Farm, place: Place, recent: list[DeadAt], now: datetime) -> Judgement | None:
    """Return the judgement of fish that look odd while some die."""
    looks = [a for a in farm.answers(place.code, LOOK_STEP, now - COUNT_STANDS) if a.at <= now]
    count = sum(one.count for one in recent)
    last = looks[-1] if looks else None
    if last is None or last.verdict not in ("watch", "act") or last.value == UNSEEN or not count:
        return None
    says = f"{count} dead, and fish {last.value}"
    reason = Reason("{says}: an unusual sign beside deaths", {"says": says}, "common practice")
    return Judgement("dead", place.code, "watch", says, last.at, _VET, (reason,), float(count), "1")


def _three_days(farm: Farm, place: Place, lot: str, now: datetime) -> Judgement | None:
    """Judge the run that ends with the last count; one that ended with the count before is told."""
    zone = farm.site.timezone
    first = now - COUNT_STANDS - timedelta(days=RUN_DAYS + WINDOW_DAYS + 2)
    found = [d for d in farm.dead(place.code, first) if d.lot == lot and d.at <= now]
    by_day: dict[date, int] = {}
    for dead in found:
        day = local_day(dead.at, zone)
        by_day[day] = by_day.get(day, 0) + dead.count
    began = [local_day(s.stocked_at, zone) for s in farm.stocks.get(place.code, ()) if s.lot == lot]
    last = max(by_day)
    word: Word = "act"
    since, run = "", _run_to(last, by_day, began)
    if run is None:
        word, since = "watch", f", {by_day[last]} since"
        run = _run_to(last - timedelta(days=1), by_day, began)
    if run is None:
        return None
    counts, expected, chance = run
    rising = ", rising" if counts == sorted(set(counts)) and not since else ""
    told = ", ".join(map(str, counts))
    reason = Reason(
        "{told} dead of {lot}; {expected:.2f} a day expected from the days before: by chance "
        "{chance:.2g}, act below {act}",
        {"told": told, "lot": lot, "expected": expected, "chance": chance, "act": ACT_BELOW},
        "gamma-Poisson tail of the three days; common practice",
    )
    says = f"{told} dead of {lot} on three days running{rising}{since}"
    at, total = max(dead.at for dead in found), float(sum(counts))
    return Judgement("dead", place.code, word, says, at, _VET, (reason,), total, "1")


def _run_to(
    last: date, by_day: Mapping[date, int], began: Iterable[date]
) -> tuple[list[int], float, float] | None:
    """Return the dead of the three days to `last`, those expected a day and how likely by chance.

    None where they are no run of more than expected.
    """
    run = [last - timedelta(days=n) for n in reversed(range(RUN_DAYS))]
    counts = [by_day.get(day, 0) for day in run]
    window = range(1, WINDOW_DAYS + 1)
    # dead of days nobody looked lie in the next count: those days belong to the run
    unseen = next((n - 1 for n in window if run[0] - timedelta(days=n) in by_day), 0)
    known = min([WINDOW_DAYS, *((run[0] - day).days for day in began)])
    days, span = max(known - unseen, 1), RUN_DAYS + unseen
    before = min(sum(by_day.get(run[0] - timedelta(days=n), 0) for n in window), _MOST)
    expected = expected_a_day(before, days)
    chance = judge(min(sum(counts), _MOST), span, before, days).probability
    if counts[0] <= expected * (1 + unseen) or min(counts[1:]) <= expected or chance >= ACT_BELOW:
        return None
    return counts, expected, chance


def too_few(counted: int, on_record: int) -> bool:
    """Tell whether more fish are missing at a count than counts miss."""
    return on_record - counted > max(1.0, SHORT_PART * on_record)


def short(farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return the lots of a place of which fewer were counted than the account carried.

    Args:
        farm: The farm.
        place: Where.
        now: The present.

    Returns:
        A judgement a lot, until it is counted again or a week has gone.
    """
    found = []
    for row in farm.now.accounts.rows.values():
        lack = row.shortage
        if row.place != place.code or lack is None or not lack.at <= now <= lack.at + SHORT_STANDS:
            continue
        missing = lack.on_record - lack.counted
        if not too_few(lack.counted, lack.on_record):
            continue
        who = f"{named(farm, lack.by)}, {spoken(lack.at, now, farm.site.timezone)}"
        says = (
            f"{missing} of {row.lot} missing: {lack.counted} counted ({who}), {lack.on_record} "
            "on record"
        )
        reason = Reason("{says}: missing fish are neither dead nor sold", {"says": says})
        found.append(
            Judgement(
                "count",
                place.code,
                "watch",
                says,
                lack.at,
                SHORT_DO,
                (reason,),
                float(missing),
                "1",
            )
        )
    return found


def _judged(
    place: Place, total: int, word: Word, says: str, now: datetime, reason: Reason
) -> Judgement:
    do = _DO.get(word, "")
    return Judgement("dead", place.code, word, says, now, do, (reason,), float(total), "1")
