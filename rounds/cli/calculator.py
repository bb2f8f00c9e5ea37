"""`rounds dose`: a loop's doses, or the same worked out from figures without a site."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime

from rounds.cli.failure import Failure
from rounds.cli.out import emit, say, why
from rounds.dosing.alkalinity import AlkalinityDose, Expected, alkalinity_dose
from rounds.dosing.alkalis import alkali
from rounds.dosing.chlorine import ChlorineDose, neutralise_chlorine
from rounds.dosing.exchange import WaterChange
from rounds.dosing.salinity import SaltDose, lower_salinity, raise_salinity, top_up

Dose = AlkalinityDose | SaltDose | WaterChange | ChlorineDose
THIOSULFATES = ("Na2S2O3.5H2O", "Na2S2O3")


def run(asked: argparse.Namespace) -> int:
    """Print one dose worked out from the figures given, or those of a loop of the site."""
    if asked.loop is not None:
        from rounds.cli import dosing

        return dosing.run(asked)
    dose = _worked_out(asked)
    if getattr(asked, "json", False):
        emit("dose", "", datetime.now(UTC), [dose], "metric")
        return 0
    _show(dose)
    return 0


def _worked_out(asked: argparse.Namespace) -> Dose:
    """Return the dose the figures of a command call for."""
    stocked = not asked.no_fish
    match asked.kind:
        case "alkalinity":
            _needs(
                asked, "volume", "alkalinity", "target", "ph", "temperature", "salinity",
                "product", "purity",
            )  # fmt: skip
            return alkalinity_dose(
                volume_m3=asked.volume,
                alkalinity_mg_l=asked.alkalinity,
                target_mg_l=asked.target,
                ph=asked.ph,
                temperature_c=asked.temperature,
                practical_salinity=asked.salinity,
                product=asked.product,
                purity=asked.purity,
                tan_mg_l=asked.tan,
                ph_buffers=asked.buffers or "nbs",
                stocked=stocked,
            )
        case "salt":
            _needs(asked, "volume", "salinity", "target", "temperature", "purity")
            return raise_salinity(
                volume_m3=asked.volume,
                temperature_c=asked.temperature,
                practical_salinity=asked.salinity,
                target_salinity=asked.target,
                salt_fraction=asked.purity,
                stocked=stocked,
            )
        case "exchange":
            _needs(
                asked, "volume", "salinity", "target", "temperature", "salinity_in",
                "temperature_in",
            )  # fmt: skip
            return lower_salinity(
                volume_m3=asked.volume,
                temperature_c=asked.temperature,
                practical_salinity=asked.salinity,
                target_salinity=asked.target,
                in_salinity=asked.salinity_in,
                in_temperature_c=asked.temperature_in,
                stocked=stocked,
            )
        case "topup":
            _needs(
                asked, "volume", "volume_now", "salinity", "temperature", "salinity_in",
                "temperature_in",
            )  # fmt: skip
            return top_up(
                full_m3=asked.volume,
                now_m3=asked.volume_now,
                temperature_c=asked.temperature,
                practical_salinity=asked.salinity,
                in_salinity=asked.salinity_in,
                in_temperature_c=asked.temperature_in,
                salinity_before=asked.salinity_before,
            )
    _needs(asked, "volume", "chlorine", "product")
    if asked.product not in THIOSULFATES:
        raise Failure(f"--product {asked.product}: allowed are {' and '.join(THIOSULFATES)}")
    return neutralise_chlorine(
        volume_m3=asked.volume,
        chlorine_mg_l=asked.chlorine,
        pentahydrate=asked.product == THIOSULFATES[0],
        stocked=stocked,
    )


def _show(dose: Dose) -> None:
    """Print a dose: what to weigh out, what it will do, how, and why."""
    for refused in dose.refused:
        say(f"REFUSED: {refused}", hang=2)
    if not dose.refused:
        say(_amount(dose))
    if dose.expect:
        say(f"Expect: {dose.expect}", hang=2)
    if isinstance(dose, AlkalinityDose):
        for name, water in (
            ("Now", dose.now), ("After the first portion", dose.first),
            ("After all of it", dose.whole), ("When CO2 has settled", dose.settled),
        ):  # fmt: skip
            if water is not None:
                say(f"  {name}: {_water(water)}", hang=2)
    for title, lines in (
        ("Caution", dose.cautions), ("How", dose.how), ("Afterwards", dose.measure_after),
    ):  # fmt: skip
        for line in lines:
            say(f"{title}: {line}", hang=2)
    say("Why:")
    why(dose.reasons, "metric")


def _amount(dose: Dose) -> str:
    if isinstance(dose, ChlorineDose):
        form = "crystals (pentahydrate)" if dose.pentahydrate else "powder (anhydrous)"
        return f"Sodium thiosulfate, {form}: {dose.mass_g:.1f} g"
    if isinstance(dose, WaterChange):
        if not dose.portions_l:
            return "Water: none"
        parts = _parts(dose.portions_l, "L", dose.hours_between)
        return f"Water: {dose.volume_out_l:.0f} L out, {dose.volume_in_l:.0f} L in{parts}"
    name = alkali(dose.product).name if isinstance(dose, AlkalinityDose) else "Salt"
    if not dose.portions_g:
        return f"{name}: none"
    parts = _parts(dose.portions_g, "g", dose.hours_between)
    return f"{name[0].upper()}{name[1:]}: {dose.total_g:.0f} g today{parts}"


def _parts(parts: tuple[float, ...], unit: str, hours: float) -> str:
    if len(parts) < 2:
        return ""
    said = " + ".join(f"{part:.0f}" for part in parts)
    return f" in {len(parts)} portions, {hours:.1f} h apart: {said} {unit}"


def _water(water: Expected) -> str:
    said = (
        f"alkalinity {water.alkalinity_mg_l:.0f} mg/L CaCO3, pH {water.ph:.2f}, "
        f"CO2 {water.co2_mg_l:.1f} mg/L"
    )
    if water.ammonia_cautious_mg_l is not None:
        said += f", NH3-N {water.ammonia_cautious_mg_l:.3f} mg/L (cautious)"
    return said


def _needs(asked: argparse.Namespace, *names: str) -> None:
    """Refuse to work with a figure that nobody gave: no default stands in for a measurement."""
    absent = [f"--{name.replace('_', '-')}" for name in names if getattr(asked, name) is None]
    if absent:
        raise Failure(f"measure first, then give {', '.join(absent)} (or name a LOOP of the site)")
