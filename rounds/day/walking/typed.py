"""What a typed text amounts to at a step: its value, verdict, doubts and what follows from it.

A pure function of the farm and the text, called at every key; nothing is kept here.
"""

from __future__ import annotations

import re
from datetime import datetime
from decimal import Decimal
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.placing import DEAD_STEP
from rounds.day.larvae import look as larval_look
from rounds.day.lots.deaths import judge_deaths, lot_of
from rounds.day.readings.calibration import RECALIBRATE, good
from rounds.day.readings.derived import NEEDS, Derived, derived
from rounds.day.readings.judgement import RANK, Judgement, Word, judge, reread_at, with_unit
from rounds.day.verdict import answered
from rounds.day.walking.plausible import Doubt, doubts
from rounds.reason import Reasons
from rounds.site.measures import MEASURES
from rounds.site.model import Check, Place, Site, Step
from rounds.text import NumberError, clean, number, plain
from rounds.units import UNITS, UnitError, convert, shown_unit

EMPTY: Final = "Type a value, then Enter; S skips"
_WITH_UNIT: Final = re.compile(r"([+-]?[0-9.,]+)\s*([A-Za-z%]\S*(?: \S+)?)", re.ASCII)
_YES_NO: Final = {"1": "yes", "y": "yes", "yes": "yes", "2": "no", "n": "no", "no": "no"}
_MOST_SLOPE: Final = 300
_MOST_COUNTED: Final = 10_000_000
_FOLLOWS: Final = {
    "oxygen_percent": ("oxygen",),
    "oxygen": ("oxygen_percent",),
    "ammonia": ("tan", "ph"),
    "co2": ("alkalinity", "ph"),
}
"""Readings whose own verdict a worked-out figure is; for others only a turn for the worse."""


