"""What an open fault of power, pump or air has stopped, since when, and what that forbids."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import IncidentAt
from rounds.day.when import spoken
from rounds.fish.air import Off
from rounds.site.model import Place

STOPS: Final[dict[str, tuple[Off, ...]]] = {
    "power": ("air", "flow", "both"),
    "pump": ("flow", "both"),
    "air": ("air", "both"),
}
"""By what a fault is about: the supplies it stops; with one of them the other may follow."""


SUPPLY: Final = "supply"
"""What a verdict on an outage is about, in place of a measure."""


def off_since(
    farm: Farm, places: Collection[Place], loop: str | None, off: Off, now: datetime
) -> datetime | None:
    """Return since when an open fault has a supply off; None when it runs.

    Args:
        farm: The farm.
        places: Of whom one lacks it.
        loop: Their loop, if they are on one.
        off: The supply; "both" only where the power is out.
        now: The present.
    """
    codes = {place.code for place in places}
    found = [
        fault.at
        for fault in farm.incidents
        if off in STOPS.get(fault.about, ())
        and fault.at <= now
        and _reaches(fault, codes, loop)
        and (off != "both" or fault.about == "power")
    ]
    return min(found, default=None)


def outage(farm: Farm, place: Place, now: datetime) -> str:
    """Return what is out in a place: "pump of loop B off since 07:36"; empty while all runs."""
    found = [
        fault
        for fault in farm.incidents
        if fault.about in STOPS and fault.at <= now and _reaches(fault, {place.code}, place.loop)
    ]
    if not found:
        return ""
    first = min(found, key=lambda fault: fault.at)
    return _says(first, now, farm)


def outage_of_loop(farm: Farm, loop: str, now: datetime) -> str:
    """Return what stopped the flow of a whole loop; empty while it runs."""
    found = [
        fault
        for fault in farm.incidents
        if "flow" in STOPS.get(fault.about, ()) and fault.at <= now and not fault.place
        and fault.loop in (None, loop)
    ]  # fmt: skip
    return _says(min(found, key=lambda fault: fault.at), now, farm) if found else ""


def _reaches(fault: IncidentAt, codes: Collection[str], loop: str | None) -> bool:
    return fault.place in codes if fault.place else fault.loop in (None, loop)


def _says(fault: IncidentAt, now: datetime, farm: Farm) -> str:
    where = f" of {fault.place}" if fault.place else f" of loop {fault.loop}" if fault.loop else ""
    when = spoken(fault.at, now, farm.site.timezone).removeprefix("today ")
    return f"{fault.about}{where} off since {when}"
