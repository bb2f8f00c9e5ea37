"""Nonsense for the command line: as many seeded commands as asked for, run in this process.

The test runs the first of them; all 10,000, or any other number and seed:

    python -m tests.cli.fuzz 10000 1
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import re
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from rounds.cli import main

WATER = (
    "temperature", "salinity", "conductivity", "conductivity-25", "specific-gravity",
    "reference-temperature", "ph", "tan", "alkalinity", "phosphate", "oxygen", "pressure",
    "elevation",
)  # fmt: skip
SALINITIES = ("salinity", "conductivity", "conductivity-25", "specific-gravity")
DOSES = {
    "alkalinity": ("volume", "alkalinity", "target", "ph", "temperature", "salinity", "tan",
                   "phosphate", "product", "purity"),
    "salt": ("volume", "salinity", "temperature", "target", "purity"),
    "exchange": ("volume", "salinity", "temperature", "target", "salinity-in", "temperature-in",
                 "part"),
    "topup": ("volume", "salinity", "temperature", "volume-now", "salinity-in", "temperature-in",
              "salinity-before"),
    "chlorine": ("volume", "chlorine", "product"),
}  # fmt: skip
SITED = (
    ("ration", "T1", "--give", "--why", "--left", "--confirm", "--take-back", "--choose"),
    ("ration", "T1", "--minutes", "2", "--withhold", "24 h", "--why", "x", "--feed-again",
     "--table"),
    ("handoff", "--to", "--say", "--take", "--look"),
    ("walk", "place"), ("today",), ("check",), ("verify",), ("sync", "place"), (),
    ("record",), ("record", "stocked", "place=T1", "lot=L1", "count=500", "weight=50", "origin=x"),
    ("record", "moved", "lot=L1", "from=T1", "to=F1", "count=5", "mass=1", "--confirm"),
    ("record", "removed", "place=T1", "lot=L1", "count=5", "mass=1 kg", "cause=sold"),
    ("record", "counted", "place=T1", "lot=L1", "count=400", "--confirm"),
    ("record", "died", "place=T1", "lot=L1", "count=1", "mass=1 kg", "cause=injury", "--confirm"),
    ("transfer", "T1", "F1=5/1", "--lot", "L1", "--out", "6/1.2", "--dead", "1/0.2", "--sampled",
     "1", "--cause", "injury", "--named", "x", "--keep", "--confirm"),
    ("air", "T1"), ("growth", "T1"), ("capacity", "T1", "--weight", "250", "--count", "50"),
    ("weigh", "T1", "--weights", "96 104", "--nets", "25/5.35", "--tare", "1", "--lengths", "20 21",
     "--lot", "L1", "--precision", "5", "--keep", "--confirm"),
    ("larvae", "T1", "--food", "rotifers", "--counts", "12 9 11", "--volume-ml", "1", "--dilution",
     "10", "--target", "10", "--culture", "500", "--hours", "8", "--day", "12", "--left", "3",
     "--wanted", "08:00", "--nauplii", "1000000", "--nauplii-per-g", "200000", "--enrich", "12"),
    ("larvae", "T1", "--columns", "12 9 11", "--column-volume", "1", "--precision", "10", "--keep"),
    ("larvae", "--wanted", "08:00", "--nauplii", "1000000", "--cysts", "T7"),
    ("record", "cysts", "place=R1", "cysts=T7", "grams=12", "density=45", "volume=60",
     "nominal=250000"),
    ("record", "hatched", "lot=L1", "hatched=2026-03-01"), ("record", "signed"),
    ("record", "signed", "person=me", "task=first-light", "level=done with"),
    ("record", "matter", "text=valve", "where=T1", "about=ph", "until=24 h", "again=above 8.5"),
    ("record", "settled", "matter=T1 pH: valve"),
    ("record", "enriched", "place=R1", "food=nauplii", "hours=12", "cold=yes"),
    ("forage", "T1", "--pond", "F1", "--share", "0.5", "--length", "200", "--prey", "2",
     "--marked", "50", "--caught", "40", "--recaptured", "8", "--yield", "0.3", "--r", "1.2",
     "--k", "90", "--breeding", "20", "--give", "100", "--why", "hungry", "--lot", "C1"),
    ("forage", "--hauls", "120 70 40"),
    ("record", "cropped", "from=F1", "permit=yes", "to=T1", "lot=C1", "mass=0.4", "weight=2",
     "--confirm"),
)  # fmt: skip
SENSIBLE = {
    "temperature": (0, 40), "salinity": (0, 42), "conductivity": (0, 70),
    "conductivity-25": (0, 70),
    "specific-gravity": (1, 1.035), "reference-temperature": (0, 40), "ph": (4, 11), "tan": (0, 10),
    "alkalinity": (0, 150), "phosphate": (0, 20), "oxygen": (0, 20), "pressure": (600, 1085),
    "elevation": (0, 4000), "volume": (0.01, 500), "target": (0, 45), "purity": (0.05, 1),
    "salinity-in": (0, 42), "temperature-in": (0, 40), "volume-now": (0.01, 50), "part": (0.01, 1),
    "salinity-before": (0, 42), "chlorine": (0, 20),
}  # fmt: skip
NONSENSE = (
    "", " ", "-", "--", "0", "-0", "nan", "NaN", "inf", "-inf", "Infinity", "1e999", "-1e999",
    "1e-999", "1e5", "1.024,5", "1,5", "1.5.5", "0x1F", "1_000", "1/0", "９", "٣", "½", "9" * 400,
    "0." + "0" * 300 + "1", "5 mg/L", "5 %", "78 degF", "900 gal", "3 parsec", "5 m^3^3", "5 degC*",
    "5 nonsense", "1e5 m^3", "5 m**-999", "5 m^9^9^9^9", "1e3 m^-9", "null", "None", "{}",
    "[red]5", "%s%n", "\x1b[31m5",
    "5\x00", "\ud800", "🐟", "5\n6", "../../etc", "A", "NaHCO3", "NaOH", "Na2CO3", "Na2S2O3",
    "--json", "-5", "5 5", "5L", "1e3 L", "101 %", "1 atm", "-300 degC", "0 K", "1e308", "-1e308",
    "5e-324",
)  # fmt: skip
_NOT_FINITE = re.compile(r"\b(nan|inf|infinity)\b", re.IGNORECASE)


def commands(count: int, seed: int, site: Path, sited: float = 0.01) -> Iterator[list[str]]:
    """Yield command lines; `sited` is the part of them that opens the site."""
    draw = random.Random(seed)
    for _ in range(count):
        if draw.random() < sited:
            words = list(draw.choice(SITED))
            found = [word for word in words[1:] if draw.random() < 0.8]
            wild = draw.choice((0.02, 0.4))
            found = [
                word if draw.random() > wild else word[: word.find("=") + 1] + draw.choice(NONSENSE)
                for word in found
            ]
            argv = ["--site", str(site), "--by", draw.choice(("me", "x")), *words[:1], *found]
        elif draw.random() < 0.4:
            one = draw.choice(SALINITIES)
            names = [n for n in WATER if n not in SALINITIES or n == one or draw.random() < 0.05]
            argv = ["water", *_options(draw, names)]
            argv += ["--glass"] if draw.random() < 0.1 else []
        else:
            kind = draw.choice(sorted(DOSES))
            argv = ["dose", kind, *_options(draw, DOSES[kind])]
            argv += ["--no-fish"] if draw.random() < 0.2 else []
        if draw.random() < 0.05 and argv and argv[-1].startswith("--"):
            argv[-1] += f"={draw.choice(NONSENSE)}"
        if draw.random() < 0.2:
            argv.insert(draw.randrange(len(argv) + 1), draw.choice(NONSENSE))
        yield [*argv, "--json"] if draw.random() < 0.4 else argv


def _options(draw: random.Random, names: Sequence[str]) -> Iterator[str]:
    wild = draw.choice((0.0, 0.05, 0.3))
    for name in names:
        if draw.random() < 0.03:
            continue
        yield f"--{name}"
        if draw.random() < wild:
            yield draw.choice(NONSENSE)
        elif draw.random() < wild:
            yield f"{draw.choice((-1, 1)) * 10 ** draw.uniform(-12, 12):.6f}"
        elif name == "product":
            yield draw.choice(("NaHCO3", "Na2CO3", "NaOH", "Ca(OH)2", "Na2S2O3.5H2O", "Na2S2O3"))
        else:
            yield f"{draw.uniform(*SENSIBLE[name]):.4g}"


def fault(argv: list[str]) -> str:
    """Run a command; return what it must never do, or nothing."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    standing = sys.stdin
    sys.stdin = io.StringIO("")
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code: object = main(argv)
    except SystemExit as end:
        code = end.code or 0
    except BaseException as error:
        return f"raises {type(error).__name__}: {error}"
    finally:
        sys.stdin = standing
    printed, told = (_text(stream) for stream in (out, err))
    if code not in (0, 1, 2):
        return f"ends with {code}"
    if "fault of the program" in told or "Traceback" in told + printed:
        return told
    if code == 2 and (told.count("\n") != 1 or printed):
        return f"not one sentence: {printed}{told}"
    if code != 2 and told:
        return f"ends with {code} and says {told}"
    return _not_finite(printed, "--json" in argv)


