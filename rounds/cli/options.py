"""Every command with its options and its help. Nothing of the farm is imported here."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Final, NoReturn

from rounds import __version__
from rounds.text import NumberError, clean, number, plain
from rounds.units import UnitError, quantity

_AMOUNT: Final = re.compile(r"\s*([+-]?[0-9.,]+)\s*(.*)", re.ASCII | re.DOTALL)
_NO_VALUE: Final = re.compile(r"--[\w-]+=--")
ABOUT: Final = "The technician's day on a small marine fish farm. Without a command: open the app."


class Parser(argparse.ArgumentParser):
    """A parser that tells an error in one sentence, and loads what paints its help only then."""

    def format_help(self) -> str:
        """Return the help, painted where the terminal takes it."""
        from rich_argparse import RichHelpFormatter

        self.formatter_class = RichHelpFormatter
        return super().format_help()

    def parse_known_args(self, args=None, namespace=None):  # type: ignore[no-untyped-def]
        """Refuse `--option=--`, of which argparse makes an empty list."""
        for word in sys.argv[1:] if args is None else args:
            if _NO_VALUE.fullmatch(word):
                self.error(f"argument {word[:-3]}: '--' is not a value")
        return super().parse_known_args(args, namespace)

    def error(self, message: str) -> NoReturn:
        """Leave with 2 and one sentence."""
        self.exit(2, f"{self.prog}: {clean(message, limit=400)}. See {self.prog} --help\n")


def amount(unit: str) -> Callable[[str], float]:
    """Return a reader of one quantity: a number in `unit`, or a number with its own unit."""

    def read(text: str) -> float:
        found = _AMOUNT.fullmatch(text)
        try:
            if found is None:
                raise UnitError(f"{text!r} is not a number, or a number with a unit (1.5 {unit})")
            return quantity(f"{plain(number(found[1]))} {found[2]}", unit)
        except (UnitError, NumberError) as error:
            raise argparse.ArgumentTypeError(str(error)) from None

    return read


def fraction(text: str) -> float:
    """Read a purity: a fraction from 0 to 1, or percent ("99 %")."""
    value = amount("%")(text) / 100 if "%" in text else amount("1")(text)
    if not 0 < value <= 1:
        raise argparse.ArgumentTypeError(f"{text} is not a fraction from 0 to 1 (or 99 %)")
    return value


@cache
def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    common = Parser(add_help=False, argument_default=argparse.SUPPRESS)
    common.add_argument("--site", type=Path, metavar="DIR", help="the site's folder")
    common.add_argument("--by", metavar="CODE", help="who writes: a code of the site's people")
    common.add_argument("--json", action="store_true", help="print JSON")
    top = Parser(
        prog="rounds",
        description=ABOUT,
        parents=[common],
        epilog="Exit: 0 done, 1 findings, 2 error. The site: --site, else ROUNDS_SITE, else the "
        "current folder or one above. Who: --by, else ROUNDS_BY.",
    )
    top.add_argument("--version", action="version", version=f"rounds {__version__}")
    top.set_defaults(room="opening", command="")
    commands = top.add_subparsers(metavar="COMMAND", title="commands")

    def add(name: str, room: str, about: str) -> argparse.ArgumentParser:
        command: argparse.ArgumentParser = commands.add_parser(
            name,
            help=about,
            description=about,
            parents=[common],
        )
        command.set_defaults(room=room, command=name)
        return command

    add("today", "today", "print today's sheet: the worst first, rounds, rations, doses")
    walk = add("walk", "walking", "walk a round, question by question, without the app")
    walk.add_argument("checklist", nargs="?", metavar="CHECKLIST", help="which round (its code)")
    walk.add_argument(
        "--read-at", metavar="HH:MM", help="when the values were read, if not now (from a slate)"
    )
    slate = add("slate", "slate", "print a blank round sheet to walk with on paper")
    slate.add_argument("checklist", nargs="?", metavar="CHECKLIST", help="which round (its code)")
    slate.add_argument("--day", metavar="DATE", help="the day it is for (today)")
    slate.add_argument("--width", type=int, default=80, help="columns of the paper (80)")
    _ration(add("ration", "ration", "print today's rations, or record a meal as given"))
    _dose(
        add("dose", "calculator", "print what to dose and why; with figures, a calculator"), common
    )
    _water(add("water", "water", "work out what a set of readings means"))
    air = add("air", "air", "print how many minutes of air each tank has, the shortest first")
    air.add_argument("place", nargs="?", metavar="PLACE", help="one place only, with reasons")
    record = add("record", "record", "record fish in, moved, out or counted, water, a fault")
    record.add_argument("form", nargs="?", metavar="FORM", help="which; left out, all are listed")
    record.add_argument("answers", nargs="*", metavar="KEY=VALUE", help="its answers")
    record.add_argument("--confirm", action="store_true", help="keep what looks like a slip")
    _transfer(add("transfer", "transfer", "print what a move of fish needs first, and its account"))
    _weigh(add("weigh", "weigh", "say how many fish to weigh, or what a sample says, and keep it"))
    room = add("capacity", "capacity", "print how many fish of what size a tank can take")
    room.add_argument("place", metavar="PLACE", help="a tank")
    room.add_argument("--weight", type=amount("g"), metavar="g", help="mean weight asked about")
    room.add_argument("--count", type=int, metavar="N", help="number of fish asked about")
    growth = add("growth", "growth", "print how each lot grew, and when it is of market size")
    growth.add_argument("what", nargs="?", metavar="LOT|PLACE", help="one only, with reasons")
    growth.add_argument("--chart", action="store_true", help="draw the growth curve")
    _trend(add("trend", "trend", "draw a measure of a place over time, with limits and events"))
    _larvae(add("larvae", "larvae", "print live food to add, to harvest and to hatch"))
    _forage(add("forage", "forage", "print what tanks need of the pond, what it bears, its crops"))
    handoff = add("handoff", "handing", "hand the shift on: print it, sign it, write it to a file")
    handoff.add_argument("--to", metavar="CODE", default="", help="who takes over")
    handoff.add_argument("--say", metavar="TEXT", default="", help="what the shift adds in words")
    handoff.add_argument("--take", action="store_true", help="take the last hand-off over")
    handoff.add_argument("--look", action="store_true", help="print it only; write nothing")
    sync = add(
        "sync", "exchanging", "exchange entries with a stick, a share, a server, or with all"
    )
    sync.add_argument(
        "address", nargs="?", metavar="FOLDER|URL|NAME",
        help="left out, every [[sync]] address of site.toml",
    )  # fmt: skip
    sync.add_argument("--enrol", metavar="LAPTOP", help="take a new laptop in, which a sync found")
    sync.add_argument(
        "--adopt", nargs="?", const="", metavar="VERSION",
        help="take over the site files of another laptop; alone, tell what they change",
    )  # fmt: skip
    add("check", "check", "read the site's files and tell every error at once")
    start = add("start", "make", "make a new site to fill in")
    start.add_argument("folder", type=Path, metavar="DIR")
    sample = add("sample", "make", "make an invented farm with three weeks of history")
    sample.add_argument("folder", type=Path, metavar="DIR")
    sample.add_argument("--days", type=int, default=21, help="days of history, 2 to 60 (21)")
    sample.add_argument("--ending", metavar="DATE", help="last day of the history (yesterday)")
    sample.add_argument("--seed", type=int, default=1, help="another number, another history (1)")
    sample.add_argument("--open", action="store_true", help="open the app on it")
    add("verify", "keeping", "check every file of the records against its digests")
    backup = add("backup", "backup", "write the site and its records into one file, and prove it")
    backup.add_argument("file", type=Path, metavar="FILE", help="a new file, such as farm.zip")
    restore = add("restore", "backup", "make a site's folder from a backup")
    restore.add_argument("file", type=Path, metavar="FILE", help="a file that backup wrote")
    restore.add_argument("folder", type=Path, metavar="DIR", help="a new folder")
    export = add("export", "export", "write the records as CSV or Parquet, for others to read")
    export.add_argument(
        "target", type=Path, metavar="FILE|FOLDER",
        help="a new .csv or .parquet for one table, else a new folder with one of each kind",
    )  # fmt: skip
    export.add_argument("--from", dest="first", default="", metavar="DAY", help="first day")
    export.add_argument("--to", dest="last", default="", metavar="DAY", help="last day")
    export.add_argument("--kinds", default="", metavar="KIND,KIND", help="only these: reading,fed")
    export.add_argument("--parquet", action="store_true", help="Parquet in a folder, not CSV")
    export.add_argument("--bom", action="store_true", help="CSV that old spreadsheets see as UTF-8")
    return top


def _ration(command: argparse.ArgumentParser) -> None:
    command.add_argument("place", nargs="?", metavar="PLACE", help="one place only")
    command.add_argument(
        "--give",
        nargs="?",
        const="",
        metavar="AMOUNT",
        help="record the next meal: as advised, or this amount in g with --why",
    )
    command.add_argument(
        "--why", default="", metavar="TEXT", help="why another amount, or why taken back"
    )
    command.add_argument(
        "--left", metavar="AMOUNT", help="what was not eaten, in g, of this meal or the last one"
    )
    command.add_argument(
        "--minutes", metavar="MIN", help="from offering until nothing was left of that meal"
    )
    command.add_argument(
        "--withhold", metavar="UNTIL",
        help="feed nothing until then, with --why: '24 h', 18:00 or '2026-03-12 08:00'",
    )  # fmt: skip
    command.add_argument(
        "--feed-again", action="store_true", help="end what was withheld, with --why"
    )
    command.add_argument(
        "--table", action="store_true", help="draw the feed table and where the tanks stand in it"
    )
    command.add_argument(
        "--confirm", action="store_true",
        help="you mean it: NO FEED, an amount that looks like a slip, a meal so soon",
    )  # fmt: skip
    command.add_argument(
        "--take-back", action="store_true",
        help="the last meal of today was a mistake: take it back, with --why",
    )  # fmt: skip
    command.add_argument(
        "--choose",
        choices=("table", "growth", "accepted"),
        help="let this opinion govern for three days, with --why",
    )


def _trend(command: argparse.ArgumentParser) -> None:
    command.add_argument("place", metavar="PLACE", help="a tank, filter, tray, pond, culture")
    command.add_argument(
        "measure", nargs="?", metavar="MEASURE", help="such as oxygen, or weight; left out, a list"
    )
    span = command.add_mutually_exclusive_group()
    span.add_argument("--days", type=int, metavar="N", help="how many days back (7)")
    span.add_argument("--life", action="store_true", help="the whole life of the lot there")
    command.add_argument(
        "--compare", nargs="+", default=[], metavar="PLACE", help="other places drawn with it"
    )


def _transfer(command: argparse.ArgumentParser) -> None:
    command.add_argument("source", metavar="PLACE", help="where the fish are")
    command.add_argument("into", nargs="+", metavar="PLACE=FISH/MASS", help="such as G4=200/80")
    command.add_argument("--lot", default="", metavar="LOT", help="which lot, where several are")
    for name, about in (
        ("out", "counted and weighed on the way out"), ("dead", "dead on the way"),
        ("sampled", "kept back as samples"),
    ):  # fmt: skip
        command.add_argument(f"--{name}", default="", metavar="FISH/MASS", help=about)
    command.add_argument("--cause", default="", metavar="TEXT", help="of death (handling)")
    command.add_argument("--keep", action="store_true", help="record it, once it balances")
    command.add_argument(
        "--named", default="", metavar="TEXT", help="why it does not balance, and keep it"
    )
    command.add_argument("--confirm", action="store_true", help="keep it whatever comes first")


def _weigh(command: argparse.ArgumentParser) -> None:
    command.add_argument("place", metavar="PLACE", help="where the fish are")
    command.add_argument("--weights", metavar="TEXT", help="each fish in g: '96 104 100'")
    command.add_argument("--nets", metavar="TEXT", help="fish/kg of each net: '25/5.35 22/4.62'")
    command.add_argument("--tare", metavar="kg", help="a wet net, taken off each")
    command.add_argument("--lengths", metavar="TEXT", help="of the same fish, in cm: for condition")
    command.add_argument("--lot", metavar="LOT", help="which lot, where there are several")
    command.add_argument(
        "--precision", type=amount("%"), default=5.0, metavar="%", help="of the mean (5)"
    )
    command.add_argument("--dry-run", action="store_true", help="print it only; write nothing")
    command.add_argument("--confirm", action="store_true", help="keep a sample that looks mistyped")


def _larvae(command: argparse.ArgumentParser) -> None:
    command.add_argument("place", nargs="?", metavar="PLACE", help="a larval tank or a culture")
    command.add_argument("--food", choices=("rotifers", "nauplii"), help="what was counted")
    command.add_argument("--counts", metavar="'N N N'", help="counts of the samples")
    command.add_argument(
        "--volume-ml", type=amount("1"), default=1.0, metavar="mL", help="of one (1)"
    )
    command.add_argument(
        "--dilution", type=amount("1"), default=1.0, metavar="N", help="thinned (1)"
    )
    command.add_argument("--target", type=amount("1"), metavar="N", help="wanted, per mL")
    command.add_argument("--culture", type=amount("1"), metavar="N", help="the culture, per mL")
    command.add_argument(
        "--hours", type=amount("1"), default=8.0, metavar="h", help="to the next (8)"
    )
    command.add_argument("--day", type=int, metavar="N", help="days after hatch")
    command.add_argument(
        "--left", type=amount("1"), metavar="N", help="per mL, after the last harvest"
    )
    command.add_argument("--columns", metavar="'N N N'", help="larvae in each column of water")
    command.add_argument(
        "--column-volume", type=amount("L"), default=1.0, metavar="L", help="of one column (1)"
    )
    command.add_argument(
        "--precision", type=amount("%"), default=10.0, metavar="%", help="wanted (10)"
    )
    command.add_argument("--keep", action="store_true", help="keep the number of the columns")
    command.add_argument("--wanted", metavar="HH:MM", help="when live food goes into the tank")
    command.add_argument("--nauplii", type=amount("1"), metavar="N", help="how many to hatch")
    command.add_argument(
        "--cysts", metavar="NAME", help="which tin; left out, the last one hatched"
    )
    command.add_argument(
        "--nauplii-per-g", type=amount("1"), metavar="N", help="of a tin not hatched here yet"
    )
    command.add_argument("--enrich", type=amount("1"), metavar="h", help="hours in the enrichment")


def _forage(command: argparse.ArgumentParser) -> None:
    command.add_argument("place", nargs="?", metavar="PLACE", help="a tank of predators")
    command.add_argument("--pond", metavar="POND", help="which pond, where there are several")
    command.add_argument("--share", type=fraction, default=1.0, metavar="0-1", help="of the ration")
    command.add_argument("--length", type=amount("mm"), metavar="mm", help="of the predators")
    command.add_argument("--prey", type=amount("g"), metavar="g", help="mean weight of the prey")
    for name in ("marked", "caught", "recaptured"):
        command.add_argument(f"--{name}", type=int, metavar="N", help="record a stock estimate")
    command.add_argument("--hauls", metavar="'N N N'", help="record one: seine, none put back")
    command.add_argument(
        "--yield",
        type=amount("1"),
        dest="yield_",
        metavar="g/m2",
        help="net yield a day, as measured",
    )
    command.add_argument(
        "--r", type=amount("1"), metavar="1/yr", help="growth of the stock (site.toml)"
    )
    command.add_argument(
        "--k", type=amount("kg"), metavar="kg", help="what the pond carries (site.toml)"
    )
    command.add_argument(
        "--breeding", type=amount("degC"), metavar="degC", help="no crop below (site.toml)"
    )
    command.add_argument("--give", metavar="AMOUNT", help="record forage fed to PLACE, in g wet")
    command.add_argument("--lot", default="", metavar="LOT", help="which crop (the oldest ready)")
    command.add_argument("--why", default="", metavar="TEXT", help="why it is given all the same")


def _dose(command: argparse.ArgumentParser, common: argparse.ArgumentParser) -> None:
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


def _water(command: argparse.ArgumentParser) -> None:
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
