"""Every command with its options and its help. Nothing of the farm is imported here."""

from __future__ import annotations

import argparse
import re
import sys
from functools import cache
from pathlib import Path
from typing import Final, NoReturn

from rounds import __version__
from rounds.cli import fish_options, water_options
from rounds.cli.quantities import amount
from rounds.text import clean

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
    commands = top.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    def add(name: str, about: str) -> argparse.ArgumentParser:
        command: argparse.ArgumentParser = commands.add_parser(
            name, help=about, description=about, parents=[common]
        )  # run by `run` of the module of this name
        return command

    add("today", "print today's sheet: the worst first, rounds, rations, doses")
    walk = add("walk", "walk a round, question by question, without the app")
    walk.add_argument("checklist", nargs="?", metavar="CHECKLIST", help="which round (its code)")
    walk.add_argument(
        "--read-at", metavar="HH:MM", help="when the values were read, if not now (from a slate)"
    )
    walk.add_argument("--day", metavar="DATE", help="the slate's day (today); with --read-at")
    slate = add("slate", "print a blank round sheet to walk with on paper")
    slate.add_argument("checklist", nargs="?", metavar="CHECKLIST", help="which round (its code)")
    slate.add_argument("--day", metavar="DATE", help="the day it is for (today)")
    slate.add_argument("--width", type=int, default=80, help="columns of the paper (80)")
    fish_options.ration(add("ration", "print today's rations, or record a meal as given"))
    water_options.dose(
        add("dose", "print what to dose and why; with figures, a calculator"), common
    )
    water_options.water(add("water", "work out what a set of readings means"))
    air = add("air", "print how many minutes of air each tank has, the shortest first")
    air.add_argument("place", nargs="?", metavar="PLACE", help="one place only, with reasons")
    record = add("record", "record fish in, moved, out or counted, water, a fault")
    record.add_argument("form", nargs="?", metavar="FORM", help="which; left out, all are listed")
    record.add_argument("answers", nargs="*", metavar="KEY=VALUE", help="its answers")
    record.add_argument("--confirm", action="store_true", help="keep what looks like a slip")
    fish_options.transfer(add("transfer", "print what a move of fish needs first, and its account"))
    fish_options.weigh(
        add("weigh", "say how many fish to weigh, or what a sample says, and keep it")
    )
    room = add("capacity", "print how many fish of what size a tank can take")
    room.add_argument("place", metavar="PLACE", help="a tank")
    room.add_argument("--weight", type=amount("g"), metavar="g", help="mean weight asked about")
    room.add_argument("--count", type=int, metavar="N", help="number of fish asked about")
    growth = add("growth", "print how each lot grew, and when it is of market size")
    growth.add_argument("what", nargs="?", metavar="LOT|PLACE", help="one only, with reasons")
    growth.add_argument("--chart", action="store_true", help="draw the growth curve")
    lot = add("lot", "print all that is on record of a lot, for an inspector or a buyer")
    lot.add_argument("lot", metavar="LOT", help="its name")
    lot.add_argument("--write", action="store_true", help="keep it as a file in reports/ too")
    fish_options.trend(add("trend", "draw a measure of a place over time, with limits and events"))
    fish_options.larvae(add("larvae", "print live food to add, to harvest and to hatch"))
    fish_options.forage(
        add("forage", "print what tanks need of the pond, what it bears, its crops")
    )
    handoff = add("handoff", "hand the shift on: print it, sign it, write it to a file")
    handoff.add_argument("--to", metavar="CODE", default="", help="who takes over")
    handoff.add_argument("--say", metavar="TEXT", default="", help="what the shift adds in words")
    handoff.add_argument("--take", action="store_true", help="take the last hand-off over")
    handoff.add_argument("--look", action="store_true", help="print it only; write nothing")
    sync = add("sync", "exchange entries with a stick, a share, a server, or with all")
    sync.add_argument(
        "address", nargs="?", metavar="FOLDER|URL|NAME",
        help="left out, every address that site.toml names",
    )  # fmt: skip
    sync.add_argument("--enrol", metavar="LAPTOP", help="take a new laptop in, which a sync found")
    sync.add_argument("--retire", metavar="LAPTOP", help="say that a laptop is no longer in use")
    sync.add_argument(
        "--adopt", nargs="?", const="", metavar="VERSION",
        help="take over the site files of another laptop; alone, tell what they change",
    )  # fmt: skip
    add("check", "read the site's files and tell every error at once")
    start = add("start", "make a new site to fill in")
    start.add_argument("folder", type=Path, metavar="DIR")
    sample = add("sample", "make an invented farm with three weeks of history")
    sample.add_argument("folder", type=Path, metavar="DIR")
    sample.add_argument("--days", type=int, default=21, help="days of history, 2 to 60 (21)")
    sample.add_argument("--ending", metavar="DATE", help="last day of the history (yesterday)")
    sample.add_argument("--seed", type=int, default=1, help="another number, another history (1)")
    sample.add_argument("--open", action="store_true", help="open the app on it")
    add("verify", "check every file of the records against its digests")
    backup = add("backup", "write the site and its records into one file, and prove it")
    backup.add_argument("file", type=Path, metavar="FILE", help="a new file, such as farm.zip")
    restore = add("restore", "make a site's folder from a backup")
    restore.add_argument("file", type=Path, metavar="FILE", help="a file that backup wrote")
    restore.add_argument("folder", type=Path, metavar="DIR", help="a new folder")
    export = add("export", "write the records as CSV or Parquet, for others to read")
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
