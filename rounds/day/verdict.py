"""How a place stands: its readings, worked-out figures, deaths and answers, the worst first.

The words and the judgement of one value (`judge`) are reached from here too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from math import inf
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.feeding.fasting import broken
from rounds.day.feeding.off_feed import off_feed
from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.larvae import look as larval_look
from rounds.day.loops import air
from rounds.day.lots.crowding import crowded
from rounds.day.lots.deaths import call_vet, last_counts, short
from rounds.day.meters.doubts import MeterDoubt, doubtful, doubts_of_meters
from rounds.day.meters.pairs import oxygen_pair
from rounds.day.readings.derived import NEEDS, derived
from rounds.day.readings.inputs import (
    OXYGEN,
    Inputs,
    ahead,
    fresh,
    oxygen_reads,
    tested_elsewhere,
)
from rounds.day.readings.judgement import (
    RANK,
    SIGNS,
    Judgement,
    Word,
    as_word,
    in_words,
    judge,
    reread_at,
    worst,
)
from rounds.day.readings.outages import SUPPLY, outage
from rounds.day.readings.oxygen_act import unsettled
from rounds.day.when import clock, local_day, spoken
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site, Step, visited

__all__ = [
    "SIGNS", "Judgement", "PlaceVerdict", "Word", "as_word", "judge", "of_place", "reread_at",
    "worst",
]  # fmt: skip

_URGENT: Final = (
    SUPPLY, *OXYGEN, "look", "dead", "vet", "chlorine", "ammonia", "nitrite", "count",
)  # fmt: skip
"""What is told first among figures with one verdict: what kills soonest."""
_HELD_ON: Final = 600.0
"""Minutes that a tank without its supply must last to be watched only (common practice)."""


LOOKED: Final = "looked"
"""What is not known of a place where nobody looked yet today."""
ANSWER_STANDS: Final = timedelta(days=7)
"""How long an answer out of order, or a skip, is told while the step is not answered again."""
_NIGHT: Final = timedelta(hours=4)
"""How long what was looked at before midnight counts as of today (common practice)."""


class PlaceVerdict(Struct, frozen=True):
    """How a place stands now. `judgements` come worst first; `worst` is the one to tell."""

    place: str
    verdict: Word
    worst: Judgement | None
    judgements: tuple[Judgement, ...]


def of_place(
    site: Site,
    farm: Farm,
    place: Place,
    now: datetime,
    meters: tuple[MeterDoubt, ...] | None = None,
) -> PlaceVerdict:
    """Judge a place by its latest readings, figures worked out from them, deaths and answers.

    Readings of today, and older ones that are not too old for their measure, count; so do the
    last count of the dead and the last answers, until they are given again or have grown too old.
    Fish whose oxygen was not read leave the place unknown, never ok. A meter in doubt is told in
    the reasons and lowers nothing; where mg/L and percent do not fit, what the percent comes to is
    judged too.

    Args:
        site: The site, with today's limits.
        farm: The farm.
        place: Where.
        now: The present.
        meters: What speaks against the meters, where it is known already.

    Returns:
        The verdict of the place and everything it rests on.
    """
    doubts = doubts_of_meters(site, farm, now) if meters is None else meters
    today, breathing = local_day(now, site.timezone), oxygen_reads(farm, place, now)
    found = []
    for measure, info in MEASURES.items():
        read, why = farm.latest(place.code, measure, now), None
        if measure == "nitrite" and farm.stocks.get(place.code):  # the ration goes by it too
            inputs = Inputs(farm, place, now)
            read, why = inputs.newest(measure), inputs.other(measure)
        if read is None or info.derived or (measure in OXYGEN and read not in breathing):
            continue
        if local_day(read.at, site.timezone) == today or fresh(read, now):
            judged = judge(site, place, measure, read.value, read.at)
            where = f" in {read.place}" if read.place != place.code else ""
            more = () if why is None else (why,)
            said = replace(judged, says=judged.says + where, reasons=(*judged.reasons, *more))
            if (doubt := doubtful(farm, read)) is not None:
                said = replace(said, reasons=(*said.reasons, doubt))
            found.append(said)
    found += _ahead(site, farm, place, now)
    found += _without_supply(site, farm, place, now)
    found += _not_over(site, farm, place, breathing, now)
    found += _by_percent(site, farm, place, now, breathing)
    if farm.stocks.get(place.code) and not any(j.measure in OXYGEN for j in found):
        found.append(_not_read(site, place, breathing, now))
    figures = derived(site, farm, place, now)
    found += [one.judgement for one in figures if one.judgement is not None]
    found += _act_when_read(site, place, breathing, found)
    steps = _steps(site, place)
    found += call_vet(farm, place, now)
    found += last_counts(farm, place, now)
    found += short(farm, place, now)
    found += crowded(site, farm, place, now)
    found += broken(farm, place.code, now)
    found += off_feed(farm, place, now)
    found += _answers(farm, place, steps, now)
    found += larval_look.judged(site, farm, place, now)
    found += _skipped(farm, place, steps, now)
    looked = False
    if all(judgement.verdict == "ok" for judgement in found):
        looked = _looked_at(farm, place, steps, found, now)
        found += [] if looked else _not_looked(site, place, now)
    found = [_with_doubts(judgement, doubts) for judgement in found]
    found.sort(key=lambda judgement: (-RANK[judgement.verdict], urgency(judgement.measure)))
    verdict = "ok" if looked else worst(one.verdict for one in found if not one.unlimited)
    told = found[0] if found and found[0].verdict == verdict else None
    return PlaceVerdict(place.code, verdict, told, tuple(found))


def urgency(measure: str) -> int:
    """Return the rank of what was judged among figures with one verdict, 0 what kills soonest."""
    return _URGENT.index(measure) if measure in _URGENT else len(_URGENT)


def presses(
    farm: Farm, place: Place, told: Judgement | None, lasts: air.AirLine | None, now: datetime
) -> tuple[int, bool, float]:
    """Return how a place presses among those of one verdict, the least first.

    Args:
        farm: The farm.
        place: The place.
        told: What is told of it.
        lasts: Its minutes of air; None without fish.
        now: The present.

    Returns:
        What kills soonest; measured here before tested in another tank; the minutes of air.
    """
    case = lasts.shortest if lasts is not None else None
    minutes = inf if case is None or case.to_act_min is None else case.to_act_min
    if told is None:
        return 0, False, minutes
    needs = NEEDS.get(told.measure, (told.measure,))
    tested = needs[0] if needs[0] in MEASURES else ""
    elsewhere = bool(tested) and bool(tested_elsewhere(farm, place, tested, now))
    return urgency(told.measure), elsewhere, minutes


def says_all(told: Judgement, judgements: Iterable[Judgement]) -> str:
    """Return what is told of a place, and what else there is to act on."""
    more = dict.fromkeys(in_words(one.measure) for one in judgements if one.verdict == "act")
    others = [name for name in more if name != in_words(told.measure)]
    return f"{told.says} (and {', '.join(others)})" if others else told.says


def _act_when_read(
    site: Site, place: Place, breathing: tuple[Read, ...], found: Iterable[Judgement]
) -> list[Judgement]:
    """Judge oxygen that was an act when it was read: other readings since then do not end it."""
    last = next((read for read in breathing if read.verdict == "act"), None)
    if last is None or any(one.measure in OXYGEN and one.verdict == "act" for one in found):
        return []
    judged = judge(site, place, last.measure, last.value, last.at)
    do = judged.limits.do_act if judged.limits is not None else judged.do
    says = f"{judged.says}, to act on when it was read"
    return [replace(judged, verdict="act", says=says, do=do)]


def _ahead(site: Site, farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return readings to act on of a laptop whose clock is ahead: they are of no time to come."""
    found = []
    for read in ahead(farm, place, now):
        judged = judge(site, place, read.measure, read.value, read.at)
        when = clock(read.at, site.timezone)
        says = f"{judged.says}, dated {when} by laptop {read.writer}, whose clock is ahead"
        do = f"{judged.do} Read it again now, then take this one back; set that clock.".strip()
        found.append(replace(judged, verdict="act", says=says, do=do, reread_at=None))
    return found


