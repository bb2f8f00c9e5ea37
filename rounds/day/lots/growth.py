"""How a lot grew in a place, from its own weighings, temperatures, deaths and feed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import fmean, variance
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.fold.waters import water_m3
from rounds.day.lots.growth_ledger import LEAST_DAYS, Ledger, better
from rounds.day.lots.series import Point, points, warmth
from rounds.day.when import local_day, long_day
from rounds.fish.growth import Tgc, sgr_percent_day, tgc_x1000
from rounds.reason import Reason, Reasons, Value
from rounds.site.model import Place, Site
from rounds.units import Amount

BAND_C: Final = 2.0
"""A coefficient is kept for water this near to what it was learnt in (common practice)."""
REACH: Final = 3.0
"""It holds up to this many times the largest weight it was learnt at (common practice)."""
_SCALE: Final = 1000


class Span(Struct, frozen=True):
    """Growth between two weighings. `tgc` is None where temperature does not support it."""

    since: datetime
    until: datetime
    days: float
    from_g: float
    to_g: float
    sgr_percent_day: float
    gain_g_day: float
    temperature_c: float | None
    unread_days: int
    tgc: Tgc | None
    tgc_se_x1000: float
    says: str
    """Why there is no coefficient; empty when there is one."""


class Growth(Struct, frozen=True, kw_only=True):
    """What a lot in a place has become since it came, or was first weighed there.

    `tgc` is the coefficient for the water as it is now, with its spread, its scale, the
    temperatures and the weights it holds for; None, and `tgc_says` why, where there is none.
    """

    place: str
    lot: str
    count: int
    weight_g: float
    biomass_kg: float
    density_kg_m3: float | None
    points: tuple[Point, ...]
    spans: tuple[Span, ...]
    days: float
    sgr_percent_day: float | None
    gain_g_day: float | None
    tgc: Tgc | None
    tgc_sd_x1000: float
    tgc_says: str
    gain_kg: float | None
    feed_given_kg: float
    fcr_biological: float | None
    fcr_economic: float | None
    fcr_says: str
    survival: float | None
    mortality_z_per_day: float | None
    missing: tuple[str, ...]
    cautions: tuple[str, ...]
    reasons: Reasons


def growths(site: Site, farm: Farm, now: datetime) -> tuple[Growth, ...]:
    """Work out the growth of every lot in every place, in walking order.

    Args:
        site: The site.
        farm: The farm.
        now: The present.

    Returns:
        One growth a lot and place with fish; what the data cannot support is said in words.
    """
    return tuple(
        of_stock(site, farm, place, stock, now)
        for place in site.places.values()
        for stock in farm.stocks.get(place.code, ())
    )


def of_stock(
    site: Site, farm: Farm, place: Place, stock: Stock, now: datetime,
    within: timedelta = timedelta.max,
) -> Growth:  # fmt: skip
    """Work out the growth of one lot in one place; see `growths`.

    Args:
        site: The site.
        farm: The farm.
        place: Where.
        stock: The lot there.
        now: The present.
        within: Only weighings no longer than this before the last one are looked at.
    """
    of_lot = farm.lots.get(stock.lot, [])
    series = points(farm, of_lot, place.code, now)
    series = tuple(point for point in series if series[-1].at - point.at <= within)
    ledger = Ledger(site, farm, place, stock.lot, of_lot, series, now)
    sound = better(series)
    spans = tuple(_span(site, farm, place, a, b) for a, b in _apart(sound))
    first, last = (sound[0], sound[-1]) if sound else (None, None)
    days = (last.at - first.at) / timedelta(days=1) if first and last else 0.0
    sgr = gain = None
    if first and last and days >= LEAST_DAYS:
        sgr = sgr_percent_day(first.weight_g, last.weight_g, days)
        gain = (last.weight_g - first.weight_g) / days
    tgc, sd, says = _learnt(site, farm, place, spans, series, now)
    volume_m3 = water_m3(place, farm.now.states)
    missing = (
        () if spans else (f"mean weight of {stock.lot}: weigh a sample, then again in a week",)
    )
    return Growth(
        place=place.code,
        lot=stock.lot,
        count=stock.count,
        weight_g=stock.weight_g,
        biomass_kg=stock.biomass_kg,
        density_kg_m3=stock.biomass_kg / volume_m3 if volume_m3 else None,
        points=series,
        spans=spans,
        days=days,
        sgr_percent_day=sgr,
        gain_g_day=gain,
        tgc=tgc,
        tgc_sd_x1000=sd,
        tgc_says=says,
        gain_kg=ledger.gain_kg,
        feed_given_kg=ledger.given_kg,
        fcr_biological=ledger.biological,
        fcr_economic=ledger.economic,
        fcr_says=ledger.says,
        survival=ledger.survival,
        mortality_z_per_day=ledger.z_per_day,
        missing=missing,
        cautions=tuple(_cautions(ledger, stock, series)),
        reasons=(*_reasons(series, spans, site.timezone), *ledger.reasons),
    )


# -- between weighings -----------------------------------------------------------------------------


def _apart(series: Sequence[Point]) -> list[tuple[Point, Point]]:
    """Return pairs of weighings far enough apart to tell growth by."""
    pairs, start = [], 0
    for end in range(1, len(series)):
        if series[end].at - series[start].at >= timedelta(days=LEAST_DAYS):
            pairs.append((series[start], series[end]))
            start = end
    return pairs


def _span(site: Site, farm: Farm, place: Place, a: Point, b: Point) -> Span:
    days = (b.at - a.at) / timedelta(days=1)
    warm = warmth(farm, tuple(dict.fromkeys((b.place, a.place))), a.at, b.at)
    tgc, error, says = None, 0.0, ""
    species = site.species_of(place)
    if warm is None or not warm.known:
        read = 0 if warm is None else len(warm.daily_c) - warm.unread
        says = f"temperature was read on {read} of {days:.0f} days: read it daily"
    elif species is not None and warm.mean_c > species.optimum_high_c:
        says = f"{warm.mean_c:.1f} degC is above the optimum: no coefficient from there"
    elif warm.mean_c <= 0.1:
        says = "too cold for a thermal coefficient"
    else:
        degree_days = warm.mean_c * days
        error = 1000 * math.hypot(_root_se(a), _root_se(b)) / degree_days
        tgc = Tgc(
            tgc_x1000(a.weight_g, b.weight_g, degree_days), _SCALE,
            (min(warm.daily_c), max(warm.daily_c)),
            (min(a.weight_g, b.weight_g), max(a.weight_g, b.weight_g)),
        )  # fmt: skip
    return Span(
        since=a.at,
        until=b.at,
        days=days,
        from_g=a.weight_g,
        to_g=b.weight_g,
        sgr_percent_day=sgr_percent_day(a.weight_g, b.weight_g, days),
        gain_g_day=(b.weight_g - a.weight_g) / days,
        temperature_c=None if warm is None else warm.mean_c,
        unread_days=0 if warm is None else warm.unread,
        tgc=tgc,
        tgc_se_x1000=error,
        says=says,
    )


def _root_se(point: Point) -> float:
    """Return the standard error of a mean weight on the cube-root scale."""
    return point.se_g / (3 * math.pow(point.weight_g, 2 / 3))


def _learnt(
    site: Site, farm: Farm, place: Place, spans: Sequence[Span], series: Sequence[Point],
    now: datetime,
) -> tuple[Tgc | None, float, str]:  # fmt: skip
    """Return the coefficient for the water as it is now, its spread, or why there is none."""
    here = temperature_now_c(farm, place, now)
    if not spans:
        return None, 0.0, "weighed once: weigh again in a week or more"
    if here is None:
        return None, 0.0, "temperature of the last days was not read: read it daily"
    species = site.species_of(place)
    if species is not None and here > species.optimum_high_c:
        says = f"{here:.1f} degC is above the optimum of {species.optimum_high_c:g}"
        return None, 0.0, f"{says}: growth falls there, no coefficient holds"
    near = [
        (span, span.tgc, span.temperature_c)
        for span in spans
        if span.tgc and span.temperature_c is not None and abs(span.temperature_c - here) <= BAND_C
    ]
    if not near:
        whys = [span.says for span in spans if span.says]
        says = f"nothing was learnt within {BAND_C:g} degC of {here:.1f} degC"
        return None, 0.0, whys[-1] if len(whys) == len(spans) else says
    degree_days = [warm_c * span.days for span, _, warm_c in near]
    values = [tgc.x1000 for _, tgc, _ in near]
    pooled = math.fsum(v * d for v, d in zip(values, degree_days, strict=True)) / sum(degree_days)
    one_error = _pooled_error([span for span, _, _ in near], degree_days, series)
    spread = math.hypot(one_error, _own_spread(values, [span.tgc_se_x1000 for span, _, _ in near]))
    warmest = max(tgc.temperatures_c[1] for _, tgc, _ in near)
    if species is not None:
        warmest = min(warmest, species.optimum_high_c)
    band = (min(tgc.temperatures_c[0] for _, tgc, _ in near), warmest)
    weights = [point.weight_g for point in series]
    if pooled - 1.96 * spread <= 0:
        says = "growth cannot be told from the error of the samples: weigh more fish, or later"
        return None, spread, says
    return Tgc(pooled, _SCALE, band, (min(weights), REACH * max(weights))), spread, ""


def _own_spread(values: Sequence[float], errors: Sequence[float]) -> float:
    """Return by how much growth differed between spans, beyond what their samples' errors do."""
    if len(values) < 2:
        return 0.0
    return math.sqrt(max(0.0, variance(values) - fmean(error**2 for error in errors)))


