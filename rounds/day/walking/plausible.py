"""What a typed value may really have been: what cannot be, what is odd, and the likely slip.

An impossible value is never kept; an odd one is kept when the person confirms it. Neither is a
verdict: a fish can be in danger at a plausible value, and well at an odd one.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from math import inf
from typing import Final, Literal

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.readings.derived import NEEDS, Derived, derived
from rounds.day.readings.inputs import fresh
from rounds.day.readings.judgement import with_unit
from rounds.day.readings.like_hour import SWINGS, like_hour, under_the_sun
from rounds.day.when import spoken
from rounds.site.measures import MEASURES, Measure
from rounds.site.model import Place, Site
from rounds.text import plain
from rounds.units import convert
from rounds.water.oxygen import pressure_at_elevation_hpa

_NEAR: Final = 0.25
"""A value is like the last one when it lies this near, as a share: a slip of it is likely then."""
_LONGEST_JUMP: Final = 4.0
"""However long ago the last reading was, this many times the jump is odd."""
_FAR: Final = 20.0
"""A measure without a jump of its own is odd this many times off the last (common practice)."""
_PRESSURE_SHARE: Final = 0.03
"""Weather moves air pressure by about this share of the elevation's mean (common practice)."""
_TESTED_BEFORE: Final = 10.0
"""A test that reads exactly 0 after this many times its accuracy is odd: reagent left out?"""


class Doubt(Struct, frozen=True):
    """A reason to look again. `suggestion` is the value likely meant, in the typed unit."""

    kind: Literal["impossible", "odd"]
    says: str
    suggestion: Decimal | None = None


def doubts(
    site: Site,
    farm: Farm,
    place: Place,
    measure: str,
    typed: Decimal,
    unit: str,
    now: datetime,
    replacing: str | None = None,
    figures: tuple[Derived, ...] | None = None,
) -> tuple[Doubt, ...]:
    """Return what speaks against a typed value: the impossible first, then slips, then the odd.

    Args:
        site: The site.
        farm: The farm, for the last reading of this place.
        place: Where it was read.
        measure: A code of the list of measures.
        typed: The number, as typed.
        unit: Its unit, of the measure's dimension.
        now: The present.
        replacing: Id of the entry this value corrects: not the last reading to compare with.
        figures: What `derived` makes of the value; worked out here where it is not at hand.

    Returns:
        Doubts in the order to tell them; none for a plausible value.

    Raises:
        UnitError: The unit is of another dimension.
    """
    case = _Case(site, farm, place, MEASURES[measure], typed, unit, now, replacing, figures)
    slip = case.likely_slip()
    if not case.info.impossible_low <= case.value <= case.info.impossible_high:
        says = f"{case.figure} cannot be: {case.info.name} is {case.possible}"
        return (
            (Doubt("impossible", f"{says}; {slip.says}", slip.suggestion),)
            if slip
            else (Doubt("impossible", says),)
        )
    found = [slip] if slip else []
    found += case.odd(slipped=slip is not None)
    return tuple(found)


def last_read(
    farm: Farm, place: Place, measure: str, now: datetime, besides: str | None = None
) -> Read | None:
    """Return the newest reading of a measure in a place, one entry left out of account."""
    last = farm.latest(place.code, measure, now)
    if last is None or last.id != besides:
        return last
    return farm.latest(place.code, measure, last.at - timedelta(microseconds=1))


def likeness(info: Measure, last: float) -> float:
    """Return how far from the last reading a value is still like it, in the measure's unit."""
    return max(_NEAR * abs(last), info.accuracy_at(last))