def _without_supply(site: Site, farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Judge how long fish last whose power, pump or air is out: a clock that runs."""
    out = outage(farm, place, now)
    if not out or not farm.stocks.get(place.code):
        return []
    line, zone = air.of_place(site, farm, place, now), site.timezone
    case, left_min = line.shortest, None
    if case is None:
        told = f"how long it lasts is not known: {'; '.join(line.missing)}"
    elif (left_min := case.to_act_min) is None:
        told, left_min = "oxygen holds without it", _HELD_ON
    elif left_min > _HELD_ON:
        told = f"it lasts {air.in_minutes(left_min)}"
    else:
        act = clock(now + timedelta(minutes=left_min), zone)
        told = f"act by {act}" if left_min > 0 else "act now"
        if case.to_loss_min is not None:
            told += f", losses {clock(now + timedelta(minutes=case.to_loss_min), zone)}"
    word: Word = "watch" if left_min is not None and left_min >= _HELD_ON else "act"
    return [
        Judgement(
            SUPPLY,
            place.code,
            word,
            f"{out[0].upper()}{out[1:]}: {told}",
            now,
            "Air from the reserve, no feed, emergency card: X.",
            case.reasons if case is not None else line.reasons,
        )
    ]


def _not_over(
    site: Site, farm: Farm, place: Place, breathing: tuple[Read, ...], now: datetime
) -> list[Judgement]:
    """Judge oxygen that was to act on and was read better once only."""
    last = unsettled(site, farm, place, now) if farm.stocks.get(place.code) else None
    if last is None:
        return []
    read, do = breathing[0], "Keep the air up, no feed."
    return [
        Judgement(
            read.measure, place.code, "act", last.says, now, do, (last.reason,), read.value,
            MEASURES[read.measure].unit,
        )
    ]  # fmt: skip


def _by_percent(
    site: Site, farm: Farm, place: Place, now: datetime, breathing: tuple[Read, ...]
) -> list[Judgement]:
    """Judge what the percent comes to in mg/L, where the mg/L read beside it does not fit."""
    pair = oxygen_pair(farm, place, now)
    if pair is None or pair.true_mg_l >= pair.mg_l.value or pair.mg_l not in breathing:
        return []
    if not fresh(pair.mg_l, now):
        return []
    judged = judge(site, place, "oxygen", pair.true_mg_l, pair.share.at)
    says = f"{judged.says} (by the percent)"
    return [replace(judged, says=says, reasons=(*pair.reasons, *judged.reasons))]


def _with_doubts(judgement: Judgement, doubts: tuple[MeterDoubt, ...]) -> Judgement:
    """Return a judgement with what speaks against its meters; its verdict stays as it is."""
    measures = {judgement.measure, *NEEDS.get(judgement.measure, ())}
    told = tuple(
        Reason("{says} ({delay})", {"says": doubt.says, "delay": doubt.delay})
        for doubt in doubts
        if doubt.kind != "due"
        and doubt.measure in measures
        and (not doubt.places or judgement.place in doubt.places)
    )
    if not told:
        return judgement
    do = judgement.do
    if judgement.verdict in ("watch", "act"):
        do = f"{do} Then check the meter.".strip()
    return replace(judgement, do=do, reasons=(*judgement.reasons, *told))


def _not_read(site: Site, place: Place, last: tuple[Read, ...], now: datetime) -> Judgement:
    """Return the judgement of fish whose oxygen nobody has read: unknown."""
    since = f", last {spoken(last[0].at, now, site.timezone)}" if last else ""
    says = f"Oxygen not read{since}"
    return Judgement("oxygen", place.code, "unknown", says, now, "Read it.", (Reason(says),))


def _looked_at(
    farm: Farm, place: Place, steps: Iterable[str], found: Iterable[Judgement], now: datetime
) -> bool:
    """Tell whether anything was read or answered here today, or late last evening."""
    last = (farm.latest_answer(place.code, code, now) for code in steps)
    times = [
        one.at for one in found if one.measure in MEASURES and not MEASURES[one.measure].derived
    ]
    times += [answer.at for answer in last if answer is not None]
    zone = farm.site.timezone
    today = local_day(now, zone)
    return any(local_day(at, zone) == today or now - at <= _NIGHT for at in times)


def _not_looked(site: Site, place: Place, now: datetime) -> list[Judgement]:
    """Return that nobody has looked yet today where a round of every day does: not known."""
    if not any(
        checklist.due == "daily" and visited(place, step.visits or checklist.visits)
        for checklist in site.checklists.values()
        for step in checklist.steps
    ):
        return []
    says = "Not looked at yet today"
    return [Judgement(LOOKED, place.code, "unknown", says, now, "Walk its round.", (Reason(says),))]


def _steps(site: Site, place: Place) -> dict[str, Step]:
    return {
        step.code: step
        for checklist in site.checklists.values()
        for step in checklist.steps
        if visited(place, step.visits or checklist.visits)
    }


def _skipped(farm: Farm, place: Place, steps: Mapping[str, Step], now: datetime) -> list[Judgement]:
    """Return the steps skipped here whose answer could have been one to act on: not known."""
    recent = [
        skip
        for skip in farm.skips(now - ANSWER_STANDS)
        if skip.place == place.code and timedelta(0) <= now - skip.at <= ANSWER_STANDS
    ]
    lasts = {skip.step: skip for skip in sorted(recent, key=lambda skip: skip.at)}
    found = []
    for code, step in steps.items() if lasts else ():
        skip = lasts.get(code)
        if skip is None or not step.required or not step.act_if:
            continue
        if any(skip.at < answer.at <= now for answer in farm.answers(place.code, code, skip.at)):
            continue
        says = f"{step.ask} skipped: {skip.reason}"
        found.append(
            Judgement(
                code, place.code, "unknown", says, skip.at, "Go back and look.",
                (Reason("{says}", {"says": says}, "an answer could be one to act on"),),
            )
        )  # fmt: skip
    return found


def _answers(farm: Farm, place: Place, steps: Mapping[str, Step], now: datetime) -> list[Judgement]:
    """Return the last answer to each step asked here, where it was out of order."""
    found = []
    for code, step in steps.items():
        last = farm.latest_answer(place.code, code, now)
        if code not in larval_look.JUDGED and last is not None and now - last.at <= ANSWER_STANDS:
            word = as_word(last.verdict)
            if word in ("watch", "act"):
                found.append(answered(place, step, last.value, word, last.at))
    return found


def answered(place: Place, step: Step, value: str, word: Word, at: datetime) -> Judgement:
    """Return the judgement of an answer in words."""
    says = f"{step.ask.rstrip('?')}: {value}"
    reason = Reason("{says}: {word}", {"says": says, "word": SIGNS[word]}, "the checklist")
    do = step.do if word in ("watch", "act") else ""
    return Judgement(step.code, place.code, word, says, at, do, (reason,))
