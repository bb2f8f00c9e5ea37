"""`rounds dose`: a loop's doses, or the same worked out from figures without a site."""

from __future__ import annotations

import argparse
from typing import Final

from msgspec.structs import replace

from rounds.cli.dose_words import as_row, tell
from rounds.cli.failure import Failure
from rounds.cli.out import emit
from rounds.day.loops.dose_lines import DoseLine, Kind
from rounds.dosing.alkalinity import AlkalinityDose, alkalinity_dose
from rounds.dosing.alkalis import alkali
from rounds.dosing.chlorine import ChlorineDose, neutralise_chlorine
from rounds.dosing.exchange import WaterChange
from rounds.dosing.salinity import SaltDose, lower_salinity, raise_salinity, top_up

Dose = AlkalinityDose | SaltDose | WaterChange | ChlorineDose
THIOSULFATES = ("Na2S2O3.5H2O", "Na2S2O3")
KINDS: Final[dict[str, Kind]] = {
    "alkalinity": "alkalinity", "salt": "salt", "exchange": "exchange", "topup": "top-up",
    "chlorine": "chlorine",
}  # fmt: skip


def run(asked: argparse.Namespace) -> int:
    """Print one dose worked out from the figures given, or those of a loop of the site."""
    if asked.loop is not None:
        from rounds.cli import dose_loop

        return dose_loop.run(asked)
    if getattr(asked, "take_back", False):
        raise Failure(f"say which loop: rounds dose {asked.kind} LOOP --take-back --why ...")
    line = _line(asked, _worked_out(asked))
    if asked.json:
        emit("dose", [as_row(line)])
    else:
        tell(line, line.reasons, "metric")
    return 0


def _line(asked: argparse.Namespace, dose: Dose) -> DoseLine:
    """Return the dose as a line of a dose sheet."""
    told = DoseLine(
        KINDS[asked.kind], how=dose.how, cautions=dose.cautions, refused=dose.refused,
        measure_after=dose.measure_after, reasons=dose.reasons, after=dose.after,
        expected=(dose.expect,) if dose.expect else (),
    )  # fmt: skip
    match dose:
        case AlkalinityDose():
            return replace(
                told, product=dose.product, name=alkali(dose.product).name, amount=dose.total_g,
                portions=dose.portions_g, hours_between=dose.hours_between, expected=dose.expected,
            )  # fmt: skip
        case SaltDose():
            return replace(
                told, product="salt", name="salt", amount=dose.total_g, portions=dose.portions_g,
                hours_between=dose.hours_between,
            )  # fmt: skip
        case ChlorineDose():
            form = "crystals (pentahydrate)" if dose.pentahydrate else "powder (anhydrous)"
            parts = (dose.mass_g,) if dose.mass_g else ()
            return replace(
                told, product=asked.product, name=f"sodium thiosulfate, {form}",
                amount=dose.mass_g, portions=parts,
            )  # fmt: skip
    return replace(
        told, name="water", unit="L", amount=dose.volume_in_l, portions=dose.portions_l,
        hours_between=dose.hours_between,
    )  # fmt: skip


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
                phosphate_mg_l=asked.phosphate,
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


def _needs(asked: argparse.Namespace, *names: str) -> None:
    """Refuse to work with a figure that nobody gave: no default stands in for a measurement."""
    absent = [f"--{name.replace('_', '-')}" for name in names if getattr(asked, name) is None]
    if absent:
        raise Failure(f"measure first, then give {', '.join(absent)} (or name a LOOP of the site)")
