"""Twenty larvae under the microscope: how many eat, how many have filled the swim bladder."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import LOOKS_BACK, Farm
from rounds.day.fold.state import AnswerAt
from rounds.day.larvae.rearing import age_of, first_food, since_stocking
from rounds.day.readings.judgement import SIGNS, Judgement, Word
from rounds.day.when import local_day, spoken
from rounds.fish.larvae import Share, share_of
from rounds.reason import Reason, Reasons
from rounds.site.model import Place, Site

LOOKED: Final = "larvae_looked"
GUTS: Final = "guts_full"
BLADDERS: Final = "bladders_full"
"""Codes of the steps that count them."""
JUDGED: Final = (GUTS, BLADDERS)
"""What is judged by the larvae's age, not by the answer alone."""
EMPTY_AT_MOST: Final = 0.20
"""More larvae with an empty gut are a trouble sign (common practice)."""
FILLED: Final = 0.90
"""Swim bladders filled, until then the surface is skimmed."""
WANTED: Final = 20
STANDS: Final = timedelta(hours=48)
"""How long a look counts (common practice)."""
_EXACT: Final = "exact binomial interval, Clopper & Pearson 1934"
_SKIM: Final = (
    "common practice; in a trial of oil film removal with striped bass the film was removed until "
    "over 90 % had filled it (authors not seen)"
)
_HUNGRY: Final = (
    "Count the live food, look at its size, the light and the larvae; call the supervisor."
)
_NO_AIR: Final = (
    "Skim the surface clean, look for oil; larvae without it hardly fill it later: call the "
    "supervisor."
)


class Look(Struct, frozen=True):
    """One look at larvae; a share is of `looked_at`, its verdict by their age."""

    place: str
    at: datetime
    looked_at: int
    guts: Share | None
    guts_verdict: Word
    bladders: Share | None
    bladders_verdict: Word
    says: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


def look(
    site: Site, farm: Farm, place: Place, now: datetime, day: int | None = None
) -> Look | None:
    """Return the last look at a tank's larvae and what it means at their age.

    Args:
        site: The site.
        farm: The farm.
        place: A larval tank.
        now: The present.
        day: Days after hatch, where it is typed and not on record.

    Returns:
        The look; None where nobody looked within two days.
    """
    total = _last(farm, place, LOOKED, now)
    if total is None or now - total.at > STANDS or not (n := int(total.value)):
        return None
    age, least = _ages(site, farm, place, total.at, day)
    guts, bladders = (_of_same(farm, place, step, total) for step in (GUTS, BLADDERS))
    says: list[str] = []
    cautions: list[str] = []
    reasons: list[Reason] = []
    if n < WANTED:
        cautions.append(f"Only {n} larvae were looked at: take {WANTED}.")
    for name, count in (("full guts", guts), ("filled swim bladders", bladders)):
        if count is not None and count > n:
            cautions.append(f"{count} {name} of {n} larvae cannot be: correct the count.")
    full, filled = (
        share_of(count, n) if count is not None and count <= n else None
        for count in (guts, bladders)
    )
    eats: Word = "ok"
    fills: Word = "ok"
    if full is not None:
        says.append(_said("guts with food", guts, n, full))
        eats, meaning, source = _guts(site, place, age, full)
        reasons.append(Reason(f"{says[-1]}: {{word}}", {"word": SIGNS[eats]}, _EXACT))
        reasons.append(Reason(meaning, {}, source))
    if filled is not None:
        says.append(_said("swim bladders filled", bladders, n, filled))
        fills, meaning = _bladders(site, place, age, least, filled)
        reasons.append(Reason(f"{says[-1]}: {{word}}", {"word": SIGNS[fills]}, _EXACT))
        reasons.append(Reason(meaning, {}, _SKIM))
    for word, do in ((eats, _HUNGRY), (fills, _NO_AIR)):
        if word in ("watch", "act"):
            cautions.append(f"{SIGNS[word]}: {do}")
    return Look(
        place=place.code,
        at=total.at,
        looked_at=n,
        guts=full,
        guts_verdict=eats,
        bladders=filled,
        bladders_verdict=fills,
        says=tuple(says),
        cautions=tuple(cautions),
        reasons=tuple(reasons),
    )


