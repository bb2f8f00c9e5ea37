"""Salt balance and water level of a loop: evaporation told from a leak, and what nobody wrote down.

Evaporation takes water and leaves the salt: salinity rises as the level falls, their product stays.
A leak takes both: the level falls and salinity stays. Fresh water brings no salt: salinity can fall
only where water was added, or where salt was lost and the level kept with fresh water.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from math import log, sqrt
from statistics import mean
from typing import Final, Literal

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.meters.doubt import newest
from rounds.day.when import spoken
from rounds.reason import Reason, Reasons
from rounds.site.measures import MEASURES
from rounds.site.model import Loop, Place, Site
from rounds.units import Amount, shown
from rounds.water.seawater import density_kg_m3

Kind = Literal["diluted", "lost", "leak", "evaporated"]
LEVEL_STEP: Final = "level"
AT_MARK: Final = "at the mark"
LOW: Final = "low"
SINCE_DAYS: Final = (1, 3, 7)
"""How far back the water is compared with itself."""
_CERTAIN: Final = 4.0
"""Standard deviations of the noise a change must pass; a reading's is half its accuracy."""
_DISSOLVED: Final = timedelta(hours=12)
"""Salt given later than this before a reading may still lie on the bottom (common practice)."""
_ROUND: Final = timedelta(hours=4)
_LEVEL_STANDS: Final = timedelta(hours=36)


class SaltBalance(Struct, frozen=True):
    """What the salt and the level of a loop say. `volume_m3` is the water that it is about."""

    loop: str
    kind: Kind
    volume_m3: float | None
    says: str
    since: datetime
    delay: str
    reasons: Reasons


class _Span(Struct, frozen=True):
    """A loop's water between two rounds of salinity readings in the same places."""

    site: Site
    farm: Farm
    loop: Loop
    volume_m3: float
    first: tuple[Read, ...]
    last: tuple[Read, ...]

    @property
    def before(self) -> float:
        return mean(read.value for read in self.first)

    @property
    def after(self) -> float:
        return mean(read.value for read in self.last)

    @property
    def begins(self) -> datetime:
        return min(read.at for read in self.first)

    @property
    def ends(self) -> datetime:
        return max(read.at for read in self.last)

    @property
    def limit(self) -> float:
        """The smallest change of salinity that is one."""
        accuracy = MEASURES["salinity"].accuracy_at(self.before)
        return max(accuracy, _CERTAIN * accuracy / 2 * sqrt(2 / len(self.last)))

    def expected(self, *, level_kept: bool) -> float:
        """Return the least salinity that what was written down explains, without evaporation.

        With the level kept, a top-up took the place of water lost to the air; else it dilutes.
        The first one always does: it may replace what had gone before the span began.
        """
        volume, salt = self.volume_m3, self.volume_m3 * self.before
        density = density_kg_m3(20.0, min(self.before, 42.0)) / 1000
        events: list[tuple[datetime, float, float, float]] = []
        topped = False
        for change in self.farm.exchanged(self.loop.code, self.begins):
            if self.begins < change.at <= self.ends:
                out, into = change.volume_out_m3, change.volume_in_m3
                if out or not (level_kept and topped):
                    topped = topped or not out
                    events.append((change.at, out, into, into * (change.salinity_in or 0.0)))
        for dose in self.farm.dosed(self.loop.code, self.begins):
            product = self.site.products.get(dose.product)
            dissolved = product is not None and product.kind == "salt"
            if dissolved and max(r.at for r in self.first) < dose.at <= self.ends - _DISSOLVED:
                share = (product.dissolved_fraction if product else None) or 0.0
                events.append((dose.at, 0.0, 0.0, dose.amount_g * share / 1000 / density))
        for _, out, into, brought in sorted(events):
            salt -= salt / volume * min(out, volume)
            salt += brought
            volume = max(volume + into - out, 0.01)
            if level_kept:  # what is above the mark has run off with its salt
                salt *= min(1.0, self.volume_m3 / volume)
                volume = self.volume_m3
        return salt / volume


def balances(site: Site, farm: Farm, now: datetime) -> tuple[SaltBalance, ...]:
    """Return what salt and level say of each loop; nothing where they agree with the book.

    Args:
        site: The site.
        farm: The farm.
        now: The present; nothing read or given after it counts.

    Returns:
        At most one finding a loop.
    """
    found = (balance(site, farm, loop, now) for loop in site.loops.values())
    return tuple(one for one in found if one is not None)


def balance(site: Site, farm: Farm, loop: Loop, now: datetime) -> SaltBalance | None:
    """Return what salt and level say of one loop; None where they agree with the book."""
    spans = _spans(site, farm, loop, now)
    return next((one for span in spans for one in _found(span, now)), None)


def _spans(site: Site, farm: Farm, loop: Loop, now: datetime) -> Iterator[_Span]:
    places = [p for p in site.places_of(loop.code) if p.wet]
    volume = farm.loop_water(loop.code).volume_m3
    last = newest(farm, places, "salinity", now, _ROUND)
    if not last or not volume:
        return
    ends = max(read.at for read in last.values())
    for days in SINCE_DAYS:
        then = ends - timedelta(days=days) + timedelta(hours=2)
        first = newest(farm, [p for p in places if p.code in last], "salinity", then, _ROUND)
        if first:
            both = tuple(last[code] for code in first)
            yield _Span(site, farm, loop, volume, tuple(first.values()), both)


