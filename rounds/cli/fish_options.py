"""Options of the commands about fish: rations, weighing, transfers, larvae, forage, trends."""

from __future__ import annotations

import argparse

from rounds.cli.quantities import amount, animals, fraction


def ration(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds ration`."""
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


def trend(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds trend`."""
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


def transfer(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds transfer`."""
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
    command.add_argument(
        "--permit", default="", metavar="TEXT", help="who lets sick or quarantined fish move"
    )
    command.add_argument("--confirm", action="store_true", help="keep it whatever comes first")


def weigh(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds weigh`."""
    command.add_argument("place", metavar="PLACE", help="where the fish are")
    command.add_argument("--weights", metavar="TEXT", help="each fish in g: '96 104 100'")
    command.add_argument("--nets", metavar="TEXT", help="fish/kg of each net: '25/5.35 22/4.62'")
    command.add_argument("--tare", metavar="kg", help="a wet net, taken off each")
    command.add_argument("--lengths", metavar="TEXT", help="of the same fish, in cm: for condition")
    command.add_argument("--lot", metavar="LOT", help="which lot, where there are several")
    command.add_argument(
        "--precision", type=amount("%"), default=5.0, metavar="%", help="of the mean (5)"
    )
    command.add_argument("--keep", action="store_true", help="record the sample")
    command.add_argument("--confirm", action="store_true", help="keep a sample that looks mistyped")


def larvae(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds larvae`."""
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
    command.add_argument(
        "--wanted", metavar="HH:MM", help="when it goes into the tank, or 2026-03-14T08:00"
    )
    command.add_argument("--nauplii", type=animals, metavar="N", help="to hatch, such as 12e6")
    command.add_argument(
        "--cysts", metavar="NAME", help="which tin; left out, the last one hatched"
    )
    command.add_argument(
        "--nauplii-per-g", type=animals, metavar="N", help="of a tin not hatched here yet"
    )
    command.add_argument("--enrich", type=amount("1"), metavar="h", help="hours in the enrichment")


def forage(command: argparse.ArgumentParser) -> None:
    """Add the options of `rounds forage`."""
    command.add_argument("place", nargs="?", metavar="PLACE", help="a tank of predators")
    command.add_argument("--pond", metavar="POND", help="which pond, where there are several")
    command.add_argument("--share", type=fraction, metavar="0-1", help="of every ration")
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
