"""Figures worked out from several readings, judged again with each new one of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.readings.inputs import Inputs
from rounds.day.readings.judgement import NAMES, SIGNS, Figure, Judgement, band, judge
from rounds.day.readings.retests import sharing
from rounds.day.when import clock, local_day
from rounds.reason import Reason, Reasons
from rounds.site.measures import MEASURES
from rounds.site.model import Place, Site
from rounds.water.ammonia import un_ionised
from rounds.water.carbonate import co2
from rounds.water.oxygen import from_percent_mg_l, percent
from rounds.water.seawater import density_kg_m3

NEEDS: Final[dict[str, tuple[str, ...]]] = {
    "oxygen_percent": ("oxygen", "temperature", "salinity"),
    "oxygen": ("oxygen_percent", "temperature", "salinity"),
    "ammonia": ("tan", "ph", "temperature", "salinity"),
    "co2": ("alkalinity", "ph", "temperature", "salinity"),
    "density": ("temperature", "salinity"),
}
"""What each figure is worked out from, the reading it belongs to first; oxygen also pressure."""
UNITS: Final = {
    "oxygen_percent": "%",
    "oxygen": "mg/L",
    "ammonia": "mg/L",
    "co2": "mg/L",
    "density": "kg/m3",
}
_WORSE: Final = 0.0005
"""By how much more, mg/L, the worst of the day is told: a digit in sight."""


class Derived(Struct, frozen=True):
    """A figure worked out from readings. `value` is None while something is missing.

    `cautious` is what the verdict is given on, where it differs from the value. `low` and `high`
    are the band that readings as a farm takes them leave. `worst` is the day's worst value judged
    so far, with its time.
    """

    measure: str
    value: float | None
    cautious: float | None
    unit: str
    at: datetime | None
    judgement: Judgement | None
    reasons: Reasons
    missing: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    at_most: bool = False
    doubtful: str = ""
    """Why the readings cannot all be right; empty when nothing speaks against them."""
    worst: tuple[float, datetime] | None = None
    line: str = ""
    """All of it in one line: "NH3-N 0.031 mg/L (cautious 0.036) ! WATCH, 0.052 at 07:10"."""

    @property
    def was_worse(self) -> bool:
        """Whether it stood worse earlier on the day."""
        return self.worst is not None and self.worst[0] > (self.cautious or 0.0) + _WORSE


def derived(
    site: Site,
    farm: Farm,
    place: Place,
    now: datetime,
    typed: Mapping[str, float] | None = None,
    *,
    day: bool = False,
) -> tuple[Derived, ...]:
    """Work out oxygen in both forms, ammonia, CO2 and density of a place, and judge them.

    Args:
        site: The site.
        farm: The farm's readings.
        place: Where.
        now: The present; readings too old for their measure do not count.
        typed: Values being typed, by measure in the measure's unit, in place of the latest.
        day: Whether the day's worst ammonia is looked for too.

    Returns:
        One figure each; one that cannot be worked out says what to measure. None for a dry place.
    """
    if not place.wet:
        return ()
    inputs = Inputs(farm, place, now, typed or {})
    found = []
    for measure in (_oxygen_form(inputs), "ammonia", "co2", "density"):
        one = figure(site, inputs, measure)
        if measure == "ammonia" and day:
            one = replace(one, worst=_day_worst(site, farm, place, now, one))
        found.append(replace(one, line=_line(one, site.timezone)))
    return tuple(found)


def figure(site: Site, inputs: Inputs, measure: str) -> Derived:
    """Work out one figure of a place from its readings: a key of `NEEDS`, without its day."""
    return _worked(site, measure, inputs.anew())


def _oxygen_form(inputs: Inputs) -> str:
    """Return the form of oxygen to work out: the one that was not read last."""
    if "oxygen" in inputs.typed:
        return "oxygen_percent"
    if "oxygen_percent" in inputs.typed:
        return "oxygen"
    mg_l, share = inputs.find("oxygen"), inputs.find("oxygen_percent")
    if share is not None and (mg_l is None or share.at > mg_l.at):
        return "oxygen"
    return "oxygen_percent"


def _worked(site: Site, measure: str, inputs: Inputs) -> Derived:
    empty = Derived(measure, None, None, UNITS[measure], None, None, ())
    found = [inputs.take(need) for need in NEEDS[measure]]
    values = [value for value in found if value is not None]
    if len(values) < len(found):
        return replace(empty, missing=tuple(inputs.missing), reasons=tuple(inputs.reasons))
    try:
        worked = _EQUATIONS[measure](site, inputs, values)
    except ValueError as error:  # outside an equation, or a pair that no water can have
        return replace(empty, doubtful=str(error), at=inputs.at, reasons=tuple(inputs.reasons))
    reasons = (*inputs.reasons, *worked.reasons)
    worked = replace(worked, at=inputs.at, reasons=reasons)
    judged = worked.value if worked.cautious is None else worked.cautious
    if measure not in MEASURES or judged is None:
        return worked
    judgement = judge(site, inputs.place, measure, judged, inputs.now)
    judgement = replace(judgement, reasons=(*reasons, *judgement.reasons), reread_at=None)
    return replace(worked, judgement=judgement)


# -- one function a figure: from the values of its NEEDS, in that order --------------------------

Equation = Callable[[Site, Inputs, list[float]], Derived]


def _oxygen_percent(site: Site, inputs: Inputs, values: list[float]) -> Derived:
    mg_l, temperature_c, salinity = values
    pressure = inputs.pressure_hpa()
    share = percent(mg_l, temperature_c, salinity, pressure)
    says = "{value:.1f} % of saturation"
    reason = Reason(says, {"value": share}, "Benson & Krause 1984, Eqs 24 and 32")
    return Derived("oxygen_percent", share, None, "%", None, None, (reason,))


def _oxygen(site: Site, inputs: Inputs, values: list[float]) -> Derived:
    share, temperature_c, salinity = values
    mg_l = from_percent_mg_l(share, temperature_c, salinity, inputs.pressure_hpa())
    reason = Reason("{value:.2f} mg/L", {"value": mg_l}, "Benson & Krause 1984, Eqs 24 and 32")
    return Derived("oxygen", mg_l, None, "mg/L", None, None, (reason,))


def _ammonia(site: Site, inputs: Inputs, values: list[float]) -> Derived:
    tan, ph, temperature_c, salinity = values
    found = un_ionised(tan, temperature_c, salinity, ph, site.ph_buffers)
    return Derived(
        "ammonia", found.value_mg_l, found.cautious_mg_l, "mg/L", None, None, found.reasons,
        at_most=found.at_most,
    )  # fmt: skip


def _co2(site: Site, inputs: Inputs, values: list[float]) -> Derived:
    alkalinity, ph, temperature_c, salinity = values
    found = co2(alkalinity, ph, temperature_c, salinity, site.ph_buffers)
    doubtful = "CO2 above 60 mg/L: measure pH and alkalinity again, check the pH meter"
    return Derived(
        "co2", found.co2_mg_l, None, "mg/L", None, None, found.reasons, low=found.low_mg_l,
        high=found.high_mg_l, at_most=found.at_most, doubtful=doubtful if found.doubtful else "",
    )  # fmt: skip


def _density(site: Site, inputs: Inputs, values: list[float]) -> Derived:
    temperature_c, salinity = values
    density = density_kg_m3(temperature_c, salinity)
    reason = Reason("{value:.1f} kg/m3", {"value": density}, "Millero & Poisson 1981")
    return Derived("density", density, None, "kg/m3", None, None, (reason,))


_EQUATIONS: Final[dict[str, Equation]] = {
    "oxygen_percent": _oxygen_percent,
    "oxygen": _oxygen,
    "ammonia": _ammonia,
    "co2": _co2,
    "density": _density,
}


def _day_worst(
    site: Site, farm: Farm, place: Place, now: datetime, last: Derived
) -> tuple[float, datetime] | None:
    """Return the highest cautious ammonia of the site's day so far, and when it was."""
    found = [] if last.cautious is None else [(last.cautious, last.at or now)]
    today = local_day(now, site.timezone)
    reads = [
        (one.code, measure)
        for measure in ("ph", "temperature", "salinity", "tan")
        for one in (sharing(farm, place) if measure == "tan" else (place,))
    ]
    instants = {
        read.at
        for code, measure in reads
        for read in farm.between(code, measure, now - timedelta(days=2), now)
        if local_day(read.at, site.timezone) == today
    }
    for at in sorted(instants):
        then = figure(site, Inputs(farm, place, at), "ammonia")
        if then.cautious is not None:
            found.append((then.cautious, at))
    return max(found, default=None)


def _line(one: Derived, zone: ZoneInfo) -> str:
    info = MEASURES.get(one.measure)
    name = NAMES.get(one.measure, info.name if info else one.measure.capitalize())
    if one.value is None:
        return f"{name}: {one.doubtful or '; '.join(one.missing)}"
    digits = info.decimals if info else 1
    limits, edge = one.judgement.limits if one.judgement else None, None
    if limits is not None and one.cautious is None:
        edge = band(one.value, limits)[2]
    value = Figure(digits, one.unit, "metric").with_unit(one.value, edge)
    text = f"{name} {'at most ' if one.at_most else ''}{value}"
    if one.cautious is not None:
        text += f" (cautious {one.cautious:.{digits}f})"
    if one.low is not None and one.high is not None:
        text += f" ({one.low:.{digits}f} to {one.high:.{digits}f})"
    text = f"{text} {SIGNS[one.judgement.verdict]}" if one.judgement else text
    if one.worst is not None and one.was_worse:
        text += f", {one.worst[0]:.{digits}f} at {clock(one.worst[1], zone)}"
    return text
