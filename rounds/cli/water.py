"""`rounds water`: what a set of readings means, without a site."""

from __future__ import annotations

import argparse
from typing import Final

from rounds.cli.failure import Failure
from rounds.cli.out import emit, say, why
from rounds.reason import Reason
from rounds.water.carbonate import BAND
from rounds.water.figures import NAMES, Figures, Readings, figures
from rounds.water.oxygen import pressure_at_elevation_hpa

NEEDS: Final = {
    "oxygen percent": ("oxygen", "temperature", "salinity"),
    "ammonia": ("tan", "temperature", "salinity", "ph"),
    "co2": ("alkalinity", "ph", "temperature", "salinity"),
}
_SHOWN: Final = (
    ("practical_salinity", "Salinity", ".1f", ""),
    ("density_kg_m3", "Density", ".1f", "kg/m3"),
    ("specific_gravity_20_20", "Specific gravity, 20 over 20 degC", ".4f", ""),
    ("conductivity_25_ms_cm", "Conductivity at 25 degC", ".1f", "mS/cm"),
    ("oxygen_saturation_mg_l", "Oxygen at saturation", ".2f", "mg/L"),
    ("oxygen_percent", "Oxygen", ".0f", "% of saturation"),
    ("oxygen_partial_pressure_mmhg", "Oxygen pressure", ".0f", "mmHg"),
    ("ph_nbs", "pH, NBS scale", ".2f", ""),
    ("ph_total", "pH, total scale", ".2f", ""),
    ("unionised_ammonia_fraction", "Un-ionised part of TAN", ".4f", ""),
    ("unionised_ammonia_n_mg_l", "Un-ionised ammonia", ".4f", "mg NH3-N/L"),
    ("co2_mg_l", "Carbon dioxide", ".2g", "mg/L"),
    ("dic_mmol_kg", "Inorganic carbon", ".2f", "mmol/kg"),
    ("pco2_uatm", "CO2 pressure", ".0f", "uatm"),
    ("hydrogen_sulphide_fraction", "H2S part of sulphide", ".2f", ""),
)


def run(asked: argparse.Namespace) -> int:
    """Print every figure the given readings allow, with its reasons."""
    pressure, why_pressure = _pressure(asked.pressure, asked.elevation)
    found = figures(
        Readings(
            temperature_c=asked.temperature,
            practical_salinity=asked.salinity,
            conductivity_ms_cm=asked.conductivity,
            conductivity_25_ms_cm=asked.conductivity_25,
            specific_gravity=asked.specific_gravity,
            reference_c=asked.reference_temperature,
            glass=asked.glass,
            oxygen_mg_l=asked.oxygen,
            ph=asked.ph,
            ph_buffers=asked.buffers or "nbs",
            tan_mg_l=asked.tan,
            alkalinity_mg_l=asked.alkalinity,
            phosphate_mg_l=asked.phosphate,
            pressure_hpa=pressure,
        )
    )
    if not found.reasons:
        raise Failure(
            "nothing can be worked out: give at least --temperature and --salinity "
            "(then --oxygen, --ph, --tan, --alkalinity)"
        )
    pressed = (why_pressure,) if "oxygen_saturation_mg_l" in found.values else ()
    reasons = (*pressed, *found.reasons)
    if asked.json:
        row = {
            **{name: found.values.get(name) for name in NAMES},
            "reasons": reasons,
            "cautions": found.cautions,
            "refused": found.refused,
        }
        emit("water", [row])
        return 0
    _show(found)
    for measure, needs in NEEDS.items():
        if absent := [name for name in needs if not _given(asked, found, name)]:
            say(f"Not worked out: {measure}, for want of {', '.join(absent)}.")
    say("Why:")
    why(reasons, "metric")
    return 0


def _given(asked: argparse.Namespace, found: Figures, name: str) -> bool:
    return getattr(asked, name) is not None or (
        name == "salinity" and "practical_salinity" in found.values
    )


def _show(found: Figures) -> None:
    for name, said, digits, unit in _SHOWN:
        value = found.values.get(name)
        if value is None:
            continue
        extra = ""
        if name == "co2_mg_l":
            extra = f"  ({value * (1 - BAND):.2g} to {value * (1 + BAND):.2g})"
        elif name == "unionised_ammonia_n_mg_l":
            cautious = found.values["unionised_ammonia_n_cautious_mg_l"]
            extra = f"  cautious {cautious:{digits}}"
        say(f"{said}: {value:{digits}} {unit}".rstrip() + extra)
    for text in found.cautions:
        say(f"! {text}", hang=2)
    for text in found.refused:
        say(f"Not worked out: {text}.", hang=2)


def _pressure(pressure_hpa: float | None, elevation_m: float | None) -> tuple[float, Reason]:
    if pressure_hpa is not None:
        return pressure_hpa, Reason("Air pressure {p:.0f} hPa as given", {"p": pressure_hpa})
    height = elevation_m or 0.0
    mean = pressure_at_elevation_hpa(height)
    said = "No pressure given: mean of {h:.0f} m, {p:.0f} hPa"
    return mean, Reason(said, {"h": height, "p": mean}, "US Standard Atmosphere 1976")
