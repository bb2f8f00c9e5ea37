"""A lot's weight and biomass forward, with a band that widens, and the dates they lead to.

A date is given only where the lot's own weighings support it: a coefficient learnt in water like
this one, at weights like these, clear of the error of the samples. Else a text says what is wanted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.waters import water_m3
from rounds.day.lots.growth import REACH, Growth, temperature_now_c
from rounds.day.lots.series import Point
from rounds.day.when import local_day, long_day
from rounds.fish.capacity import biomass_at_density_kg
from rounds.fish.forage import GRADE_BELOW, grade_now
from rounds.fish.growth import Projected, project_tgc
from rounds.fish.stock import carried_se_g
from rounds.reason import Reason, Reasons
from rounds.site.model import Place, Site

HORIZON_DAYS: Final = 730
SHOWN_DAYS: Final = (7, 14, 28, 56, 84)
WARN_SHARE: Final = 0.8
"""Of the density limit: time to plan the move (common practice)."""
GRADE_CV: Final = 25.0
"""Spread of the weights, %, from which a lot is graded (common practice)."""
_ROUGH: Final = 10.0
"""Up to this many times the largest weighed the months are told all the same (common practice)."""
_SAMPLE_LASTS: Final = timedelta(days=60)
"""A weight carried for longer supports no date (common practice)."""


class Ahead(Struct, frozen=True):
    """Mean weight and biomass of a day to come, each with the ends of a 95 % band."""

    day: date
    days: int
    weight_g: float
    low_g: float
    high_g: float
    biomass_kg: float
    low_kg: float
    high_kg: float


class When(Struct, frozen=True):
    """A date with the band it lies in; `says` is all of it, or why there is no date."""

    says: str
    day: date | None = None
    earliest: date | None = None
    latest: date | None = None


class Projection(Struct, frozen=True):
    """What a lot in a place becomes if the water and the feeding stay as they are."""

    place: str
    lot: str
    ahead: tuple[Ahead, ...]
    market: When
    density_warn: When
    density_limit: When
    grading: When
    missing: tuple[str, ...]
    reasons: Reasons


def project(
    site: Site, farm: Farm, growth: Growth, now: datetime, days: Sequence[int] = SHOWN_DAYS
) -> Projection:
    """Project one lot in one place forward.

    Args:
        site: The site: market weight, density limit, water volume.
        farm: The farm.
        growth: What the lot did so far, of this place.
        now: The present.
        days: How many days ahead weight and biomass are told.

    Returns:
        The days ahead and the dates; without a coefficient no day, and the reason in each text.
    """
    place = site.places[growth.place]
    grading, unsaid = _grading(growth, now, site), _unsupported(growth, now)
    if unsaid:
        no = When(unsaid)
        return Projection(
            place.code, growth.lot, (), no, no, no, grading, (unsaid,),
            (Reason("No date: {why}", {"why": unsaid}),),
        )  # fmt: skip
    path = _Path(site, farm, growth, now)
    species = site.species_of(place)
    market = (
        path.when(species.market_weight_g, f"{species.market_weight_g:g} g")
        if species is not None
        else When(f"no species is set for {place.code}")
    )
    limit, warn = _density(site, farm, place, growth, path)
    most, source = site.density_for(place)
    said = Reason("Density limit {most:g} kg/m3", {"most": most or 0.0}, source)
    reasons = (*path.reasons, said) if most is not None else path.reasons
    ahead = tuple(path.ahead(n) for n in days)
    return Projection(
        place.code, growth.lot, ahead, market, warn, limit, grading, (), reasons
    )  # fmt: skip


def when_weighs(
    site: Site, farm: Farm, growth: Growth, now: datetime, target_g: float, what: str
) -> When:
    """Return when a lot's mean weight is reached, or why there is no date.

    Args:
        site: The site.
        farm: The farm.
        growth: What the lot did so far.
        now: The present.
        target_g: The weight, g.
        what: It in words, for the sentence.
    """
    unsaid = _unsupported(growth, now)
    return When(unsaid) if unsaid else _Path(site, farm, growth, now).when(target_g, what)


def _unsupported(growth: Growth, now: datetime) -> str:
    if growth.tgc is None:
        return growth.tgc_says
    if not growth.points or now - growth.points[-1].at > _SAMPLE_LASTS:
        return "not weighed for 60 days: weigh a sample"
    small, large = growth.tgc.weights_g
    if not small <= growth.weight_g <= large:
        return f"the coefficient was learnt at {small:.4g} to {large / REACH:.4g} g: weigh again"
    return ""


class _Path:
    """Weight day by day at the temperature of the last two weeks."""

    def __init__(self, site: Site, farm: Farm, growth: Growth, now: datetime) -> None:
        place, tgc, last = site.places[growth.place], growth.tgc, growth.points[-1]
        warm_c = temperature_now_c(farm, place, now)
        assert tgc is not None  # noqa: S101
        assert warm_c is not None  # noqa: S101
        self._growth, self._tgc, self._warm_c = growth, tgc, warm_c
        self._today = local_day(now, site.timezone)
        since = max(0.0, (now - last.at) / timedelta(days=1))
        self._se_g = min(carried_se_g(last.se_g, growth.weight_g, since), growth.weight_g / 2)
        self._days: list[Projected] = []
        self.reasons: Reasons = (
            Reason(
                "From {weight:.4g} +- {error:.2g} g with TGC x1000 {tgc:.4f} +- {sd:.3f}, "
                "learnt at {cold:.1f} to {warm:.1f} degC and {small:.4g} to {large:.4g} g",
                {
                    "weight": growth.weight_g, "error": 1.96 * self._se_g, "tgc": tgc.x1000,
                    "sd": 1.96 * growth.tgc_sd_x1000, "cold": tgc.temperatures_c[0],
                    "warm": tgc.temperatures_c[1], "small": tgc.weights_g[0],
                    "large": tgc.weights_g[1] / REACH,
                },
                "Iwama & Tautz 1981; both errors added in squares",
            ),
            Reason(
                "The water stays at {warm:.1f} degC, the feeding as it was, no deaths counted",
                {"warm": warm_c},
                "stated assumption",
            ),
        )  # fmt: skip

    def at(self, days: int) -> Projected:
        """Return the weight after so many days."""
        while len(self._days) <= days:
            degree_days = self._warm_c * len(self._days)
            self._days.append(
                project_tgc(
                    self._growth.weight_g, self._se_g, self._tgc.x1000,
                    self._growth.tgc_sd_x1000, degree_days,
                )
            )  # fmt: skip
        return self._days[days]

    def ahead(self, days: int) -> Ahead:
        """Return weight and biomass after so many days."""
        one, count = self.at(days), self._growth.count / 1000
        return Ahead(
            self._today + timedelta(days=days), days, one.weight_g, one.low_g, one.high_g,
            one.weight_g * count, one.low_g * count, one.high_g * count,
        )  # fmt: skip

    def when(self, target_g: float, what: str) -> When:
        """Return when a mean weight is reached, or why no date is given."""
        if self._growth.weight_g >= target_g:
            return When(f"{what}: reached", self._today, self._today, self._today)
        largest = self._tgc.weights_g[1]
        if target_g > largest:
            says = f"{what}: no date, more than {REACH:g} times the largest weighed"
            rough = self._rough(target_g) if target_g <= _ROUGH * largest / REACH else ""
            return When(f"{says}{rough}: weigh again near {largest * 0.8:.3g} g")
        found = self._reached(target_g)
        day, first, last = (None if d is None else self._today + timedelta(days=d) for d in found)
        if day is None or first is None:
            return When(f"{what}: no date within two years")
        until = "later than two years" if last is None else long_day(last)
        says = f"{what} about {long_day(day)} (from {long_day(first)} to {until})"
        return When(says, day, first, last)

    def _rough(self, target_g: float) -> str:
        """Return the span of months a weight lies in that is too far off for a date."""
        _, first, last = (
            None if d is None else f"{self._today + timedelta(days=d):%b %Y}"
            for d in self._reached(target_g)
        )
        if first is None:
            return ""
        until = f"and {last}" if last else "and later than two years from now"
        return f"; if it grows on so, roughly between {first} {until}"

    def _reached(self, target_g: float) -> list[int | None]:
        """Return the days until a weight is reached: by the middle, the high and the low end."""
        return [
            next((d for d in range(HORIZON_DAYS) if reached(self.at(d)) >= target_g), None)
            for reached in (_middle, _high, _low)
        ]


def _middle(one: Projected) -> float:
    return one.weight_g


def _high(one: Projected) -> float:
    return one.high_g


def _low(one: Projected) -> float:
    return one.low_g


def _density(
    site: Site, farm: Farm, place: Place, growth: Growth, path: _Path
) -> tuple[When, When]:  # fmt: skip
    """Return when the density limit and its warning share are reached."""
    most, _ = site.density_for(place)
    if most is None or density_weight_g(site, farm, growth) is None:
        lacks = "density limit" if most is None else "water volume"
        no = When(f"no {lacks} is set for {place.code}: put it into site.toml")
        return no, no
    found = []
    for share in (1.0, WARN_SHARE):
        target_g = density_weight_g(site, farm, growth, share) or 0.0
        found.append(path.when(max(target_g, 1e-6), f"{most * share:g} kg/m3"))
    return found[0], found[1]


def density_weight_g(
    site: Site, farm: Farm, growth: Growth, share: float = 1.0
) -> float | None:  # fmt: skip
    """Return the mean weight at which a lot fills its place to a share of the density limit, g.

    Args:
        site: The site.
        farm: The farm.
        growth: The lot in its place; other lots there stay as they are.
        share: Part of the limit, above 0.

    Returns:
        The weight, 0 where others fill the place; None without limit, water volume or fish.
    """
    place = site.places[growth.place]
    most, _ = site.density_for(place)
    volume_m3 = water_m3(place, farm.now.states)
    if most is None or volume_m3 is None or growth.count < 1:
        return None
    others_kg = math.fsum(
        stock.biomass_kg for stock in farm.stocks[place.code] if stock.lot != growth.lot
    )
    room_kg = biomass_at_density_kg(volume_m3, most * share) - others_kg
    return max(room_kg, 0.0) * 1000 / growth.count


def _could_be_eaten(last: Point, place: Place, site: Site) -> str:
    """Tell whether the largest fish of a sample can eat the smallest; empty where they cannot."""
    species = site.species_of(place)
    if last.range_g is None or species is None:
        return ""
    small_cm, large_cm = (species.length_cm(one) for one in last.range_g)
    if not 0.1 <= small_cm <= large_cm <= 250 or not grade_now(small_cm, large_cm):
        return ""
    return (
        f"smallest {last.range_g[0]:.3g} g, largest {last.range_g[1]:.3g} g, below "
        f"{GRADE_BELOW:.0%} of its length: grade now, or the large ones eat the small"
    )


def _grading(growth: Growth, now: datetime, site: Site) -> When:
    """Return when the spread of the weights reaches the grading line, by its own trend."""
    spread = [p for p in growth.points if p.cv_percent is not None]
    today = local_day(now, site.timezone)
    if not spread:
        return When(
            "no spread is known: weigh single fish (on the command line: rounds weigh --weights)"
        )
    last = spread[-1]
    if now - last.at > _SAMPLE_LASTS:
        age = (now - last.at).days
        return When(f"the spread was weighed {age} days ago: weigh single fish again")
    cv = last.cv_percent or 0.0
    if eaten := _could_be_eaten(last, site.places[growth.place], site):
        return When(eaten, today, today, today)
    if cv >= GRADE_CV:
        return When(f"CV {cv:.0f} %: grade now, by weight", today, today, today)
    if len(spread) < 2:
        return When(f"CV {cv:.0f} %, of one weighing: no date until single fish are weighed again")
    days = (last.at - spread[0].at) / timedelta(days=1)
    a_day = (cv - (spread[0].cv_percent or 0.0)) / days if days else 0.0
    ahead = (GRADE_CV - cv) / a_day if a_day > 0 else math.inf
    if ahead > HORIZON_DAYS:
        return When(f"CV {cv:.0f} % and not rising: no grading in sight")
    day = local_day(last.at, site.timezone) + timedelta(days=math.ceil(ahead))
    if day < today:
        says = f"CV {cv:.0f} % when weighed, {GRADE_CV:g} % by now if it went on so"
        return When(f"{says}: weigh single fish")
    return When(f"CV {cv:.0f} %, {GRADE_CV:g} % about {long_day(day)} if it goes on so", day)
