"""Fish weighed: what the sample says, what was likely mistyped, and what becomes of the weight."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from statistics import fmean, median
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct, structs

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Stock
from rounds.day.lots.projection import GRADE_CV
from rounds.day.when import local_day, long_day
from rounds.fish import sampling
from rounds.fish.lengths import condition_k
from rounds.reason import Reason, Reasons, Value
from rounds.records.entry import Weighed, stamp
from rounds.site.model import Place, Site
from rounds.text import number, plain
from rounds.units import UNITS, Amount, convert

USUAL_CV: Final = 20.0
"""Spread to plan a first sample by, %, until fish were weighed one by one (common practice)."""
_FAR: Final = 3.0
"""A mean this many times off the weight carried is asked about (common practice)."""
_ODD: Final = 6.0
"""So is one fish this many times off the middle of its sample (common practice)."""
_TIGHT_CV: Final = 15.0
_NET: Final = re.compile(r"([0-9]+)/([0-9.,]+)", re.ASCII)
_WORD: Final = re.compile(r"[A-Za-z]+", re.ASCII)
_Z: Final = 1.96


class Netted(Struct, frozen=True):
    """What was typed: number and total mass of the fish, and each weight where there is one."""

    count: int
    mass: Decimal
    unit: str
    weights: tuple[Decimal, ...] = ()
    nets: int = 0

    @property
    def weights_g(self) -> tuple[float, ...]:
        """Each weight in g."""
        return tuple(convert(float(one), self.unit, "g") for one in self.weights)

    @property
    def mean_g(self) -> float:
        """All mass over all fish, g."""
        return convert(float(self.mass), self.unit, "g") / self.count


def weights(text: str) -> Netted:
    """Read fish weighed one by one: "96 104,5 100", in g, or with a unit at the end ("oz").

    Raises:
        ValueError: No weight, one that is not a number above 0, or a unit that is not of mass.
    """
    parts, unit = _split(text, "g")
    values = tuple(_above_zero(part) for part in parts)
    return Netted(len(values), sum(values, Decimal(0)), unit, values)


def nets(text: str, tare: Decimal = Decimal(0)) -> Netted:
    """Read fish weighed by the net: "25/5.35 22/4.62", fish/kg, or with a unit at the end.

    Args:
        text: Nets, with blanks between.
        tare: Weight of the wet net, in the unit of the nets, taken off each of them.

    Raises:
        ValueError: A net that cannot be read, without fish, or no heavier than its tare.
    """
    parts, unit = _split(text, "kg")
    count, mass = 0, Decimal(0)
    for part in parts:
        found = _NET.fullmatch(part)
        if found is None or not 1 <= int(found[1]) <= 1_000_000:
            raise ValueError(f"{part} is not a net: write fish/kg, such as 25/5.35")
        net = _above_zero(found[2]) - tare
        if net <= 0:
            raise ValueError(f"net {part} is no heavier than its tare of {plain(tare)} {unit}")
        count, mass = count + int(found[1]), mass + net
    return Netted(count, mass, unit, (), len(parts))


def _split(text: str, unit: str) -> tuple[list[str], str]:
    parts = text.replace(";", " ").split()
    if parts and _WORD.fullmatch(parts[-1]):
        unit = parts.pop()
        if unit not in UNITS or UNITS[unit].dimension != "mass":
            raise ValueError(f"{unit} is not a unit of weight: g, kg, mg, lb or oz")
    if not parts:
        raise ValueError("no weight: write them with blanks between")
    return parts, unit


def _above_zero(text: str) -> Decimal:
    value = number(text)
    if value <= 0:
        raise ValueError(f"{text} is not a weight above 0")
    return value


# -- what the sample says --------------------------------------------------------------------------


class Weighing(Struct, frozen=True, kw_only=True):
    """A sample of a lot, and the lot's weight before and after it.

    `carried_g` was carried forward from before, `adopted_g` is what rations use from now on.
    `odd` names what was likely mistyped: ask before it is kept. `above_market` holds the part of
    the fish above market size from the sample, by a normal and by a log-normal spread.
    """

    place: str
    lot: str
    count: int
    mean_g: float
    median_g: float | None
    sd_g: float | None
    cv_percent: float | None
    low_g: float | None
    high_g: float | None
    skew: float | None
    wanted: int
    precision_percent: float
    carried_g: float
    adopted_g: float
    recount: bool
    since_last: str
    market_g: float | None
    above_market: dict[str, float]
    condition: float | None
    odd: tuple[str, ...]
    cautions: tuple[str, ...]
    biases: tuple[str, ...]
    reasons: Reasons


def wanted(stock: Stock, cv_percent: float | None, precision_percent: float) -> int:
    """Return how many fish of a lot to weigh for a mean within a percentage, at 95 %.

    Raises:
        ValueError: The precision is out of range.
    """
    spread = min(max(cv_percent or USUAL_CV, 1.0), 300.0)
    fish = max(stock.count, 2)
    return min(fish, sampling.sample_size(spread, precision_percent, population=fish))


def last_cv(stock: Stock) -> float | None:
    """Return the spread of a lot's last sample, %; None where no single fish were weighed."""
    last = stock.sampled
    if last is None or last.se_g is None:
        return None
    return 100 * last.se_g * math.sqrt(last.count) / last.mean_weight_g


