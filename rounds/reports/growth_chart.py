"""A lot's growth as text: what was weighed with its error, today, the band ahead, its aims."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.lots.growth import Growth
from rounds.day.lots.projection import Projection, density_weight_g, project
from rounds.day.when import long_day
from rounds.reports.plot import Limit, Series, plot
from rounds.reports.time_axis import ticks
from rounds.site.model import Site

WEEKS: Final = tuple(range(0, 85, 7))
"""Days ahead that are drawn."""
_Z: Final = 1.96
_ROOM: Final = 3.0
"""An aim is drawn while the weights still take this part of the height."""


def growth_chart(
    site: Site, farm: Farm, growth: Growth, now: datetime, *, width: int = 78, height: int = 18
) -> tuple[str, ...]:
    """Draw what a lot in a place weighed and what it becomes, and say the same in words.

    Args:
        site: The site.
        farm: The farm.
        growth: The lot in its place.
        now: The present.
        width: Columns.
        height: Rows of the drawing with its axis; key and words come below.

    Returns:
        The lines.
    """
    ahead = project(site, farm, growth, now, WEEKS)
    x = datetime.timestamp
    samples = [(x(one.at), one.weight_g) for one in growth.points if one.what == "sample"]
    given = [(x(one.at), one.weight_g) for one in growth.points if one.what != "sample"]
    days = [
        (x(datetime.combine(one.day, time(12), site.timezone).astimezone(UTC)), one)
        for one in ahead.ahead
    ]
    bars = [
        Series("", "", ((x(one.at), one.weight_g - _Z * one.se_g),
                        (x(one.at), one.weight_g + _Z * one.se_g)))
        for one in growth.points
    ]  # fmt: skip
    band = [(at, g) for at, one in days for g in (one.low_g, one.high_g)]
    series = [
        *bars,
        Series("", "", (*sorted(given + samples), (x(now), growth.weight_g))),
        Series("", "", tuple((at, one.weight_g) for at, one in days)),
        Series("came with", "s", tuple(given), joined=False),
        Series("weighed", "o", tuple(samples), joined=False),
        Series("95 % band ahead", "~", tuple(band), joined=False),
        Series("today, on record", "*", ((x(now), growth.weight_g),), joined=False),
    ]
    ends = [at for one in series for at, _ in one.points]
    weights = [g for one in series for _, g in one.points]
    drawn, hidden = _aims(site, farm, growth, min(weights), max(weights))
    first, last = (datetime.fromtimestamp(at, UTC) for at in (min(ends), max(ends)))
    if last - first < timedelta(days=1):
        first -= timedelta(days=1)
    lines = plot(
        [one for one in series if one.points], width=width, height=height,
        y_label=f"{growth.lot} in {growth.place}, mean weight, g", limits=drawn,
        x_ticks=ticks(first, last, site.timezone, width - 8), x_range=(x(first), x(last)),
    )  # fmt: skip
    return (*lines, *hidden, "", *_words(site, farm, growth, ahead))


def _aims(
    site: Site, farm: Farm, growth: Growth, low: float, high: float
) -> tuple[list[Limit], list[str]]:
    """Return the levels drawn, and in words those too far from the weights."""
    species = site.species_of(site.places[growth.place])
    most, _ = site.density_for(site.places[growth.place])
    full_g = density_weight_g(site, farm, growth)
    aims = []
    if species is not None:
        text = f"market size {species.market_weight_g:g} g"
        aims.append(Limit(text, species.market_weight_g, "=", f"M {species.market_weight_g:g}"))
    if most is not None and full_g:
        text = f"{most:g} kg/m3 at {full_g:.3g} g, with this many fish"
        aims.append(Limit(text, full_g, "-", f"D {full_g:.3g}"))
    room = _ROOM * max(high - low, high / 4)
    drawn = [one for one in aims if max(high, one.y) - min(low, one.y) <= room]
    return drawn, [f" Beyond the drawing: {one.name}" for one in aims if one not in drawn]


def _words(site: Site, farm: Farm, growth: Growth, ahead: Projection) -> list[str]:
    lines = []
    if growth.points:
        last = growth.points[-1]
        day = long_day(last.at.astimezone(site.timezone).date())
        lines.append(
            f"Last weighed {day}: {last.n} fish, {last.weight_g:.4g} g, between "
            f"{last.weight_g - _Z * last.se_g:.4g} and {last.weight_g + _Z * last.se_g:.4g}"
        )
    stock = next((s for s in farm.stocks.get(growth.place, ()) if s.lot == growth.lot), None)
    if stock is not None:
        lines.append(
            f"On record today {stock.weight_g:.4g} g; carried by feed alone "
            f"{stock.carried_weight_g:.4g} g"
        )
    if not ahead.ahead:
        return [*lines, f"No band ahead: {ahead.missing[0] if ahead.missing else ''}"]
    return [
        *lines, f"Market size: {ahead.market.says}", f"Density limit: {ahead.density_limit.says}",
    ]  # fmt: skip
