"""The readings a loop's dose rests on: fresh ones, and the one that gives the smaller dose.

Readings of one measure taken within two hours in the places that share the water are compared, of
a test the last two. If they differ by more than the instrument can, the dose is worked out with
either and the smaller one governs; both are told.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Final

from msgspec import Struct, field

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.readings.calibration import doubtful
from rounds.day.readings.inputs import fresh
from rounds.day.readings.judgement import NAMES, in_words
from rounds.day.readings.retests import TESTED, WITHIN, last_two
from rounds.day.when import spoken
from rounds.reason import Reason
from rounds.site.measures import MEASURES

_TANKS_DIFFER_C: Final = 3.0
"""Temperatures of tanks of one loop further apart than this are told (common practice)."""
Forward = Callable[[Read], float]
"""Brings a reading's value to the present: what was given since is added."""


class Choice(Struct, frozen=True):
    """The lowest and the highest of the readings compared, with their values now."""

    newest: tuple[Read, float]
    low: tuple[Read, float]
    high: tuple[Read, float]

    @property
    def differs(self) -> bool:
        """The two are further apart than one instrument reads."""
        accuracy = MEASURES[self.newest[0].measure].accuracy_at(self.high[1])
        return self.high[1] - self.low[1] > accuracy + 1e-9


class LoopReadings(Struct):
    """Collects the readings of one loop at one instant, and what is missing."""

    farm: Farm
    loop: str
    now: datetime
    missing: list[str] = field(default_factory=list)
    used: dict[str, Read] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)
    """Readings that disagree, one sentence a measure."""
    quiet: list[str] = field(default_factory=list)

    def choice(self, measure: str, forward: Forward | None = None) -> Choice | None:
        """Return the readings of a measure that count now; None, and what is missing, if none.

        Args:
            measure: A code of the list of measures.
            forward: Brings a value to the present; as read when left out.

        Returns:
            The newest, the lowest and the highest within two hours of the newest.
        """
        places = [
            place
            for place in self.farm.site.places_of(self.loop)
            if self.farm.state_of(place.code) == "in service"
        ]
        if measure == "ph":  # mats and ponds swing with the sun: a tank speaks for the loop
            tanks = [p for p in places if p.kind == "tank" and self._fresh(p.code, measure)]
            places = tanks or places
        newest = max(
            (r for p in places if (r := self.farm.latest(p.code, measure, self.now)) is not None),
            key=lambda read: (read.at, read.id),
            default=None,
        )
        name, zone = in_words(measure), self.farm.site.timezone
        if newest is None:
            self.missing.append(f"{name} of loop {self.loop}: measure it")
            return None
        if not fresh(newest, self.now):
            when = spoken(newest.at, self.now, zone)
            self.missing.append(f"{name} of loop {self.loop}, last read {when}: measure it again")
            return None
        bring = forward or (lambda read: read.value)
        reads = [
            read
            for place in places
            for read in self.farm.between(place.code, measure, newest.at - WITHIN, newest.at)
        ]
        if measure in TESTED:
            reads = list(last_two(self.farm, places, measure, newest.at))
        near = [(read, bring(read)) for read in reads]
        found = Choice(
            (newest, bring(newest)),
            min(near, key=lambda pair: pair[1]),
            max(near, key=lambda pair: pair[1]),
        )
        self.used[measure] = newest
        return found

    def _fresh(self, place: str, measure: str) -> bool:
        read = self.farm.latest(place, measure, self.now)
        return read is not None and fresh(read, self.now)

    def settle(
        self, choices: Mapping[str, Choice], dose: Callable[[Mapping[str, float]], float]
    ) -> dict[str, float]:
        """Return the values to count with: of two that disagree the one with the smaller dose.

        Args:
            choices: What was found, by measure.
            dose: The amount that a set of values, by measure, leads to.

        Returns:
            One value a measure. What disagreed is told, and the reading used is noted.
        """
        values = {measure: choice.newest[1] for measure, choice in choices.items()}
        for measure, choice in choices.items():
            if not choice.differs:
                continue
            pair = (choice.high, choice.low)
            read, value = min(pair, key=lambda one: dose({**values, measure: one[1]}))
            values[measure], self.used[measure] = value, read
            self._tell(choice, read)
        return values

    def _tell(self, choice: Choice, counted: Read) -> None:
        info, zone = MEASURES[counted.measure], self.farm.site.timezone
        both = " and ".join(
            f"{read.typed} in {read.place} ({spoken(read.at, self.now, zone)})"
            for read, _ in (choice.low, choice.high)
        )
        told = (
            f"{NAMES.get(info.code, info.name)} {both} disagree: {counted.typed} counts, "
            f"the safer for the dose{', until two tests agree' if info.code in TESTED else ''}; "
            "measure again."
        )
        apart = choice.high[1] - choice.low[1]
        if info.code == "temperature" and apart <= _TANKS_DIFFER_C:  # told in the reasons only
            self.quiet.append(told)
        elif told not in self.told:
            self.told.append(told)

    def reasons(self) -> tuple[Reason, ...]:
        """Return each reading used, where and when it was read."""
        zone = self.farm.site.timezone
        found = [
            Reason(
                "{name} {read}, {place}, {when}",
                {
                    "name": MEASURES[measure].name,
                    "read": read.typed if read.unit == "pH" else f"{read.typed} {read.unit}",
                    "place": read.place,
                    "when": spoken(read.at, self.now, zone),
                },
                "reading",
            )
            for measure, read in self.used.items()
        ]
        found += [d for read in self.used.values() if (d := doubtful(self.farm, read)) is not None]
        found += [Reason("{told}", {"told": told}) for told in dict.fromkeys(self.quiet)]
        return tuple(found)