def judge_count(
    site: Site, farm: Farm, place: Place, step: str, count: int, now: datetime
) -> Judgement | None:
    """Return what a count of full guts or swim bladders means as it is typed.

    Args:
        site: The site.
        farm: The farm.
        place: A larval tank.
        step: `GUTS` or `BLADDERS`.
        count: What was typed.
        now: The present.

    Returns:
        The judgement; None where nobody said how many were looked at.

    Raises:
        ValueError: More than were looked at.
    """
    total = _last(farm, place, LOOKED, now)
    n = int(total.value) if total is not None and now - total.at <= STANDS else 0
    if not n:
        return None
    if count > n:
        raise ValueError(f"{count} of {n} larvae cannot be: count again, or correct the {n}")
    age, least = _ages(site, farm, place, now, None)
    share = share_of(count, n)
    if step == GUTS:
        word, meaning, source = _guts(site, place, age, share)
        says, do = _said("guts with food", count, n, share), _HUNGRY
    else:
        (word, meaning), source = _bladders(site, place, age, least, share), _SKIM
        says, do = _said("swim bladders filled", count, n, share), _NO_AIR
    reasons = (Reason("{says}", {"says": says}, _EXACT), Reason(meaning, {}, source))
    do = do if word in ("watch", "act") else ""
    says = f"{says}; {meaning[:1].lower()}{meaning[1:]}"
    return Judgement(step, place.code, word, says, now, do, reasons)


def _ages(
    site: Site, farm: Farm, place: Place, at: datetime, day: int | None
) -> tuple[int | None, int | None]:
    """Return the age, None where nobody recorded it, and the age they have at least."""
    age = day if day is not None else age_of(site, farm, place, at)
    return age, age if age is not None else since_stocking(site, farm, place, at)


def judged(site: Site, farm: Farm, place: Place, now: datetime) -> list[Judgement]:
    """Return the verdicts of the last look for the board, where they are out of order."""
    found = look(site, farm, place, now) if place.stage == "larval" else None
    if found is None or not farm.stocks.get(place.code):
        return []
    when = spoken(found.at, now, site.timezone)
    lines = dict(zip((GUTS, BLADDERS), _in_pairs(found), strict=True))
    told = ((GUTS, found.guts_verdict, _HUNGRY), (BLADDERS, found.bladders_verdict, _NO_AIR))
    return [
        Judgement(step, place.code, word, f"{lines[step]}, {when}", found.at, do, found.reasons)
        for step, word, do in told
        if word in ("watch", "act")
    ]


def _in_pairs(found: Look) -> tuple[str, str]:
    said = list(found.says)
    guts = said.pop(0) if found.guts is not None else ""
    return guts, said.pop(0) if found.bladders is not None else ""


def _said(what: str, count: int | None, n: int, share: Share) -> str:
    ends = f"{100 * share.low:.0f} to {100 * share.high:.0f} %"
    return f"{count} of {n} {what}, {100 * share.share:.0f} % ({ends})"


def _guts(site: Site, place: Place, age: int | None, full: Share) -> tuple[Word, str, str]:
    first = first_food(site, place)
    if age is not None and first is not None and age < first:
        says = f"Day {age}: they live on yolk until day {first}, empty guts are no sign"
        return "ok", says, "the species' weaning schedule"
    learning = age is not None and first is not None and age <= first + 1
    word: Word = "ok"
    if 1 - full.share > EMPTY_AT_MOST:
        word = "act" if 1 - full.high > EMPTY_AT_MOST and not learning else "watch"
    says = "Empty guts in more than 20 % are a trouble sign"
    if learning:
        says += f"; day {age}: the first days some are still learning to eat"
    elif word == "watch":
        says += "; so few larvae leave it open: look at twenty more"
    return word, says, "common practice"


def _bladders(
    site: Site, place: Place, age: int | None, least: int | None, filled: Share
) -> tuple[Word, str]:
    """Judge the filled ones by the age, or by the age they have at least."""
    species = site.species_of(place)
    days = species.swim_bladder if species else None
    if filled.share >= FILLED:
        return "ok", "90 % or more have filled it: the skimmer may come out once this holds"
    if days is not None and least is not None and least > days.to_day:
        word: Word = "act" if filled.high < FILLED else "watch"
        return word, f"Day {least}, after day {days.to_day}: the rest hardly fill it any more"
    if days is not None and age is not None and age < days.from_day:
        return "ok", f"Day {age}: it fills from day {days.from_day} on; the surface must be clean"
    return "ok", "Under 90 % have filled it: the skimmer stays in, look again tomorrow"


def _last(farm: Farm, place: Place, step: str, now: datetime) -> AnswerAt | None:
    found = farm.answers(place.code, step, now - LOOKS_BACK)
    answers = [a for a in found if a.at <= now and a.value.isdecimal()]
    return answers[-1] if answers else None


def _of_same(farm: Farm, place: Place, step: str, total: AnswerAt) -> int | None:
    """Return the count of the same walk and day as the larvae looked at."""
    zone = farm.site.timezone
    counts = [
        int(one.value)
        for one in farm.answers(place.code, step, total.at - timedelta(days=1))
        if one.value.isdecimal()
        and one.walk == total.walk
        and local_day(one.at, zone) == local_day(total.at, zone)
    ]
    return counts[-1] if counts else None