def draft(stock: Stock, netted: Netted) -> Weighed:
    """Return the entry of a sample."""
    return Weighed(
        lot=stock.lot, place=stock.place, count=netted.count, mass=plain(netted.mass),
        unit=netted.unit, weights=[plain(one) for one in netted.weights],
    )  # fmt: skip


def weighed(
    site: Site,
    farm: Farm,
    stock: Stock,
    netted: Netted,
    now: datetime,
    precision_percent: float = 5.0,
    lengths_cm: Sequence[float] = (),
) -> Weighing:
    """Work out what a sample says; nothing is written.

    Args:
        site: The site.
        farm: The farm before the sample.
        stock: The lot in its place.
        netted: What was typed.
        now: The present.
        precision_percent: Wanted half-width of the mean's interval, %, 0.1 to 100.
        lengths_cm: The lengths of the same fish, in the same order, for their condition.

    Returns:
        The sample, and the lot's weight as it would stand with it.

    Raises:
        ValueError: More fish than there are, a weight out of range, lengths that do not fit.
    """
    if netted.count > stock.count:
        raise ValueError(f"{netted.count} fish weighed, only {stock.count} of {stock.lot} are here")
    place = site.places[stock.place]
    sample = sampling.describe(netted.weights_g) if netted.weights else None
    cv = sample.cv_percent if sample else None
    after = _after(farm, stock, netted, now)
    how_many = wanted(stock, cv or last_cv(stock), precision_percent)
    species = site.species_of(place)
    market_g = species.market_weight_g if species else None
    return Weighing(
        place=stock.place,
        lot=stock.lot,
        count=netted.count,
        mean_g=netted.mean_g,
        median_g=sample.median_g if sample else None,
        sd_g=sample.sd_g if sample else None,
        cv_percent=cv,
        low_g=sample.low_g if sample else None,
        high_g=sample.high_g if sample else None,
        skew=sample.skew if sample else None,
        wanted=how_many,
        precision_percent=precision_percent,
        carried_g=stock.weight_g,
        adopted_g=after.weight_g,
        recount=after.recount,
        since_last=_since_last(stock, netted, sample, site.timezone),
        market_g=market_g,
        above_market=_above(netted, sample, market_g),
        condition=_condition(netted, lengths_cm),
        odd=tuple(_odd(stock, netted)),
        cautions=tuple(_cautions(site, farm, place, netted, cv, how_many, now)),
        biases=sampling.BIASES,
        reasons=(*_reasons(netted, sample), *after.reasons),
    )


def _after(farm: Farm, stock: Stock, netted: Netted, now: datetime) -> Stock:
    """Return the lot as the ledger has it once the sample is kept."""
    day = local_day(now, farm.site.timezone).isoformat()
    entry = structs.replace(draft(stock, netted), id="~-~-~", t=stamp(now), day=day)
    found = farm.add(entry).stocks.get(stock.place, ())
    return next(one for one in found if one.lot == stock.lot)


