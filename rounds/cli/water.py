"""`rounds water`: what a set of readings means, without a site."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from rounds.cli.failure import Failure
from rounds.cli.out import emit, say, why
from rounds.reason import Reason, Reasons
from rounds.water import ammonia, carbonate, oxygen, seawater
from rounds.water.ph_scale import Buffers

NEEDS: Final = {
    "density": ("temperature", "salinity"),
    "saturation": ("temperature", "salinity"),
    "oxygen_percent": ("oxygen", "temperature", "salinity"),
    "ammonia": ("tan", "temperature", "salinity", "ph"),
    "co2": ("alkalinity", "ph", "temperature", "salinity"),
}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure worked out from what was given; `cautious` is what a verdict is given on."""

    measure: str
    name: str
    value: float
    unit: str
    decimals: int
    reasons: Reasons
    cautious: float | None = None
    low: float | None = None
    high: float | None = None


def run(asked: argparse.Namespace) -> int:
    """Print every figure the given readings allow, with its reasons."""
    names = {name for needs in NEEDS.values() for name in needs}
    given = {name: v for name in names if (v := getattr(asked, name)) is not None}
    figures = worked_out(given, asked.pressure, asked.elevation, asked.buffers or "nbs")
    if not figures:
        raise Failure(
            "nothing can be worked out: give at least --temperature and --salinity "
            "(then --oxygen, --ph, --tan, --alkalinity)"
        )
    if getattr(asked, "json", False):
        emit("water", "", datetime.now(UTC), figures, "metric")
        return 0
    for figure in figures:
        band = f"  ({figure.low:.1f} to {figure.high:.1f})" if figure.low is not None else ""
        careful = (
            f"  cautious {figure.cautious:.{figure.decimals}f}"
            if figure.cautious is not None
            else ""
        )
        say(f"{figure.name}: {figure.value:.{figure.decimals}f} {figure.unit}{careful}{band}")
        why(figure.reasons, "metric")
    for measure, needs in NEEDS.items():
        if absent := [name for name in needs if name not in given]:
            say(f"Not worked out: {measure.replace('_', ' ')}, for want of {', '.join(absent)}.")
    return 0


def worked_out(
    given: Mapping[str, float],
    pressure_hpa: float | None,
    elevation_m: float | None,
    buffers: Buffers,
) -> list[Figure]:
    """Return the figures that follow from the readings given, in the order of a water sheet."""
    found: list[Figure] = []

    def ready(measure: str) -> bool:
        return all(name in given for name in NEEDS[measure])

    t, s = given.get("temperature", 0.0), given.get("salinity", 0.0)
    if ready("density"):
        start = Reason("Water of {t:.1f} degC and salinity {s:.1f}", {"t": t, "s": s})
        found.append(
            Figure(
                "density", "Density", seawater.density_kg_m3(t, s), "kg/m^3", 1,
                (start, Reason("Equation of state at the surface", {}, "UNESCO 44, 1983")),
            )
        )  # fmt: skip
        at, pressed = _pressure(pressure_hpa, elevation_m)
        full = oxygen.saturation_mg_l(t, s, at)
        reasons = (
            start,
            pressed,
            Reason(
                "Saturation {full:.2f} mg/L at {p:.0f} hPa",
                {"full": full, "p": at},
                "Benson & Krause 1984, Eqs 24 and 32",
            ),
        )
        found.append(Figure("saturation", "Oxygen at saturation", full, "mg/L", 2, reasons))
        if ready("oxygen_percent"):
            value = given["oxygen"]
            percent = oxygen.percent(value, t, s, at)
            said = Reason(
                "{oxygen:.2f} of {full:.2f} mg/L is {percent:.0f} %",
                {"oxygen": value, "full": full, "percent": percent},
            )
            found.append(
                Figure("oxygen_percent", "Oxygen", percent, "% of saturation", 0, (*reasons, said))
            )
    if ready("ammonia"):
        toxic = ammonia.un_ionised(given["tan"], t, s, given["ph"], buffers)
        found.append(
            Figure(
                "ammonia", "Un-ionised ammonia", toxic.value_mg_l, "mg NH3-N/L", 4,
                toxic.reasons, cautious=toxic.cautious_mg_l,
            )
        )  # fmt: skip
    if ready("co2"):
        water = carbonate.co2(given["alkalinity"], given["ph"], t, s, buffers)
        found.append(
            Figure(
                "co2", "Carbon dioxide", water.co2_mg_l, "mg/L", 1, water.reasons,
                low=water.low_mg_l, high=water.high_mg_l,
            )
        )  # fmt: skip
    return found


def _pressure(pressure_hpa: float | None, elevation_m: float | None) -> tuple[float, Reason]:
    if pressure_hpa is not None:
        return pressure_hpa, Reason("Air pressure {p:.0f} hPa as given", {"p": pressure_hpa})
    height = elevation_m or 0.0
    mean = oxygen.pressure_at_elevation_hpa(height)
    said = "no pressure given: mean of {h:.0f} m, {p:.0f} hPa"
    return mean, Reason(said, {"h": height, "p": mean}, "US Standard Atmosphere 1976")