def _not_finite(printed: str, as_json: bool) -> str:
    if as_json and printed.startswith("{"):
        bad: list[str] = []
        json.loads(printed, parse_constant=bad.append)
        return f"not finite: {bad}" if bad else ""
    found = _NOT_FINITE.search(printed)
    return f"not finite: {found[0]}" if found else ""


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    return stream.buffer.getvalue().decode("utf-8")  # type: ignore[attr-defined,no-any-return]


def run(count: int, seed: int, folder: Path, sited: float = 0.01) -> list[str]:
    """Run so many commands in a folder; return each fault with its command."""
    from rounds.site.starting import start

    start(folder / "site")
    found = []
    for argv in commands(count, seed, folder / "site", sited):
        if said := fault(argv):
            found.append(f"{argv}: {said}")
    return found


if __name__ == "__main__":
    number, chosen = (int(one) for one in (*sys.argv[1:], "10000", "1")[:2])
    with tempfile.TemporaryDirectory() as place:
        os.environ["ROUNDS_STATE"] = str(Path(place) / "state")
        os.chdir(place)
        begun = time.perf_counter()
        faults = run(number, chosen, Path(place), 0.05)
        os.chdir("/")
    print(*faults, sep="\n")
    print(f"{number} commands, {len(faults)} faults, {time.perf_counter() - begun:.1f} s")
    sys.exit(bool(faults))