def _pooled_error(
    spans: Sequence[Span], degree_days: Sequence[float], series: Sequence[Point]
) -> float:
    """Return the error of a pooled coefficient; weighings between spans that join cancel."""
    if all(a.until == b.since for a, b in pairwise(spans)):
        ends = {point.at: point for point in series}
        errors = _root_se(ends[spans[0].since]), _root_se(ends[spans[-1].until])
        return 1000 * math.hypot(*errors) / math.fsum(degree_days)
    each = (s.tgc_se_x1000 * d for s, d in zip(spans, degree_days, strict=True))
    return math.hypot(*each) / math.fsum(degree_days)


def temperature_now_c(farm: Farm, place: Place, now: datetime) -> float | None:
    """Return the mean temperature of the last two weeks, degC; None if read on too few days."""
    stocked = [stock.stocked_at for stock in farm.stocks.get(place.code, ())]
    since = max(now - timedelta(days=13), min(stocked, default=now))
    warm = warmth(farm, (place.code,), since, now + timedelta(days=1))
    return warm.mean_c if warm is not None and warm.known else None


# -- in words --------------------------------------------------------------------------------------


def _reasons(series: Sequence[Point], spans: Sequence[Span], zone: ZoneInfo) -> list[Reason]:
    found = [
        Reason(
            "{day} {what}: {n} fish, {weight:.4g} +- {error:.2g} g",
            {
                "day": long_day(local_day(point.at, zone)), "what": point.what, "n": point.n,
                "weight": point.weight_g, "error": 1.96 * point.se_g,
            },
        )
        for point in series
    ]  # fmt: skip
    for span in spans:
        says = "{days:.0f} days: SGR {sgr:.3f} % a day, {gain:.3g} g a day"
        values = {"days": span.days, "sgr": span.sgr_percent_day, "gain": span.gain_g_day}
        found.append(Reason(says, values, "definition"))
        if span.tgc is not None and span.temperature_c is not None:
            says = "at {t:.1f} ({unread} days not read): TGC x1000 {tgc:.4f} +- {error:.3f}"
            more: dict[str, Value] = {"t": Amount(span.temperature_c, "degC")}
            more |= {"unread": span.unread_days, "tgc": span.tgc.x1000}
            more["error"] = 1.96 * span.tgc_se_x1000
            found.append(Reason(says, more, "Iwama & Tautz 1981"))
        else:
            found.append(Reason("No TGC: {why}", {"why": span.says}))
    return found


def _cautions(ledger: Ledger, stock: Stock, series: Sequence[Point]) -> list[str]:
    found = []
    if stock.recount:
        found.append(f"{stock.lot}: sample and carried weight disagree: weigh again")
    if ledger.graded:
        found.append("Fish were taken out between weighings: if by size, the mean moved with it")
    spread = [point.cv_percent for point in series if point.cv_percent is not None]
    if series and not spread:
        found.append("No spread was weighed: weigh single fish to see when to grade")
    if len(spread) > 1 and spread[-1] > fmean(spread[:-1]) + 5:
        found.append(f"The lot spreads: CV {spread[-1]:.0f} %, before {fmean(spread[:-1]):.0f} %")
    return found
