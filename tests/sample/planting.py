"""A small invented farm of its own, with or without troubles planted in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Final

from rounds.records.book import Book
from rounds.records.entry import Entry, Handoff, Reading
from rounds.sample.make import make
from rounds.site.loading import load
from rounds.site.model import Site

ENDING: Final = date(2026, 11, 22)
TANKS: Final = ("T1", "T2", "T3", "T4")

_SITE: Final = """
[site]
name = "Three Dykes"
id = "aaaa2222"
timezone = "Europe/Lisbon"
latitude = 38.3
longitude = -9.6
elevation = "2 m"
ph_buffers = "nbs"
emergency = ["Emergency number of the country: 112"]
skip_reasons = ["no time"]
causes = ["unknown", "disease suspected"]

[[loop]]
code = "A"
sump_volume = "4 m^3"
alkalinity_target = 120
salinity_target = 30

[[place]]
code = "HOUSE"
name = "House"
kind = "house"

[[place]]
code = "R1"
name = "Rotifers"
kind = "culture"
volume = "100 L"
"""
_TANK: Final = """
[[place]]
code = "{code}"
name = "Tank {code}"
kind = "tank"
loop = "A"
stage = "grow-out"
species = "red-drum"
volume = "5 m^3"
flow = "5 m^3/h"
feed = "PEL"
test_point = {first}
"""
_REST: Final = """
[[product]]
code = "PEL"
name = "Pellet 6 mm"
kind = "feed"
pellet = "6 mm"
protein = "45 %"
dry_matter = "92 %"

[[person]]
code = "abe"
name = "Abe"
role = "technician"

[[person]]
code = "zoe"
name = "Zoe"
role = "student"
"""
_STORY: Final = """
[general]
skipped = 0.01
stray_deaths = 0.05
pressure = "1015 hPa"

[[shift]]
by = "abe"
laptop = 1
works = "05:30-14:10"

[[shift]]
by = "zoe"
laptop = 2
works = "14:10-20:40"

[[loop]]
code = "A"
temperature = "25.8 degC"
swing = 0.5
salinity = 30
alkalinity = 120
clearance = "14 m^3/h"
stripping = "150 m^3/h"
evaporation = "100 L"
returned = 1.0
aeration = 3

[usual.R1]
temperature = { is = 25.5 }
salinity = { is = 25 }
oxygen = { is = 6.2 }
rotifer_density = { is = 330 }
egg_ratio = { is = 36 }

[usual.HOUSE]
blower_pressure = { is = 212 }
pump_current = { is = 6.2 }
air_temperature = { is = 24 }
"""
_LOT: Final = """
[[lot]]
lot = "LOT-{number}"
place = "{code}"
count = {count}
weight = "{weight} g"
"""
_COUNT: Final = """
[[event]]
what = "count"
place = "{code}"
day = -1
at = "10:40"
"""
_LIVE_FOOD: Final = """
title = "Live food"
visits = ["culture"]
due = "daily"
window = "07:00-10:00"

[[step]]
pass = 1
code = "rotifer_density"
ask = "Rotifers in the culture"
answer = "number"
measure = "rotifer_density"
unit = "1/mL"
how = "Count."
why = "Harvest."

[[step]]
pass = 1
code = "egg_ratio"
ask = "Rotifers with eggs, in a hundred"
answer = "number"
measure = "egg_ratio"
unit = "%"
how = "Count eggs carried."
why = "Few eggs: a crash is near."
"""


def small_site(folder: Path, story: str = "") -> Path:
    """Write the files of a small farm, and a story added to its own.

    Every tank is counted on the last day but one, in a quiet farm too.
    """
    (folder / "checklists").mkdir(parents=True)
    tanks = "".join(_TANK.format(code=c, first=str(c == TANKS[0]).lower()) for c in TANKS)
    lots = "".join(
        _LOT.format(number=n, code=code, count=120 + 30 * n, weight=120 + 30 * n)
        for n, code in enumerate(TANKS)
    )
    counts = "".join(_COUNT.format(code=code) for code in TANKS)
    (folder / "site.toml").write_text(_SITE + tanks + _REST, "utf-8")
    (folder / "story.toml").write_text(_STORY + lots + counts + story, "utf-8")
    (folder / "checklists" / "live-food.toml").write_text(_LIVE_FOOD, "utf-8")
    return folder


def planted(what: str, day: int, **more: object) -> str:
    """Return the table of a trouble, for a story."""
    keys = "".join(f'{k} = "{v}"\n' if isinstance(v, str) else f"{k} = {v}\n"
                   for k, v in more.items())  # fmt: skip
    return f'\n[[planted]]\nwhat = "{what}"\nday = {day}\n{keys}'


def lived(
    folder: Path, days: int, seed: int, story: str = "", site: Path | None = None
) -> tuple[Site, list[Entry]]:
    """Live through a history of the small farm, or of another site, and return its entries."""
    source = site or small_site(folder / "source", story)
    made = make(folder / "farm", ending=ENDING, days=days, seed=seed, site=source)
    site_made = load(made)
    with Book.open(
        made, site_made.id, site_made.digest, tz=site_made.timezone, read_only=True
    ) as book:
        return site_made, list(book.entries())


TOLD: Final = {
    "off feed": re.compile(r"\bOff feed since "),
    "broken fast": re.compile(r"\bFast broken: "),
    "missing fish": re.compile(r"\b\d+ of \S+ missing: "),
    "few eggs": re.compile(r"^\w+ .*\bRotifers with eggs \d+ %, below "),
}
"""How each trouble is told, in a line of a hand-off."""


@dataclass(frozen=True, slots=True)
class Told:
    """The lines of the hand-offs of a history, unfolded, and the eggs counted in a culture."""

    lines: tuple[tuple[datetime, str], ...]
    eggs: tuple[tuple[datetime, float], ...]


def told(site: Site, entries: Sequence[Entry]) -> Told:
    """Return what was told, with its time by the farm's clock, in order."""
    ordered = sorted(entries, key=lambda entry: entry.at)
    lines = [
        (entry.at.astimezone(site.timezone), " ".join(line.split()))
        for entry in ordered
        if isinstance(entry, Handoff)
        for line in re.sub(r"\n {4}", " ", entry.text).splitlines()
    ]
    eggs = [
        (entry.at.astimezone(site.timezone), float(entry.value))
        for entry in ordered
        if isinstance(entry, Reading) and entry.measure == "egg_ratio"
    ]
    return Told(tuple(lines), tuple(eggs))
