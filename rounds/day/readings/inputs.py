"""The readings a worked-out figure needs: of the place first, then of its loop, and never too old.

What is used says where and when it was read; what is missing says what to measure.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct, field

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.readings.calibration import doubtful
from rounds.day.readings.retests import TESTED, counted, sharing
from rounds.day.when import spoken
from rounds.reason import Reason, Value
from rounds.site.measures import MEASURES
from rounds.site.model import Place
from rounds.units import Amount

OXYGEN: Final = ("oxygen", "oxygen_percent")
"""The two forms of oxygen. It differs from tank to tank: never taken from another place."""
_ONE_STOP: Final = timedelta(minutes=10)
"""Readings of both forms of oxygen this near belong together: the worse one counts."""
_OF_THE_LOOP: Final = (*TESTED, "ph")
"""Of these that of a later round elsewhere in the loop stands for a place."""
_ANOTHER_ROUND: Final = timedelta(hours=12)


def fresh(read: Read, now: datetime) -> bool:
    """Tell whether a reading still counts for a ration, a dose or a worked-out figure."""
    return now - read.at <= timedelta(hours=MEASURES[read.measure].stale_h)


def oxygen_reads(farm: Farm, place: Place, now: datetime) -> tuple[Read, ...]:
    """Return the newest oxygen of a place, and the other form if it was read at the same stop."""
    found = [r for m in OXYGEN if (r := farm.latest(place.code, m, now)) is not None]
    found.sort(key=lambda read: read.at, reverse=True)
    return tuple(read for read in found if found[0].at - read.at <= _ONE_STOP)


def tested_elsewhere(farm: Farm, place: Place, measure: str, now: datetime) -> str:
    """Return where a test that stands for this place was taken; empty for here, or none."""
    read = Inputs(farm, place, now).find(measure)
    return read.place if read is not None and read.place != place.code else ""


def ahead(farm: Farm, place: Place, now: datetime) -> tuple[Read, ...]:
    """Return readings to act on that a clock ahead of this one dates up to a day from now.

    They count at no instant yet, and their step is done: they are told, and read again.
    """
    if all(heard.at <= now for heard in farm.heard.values()):
        return ()
    until = now + timedelta(days=1)
    return tuple(
        read
        for measure in MEASURES
        for read in farm.between(place.code, measure, now + timedelta(microseconds=1), until)
        if read.verdict == "act"
    )


class Inputs(Struct):
    """Collects what one figure of one place is worked out from, at one instant.

    `typed` holds values by measure, in the measure's unit, that count as read here and now.
    """

    farm: Farm
    place: Place
    now: datetime
    typed: Mapping[str, float] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)
    at: datetime | None = None
    """When the newest of the inputs was read."""
    looked_up: dict[str, tuple[Read | None, Read | None]] = field(default_factory=dict)
    """By measure: what stands for this place, and a test it disagrees with."""

    def anew(self) -> Inputs:
        """Return the inputs of another figure of this place and instant."""
        return Inputs(self.farm, self.place, self.now, self.typed, looked_up=self.looked_up)

    def find(self, measure: str) -> Read | None:
        """Return the reading that stands for this place, unless it is too old."""
        read = self.newest(measure)
        return read if read is not None and fresh(read, self.now) else None

    def newest(self, measure: str) -> Read | None:
        """Return the reading that stands for this place, however old: its own or its loop's."""
        return self._counted(measure)[0]

    def _counted(self, measure: str) -> tuple[Read | None, Read | None]:
        if measure not in self.looked_up:
            read = self._nearest(measure)
            self.looked_up[measure] = (
                (None, None) if read is None else counted(self.farm, self.place, read)
            )
        return self.looked_up[measure]

    def _nearest(self, measure: str) -> Read | None:
        own = self.farm.latest(self.place.code, measure, self.now)
        code, loop = self.place.code, self.place.loop
        if not loop or measure in OXYGEN or self.farm.state_of(code) != "in service":
            return own
        lead = _ANOTHER_ROUND if measure in _OF_THE_LOOP else timedelta.max
        counts = own is not None and fresh(own, self.now)
        if own is not None and counts and self.now - own.at < lead:
            return own
        other = self._elsewhere(loop, measure)
        if own is None or other is None:
            return own or other
        if counts and other.at - own.at < lead:
            return own
        return max(own, other, key=lambda read: read.at)

    def _elsewhere(self, loop: str, measure: str) -> Read | None:
        """Return the newest reading in the loop; the pH of mats in the sun is not a tank's."""
        if measure == "ph" and self.place.kind == "tank":
            tanks = [one.code for one in sharing(self.farm, self.place) if one.kind == "tank"]
            found = [r for code in tanks if (r := self.farm.latest(code, measure, self.now))]
            newest = max(found, key=lambda read: (read.at, read.id), default=None)
            if newest is not None and fresh(newest, self.now):
                return newest
        return self.farm.latest_in_loop(loop, measure, self.now)

    def take(self, measure: str) -> float | None:
        """Return the value of a measure in its unit; when there is none, note what is missing."""
        if measure in self.typed:
            self._note(measure, self.typed[measure], "now", self.now)
            return self.typed[measure]
        read = self.find(measure)
        zone = self.farm.site.timezone
        if read is not None:
            where = "" if read.place == self.place.code else f" in {read.place}"
            self._note(measure, read.value, spoken(read.at, self.now, zone) + where, read.at)
            if (other := self.other(measure)) is not None:
                self.reasons.append(other)
            if (doubt := doubtful(self.farm, read)) is not None:
                self.reasons.append(doubt)
            return read.value
        self.missing.append(self.lacks(measure))
        return None

    def lacks(self, measure: str) -> str:
        """Return what to measure, where there is no reading that counts."""
        info, old = MEASURES[measure], self.farm.latest(self.place.code, measure, self.now)
        if old is None:
            return f"{info.name} not read here: measure it"
        when = spoken(old.at, self.now, self.farm.site.timezone)
        return f"{info.name} last read {when}, too old: measure it again"

    def other(self, measure: str) -> Reason | None:
        """Return why a test counts that another one disagrees with; None where none does."""
        read, other = self._counted(measure)
        if read is None or other is None:
            return None
        says = "{name} {other} in {place} ({when}) disagrees: {typed} counts until two tests agree"
        values: dict[str, Value] = {
            "name": MEASURES[measure].name, "other": other.typed, "place": other.place,
            "when": spoken(other.at, self.now, self.farm.site.timezone), "typed": read.typed,
        }  # fmt: skip
        return Reason(says, values, "one water, the worse of two, common practice")

    def pressure_hpa(self) -> float:
        """Return the station pressure: typed, read at the house, or from the elevation."""
        if "pressure" in self.typed:
            self._note("pressure", self.typed["pressure"], "now", self.now)
            return self.typed["pressure"]
        pressure, reason = self.farm.pressure_hpa(self.now)
        self.reasons.append(reason)
        return pressure

    def _note(self, measure: str, value: float, when: str, at: datetime) -> None:
        info = MEASURES[measure]
        amount = Amount(value, info.unit)
        values: dict[str, Value] = {"name": info.name, "value": amount, "when": when}
        says = f"{{name}} {{value:.{info.decimals}f}} ({{when}})"
        self.reasons.append(Reason(says, values, "reading"))
        self.at = at if self.at is None else max(self.at, at)