def _odd(stock: Stock, netted: Netted) -> list[str]:
    """Name what was likely mistyped: g for kg, a point left out, one fish far off the others."""
    found = []
    ratio = netted.mean_g / stock.weight_g if stock.weight_g > 0 else 1.0
    says = f"mean {netted.mean_g:.4g} g, carried {stock.weight_g:.4g} g"
    if 1 / (1000 * _FAR) < ratio < _FAR / 1000 and netted.unit == "g":
        found.append(f"{says}: were these kg? Write kg after the last one")
    elif 1000 / _FAR < ratio < 1000 * _FAR and netted.unit == "kg":
        found.append(f"{says}: were these g? Write g after the last one")
    elif not 1 / _FAR < ratio < _FAR:
        found.append(f"{says}: look at the scale, its unit and the decimal mark")
    if len(netted.weights) > 2:
        middle = median(netted.weights_g)
        for typed, grams in zip(netted.weights, netted.weights_g, strict=True):
            if not 1 / _ODD < grams / middle < _ODD:
                found.append(f"{plain(typed)} is far from the middle, {middle:.4g} g: weigh again")
    return found


def _condition(netted: Netted, lengths_cm: Sequence[float]) -> float | None:
    if not lengths_cm:
        return None
    if len(lengths_cm) != len(netted.weights):
        raise ValueError(f"{len(lengths_cm)} lengths for {len(netted.weights)} single weights")
    return fmean(map(condition_k, netted.weights_g, lengths_cm))


def _above(
    netted: Netted, sample: sampling.Sample | None, market_g: float | None
) -> dict[str, float]:
    if sample is None or market_g is None or not sample.cv_percent:
        return {}
    cv = min(max(sample.cv_percent, 0.1), 200.0)
    return {
        "sample": sampling.fraction_above_in_sample(netted.weights_g, market_g),
        "normal": sampling.fraction_above_normal(sample.mean_g, cv, market_g),
        "log_normal": sampling.fraction_above_lognormal(sample.mean_g, cv, market_g),
    }


def _since_last(
    stock: Stock, netted: Netted, sample: sampling.Sample | None, zone: ZoneInfo
) -> str:
    """Return the change since the last sample with its own interval; empty without one."""
    last = stock.sampled
    if last is None:
        return ""
    change = netted.mean_g - last.mean_weight_g
    says = f"{change:+.4g} g since {long_day(local_day(last.at, zone))}"
    if sample is None or sample.se_g is None or last.se_g is None:
        return f"{says}; no interval without the spread of both"
    reach = _Z * math.hypot(sample.se_g, last.se_g)
    return f"{says} (between {change - reach:+.4g} and {change + reach:+.4g})"


def _cautions(
    site: Site, farm: Farm, place: Place, netted: Netted, cv: float | None, how_many: int,
    now: datetime,
) -> list[str]:  # fmt: skip
    found = []
    if not netted.weights:
        found.append("Nets tell the mean, not the spread: weigh single fish before grading")
    if netted.count < how_many:
        found.append(f"{netted.count} fish weighed, {how_many} wanted: the mean is wider than that")
    if cv is not None:
        word = "tight" if cv < _TIGHT_CV else "usual" if cv < GRADE_CV else "wide: consider grading"
        found.append(f"CV {cv:.0f} %, {word}")
    today = local_day(now, site.timezone).isoformat()
    if any(fed.at <= now and fed.amount_g > 0 for fed in farm.fed_on(place.code, today)):
        found.append("Fed today: full guts add weight; weigh before the first meal")
    lots = {stock.lot: [p for p, here in farm.stocks.items() for s in here if s.lot == stock.lot]
            for stock in farm.stocks.get(place.code, ())}  # fmt: skip
    for lot, places in lots.items():
        if len(places) > 1:
            found.append(f"{lot} is in {', '.join(places)}: weigh a sample in each")
    return found


def _reasons(netted: Netted, sample: sampling.Sample | None) -> Reasons:
    if sample is not None:
        return sample.reasons
    values: dict[str, Value] = {"nets": netted.nets, "count": netted.count}
    values["mass"] = Amount(float(netted.mass), netted.unit)
    values["mean"] = Amount(netted.mean_g, "g")
    says = "{nets} nets, {count} fish, {mass:.10g}: {mean:.4g}; no spread is known"
    return (Reason(says, values, "all mass over all fish, not the mean of the nets"),)
