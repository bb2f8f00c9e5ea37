"""The readings of one round side by side: the odd one, two typed crosswise, all shifted together.

Each place is compared with its own like hours first, so that a tank that always runs warmer is
not the odd one. One tank that falls alone is about its fish, and no doubt of a meter.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import combinations
from math import exp, log
from statistics import median
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.meters.doubt import FIRST, MeterDoubt, listed, newest
from rounds.day.readings.inputs import Inputs
from rounds.day.readings.judgement import NAMES, in_words
from rounds.day.readings.like_hour import usual
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site
from rounds.units import convert
from rounds.water.oxygen import saturation_mg_l

COMPARED: Final = ("temperature", "salinity", "ph")
"""What neighbours in one loop share."""
CROSSED: Final = ("temperature", "salinity", "ph", "oxygen")
SHIFTED: Final = {"oxygen": 0.08, "ph": 0.15, "salinity": 0.9}
"""By how much all places must have moved: a share of oxygen, else the measure's unit."""
BEYOND: Final = 3.0
"""Times the accuracy by which a reading must differ: two readings and a habit, each with noise."""
_AGAINST: Final = {
    "oxygen": "in water-saturated air",
    "ph": "in two buffers",
    "salinity": "in the standard",
}
_ONE_ROUND: Final = timedelta(hours=2)
_ONE_DAY: Final = timedelta(hours=14)
"""From the tanks at first light to mats, filter and pond later on."""
_LONG: Final = 28
"""Days of habit for a meter that ages."""
_MOST: Final = 0.75
"""Part of the places that must have moved alike."""
_ALIKE: Final = 0.6
"""Part of the shift within which places moved alike."""
_SETTING: Final = 0.04


class _Seen(Struct, frozen=True):
    """A reading of this round, with what is usual in its place at this hour."""

    place: Place
    read: Read
    usual: float | None

    @property
    def shift(self) -> float | None:
        return None if self.usual is None else self.read.value - self.usual


def rounds(site: Site, farm: Farm, now: datetime) -> Iterator[MeterDoubt]:
    """Yield the doubts that the last round raises.

    Args:
        site: The site.
        farm: The farm.
        now: The present.
    """
    crossed: set[tuple[str, str]] = set()
    seen = {measure: _seen(farm, _wet(site), measure, now, _ONE_ROUND) for measure in CROSSED}
    for measure in CROSSED:
        for doubt in _crosswise(seen[measure]):
            crossed |= {(measure, code) for code in doubt.places}
            yield doubt
    shifted = set()
    for measure in SHIFTED:
        for doubt in _together(site, farm, measure, now):
            shifted.add(measure)
            yield doubt
    for measure in COMPARED:
        if measure in shifted:
            continue
        for loop in site.loops:
            kinds = ("tank",) if measure == "ph" else ("tank", "filter", "tray")
            yield from _odd(
                [
                    one
                    for one in seen[measure]
                    if one.place.loop == loop
                    and one.place.kind in kinds
                    and (measure, one.place.code) not in crossed
                ]
            )


def _seen(
    farm: Farm, places: Sequence[Place], measure: str, now: datetime, within: timedelta,
    days: int = 7,
) -> list[_Seen]:  # fmt: skip
    reads = newest(farm, places, measure, now, within)
    return [
        _Seen(place, read, usual(farm, place.code, measure, read.at, days))
        for place in places
        if (read := reads.get(place.code)) is not None
    ]


# -- neighbours ------------------------------------------------------------------------------------


def _odd(seen: list[_Seen]) -> Iterator[MeterDoubt]:
    """Yield the one place of a loop that does not read as the others do."""
    known = [s for s in seen if s.usual is not None]
    by_habit = len(known) >= 2
    compared = known if by_habit else seen
    if len(compared) < 2:
        return
    info = MEASURES[compared[0].read.measure]
    limit = info.accuracy * BEYOND * (1 if by_habit else 2)

    def value(one: _Seen) -> float:
        return (one.shift or 0.0) if by_habit else one.read.value

    apart = {
        one.place.code: value(one) - median(value(s) for s in compared if s is not one)
        for one in compared
    }
    worst = max(compared, key=lambda one: abs(apart[one.place.code]))
    if abs(apart[worst.place.code]) <= limit + 1e-9:
        return
    others = [one for one in compared if one is not worst]
    if max(map(value, others)) - min(map(value, others)) > limit + 1e-9:
        return  # more than one differs: the water, or more than one mistake
    name, code = NAMES.get(info.code, info.name), worst.place.code
    beside = listed(f"{s.read.typed} in {s.place.code}" for s in others[:4])
    if len(others) == 1:
        named = f"{code} {worst.read.typed} and {beside} share one water"
    else:
        named = f"{code} reads {worst.read.typed}, {beside} share its water"
    habit = " and read alike at this hour before" if by_habit else ""
    says = (
        f"Check the {in_words(info.code)} meter: {named}{habit}. Read both again; if {code} stays "
        "apart look at its flow."
    )
    reason = Reason(
        "{name}: {code} is {apart:+.2f} {unit} from the others, more than {limit:.2f} ({times:g} "
        "times the accuracy of {accuracy:g})",
        {
            "name": name, "code": code, "apart": apart[code], "limit": limit,
            "times": limit / info.accuracy, "accuracy": info.accuracy, "unit": info.unit,
        },
        info.source,
    )  # fmt: skip
    yield MeterDoubt(
        "neighbour", info.code, (code, *(s.place.code for s in others if len(others) == 1)), says,
        worst.read.at, "told in the round it is read in", (reason,),
    )  # fmt: skip


