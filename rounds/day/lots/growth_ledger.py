"""The account of a lot between its weighings in a place: deaths, gain, and feed per gain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.pellets import pellet_equivalent_g
from rounds.day.lots.crops import forage_lot
from rounds.day.lots.series import Change, Point, changes, number_at
from rounds.fish.stock import fcr_biological, fcr_economic, mortality_z_per_day, survival
from rounds.reason import Reason
from rounds.records.entry import Entry
from rounds.site.model import Place, Site
from rounds.units import Amount

LEAST_DAYS: Final = 5.0
"""Weighings nearer together than this tell more of the sample than of growth (common practice)."""


def better(series: Sequence[Point]) -> tuple[Point, ...]:
    """Return weighings without those of fish that came in and were weighed better soon after."""
    return tuple(
        a
        for a, b in zip(series, (*series[1:], None), strict=False)
        if b is None
        or a.what == "sample"
        or b.at - a.at >= timedelta(days=LEAST_DAYS)
        or a.se_g <= b.se_g
    )


class Ledger:
    """Feed, gain and deaths of one lot in one place between its first and last weighing there."""

    def __init__(
        self, site: Site, farm: Farm, place: Place, lot: str, of_lot: Sequence[Entry],
        series: Sequence[Point], now: datetime,
    ) -> None:  # fmt: skip
        self.gain_kg: float | None = None
        self.biological: float | None = None
        self.economic: float | None = None
        self.given_kg = 0.0
        self.says, self.reasons = "", list[Reason]()
        self.graded = False
        here = [point for point in better(series) if point.place == place.code]
        self.survival: float | None = None
        self.z_per_day: float | None = None
        if forage_lot(farm, lot, place.code, now):
            self.says = "forage is cropped and fed: no account of gain or survival"
            return
        self._changes = [c for c in changes(of_lot, place.code) if c.at <= now]
        self._deaths(series, now)
        if len(here) < 2 or here[-1].at - here[0].at < timedelta(days=LEAST_DAYS):
            self.says = "feed per gain needs two weighings here, a week or more apart"
            return
        self._series, first, last = here, here[0], here[-1]
        shared = _others(farm, place.code, lot, first.at, last.at)
        if shared:
            self.says = f"{', '.join(shared)} ate here too: feed cannot be told apart"
            return
        self._feed(site, farm, place, first, last)

    def _deaths(self, series: Sequence[Point], now: datetime) -> None:
        since = series[0].at if series else now
        risk = [
            (c.before, c.count)
            for c in self._changes
            if c.kind == "dead" and c.at >= since and c.before > 0
        ]
        until = max((series[-1].at, *(c.at for c in self._changes))) if series else now
        days = (until - since) / timedelta(days=1)
        if days < 1:
            return
        self.survival = survival(risk)
        self.z_per_day = mortality_z_per_day(max(self.survival, 1e-6), days)
        says = "{part:.1%} alive of those at risk over {days:.0f} days: Z {z:.6f} a day"
        values = {"part": self.survival, "days": days, "z": self.z_per_day}
        self.reasons.append(Reason(says, values, "Kaplan & Meier 1958; moves are no deaths"))

    def _feed(self, site: Site, farm: Farm, place: Place, first: Point, last: Point) -> None:
        meals = [fed for fed in farm.fed(place.code, first.at) if first.at <= fed.at <= last.at]
        products = site.products
        given = [(products.get(fed.product), fed.amount_g, fed.left_g) for fed in meals]
        self.given_kg = math.fsum(pellet_equivalent_g(p, g, None) for p, g, _ in given) / 1000
        eaten_kg = math.fsum(pellet_equivalent_g(*one) for one in given) / 1000
        start_kg = number_at(self._changes, first.at) * first.weight_g / 1000
        end_kg = number_at(self._changes, last.at) * last.weight_g / 1000
        inside = [c for c in self._changes if first.at < c.at <= last.at]
        dead_kg = math.fsum(self._kg(c) for c in inside if c.kind == "dead")
        out_kg = math.fsum(self._kg(c) for c in inside if c.kind == "out")
        in_kg = math.fsum(self._kg(c) for c in inside if c.kind == "in")
        self.graded = any(c.kind == "out" for c in inside)
        self.gain_kg = end_kg - start_kg + out_kg - in_kg
        says = (
            "{start:.2f} then, {end:.2f} at the last weighing, {out:.2f} taken out, {dead:.2f} "
            "dead: gain {gain:.2f}; feed {given:.2f} given, {eaten:.2f} eaten"
        )
        figures = {
            "start": start_kg, "end": end_kg, "out": out_kg, "dead": dead_kg,
            "gain": self.gain_kg, "given": self.given_kg, "eaten": eaten_kg,
        }  # fmt: skip
        values = {name: Amount(kg, "kg") for name, kg in figures.items()}
        self.reasons.append(Reason(says, values, "as dry pellets; forage by its dry matter"))
        if self.given_kg <= 0:
            self.says = "no feed is on record between the weighings: feed per gain has no meaning"
            return
        self.economic = fcr_economic(self.given_kg, start_kg, end_kg, out_kg, in_kg)
        self.biological = fcr_biological(eaten_kg, start_kg, end_kg, out_kg, dead_kg, in_kg)
        if self.economic is None:
            self.says = "no gain that lived: feed per gain has no meaning"
        days = (last.at - first.at) / timedelta(days=1)
        fed_on = len({fed.day for fed in meals})
        if 2 * fed_on < days:
            self.says = f"feed is on record on {fed_on} of {days:.0f} days: too low to rely on"

    def _kg(self, change: Change) -> float:
        """Return the mass of fish that left: as weighed, else by their weight on that day."""
        if change.mass_kg is not None:
            return change.mass_kg
        before = max((p for p in self._series if p.at <= change.at), key=lambda p: p.at)
        after = min((p for p in self._series if p.at >= change.at), key=lambda p: p.at)
        span = (after.at - before.at) / timedelta(days=1)
        share = (change.at - before.at) / timedelta(days=1) / span if span else 0.0
        grown_g = before.weight_g * math.pow(after.weight_g / before.weight_g, share)
        return change.count * grown_g / 1000


def _others(farm: Farm, place: str, lot: str, since: datetime, until: datetime) -> list[str]:
    """Return other lots that had fish in a place within a span of time."""
    found = []
    for other, entries in sorted(farm.lots.items()):
        told = changes(entries, place) if other != lot else []
        joined = any(one.kind == "in" and since < one.at <= until for one in told)
        if joined or number_at(told, since) > 0:
            found.append(other)
    return found