class _Case(Struct, frozen=True):
    site: Site
    farm: Farm
    place: Place
    info: Measure
    typed: Decimal
    unit: str
    now: datetime
    replacing: str | None
    figures: tuple[Derived, ...] | None

    @property
    def value(self) -> float:
        """The value in the measure's unit."""
        return convert(float(self.typed), self.unit, self.info.unit)

    @property
    def figure(self) -> str:
        return f"{plain(self.typed)}{self._after}"

    @property
    def _after(self) -> str:
        return with_unit("", self.unit)

    @property
    def possible(self) -> str:
        low, high = (
            convert(edge, self.info.unit, self.unit)
            for edge in (self.info.impossible_low, self.info.impossible_high)
        )
        return f"{round(low, 2):g} to {round(high, 2):g}{self._after}"

    @property
    def last(self) -> Read | None:
        return last_read(self.farm, self.place, self.info.code, self.now, self.replacing)

    def written(self, value: float) -> str:
        """Return a value of the measure in the typed unit, as a short number."""
        number = convert(value, self.info.unit, self.unit)
        return f"{round(number, self.info.decimals + 1):g}"

    # -- likely slips ----------------------------------------------------------------------------

    def likely_slip(self) -> Doubt | None:
        """Return the slip that gives the value nearest the last one; else the first known."""
        found = [*self._by_last(), *self._known()]
        last = self.last
        if last is None:
            return found[0] if found else None

        def distance(doubt: Doubt) -> float:
            meant = doubt.suggestion
            if meant is None:
                return inf
            return abs(convert(float(meant), self.unit, self.info.unit) - last.value)

        return min(found, key=distance, default=None)

    def _known(self) -> Iterator[Doubt]:
        """Yield the slips this measure is known for."""
        number = float(self.typed)
        low, high = self.info.suspicious_low, self.info.suspicious_high
        says = f"{plain(self.typed)}? "
        if self._own_unit:
            for slip in self.info.slips:
                meant = slip.meant(number)
                if slip.low <= number <= slip.high and self._could_be(meant):
                    likely = None if meant is None else self._decimal(meant)
                    yield Doubt("odd", says + slip.says + _asked(likely), likely)
            return
        usual = low is not None and high is not None and low <= number <= high
        if usual and not (low or 0.0) <= self.value <= (high or 0.0):
            likely = self._decimal(convert(number, self.info.unit, self.unit))
            yield Doubt("odd", f"{says}that looks like {self.info.unit}{_asked(likely)}", likely)

    def _could_be(self, meant: float | None) -> bool:
        """Tell whether a slip leads to a value that this place could have by the last one."""
        last = self.last
        if meant is None or last is None or self.info.jump is None:
            return True
        return abs(meant - last.value) <= 2 * likeness(self.info, last.value)

    @property
    def _own_unit(self) -> bool:
        return convert(1.0, self.unit, self.info.unit) == 1.0

    def _decimal(self, value: float) -> Decimal:
        return Decimal(f"{value:.{self.info.decimals}f}")

    def _by_last(self) -> Iterator[Doubt]:
        last = self.last
        if last is None or last.value == 0 or self._near(self.value, last.value):
            return
        for meant in (self.typed.scaleb(-1), self.typed.scaleb(1)):
            if self._near(convert(float(meant), self.unit, self.info.unit), last.value):
                says = f"last {self.written(last.value)}, now {plain(self.typed)}: decimal point? "
                yield Doubt("odd", says + plain(meant), meant)
        for meant in _swapped(self.typed):
            value = convert(float(meant), self.unit, self.info.unit)
            if abs(value - last.value) <= self._noise(last.value):
                says = f"last {self.written(last.value)}, now {plain(self.typed)}: digits swapped? "
                yield Doubt("odd", says + plain(meant), meant)

    def _near(self, value: float, last: float) -> bool:
        return abs(value - last) <= likeness(self.info, last)

    def _noise(self, last: float) -> float:
        return 3 * max(self.info.accuracy_at(last), 0.01 * abs(last))

    # -- odd values ------------------------------------------------------------------------------

    def odd(self, *, slipped: bool) -> list[Doubt]:
        """Return what is odd about a possible value; a slip already tells of a jump."""
        low, high = self.info.suspicious_low, self.info.suspicious_high
        note = ""
        if self.info.code == "pressure":
            mean = pressure_at_elevation_hpa(self.site.elevation_m)
            low, high = mean * (1 - _PRESSURE_SHARE), mean * (1 + _PRESSURE_SHARE)
            note = ": station pressure, not reduced to sea level?"
        found = []
        if low is not None and self.value < low:
            found.append(Doubt("odd", f"{self.figure} is low for here{note}"))
        if high is not None and self.value > high:
            found.append(Doubt("odd", f"{self.figure} is high for here{note}"))
        if not slipped:
            found += self._jump()
        return [*found, *self._across()]

    def _jump(self) -> Iterator[Doubt]:
        last = self.last
        if last is None or not fresh(last, self.now):
            return
        hours = (self.now - last.at) / timedelta(hours=1)
        tested = self.info.code in ("tan", "nitrite") and self.value == 0
        if tested and last.value > _TESTED_BEFORE * self.info.accuracy:
            says = f"exactly 0 after {self.written(last.value)}: was the reagent left out?"
            yield Doubt("odd", says)
        if self.info.jump is None:
            if self.value > 0 < last.value and not 1 / _FAR < self.value / last.value < _FAR:
                said = f"last {self.written(last.value)}, now {plain(self.typed)}"
                yield Doubt("odd", f"{said}: more than {_FAR:g} times off; read again")
            return
        if self.info.code in SWINGS and under_the_sun(self.site, self.place):
            alike = like_hour(
                self.farm, self.place.code, self.info.code, self.now, besides=self.replacing
            )
            if alike and self._alike(alike[-1], self.info.jump):
                return  # the day's swing, no jump
            if alike and self.info.code == "ph":
                yield self._unlike(alike[-1])
                return
        limit = self.info.jump * min(max(1.0, hours / self.info.jump_h), _LONGEST_JUMP)
        if abs(self.value - last.value) > limit + 1e-9:
            says = f"last {self.written(last.value)}, now {plain(self.typed)}: a jump; read again"
            yield Doubt("odd", says)

    def _alike(self, other: Read, jump: float) -> bool:
        """Tell whether the value is no jump against the same hour of another day."""
        days = max(1.0, (self.now - other.at) / timedelta(days=1))
        return abs(self.value - other.value) <= jump * min(days, _LONGEST_JUMP) + 1e-9

    def _unlike(self, other: Read) -> Doubt:
        when = spoken(other.at, self.now, self.site.timezone)
        before, now = self.written(other.value), plain(self.typed)
        return Doubt("odd", f"{before} at this hour ({when}), now {now}: a jump; read again")

    def _across(self) -> Iterator[Doubt]:
        """Yield what the value makes of the figures worked out from it, where that cannot be."""
        figures = self.figures
        if figures is None:
            typed = {self.info.code: self.value}
            figures = derived(self.site, self.farm, self.place, self.now, typed)
        for one in figures:
            if self.info.code not in NEEDS[one.measure]:
                continue
            if one.doubtful:
                yield Doubt("odd", one.doubtful)
            shared = MEASURES.get(one.measure)
            high = shared.suspicious_high if shared and one.measure == "oxygen_percent" else None
            if high is not None and one.value is not None and one.value > high:
                yield Doubt("odd", f"{one.value:.0f} % of saturation: is oxygen being added?")


def _asked(likely: Decimal | None) -> str:
    return "" if likely is None else f": {likely}?"


def _swapped(typed: Decimal) -> Iterator[Decimal]:
    """Yield the number with two neighbouring digits swapped, the point left where it is."""
    text = plain(typed)
    places = [i for i, char in enumerate(text) if char.isdigit()]
    for i, j in pairwise(places):
        if text[i] != text[j]:
            chars = list(text)
            chars[i], chars[j] = chars[j], chars[i]
            yield Decimal("".join(chars))
