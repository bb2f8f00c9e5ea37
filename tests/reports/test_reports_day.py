"""Today's sheet: what a technician without the app reads first."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from rounds.day.fold.farm import Farm, fold
from rounds.records import entry as e
from rounds.reports.day import NOT_AN_ALARM, sheet
from rounds.site.loading import load
from rounds.site.measures import MEASURES
from rounds.site.model import Site

NOW = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def site() -> Site:
    return load(Path(__file__).parents[2] / "sample_site")


def entry(n: int, kind: type[e.Entry], hours: float, **keys: object) -> e.Entry:
    at = NOW + timedelta(hours=hours)
    return kind(
        id=f"aaaaaa-run001-{n:04d}", t=e.stamp(at), day=f"{at:%Y-%m-%d}", by="ana",
        **keys,  # type: ignore[arg-type]
    )  # fmt: skip


def farm(site: Site, oxygen: str) -> Farm:
    values = {
        "oxygen": oxygen, "temperature": "25", "salinity": "30", "ph": "7.6", "tan": "0.3",
        "nitrite": "0.2", "alkalinity": "70",
    }  # fmt: skip
    entries = [
        entry(0, e.Stocked, -300, lot="L1", place="G3", count=300, mean_weight="250", unit="g"),
        entry(1, e.Reading, -25, place="G3", measure="temperature", value="25", unit="degC"),
    ]
    entries += [
        entry(n, e.Reading, -1, place="G3", measure=code, value=value, unit=MEASURES[code].unit)
        for n, (code, value) in enumerate(values.items(), 2)
    ]
    entries.append(entry(90, e.Matter, -2, text="order [salt](http://evil.test) \x1b[2J"))
    return fold(site, entries)


def test_rations_doses_and_matters_are_on_it(site: Site) -> None:
    out = sheet(site, farm(site, "6.6"), NOW)
    assert "G3: 300 x 250 g = 75.0 kg" in out
    assert " g PEL-60 in " in out
    assert "alkalinity: " in out
    assert "Sodium bicarbonate" in out
    assert "order [salt]" in out
    assert site.notice in out
    assert NOT_AN_ALARM.split(":")[0] in out


def test_the_worst_is_told_first_and_not_fed(site: Site) -> None:
    out = sheet(site, farm(site, "3.9"), NOW)
    assert out.index("X ACT NOW") < out.index("RATIONS")
    assert "NO FEED" in out


def test_it_is_eighty_columns_of_clean_text(site: Site) -> None:
    out = sheet(site, farm(site, "6.6"), NOW)
    assert max(len(line) for line in out.splitlines()) <= 80
    assert "\x1b" not in out


def test_an_empty_book_prints_too(site: Site) -> None:
    out = sheet(site, fold(site, []), NOW)
    assert "No fish." in out
    assert "measure it" in out


def test_an_unverified_feed_table_is_named_once(site: Site) -> None:
    book = farm(site, "6.6")
    book = book.add(
        entry(95, e.Stocked, -300, lot="L2", place="G4", count=30, mean_weight="90", unit="g")
    )
    out = " ".join(sheet(site, book, NOW).split())
    assert out.count("Feed table of red drum: starting table, common practice, unverified") == 1
    species = {
        code: replace(kind, table=replace(kind.table, verified=True))
        for code, kind in site.species.items()
    }
    assert "Feed table of" not in sheet(replace(site, species=species), book, NOW)


def test_opinions_far_apart_are_one_line(site: Site) -> None:
    book = farm(site, "6.6").add(
        entry(96, e.Fed, -24, place="G3", product="PEL-60", amount="400", unit="g", meal=1,
              left="100")
    )  # fmt: skip
    (line,) = [one for one in sheet(site, book, NOW).splitlines() if "choose" in one]
    assert line.startswith("  - Look at the fish and choose: table ")
    assert " or last accepted " in line
    assert not any("choose" in one for one in sheet(site, farm(site, "6.6"), NOW).splitlines())