class Finding(Struct, frozen=True):
    """A text looked at. `refused` says why it cannot be kept; `value` is what would be stored."""

    refused: str = ""
    parsed: Decimal | None = None
    value: str = ""
    unit: str = ""
    lot: str | None = None
    judgement: Judgement | None = None
    figures: tuple[Derived, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    reread_at: datetime | None = None

    own: float | None = None
    """What was typed, in the measure's unit, or the count."""

    @property
    def verdict(self) -> Word:
        """The verdict shown and kept with the value."""
        return self.judgement.verdict if self.judgement else "unknown"

    @property
    def needs_confirming(self) -> bool:
        """Whether one more Enter is asked: the value is odd, or out of its band."""
        return bool(self.doubts) or self.verdict in ("watch", "act")


def find(
    site: Site,
    farm: Farm,
    place: Place,
    step: Step,
    text: str,
    now: datetime,
    replacing: str | None = None,
) -> Finding:
    """Look at a typed text.

    Args:
        site: The site.
        farm: The farm.
        place: Where.
        step: The step asked.
        text: What was typed.
        now: The present.
        replacing: Id of the entry it would correct.

    Returns:
        What it amounts to.
    """
    if not text.strip():
        return Finding(EMPTY)
    if step.answer == "number":
        return _number(site, farm, place, step, text, now, replacing)
    if step.answer == "count":
        return _count(farm, place, step, text, now, replacing)
    return _words(place, step, text, now)


def step_unit(site: Site, step: Step) -> str:
    """Return the unit a number is typed in at a step, as the site reads it; empty for words."""
    if step.check is not None:  # a slope or a difference: never turned into another unit
        return "%" if step.check.finds == "slope" else MEASURES[step.check.measure].unit
    unit = step.unit or (MEASURES[step.measure].unit if step.measure else "")
    return shown_unit(unit, site.display_units)


def _number(
    site: Site,
    farm: Farm,
    place: Place,
    step: Step,
    text: str,
    now: datetime,
    replacing: str | None,
) -> Finding:
    try:
        typed, unit = _parse(text, step_unit(site, step))
        if step.check is not None:
            return _checked(place, step, step.check, typed, unit, now)
        if step.measure is None:
            return _plain(place, step, plain(typed), now, parsed=typed)
        value = convert(float(typed), unit, MEASURES[step.measure].unit)
    except (NumberError, UnitError) as error:
        return Finding(str(error))
    worked = derived(site, farm, place, now, {step.measure: value})
    figures = tuple(one for one in worked if step.measure in NEEDS[one.measure])
    found = doubts(site, farm, place, step.measure, typed, unit, now, replacing, figures)
    if found and found[0].kind == "impossible":
        return Finding(found[0].says, typed, doubts=found)
    own = judge(site, place, step.measure, value, now)
    figures = tuple(one for one in figures if one.measure != "density")
    before = {one.measure: one for one in derived(site, farm, place, now)}
    governing = max(
        (own, *_governing(step.measure, figures, before)), key=lambda j: RANK[j.verdict]
    )
    return Finding(
        parsed=typed,
        value=plain(typed),
        unit=unit,
        judgement=replace(governing, reasons=(*own.reasons, *_others(own, governing))),
        figures=figures,
        doubts=found,
        reread_at=reread_at(step.measure, governing.verdict, now),
        own=value,
    )


def _checked(
    place: Place, step: Step, check: Check, typed: Decimal, unit: str, now: datetime
) -> Finding:
    """Return what a meter's check amounts to: good, or to watch until it is calibrated."""
    if unit != (own := "%" if check.finds == "slope" else MEASURES[check.measure].unit):
        return Finding(f"{unit} does not belong here: type it in {own}")
    if check.finds == "slope" and not 0 < typed <= _MOST_SLOPE:
        return Finding(f"{plain(typed)} % cannot be: it is 100 % where the meter is right", typed)
    word: Word = "ok" if good(check, typed) else "watch"
    judgement = answered(place, step, with_unit(plain(typed), unit), word, now)
    if word == "watch":
        low, high = (f"{edge:g}" for edge in check.good)
        says = f"{judgement.says}, good is {low} to {high}: readings since the last good check are"
        says += " doubtful"
        judgement = replace(judgement, says=says, do=step.do or RECALIBRATE)
    return Finding(parsed=typed, value=plain(typed), unit=unit, judgement=judgement)


def _others(own: Judgement, governing: Judgement) -> Reasons:
    return () if governing is own else governing.reasons


def _governing(
    measure: str, figures: tuple[Derived, ...], before: dict[str, Derived]
) -> list[Judgement]:
    """Return the judgements of figures that count for the reading itself."""
    found = []
    for one in figures:
        if one.judgement is None:
            continue
        old = before.get(one.measure)
        was: Word = old.judgement.verdict if old and old.judgement else "ok"
        worse = RANK[one.judgement.verdict] > RANK[was]
        if measure in _FOLLOWS.get(one.measure, ()) or worse:
            found.append(one.judgement)
    return found


def _parse(text: str, unit: str) -> tuple[Decimal, str]:
    """Read a number, with the step's unit or one of the closed list typed after it."""
    match = _WITH_UNIT.fullmatch(text.strip())
    if match is None or match[2] not in UNITS:
        return number(text), unit
    if UNITS[match[2]].dimension != UNITS[unit].dimension:
        raise UnitError(f"{match[2]} does not belong here: this step takes {unit}")
    return number(match[1]), match[2]


def _count(
    farm: Farm, place: Place, step: Step, text: str, now: datetime, replacing: str | None
) -> Finding:
    try:
        typed = number(text)
    except NumberError as error:
        return Finding(str(error))
    if typed != typed.to_integral_value() or not 0 <= typed <= _MOST_COUNTED:
        return Finding(f"{plain(typed)} is not a count: a whole number, 0 or more", typed)
    count = int(typed)
    if step.code in larval_look.JUDGED:
        try:
            larval = larval_look.judge_count(farm.site, farm, place, step.code, count, now)
        except ValueError as error:
            return Finding(str(error), typed)
        if larval is not None:
            return Finding(parsed=typed, value=str(count), judgement=larval)
    if step.code != DEAD_STEP:
        return _plain(place, step, str(count), now, parsed=typed)
    lots = farm.stocks.get(place.code, ())
    lot = lot_of(farm, place)
    if lot is None:
        return _no_lot(place, step, count, typed, now)
    judgement = judge_deaths(farm, place, lot.lot, count, now, replacing)
    if len(lots) > 1:
        told = f"{judgement.says} ({len(lots)} lots here: counted to the largest, {lot.lot})"
        judgement = replace(judgement, says=told)
    found: tuple[Doubt, ...] = ()
    if count > lot.count:
        says = f"{count} dead, {lot.count} of {lot.lot} on record: count again"
        found = (Doubt("odd", says),)
    return Finding(
        parsed=typed, value=str(count), lot=lot.lot, judgement=judgement, doubts=found, own=count
    )


def _no_lot(place: Place, step: Step, count: int, typed: Decimal, now: datetime) -> Finding:
    word: Word = "watch" if count else "ok"
    judgement = answered(place, step, f"{count}, no fish on record here", word, now)
    do = "Tell the supervisor which fish these are." if count else ""
    return Finding(parsed=typed, value=str(count), judgement=replace(judgement, do=do))


def _words(place: Place, step: Step, text: str, now: datetime) -> Finding:
    typed = clean(text)
    if step.answer == "text":
        return _plain(place, step, typed, now)
    if step.answer == "yes-no":
        value = _YES_NO.get(typed.lower())
        return _plain(place, step, value, now) if value else Finding("1 is yes, 2 is no")
    if typed in step.choices:
        return _plain(place, step, typed, now)
    if typed.isascii() and typed.isdecimal() and 1 <= int(typed) <= len(step.choices):
        return _plain(place, step, step.choices[int(typed) - 1], now)
    return Finding(f"Type 1 to {len(step.choices)}")


def _plain(
    place: Place, step: Step, value: str, now: datetime, parsed: Decimal | None = None
) -> Finding:
    """Return a finding that no limits judge, only the answers the step names."""
    word: Word = "act" if value in step.act_if else "watch" if value in step.watch_if else "ok"
    return Finding(parsed=parsed, value=value, judgement=answered(place, step, value, word, now))