# -- two typed crosswise ---------------------------------------------------------------------------


def _crosswise(seen: list[_Seen]) -> Iterator[MeterDoubt]:
    for one, other in combinations([s for s in seen if s.usual is not None], 2):
        measure = one.read.measure
        info = MEASURES[measure]
        mine, its = one.usual or 0.0, other.usual or 0.0
        noise = info.accuracy_at(max(mine, its))
        if abs(mine - its) <= (BEYOND + 1) * noise:
            continue
        a, b = one.read.value, other.read.value
        if max(abs(a - its), abs(b - mine)) > BEYOND / 2 * noise:
            continue
        codes = (one.place.code, other.place.code)
        says = (
            f"{codes[0]} and {codes[1]} {in_words(measure)} look typed crosswise "
            f"({one.read.typed} and {other.read.typed}, usually {_as_typed(mine, one.read)} and "
            f"{_as_typed(its, other.read)}): read both again, then correct both. "
            "Act on every ACT NOW first."
        )
        reason = Reason(
            "{a} fits what {other} reads at this hour, {b} what {one} reads, neither its own",
            {"a": one.read.typed, "b": other.read.typed, "one": codes[0], "other": codes[1]},
            "median of like hours, seven days",
        )
        delay = "told in the round it is typed in, after three days of readings at that hour"
        yield MeterDoubt(
            "crosswise", measure, codes, says, max(one.read.at, other.read.at), delay, (reason,)
        )


def _as_typed(value: float, read: Read) -> str:
    """Return a value of a reading's measure in the unit it was typed in."""
    info = MEASURES[read.measure]
    return f"{convert(value, info.unit, read.unit):.{info.decimals}f}"


# -- one handheld, all places ----------------------------------------------------------------------


def _together(site: Site, farm: Farm, measure: str, now: datetime) -> Iterator[MeterDoubt]:
    """Yield the doubt that all places moved alike, fishless ones and other loops among them."""
    limit, info = SHIFTED[measure], MEASURES[measure]
    days = _LONG if measure == "oxygen" else 7
    seen = _seen(farm, _wet(site), measure, now, _ONE_DAY, days)
    moved = {s.place.code: _moved(farm, s, measure) for s in seen if s.usual}
    known = [s for s in seen if s.usual]
    fishless = [s for s in known if not farm.stocks.get(s.place.code)]
    waters = {s.place.loop or s.place.code for s in known}
    if len(known) < 4 or not fishless or len(waters) < 2:
        return
    middle = median(moved.values())
    alike = [s for s in known if abs(moved[s.place.code] - middle) <= _ALIKE * limit]
    without = median(moved[s.place.code] for s in fishless)
    if abs(middle) <= limit or len(alike) < _MOST * len(known):
        return
    if abs(without - middle) > _ALIKE * limit:
        return  # where no fish are it did not move: this is about the fish
    way = "lower" if middle < 0 else "higher"
    if measure == "oxygen":
        much = f"{abs(exp(middle) - 1) * 100:.0f} %"
    else:
        much = f"{abs(middle):.{info.decimals}f}"
    says = (
        f"Check the {in_words(measure)} meter: {len(alike)} of {len(known)} places read {much} "
        f"{way} than at this hour before, {listed(s.place.code for s in fishless[:4])} without "
        "fish too. "
    )
    if measure == "oxygen" and _at_zero(farm, known, moved):
        says += "That is what salinity 0 in the meter does: set its salinity, read all again. "
    else:
        says += f"Hold it {_AGAINST[measure]}, read again with another one. "
    yield MeterDoubt(
        "all together", measure, tuple(s.place.code for s in alike), says + FIRST,
        min(s.read.at for s in alike),
        "a sudden shift is told in one day's rounds; one that creeps by 1 % a day in about three "
        "weeks",
        tuple(
            Reason(
                "{code} {typed}, usually {usual:.2f} at this hour",
                {"code": s.place.code, "typed": s.read.typed, "usual": s.usual or 0.0},
                f"median of like hours, {days} days",
            )
            for s in known
        ),
    )  # fmt: skip


def _wet(site: Site) -> list[Place]:
    return [p for p in site.places.values() if p.kind in ("tank", "filter", "tray", "pond")]


def _moved(farm: Farm, seen: _Seen, measure: str) -> float:
    """Return how far a reading moved; oxygen as the log of its ratio, what the warmth did apart."""
    if measure != "oxygen":
        return seen.shift or 0.0
    if not seen.usual or seen.read.value <= 0:
        return -1.0
    ratio = log(seen.read.value / seen.usual)
    now = Inputs(farm, seen.place, seen.read.at + timedelta(minutes=10)).find("temperature")
    before = usual(farm, seen.place.code, "temperature", seen.read.at, _LONG)
    if now is None or before is None:
        return ratio
    try:
        return ratio - log(saturation_mg_l(now.value, 0.0) / saturation_mg_l(before, 0.0))
    except ValueError:
        return ratio


def _at_zero(farm: Farm, known: list[_Seen], moved: dict[str, float]) -> bool:
    """Tell whether each place reads as much too high as fresh water would hold more."""
    left = []
    for s in known:
        inputs = Inputs(farm, s.place, s.read.at + timedelta(minutes=10))
        t, salt = inputs.find("temperature"), inputs.find("salinity")
        if t is not None and salt is not None:
            try:
                full = saturation_mg_l(t.value, 0.0) / saturation_mg_l(t.value, salt.value)
            except ValueError:
                continue
            left.append(moved[s.place.code] - log(full))
    return bool(left) and abs(median(left)) <= _SETTING
