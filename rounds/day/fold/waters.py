"""The water as it is today: which volumes count in a loop, and the air pressure over it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from msgspec import Struct

from rounds.day.fold.state import LoopWater, Read
from rounds.day.when import clock, local_day, short_day
from rounds.reason import Reason
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site
from rounds.units import Amount
from rounds.water.oxygen import pressure_at_elevation_hpa


class WaterState(Struct, frozen=True, array_like=True, gc=False):
    """The last word on a place's water: in service, isolated or drained, and how much there is."""

    id: str
    state: str
    volume_m3: float | None
    at: datetime


def water_m3(place: Place, states: Mapping[str, WaterState]) -> float | None:
    """Return the water in a place as it is today, m3; None where it is drained or not known.

    Args:
        place: Where.
        states: The last `state` entry of each place that has one.
    """
    known = states.get(place.code)
    if known is None:
        return place.volume_m3
    if known.state == "drained":
        return None
    return place.volume_m3 if known.volume_m3 is None else known.volume_m3


def loop_water(site: Site, loop: str, states: Mapping[str, WaterState]) -> LoopWater:
    """Add up the water a loop shares now: the sump and every place in service on it.

    Args:
        site: The site.
        loop: Code of the loop.
        states: The last `state` entry of each place that has one.

    Returns:
        The volume, its parts, and what volume is missing.

    Raises:
        KeyError: The site has no such loop.
    """
    sump = site.loops[loop].sump_volume_m3
    parts: list[tuple[str, float, str]] = [("sump", sump, "in service")]
    missing: list[str] = []
    reasons = [Reason("Sump: {volume:.2f}", {"volume": Amount(sump, "m^3")})]
    for place in site.places_of(loop):
        known = states.get(place.code)
        state = known.state if known else "in service"
        volume = water_m3(place, states)
        if state != "in service":
            parts.append((place.code, 0.0, state))
            reasons.append(
                Reason("{place}: {state}, not counted", {"place": place.code, "state": state})
            )
        elif volume is None:
            missing.append(f"volume of {place.code}: measure it and put it into site.toml")
        else:
            parts.append((place.code, volume, state))
            shared = Amount(volume, "m^3")
            reasons.append(Reason("{place}: {volume:.2f}", {"place": place.code, "volume": shared}))
    total = sum(volume for _, volume, _ in parts)
    reasons.append(
        Reason(
            "Loop {loop} holds {total:.2f} today",
            {"loop": loop, "total": Amount(total, "m^3")},
            "sum of the parts in service",
        )
    )
    return LoopWater(loop, None if missing else total, tuple(parts), tuple(missing), tuple(reasons))


def station_pressure(site: Site, read: Read | None, now: datetime) -> tuple[float, Reason]:
    """Return the air pressure at the site in hPa: a fresh reading, else from the elevation.

    Args:
        site: The site, for its elevation in m.
        read: The newest pressure reading, if any.
        now: The time it is wanted for.

    Returns:
        Pressure in hPa, and its reason.
    """
    if read is not None and (now - read.at).total_seconds() <= MEASURES["pressure"].stale_h * 3600:
        zone = site.timezone
        at = f"{short_day(local_day(read.at, zone))} {clock(read.at, zone)}"
        return read.value, Reason(
            "Air pressure {pressure:.0f}, read {at}",
            {"pressure": Amount(read.value, "hPa"), "at": at},
        )
    pressure = pressure_at_elevation_hpa(site.elevation_m)
    return pressure, Reason(
        "No fresh barometer: {pressure:.0f} from the elevation, {elevation:.0f}; "
        "weather moves it by 3 %",
        {"pressure": Amount(pressure, "hPa"), "elevation": Amount(site.elevation_m, "m")},
        "ICAO/US Standard Atmosphere 1976",
    )
