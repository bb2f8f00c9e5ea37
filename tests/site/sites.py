"""A small good site as text, for tests to break."""

from __future__ import annotations

from pathlib import Path

from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.reading import SiteErrors

GOOD = """\
[site]
name = "Test farm"
id = "abcd2345"
timezone = "Europe/Lisbon"
latitude = 38.4
longitude = -9.1
elevation = "6 m"
emergency = "Call the supervisor"

[[loop]]
code = "A"
sump_volume = "1.8 m^3"
alkalinity_target = 120
salinity_target = 32
alkali = "BICARB"

[[product]]
code = "BICARB"
kind = "alkali"
formula = "NaHCO3"
purity = "99 %"

[[place]]
code = "G1"
kind = "tank"
loop = "A"
stage = "grow-out"
species = "red-drum"
volume = "5.7 m^3"

[[place]]
code = "L1"
kind = "tank"
loop = "A"
stage = "larval"
species = "red-drum"
volume = 0.5

[[place]]
code = "P1"
kind = "pond"
volume = "45 m^3"
"""


def write(folder: Path, text: str = GOOD, **checklists: str) -> Path:
    """Write a site's files; a checklist's key is its name with _ for -."""
    (folder / "site.toml").write_text(text, "utf-8")
    for name, content in checklists.items():
        (folder / "checklists").mkdir(exist_ok=True)
        (folder / "checklists" / f"{name.replace('_', '-')}.toml").write_text(content, "utf-8")
    return folder


def site(folder: Path, extra: str = "", **checklists: str) -> Site:
    """Load the good site with more tables at its end."""
    return load(write(folder, GOOD + extra, **checklists))


def said(folder: Path) -> list[str]:
    """Return every problem of a site's files as text."""
    try:
        load(folder)
    except SiteErrors as errors:
        return [str(problem) for problem in errors.problems]
    return []