def _found(span: _Span, now: datetime) -> Iterator[SaltBalance]:
    after, limit = span.after, span.limit
    least = span.expected(level_kept=False)
    if after < least - limit:
        came = span.volume_m3 * (least / max(after, 0.1) - 1)
        yield _told(
            span, now, "diluted", came, least,
            f"about {_water(span, came)} of fresh water came in that is not in the book. Look for "
            "rain, a fill valve that drips, a top-up nobody wrote down, a leak somebody topped up; "
            "give no salt until it is found.",
            "fell without a logged addition",
        )  # fmt: skip
        return
    kept = span.expected(level_kept=True)
    was, (level, missing) = _level(span, span.begins)[0], _level(span, span.ends)
    if was == level == AT_MARK and after < kept - limit:
        gone = span.volume_m3 * log(kept / max(after, 0.1))
        yield _told(
            span, now, "lost", gone, kept,
            f"the level was kept with fresh water, so about {_water(span, gone)} of salt water "
            "left: a leak, an overflow, a drain left open. Walk along the pipes before salt is "
            "given.",
            "fell and the level did not",
        )  # fmt: skip
    elif was == AT_MARK and level == LOW:
        yield from _level_fell(span, now, kept, missing)


def _level_fell(
    span: _Span, now: datetime, kept: float, missing: float | None
) -> Iterator[SaltBalance]:
    """Tell evaporation from a leak where the level fell and salinity did not."""
    after, limit, volume = span.after, span.limit, span.volume_m3
    hidden = volume * limit / max(kept, 0.1)
    if after > kept + limit:
        gone = volume * (1 - kept / after)
        if missing is None or missing <= gone + hidden:
            yield _told(
                span, now, "evaporated", gone, kept,
                f"about {_water(span, gone)} went into the air: top up with fresh water, the sheet "
                "Doses says how much.",
                "rose as the level fell",
            )  # fmt: skip
            return
        leaked = missing - gone
    elif missing is not None and missing <= hidden:
        return  # too little to tell
    else:
        leaked = missing or 0.0
    size = f"about {_water(span, leaked)}" if leaked else "what is missing"
    small = "" if leaked else f" (if it is more than {_water(span, hidden)})"
    yield _told(
        span, now, "leak", leaked or None, kept,
        f"{size} left with its salt{small}: a leak or splash, not evaporation. Open the card "
        "Leak, look under tanks and along pipes; top up with water of the loop's salinity.",
        "did not rise as the level fell",
    )  # fmt: skip


def _told(
    span: _Span, now: datetime, kind: Kind, volume_m3: float | None, expected: float, do: str,
    did: str,
) -> SaltBalance:  # fmt: skip
    zone, digits = span.site.timezone, MEASURES["salinity"].decimals
    since = spoken(span.begins, now, zone)
    says = (
        f"Loop {span.loop.code}: salinity {did}, {span.before:.{digits}f} to "
        f"{span.after:.{digits}f} since {since}: {do}"
    )
    days = span.limit / (0.01 * max(span.before, 0.1))
    reasons = (
        Reason(
            "Salinity {before:.2f} ({since}) and {after:.2f} ({until}), mean of {n} places",
            {
                "before": span.before, "since": since, "after": span.after,
                "until": spoken(span.ends, now, zone), "n": len(span.last),
            },
            "reading",
        ),
        Reason(
            "With what is in the book it would be {expected:.2f} in {volume:.2f}; a change under "
            "{limit:.2f} is none",
            {
                "expected": expected, "volume": Amount(span.volume_m3, "m^3"),
                "limit": span.limit,
            },
            "salt is conserved; accuracy of the meter",
        ),
    )  # fmt: skip
    delay = f"1 % of the water a day is told after about {max(1, round(days))} days"
    return SaltBalance(span.loop.code, kind, volume_m3, says, span.begins, delay, reasons)


def _water(span: _Span, volume_m3: float) -> str:
    return format(shown(Amount(volume_m3, "m^3"), span.site.display_units), ".2f")


# -- the level -------------------------------------------------------------------------------------


def _level(span: _Span, at: datetime) -> tuple[str, float | None]:
    """Return how the level stood at an instant, and how much had gone since the span began.

    Levels in cm in places whose area is known come first; else the last answer about the sumps.
    """
    drops = [
        drop
        for place in span.site.places_of(span.loop.code)
        if (drop := _drop(span, place, at)) is not None
    ]
    if drops:
        cm = max(drop for drop, _ in drops)
        volumes = [volume for _, volume in drops if volume is not None]
        missing = sum(volumes) if len(volumes) == len(drops) else None
        return (LOW if cm > 2 * MEASURES["level"].accuracy else AT_MARK), missing
    own = [p.code for p in span.site.places_of(span.loop.code)]
    house = [p.code for p in span.site.places.values() if p.kind == "house"]
    for codes in (own, house):
        answers = [
            answer
            for code in codes
            for answer in span.farm.answers(code, LEVEL_STEP, at - _LEVEL_STANDS)
            if timedelta(0) <= at + _ROUND - answer.at <= _LEVEL_STANDS
        ]
        if answers:
            return max(answers, key=lambda answer: answer.at).value, None
    return "", None


def _drop(span: _Span, place: Place, at: datetime) -> tuple[float, float | None] | None:
    """Return by how many cm, and m^3 where its area is known, a place's level fell in the span."""
    first = span.farm.latest(place.code, "level", span.begins + _ROUND)
    last = span.farm.latest(place.code, "level", at + _ROUND)
    if first is None or last is None or span.begins - first.at > _LEVEL_STANDS:
        return None
    cm = first.value - last.value
    return cm, None if place.area_m2 is None else cm / 100 * place.area_m2
