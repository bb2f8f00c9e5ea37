"""Meters tell on themselves: what speaks against a meter rather than about the fish.

Nothing here is a verdict and nothing lowers one: what is to be acted on is acted on first. Readings
are marked where they are explained, never rewritten.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import CalibratedAt
from rounds.day.meters.doubt import FIRST, MeterDoubt, listed
from rounds.day.meters.frozen import frozen
from rounds.day.meters.pairs import pairs
from rounds.day.meters.rounds import rounds
from rounds.day.readings.calibration import (
    RECALIBRATE,
    CheckStep,
    check_steps,
    doubtful,
    drifting,
)
from rounds.day.readings.judgement import in_words
from rounds.day.when import local_day, spoken, week_day
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Site
from rounds.site.rhythm import due_on

__all__ = ["MeterDoubt", "doubtful", "doubtful_readings", "doubts_of_meters"]

_CHECK: Final = "told by the check itself, for all readings since the last good one"


def doubts_of_meters(site: Site, farm: Farm, now: datetime) -> tuple[MeterDoubt, ...]:
    """Return everything that speaks against a meter now, the surest first.

    Args:
        site: The site.
        farm: The farm.
        now: The present; nothing read or checked after it counts.

    Returns:
        The doubts, each in words that say what to check and what to do.
    """
    return (
        *pairs(site, farm, now),
        *_checks(site, farm, now),
        *rounds(site, farm, now),
        *frozen(site, farm, now),
        *_overdue(site, farm, now),
    )


def doubtful_readings(site: Site, farm: Farm, since: datetime, until: datetime) -> Iterator[str]:
    """Yield, for each measure found poor in a span, how many readings that makes doubtful.

    Args:
        site: The site.
        farm: The farm.
        since: The span begins after it.
        until: It ends with it.
    """
    zone = site.timezone
    for measure in MEASURES:
        poor = [c for c in farm.calibrations(measure) if not c.good and since < c.at <= until]
        if not poor:
            continue
        good = [
            max((c.at for c in checks if c.good and c.at <= poor[0].at), default=None)
            for checks in farm.checks(measure)
            if any(c in poor for c in checks)
        ]
        first = None if None in good else min(filter(None, good))
        reads = [
            r for code in site.places for r in farm.reads(code, measure, first) if r.at <= until
        ]
        found = [read for read in reads if doubtful(farm, read) is not None]
        if found:
            first = min(read.at for read in found)
            yield (
                f"{len(found)} readings of {in_words(measure)} since "
                f"{spoken(first, until, zone)} are doubtful: the meter "
                f"{poor[-1].found or 'was poor'} when checked {spoken(poor[-1].at, until, zone)}."
            )


def _checks(site: Site, farm: Farm, now: datetime) -> Iterator[MeterDoubt]:
    """Yield the meters whose last check was poor, and those that drift towards it."""
    steps = {one.step.code: one for one in check_steps(site)}
    for measure in MEASURES:
        for whole in farm.checks(measure):
            checks = tuple(check for check in whole if check.at <= now)
            if not checks:
                continue
            last, step = checks[-1], steps.get(checks[-1].step)
            if not last.good:
                yield _poor(site, checks, step, now)
            elif step is not None and drifting(checks, step.check):
                yield _drift(checks, step)


def _poor(
    site: Site, checks: tuple[CalibratedAt, ...], step: CheckStep | None, now: datetime
) -> MeterDoubt:
    last, zone = checks[-1], site.timezone
    before = next((check for check in reversed(checks) if check.good), None)
    since = "there is no good check on record" if before is None else (
        f"the last good one was {spoken(before.at, now, zone)}"
    )  # fmt: skip
    do = step.step.do if step is not None and step.step.do else RECALIBRATE
    says = (
        f"Check the {in_words(last.measure)} meter, it {last.found or 'was poor'} when checked "
        f"{spoken(last.at, now, zone)}, {since}: readings since then are doubtful. {do} {FIRST}"
    )
    reason = Reason(
        "{meter} {found} against {points}: {result}",
        {
            "meter": last.instrument or "the meter", "found": last.found or "was checked",
            "points": listed(last.points) if last.points else "a known value", "result": "poor",
        },
        "the checklist",
    )  # fmt: skip
    return MeterDoubt("check", last.measure, (), says, last.at, _CHECK, (reason,))


def _drift(checks: tuple[CalibratedAt, ...], step: CheckStep) -> MeterDoubt:
    last = checks[-1]
    found = listed(check.found.removeprefix("read ") for check in checks[-3:])
    says = (
        f"The {in_words(last.measure)} meter drifts ({found} at its last three checks) and leaves "
        "its band by the next: clean or replace the probe, calibrate, check it again."
    )
    low, high = step.check.good
    reason = Reason(
        "good is {low:g} to {high:g}; half of the change over two checks more is outside it",
        {"low": low, "high": high},
        "common practice",
    )
    delay = "told after three checks that run one way"
    return MeterDoubt("drift", last.measure, (), says, last.at, delay, (reason,))


def _overdue(site: Site, farm: Farm, now: datetime) -> Iterator[MeterDoubt]:
    """Yield one line for every checklist whose checks of meters are past their date."""
    today = local_day(now, site.timezone)
    late: dict[str, list[tuple[CheckStep, date]]] = {}
    for one in check_steps(site):
        due = _due(site, farm, one, today, now)
        if due is not None and due < today:
            late.setdefault(one.checklist.title, []).append((one, due))
    for title, found in late.items():
        measures = tuple(dict.fromkeys(one.check.measure for one, _ in found))
        first = min(due for _, due in found)
        says = (
            f"Check the meters of {listed(in_words(measure) for measure in measures)}: due since "
            f"{week_day(first)}, the round {title}."
        )
        since = datetime.combine(first, datetime.min.time(), site.timezone)
        reason = Reason(
            "{step} was due {due}",
            {"step": found[0][0].step.ask, "due": first.isoformat()},
            "the checklist's rhythm",
        )
        yield MeterDoubt(
            "due", measures[0], (), says, since, "told the day after it was due", (reason,)
        )


def _due(site: Site, farm: Farm, one: CheckStep, today: date, now: datetime) -> date | None:
    """Return when a check is due: what the last one said, else its rhythm since the book began."""
    made = [
        check
        for check in farm.calibrations(one.check.measure)
        if check.step == one.step.code and check.at <= now
    ]
    if made:
        try:
            return date.fromisoformat(made[-1].due)
        except ValueError:
            return None
    began = _began(site, farm, one.check.measure)
    if began is None:
        return None
    days = ((today - timedelta(days=n)) for n in range(1, min(400, (today - began).days) + 1))
    return next((day for day in days if due_on(one.rhythm, day)), None)


def _began(site: Site, farm: Farm, measure: str) -> date | None:
    """Return the day of the first reading of a measure anywhere."""
    firsts = [at for code in site.places if (at := farm.first_read(code, measure)) is not None]
    return local_day(min(firsts), site.timezone) if firsts else None
