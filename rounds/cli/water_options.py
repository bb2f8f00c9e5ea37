"""Options of the commands about water: doses and what readings mean."""

from __future__ import annotations

import argparse
from typing import Final

from rounds.cli.quantities import amount, fraction


def dose(command: argparse.ArgumentParser, common: argparse.ArgumentParser) -> None:
    """Add the options of `rounds dose`; `common` are those of every command."""
    kinds = command.add_subparsers(metavar="WHAT", title="what", required=True)

    def add(kind: str, about: str, *names: str) -> argparse.ArgumentParser:
        one: argparse.ArgumentParser = kinds.add_parser(
            kind, help=about, description=f"{about}: on the site's LOOP, or from figures.",
            parents=[common],
        )  # fmt: skip
        one.set_defaults(kind=kind)
        one.add_argument("loop", nargs="?", metavar="LOOP", help="a loop of the site")
        _figures(one, *names)
        one.add_argument("--no-fish", action="store_true", help="the water holds no fish")
        if kind != "chlorine":
            one.add_argument(
                "--take-back", action="store_true",
                help="what was last given to LOOP today was a mistake: take it back, with --why",
            )  # fmt: skip
            one.add_argument("--why", default="", metavar="TEXT", help="why it is taken back")
        return one

    alkali = add(
        "alkalinity", "raise alkalinity with bicarbonate or soda ash",
        "volume", "alkalinity", "target", "ph", "temperature", "salinity", "tan", "phosphate",
    )  # fmt: skip
    alkali.add_argument("--product", metavar="FORMULA", help="NaHCO3, Na2CO3 ...")
    alkali.add_argument("--buffers", choices=("nbs", "total"), help="what set the pH meter (nbs)")
    here, new = ("volume", "salinity", "temperature"), ("salinity-in", "temperature-in")
    salt = add("salt", "raise salinity with salt", *here, "target-salinity")
    for one in (alkali, salt):
        one.add_argument("--purity", type=fraction, metavar="0-1", help="of the product, or 99 %%")
    change = add("exchange", "change water, or bring salinity down", *here, "target-salinity", *new)
    change.add_argument("--part", type=fraction, metavar="0-1", help="of the loop's water")
    add("topup", "replace what evaporated", *here, "volume-now", *new, "salinity-before")
    chlorine = add("chlorine", "take chlorine out of make-up water", "volume", "chlorine")
    chlorine.add_argument("--product", metavar="FORMULA", help="Na2S2O3.5H2O or Na2S2O3")


def _figures(command: argparse.ArgumentParser, *names: str) -> None:
    for name in names:
        unit, said = _FIGURES[name]
        option = "--target" if name.startswith("target") else f"--{name}"
        command.add_argument(option, type=amount(unit), metavar=unit, help=said)


def water(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds water`."""
    _figures(
        command, "temperature", "salinity", "conductivity", "conductivity-25", "specific-gravity",
        "reference-temperature", "ph", "tan", "alkalinity", "phosphate", "oxygen", "pressure",
        "elevation",
    )  # fmt: skip
    command.set_defaults(reference_temperature=20.0)
    command.add_argument(
        "--glass", action="store_true", help="specific gravity was read on a glass hydrometer"
    )
    command.add_argument("--buffers", choices=("nbs", "total"), help="what set the pH meter (nbs)")


_FIGURES: Final = {
    "volume": ("m^3", "water in the loop, at the mark"),
    "alkalinity": ("mg/L CaCO3", "alkalinity now"),
    "target": ("mg/L CaCO3", "what it should become"),
    "target-salinity": ("g/kg", "what it should become"),
    "ph": ("pH", "pH as the meter shows it"),
    "temperature": ("degC", "temperature"),
    "salinity": ("g/kg", "salinity now"),
    "conductivity": ("mS/cm", "in place of salinity: of the water as it is, not compensated"),
    "conductivity-25": ("mS/cm", "in place of salinity: as a meter compensates it to 25 degC"),
    "specific-gravity": ("SG", "in place of salinity: such as 1.024"),
    "reference-temperature": ("degC", "printed on that instrument (20)"),
    "salinity-in": ("g/kg", "salinity of the new water"),
    "salinity-before": ("g/kg", "salinity when the water last stood at the mark"),
    "temperature-in": ("degC", "temperature of the new water"),
    "volume-now": ("m^3", "water now, the level below the mark"),
    "tan": ("mg/L", "total ammonia nitrogen, as N"),
    "phosphate": ("mg/L", "phosphate, as P, where it is known"),
    "oxygen": ("mg/L", "dissolved oxygen"),
    "pressure": ("hPa", "air pressure at the station"),
    "elevation": ("m", "height above the sea, where no pressure was read"),
    "chlorine": ("mg/L", "total chlorine, as Cl2"),
}
