"""Two readings of one stop that cannot both be right: the meter tells on itself at once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import Read
from rounds.day.meters.doubt import FIRST, MeterDoubt, listed
from rounds.day.readings.derived import figure
from rounds.day.readings.inputs import OXYGEN, Inputs, oxygen_reads
from rounds.reason import Reason, Reasons
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site
from rounds.water.conductivity import salinity_from_conductivity, salinity_from_conductivity_25
from rounds.water.oxygen import from_percent_mg_l, percent

APART_POINTS: Final = 5.0
"""mg/L and percent further apart than this do not belong together (common practice)."""
APART_SALINITY: Final = 1.0
_STOP: Final = timedelta(minutes=10)
_LOOKED_AT: Final = timedelta(hours=24)
AT_ONCE: Final = "told at the stop itself"


class OxygenPair(Struct, frozen=True):
    """Both forms of oxygen read at one stop, that do not fit each other.

    `true_mg_l` is what the percent comes to in this water; `fresh` says that the mg/L is what the
    same percent comes to in fresh water: the meter's salinity stands at 0.
    """

    mg_l: Read
    share: Read
    true_mg_l: float
    true_percent: float
    salinity: float
    fresh: bool
    reasons: Reasons


def oxygen_pair(farm: Farm, place: Place, now: datetime) -> OxygenPair | None:
    """Return both forms of a place's oxygen where they do not fit; None where they do.

    Args:
        farm: The farm.
        place: Where.
        now: The present.

    Returns:
        The pair; None too where one form, temperature or salinity was not read.
    """
    reads = {read.measure: read for read in oxygen_reads(farm, place, now)}
    if len(reads) < len(OXYGEN):
        return None
    mg_l, share = reads["oxygen"], reads["oxygen_percent"]
    inputs = Inputs(farm, place, min(now, max(mg_l.at, share.at) + _STOP))
    t, s = inputs.take("temperature"), inputs.take("salinity")
    if t is None or s is None:
        return None
    pressure = inputs.pressure_hpa()
    try:
        is_percent = percent(mg_l.value, t, s, pressure)
        true_mg_l = from_percent_mg_l(share.value, t, s, pressure)
        in_fresh = from_percent_mg_l(share.value, t, 0.0, pressure)
    except ValueError:
        return None
    if abs(is_percent - share.value) <= APART_POINTS:
        return None
    near = MEASURES["oxygen"].accuracy_at(in_fresh) + in_fresh * 0.5 / max(share.value, 1.0)
    reason = Reason(
        "{typed} mg/L is {is_percent:.0f} % in this water, {share} % was read; {share} % is "
        "{true:.1f} mg/L here and {fresh:.1f} in fresh water",
        {
            "typed": mg_l.typed, "is_percent": is_percent, "share": share.typed,
            "true": true_mg_l, "fresh": in_fresh,
        },
        "Benson & Krause 1984, Eqs 24 and 32",
    )  # fmt: skip
    return OxygenPair(
        mg_l, share, true_mg_l, is_percent, s, abs(mg_l.value - in_fresh) <= near,
        (*inputs.reasons, reason),
    )  # fmt: skip


def pairs(site: Site, farm: Farm, now: datetime) -> Iterator[MeterDoubt]:
    """Yield the doubts that two readings of one stop raise, one for each way to be wrong.

    Args:
        site: The site.
        farm: The farm.
        now: The present; readings older than a day are let be.
    """
    wet = [place for place in site.places.values() if place.wet]
    yield from _oxygen(farm, wet, now)
    yield from _conductivity(farm, wet, now)
    yield from _carbonate(site, farm, wet, now)


def _oxygen(farm: Farm, places: list[Place], now: datetime) -> Iterator[MeterDoubt]:
    found = [
        pair
        for place in places
        if (pair := oxygen_pair(farm, place, now)) and now - pair.mg_l.at <= _LOOKED_AT
    ]
    for fresh in (True, False):
        group = [pair for pair in found if pair.fresh is fresh]
        if not group:
            continue
        codes = tuple(pair.mg_l.place for pair in group)
        typed = listed(f"{p.mg_l.place} {p.mg_l.typed} mg/L, {p.share.typed} %" for p in group)
        true = listed(f"{p.true_mg_l:.1f} mg/L in {p.mg_l.place}" for p in group)
        if fresh:
            says = (
                f"Check the oxygen meter, it stands at salinity 0 ({typed}): set it to "
                f"{group[0].salinity:.0f}. By the percent it is {true}. {FIRST}"
            )
        else:
            says = (
                f"Check the oxygen meter, mg/L and percent do not fit ({typed}): look at its "
                f"salinity and air pressure, read both again; if the percent is right it is "
                f"{true}. {FIRST}"
            )
        yield MeterDoubt(
            "salinity setting" if fresh else "pair", "oxygen", codes, says,
            min(pair.mg_l.at for pair in group), AT_ONCE,
            tuple(reason for pair in group for reason in pair.reasons),
        )  # fmt: skip


def _conductivity(farm: Farm, places: list[Place], now: datetime) -> Iterator[MeterDoubt]:
    for place in places:
        read = farm.latest(place.code, "conductivity", now)
        salt = farm.latest(place.code, "salinity", now)
        if read is None or salt is None or now - read.at > _LOOKED_AT:
            continue
        if abs(read.at - salt.at) > _STOP:
            continue
        warm = Inputs(farm, place, min(now, read.at + _STOP)).take("temperature")
        meant = []
        for work in (
            lambda c: salinity_from_conductivity_25(c),
            lambda c, t=warm: salinity_from_conductivity(c, t) if t is not None else None,
        ):
            try:
                meant.append(work(read.value))
            except ValueError:
                continue
        values = [value for value in meant if value is not None]
        if not values or any(abs(value - salt.value) <= APART_SALINITY for value in values):
            continue
        reason = Reason(
            "{typed} {unit} is salinity {low:.1f} at 25 degC or {high:.1f} as it is; {salt} was "
            "read",
            {
                "typed": read.typed, "unit": read.unit, "low": values[0], "high": values[-1],
                "salt": salt.typed,
            },
            "PSS-78",
        )  # fmt: skip
        says = (
            f"Check the salinity meter, {place.code} {read.typed} {read.unit} and salinity "
            f"{salt.typed} do not fit: rinse the cell, read the standard, read again before salt "
            "is given."
        )
        yield MeterDoubt(
            "pair", "salinity", (place.code,), says, max(read.at, salt.at), AT_ONCE, (reason,)
        )


def _carbonate(site: Site, farm: Farm, places: list[Place], now: datetime) -> Iterator[MeterDoubt]:
    found = []
    for place in places:
        read = farm.latest(place.code, "ph", now)
        if read is None or now - read.at > _LOOKED_AT:
            continue
        co2 = figure(site, Inputs(farm, place, now), "co2")
        if co2.doubtful:
            found.append((read, co2))
    if found:
        typed = listed(f"{read.place} {read.typed}" for read, _ in found)
        says = (
            f"Check the pH meter in two buffers and test alkalinity again, pH ({typed}) does not "
            f"fit the alkalinity: {found[0][1].doubtful}. No CO2 and no dose is right until then. "
            f"{FIRST}"
        )
        yield MeterDoubt(
            "pair", "ph", tuple(read.place for read, _ in found), says,
            min(read.at for read, _ in found), AT_ONCE,
            tuple(reason for _, co2 in found for reason in co2.reasons),
        )  # fmt: skip
