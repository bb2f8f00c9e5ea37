"""A book of a small site on disk, written at times a test says, and commands run on it."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import pytest

from rounds.cli import main, opened
from rounds.records.book import Book
from rounds.records.entry import Entry, Reading
from rounds.site.loading import load
from rounds.site.measures import MEASURES

NOW: Final = datetime(2026, 3, 10, 12, 0, tzinfo=UTC)

_SITE: Final = """
[site]
name = "Worked examples"
id = "aaaa2222"
timezone = "UTC"
latitude = 38
longitude = -9
elevation = "0 m"
ph_buffers = "nbs"
emergency = ["112"]

[[loop]]
code = "A"
sump_volume = "1 m^3"
alkalinity_target = 120
salinity_target = 30

[[place]]
code = "T1"
name = "Tank"
kind = "tank"
loop = "A"
stage = "grow-out"
species = "{species}"
volume = "{volume}"
feed = "PEL"
{more}

[[place]]
code = "L1"
name = "Larvae"
kind = "tank"
loop = "A"
stage = "larval"
species = "{species}"
volume = "1000 L"

[[place]]
code = "R1"
name = "Rotifers"
kind = "culture"
volume = "100 L"

[[place]]
code = "P1"
name = "Killifish"
kind = "pond"
volume = "10000 m^3"
area = "10000 m^2"

[[product]]
code = "PEL"
name = "Pellet"
kind = "feed"
protein = "45 %"
dry_matter = "92 %"
energy = "{energy}"

[[person]]
code = "ana"
name = "Ana"
role = "technician"
"""


class Written:
    """A site and its book; `days_ago` is when the next entry is written."""

    def __init__(
        self, folder: Path, species: str = "red-drum", volume: str = "6.4 m^3", more: str = "",
        energy: str = "16.7 kJ/g",
    ) -> None:  # fmt: skip
        folder.mkdir(exist_ok=True)
        text = _SITE.format(species=species, volume=volume, more=more, energy=energy)
        (folder / "site.toml").write_text(text, "utf-8")
        self.folder, self.days_ago = folder, 0.0
        self.site = load(folder)
        self._book = Book.open(
            folder, self.site.id, self.site.digest, tz=self.site.timezone,
            clock=lambda: self.now, steady=lambda: self.now.timestamp(),
        )  # fmt: skip

    @property
    def now(self) -> datetime:
        """When the next entry is written."""
        return NOW - timedelta(days=self.days_ago)

    def write(self, days_ago: float, *drafts: Entry) -> None:
        """Append entries as they were written so many days ago."""
        self.days_ago = days_ago
        for draft in drafts:
            self._book.append(draft)

    def read(self, days_ago: float, place: str, **values: object) -> None:
        """Append readings in the measures' own units."""
        for measure, value in values.items():
            unit = MEASURES[measure].unit
            self.write(days_ago, Reading(place=place, measure=measure, value=str(value), unit=unit))

    def entries(self) -> list[Entry]:
        """Return what the book on disk holds."""
        with Book.open(
            self.folder, self.site.id, self.site.digest, tz=self.site.timezone, read_only=True
        ) as book:
            return list(book.entries())

    def rows(self, *command: object) -> list[dict[str, Any]]:
        """Close the book, run a command at NOW as a user would, and return its JSON rows."""
        self._book.close()
        shown = io.StringIO()
        with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(shown):
            patch.setattr(opened, "present", lambda: NOW)
            patch.setenv("ROUNDS_STATE", str(self.folder / "state"))
            assert main(["--site", str(self.folder), "--json", *map(str, command)]) == 0
        rows: list[dict[str, Any]] = json.loads(shown.getvalue())["rows"]
        return rows


Begun = Callable[..., Written]


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Begun:
    """Begin a site of worked examples; keys as those of `Written`."""
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "farm" / "state"))
    return lambda **keys: Written(tmp_path / "farm", **keys)
