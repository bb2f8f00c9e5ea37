"""Meters held against something known: what a check says, and which readings it makes doubtful.

A reading is doubtful when the next check of a meter of its measure finds it poor, or the last one
did. It is marked wherever it is explained; the book keeps it as it was read.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Final, Literal

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import CalibratedAt, Read
from rounds.day.readings.judgement import in_words
from rounds.day.when import local_day, short_day
from rounds.reason import Reason
from rounds.records.entry import Calibrated
from rounds.site.model import Check, Checklist, Site, Step
from rounds.site.rhythm import due_on

RECALIBRATE: Final = "Clean it, calibrate it, check it again, then read again what is to act on."
_LONGEST_RHYTHM: Final = 800
"""Days looked ahead for the next check: a rhythm comes round within a year."""


def good(check: Check, found: Decimal) -> bool:
    """Tell whether a slope or an offset lies in the band in which the meter is good."""
    low, high = check.good
    return low <= float(found) <= high


def calibrated(step: Step, rhythm: str, found: str, day: date) -> Calibrated:
    """Draft the entry of a check.

    Args:
        step: A step with a check.
        rhythm: When its checklist is due; a rhythm of the step's own counts first.
        found: The slope in percent or the offset, as typed.
        day: The site-local date of the check.

    Returns:
        The draft, with the date of the next one.

    Raises:
        ValueError: The step checks no meter.
    """
    if step.check is None:
        raise ValueError(f"step {step.code} checks no meter")
    result: Literal["good", "poor"] = "good" if good(step.check, Decimal(found)) else "poor"
    due = next_due(step.due or rhythm, day)
    sloped = step.check.finds == "slope"
    return Calibrated(
        measure=step.check.measure, result=result, instrument=step.check.instrument,
        points=list(step.check.points), due=due.isoformat() if due else "", step=step.code,
        slope=found if sloped else "", offset="" if sloped else found,
    )  # fmt: skip


def recalibrated(step: Step, found: str) -> dict[str, str | int | bool | list[str]]:
    """Return what a check says when its number is typed anew, for a correction of it."""
    draft = calibrated(step, "after event", found, date.min)
    return {"slope": draft.slope, "offset": draft.offset, "result": draft.result}


def next_due(rhythm: str, day: date) -> date | None:
    """Return the first date after a day on which a rhythm comes round; None if it never does."""
    ahead = (day + timedelta(days=n) for n in range(1, _LONGEST_RHYTHM))
    return None if rhythm == "after event" else next((d for d in ahead if due_on(rhythm, d)), None)


class CheckStep(Struct, frozen=True):
    """A step that checks a meter, and the checklist it stands in."""

    checklist: Checklist
    step: Step
    check: Check

    @property
    def rhythm(self) -> str:
        """When it is due."""
        return self.step.due or self.checklist.due


def check_steps(site: Site) -> Iterator[CheckStep]:
    """Yield every step of the site that checks a meter."""
    for checklist in site.checklists.values():
        for step in checklist.steps:
            if step.check is not None:
                yield CheckStep(checklist, step, step.check)


def doubtful(farm: Farm, read: Read) -> Reason | None:
    """Return why a reading is doubtful; None where no check of its meter speaks against it.

    Args:
        farm: The farm.
        read: A reading.

    Returns:
        The reason, which names the poor check and the last good one.
    """
    for checks in farm.checks(read.measure):
        at = bisect_right(checks, read.at, key=lambda check: check.at)
        poor = next((c for c in checks[max(at - 1, 0) : at + 1] if not c.good), None)
        if poor is not None:
            was = [c for c in checks if c.good and c.at <= min(poor.at, read.at)]
            zone = farm.site.timezone
            return Reason(
                "Doubtful: the meter of {name} {found} when checked {when}, last good check {last}",
                {
                    "name": in_words(read.measure),
                    "found": poor.found or "was poor",
                    "when": short_day(local_day(poor.at, zone)),
                    "last": short_day(local_day(was[-1].at, zone)) if was else "none on record",
                },
                "common practice: readings since the last good check",
            )
    return None


def drifting(checks: tuple[CalibratedAt, ...], check: Check) -> bool:
    """Tell whether the last three checks, all good, run towards the edge and the next passes it."""
    found = [c.offset if c.slope_percent is None else c.slope_percent for c in checks[-3:]]
    values = [value for value in found if value is not None]
    if len(values) < 3 or not all(c.good for c in checks[-3:]):
        return False
    steps = [b - a for a, b in pairwise(values)]
    low, high = check.good
    one_way = all(s > 0 for s in steps) or all(s < 0 for s in steps)
    return one_way and not low <= values[-1] + sum(steps) / 2 <= high
