"""Today's doses of every loop: alkali, salt, fresh water, top-up, exchange, from what was read.

No default stands in for a measurement: what is missing or too old is named, and no dose is worked
out from it. What was given today counts against the day.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import LoopWater, Read
from rounds.day.laptops.unheard import unheard
from rounds.day.loops.alkali_doses import alkali_lines
from rounds.day.loops.dose_lines import GIVEN_LASTS, Case, DoseLine, given_of
from rounds.day.loops.saltbalance import balance
from rounds.day.loops.water_doses import water_lines
from rounds.day.readings.loop_readings import LoopReadings
from rounds.day.readings.outages import outage_of_loop
from rounds.day.slips import Unsure, amount_slip
from rounds.day.when import clock, local_day, spoken
from rounds.reason import Reasons, lines
from rounds.records.entry import Dosed, Exchanged
from rounds.site.model import Loop, Site
from rounds.text import plain

__all__ = ["DoseLine", "DoseSheet", "dosed", "today"]

OTHER_WHYS: Final = ("supervisor said so", "not enough of it here", "read again since")
"""Reasons, one digit away, for another amount than advised."""
MEANT_WHYS: Final = ("read again since", "supervisor said so", "time was written late")
"""Reasons, one digit away, to give all the same what looks like a slip."""


class DoseSheet(Struct, frozen=True):
    """What to add to one loop today, and what it was worked out from."""

    loop: str
    water: LoopWater
    readings: tuple[tuple[Read, str], ...]
    """Each reading used, and when it was read in words."""
    missing: tuple[str, ...]
    lines: tuple[DoseLine, ...]
    cautions: tuple[str, ...]
    """All to mind; `first` leads them."""
    unheard: tuple[str, ...]
    display: str = "metric"
    shared: Reasons = ()
    """The reasons every line begins with: the water, and the readings used."""
    first: tuple[str, ...] = ()
    """What to know before anything is given: whether it is needed, and what not to give too."""


def today(
    site: Site,
    farm: Farm,
    now: datetime,
    here: str = "",
    targets: Mapping[str, float] | None = None,
) -> tuple[DoseSheet, ...]:
    """Work out today's doses of every inhabited loop.

    Args:
        site: The site: loops, products, limits.
        farm: The farm.
        now: The present.
        here: The writer of this laptop; the others are told when they were last heard.
        targets: In place of the loops' own: "alkalinity" (mg/L as CaCO3), "salinity", the
            "exchange" as a part of the water, "new_salinity" and "new_temperature" (degC) of
            water let in.

    Returns:
        One sheet a loop. Where a dose cannot be worked out it says what to measure.
    """
    return tuple(
        _sheet(site, farm, loop, now, here, targets or {})
        for loop in site.loops.values()
        if loop.inhabited
    )


def _sheet(
    site: Site, farm: Farm, loop: Loop, now: datetime, here: str, targets: Mapping[str, float]
) -> DoseSheet:
    water = farm.loop_water(loop.code)
    readings = LoopReadings(farm, loop.code, now)
    empty = DoseSheet(
        loop.code, water, (), water.missing, (), (), unheard(farm, now, here), site.display_units
    )
    if water.volume_m3 is None:
        return empty
    if water.volume_m3 < 0.01:
        return replace(empty, cautions=(f"Loop {loop.code} holds no water today.",))
    case = Case(
        site=site,
        farm=farm,
        loop=loop,
        now=now,
        water=water,
        volume_m3=water.volume_m3,
        targets=targets,
        readings=readings,
        dosed=tuple(one for one in farm.dosed(loop.code, now - GIVEN_LASTS) if one.at <= now),
        exchanged=tuple(
            one for one in farm.exchanged(loop.code, now - GIVEN_LASTS) if one.at <= now
        ),
    )
    still = outage_of_loop(farm, loop.code, now)
    found: list[DoseLine] = []
    for work in (alkali_lines, water_lines):
        try:
            found += work(case)
        except ValueError as error:  # a reading or a target no equation covers
            case.missing.append(f"{error}: measure it again")
    salt = balance(site, farm, loop, now)
    unexplained = () if salt is None else (salt.says,)
    shared = (*water.reasons, *readings.reasons())
    return replace(
        empty,
        readings=tuple(
            (read, spoken(read.at, now, site.timezone)) for read in readings.used.values()
        ),
        missing=tuple(dict.fromkeys([*readings.missing, *case.missing])),
        lines=tuple(
            _still(_waiting(case, replace(line, reasons=(*shared, *line.reasons))), still)
            for line in found
        ),
        first=tuple(case.first),
        cautions=tuple(dict.fromkeys([*case.first, *readings.told, *case.cautions, *unexplained])),
        shared=shared,
    )


def _still(line: DoseLine, out: str) -> DoseLine:
    """Return a line that gives nothing into water that stands still; water itself is a caution."""
    if not out:
        return line
    said = f"{out[0].upper()}{out[1:]}: what is poured in stays where it falls"
    if line.unit == "L":
        return replace(
            line, cautions=(f"{said}: change water in each tank by itself.", *line.cautions)
        )
    refused = (f"{said}: dose when the water goes round again.",)
    return replace(line, amount=0.0, portions=(), refused=(*refused, *line.refused))


def _waiting(case: Case, line: DoseLine) -> DoseLine:
    """Return a line with the time before which its next portion comes too soon."""
    given = given_of(case.site, case.farm, case.loop.code, line.kind, case.now)
    if not given or not line.portions:
        return line
    last = max(one.at for one in given)
    due = last + timedelta(hours=line.hours_between)
    if due <= case.now:
        return line
    zone = case.site.timezone
    days = local_day(due, zone) != local_day(case.now, zone)
    at = f"{clock(due, zone)}{' tomorrow' if days else ''}"
    said = f"A portion was given {spoken(last, case.now, zone)}: next not before {at}."
    return replace(line, next_at=due, too_soon=said, cautions=(said, *line.cautions))


def dosed(
    line: DoseLine,
    sheet: DoseSheet,
    portion: int = 1,
    amount: Decimal | None = None,
    why: str = "",
    confirmed: bool = False,
) -> Dosed | Exchanged:
    """Draft the entry of a portion given, with what was advised and its reasons as shown.

    Args:
        line: A line of the sheet.
        sheet: The sheet as it was shown.
        portion: Which of the line's portions, from 1.
        amount: Given, in the line's unit; as advised when left out.
        why: The person's reason for another amount, or for a dose that was refused.
        confirmed: The person was told that it is too soon, or looks like a slip, and means it.

    Returns:
        The draft: `dosed` for a product, `exchanged` for water.

    Raises:
        Unsure: One sentence saying what looks like a slip; `confirmed=True` keeps it.
        ValueError: One sentence saying what is missing.
    """
    if portion < 1:
        raise ValueError(f"Portion {portion} does not exist: portions are numbered from 1.")
    parts = line.portions
    advised = Decimal(f"{parts[portion - 1]:.10g}") if portion <= len(parts) else Decimal(0)
    given = advised if amount is None else amount
    if not given.is_finite() or given <= 0:
        raise ValueError(f"Nothing to give: {' '.join(line.refused) or 'no portion is left'}")
    if given != advised and not why.strip():
        told = " ".join(line.refused) or f"not the advised {plain(advised)} {line.unit}"
        raise ValueError(f"{plain(given)} {line.unit}: {told}: say why.")
    left = sum(parts[portion - 1 :])
    slip = amount_slip(float(given), float(advised), left, line.unit, "portion", "day's dose")
    if not confirmed and (doubts := [*filter(None, (slip, line.too_soon))]):
        raise Unsure(" ".join(doubts))
    reasons, said = lines(line.reasons, sheet.display), why.strip()
    if line.unit == "g":
        return Dosed(
            loop=sheet.loop,
            product=line.product or "",
            amount=plain(given),
            unit=line.unit,
            portion=len(line.given) + portion,
            advised=plain(advised),
            reasons=reasons,
            why=said,
        )
    new = line.new_salinity
    return Exchanged(
        loop=sheet.loop,
        volume_out="0" if line.kind == "top-up" else plain(given),
        volume_in=plain(given),
        unit=line.unit,
        salinity_in="" if new is None else f"{new:.10g}",
        advised=plain(advised),
        reasons=reasons,
        why=said,
    )
