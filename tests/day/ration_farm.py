"""What the tests of rations share: outside rows, a tank with good water, its ration."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site, table

from rounds.day.feeding import rations
from rounds.day.feeding.rations import Ration
from rounds.site.model import Site

ROWS = list(
    csv.DictReader(
        (Path(__file__).parents[1] / "published/data/husbandry_checks.csv")
        .read_text("utf-8")
        .splitlines(keepends=True)
    )
)


def rows(quantity: str) -> list[Any]:
    return [
        pytest.param(
            dict(pair.split("=", 1) for pair in row["inputs"].split(";")),
            row["expected"],
            float(row["tolerance"].split(":")[1].split("|")[0]) if ":" in row["tolerance"] else 0,
            id=row["inputs"],
        )
        for row in ROWS
        if row["quantity"] == quantity
    ]


def fed_on(days: Days, place: str = "T1") -> Ration:
    return next(r for r in rations.today(days.site, days.farm, NOW) if r.place == place)


def flat(percent: float, site: Site | None = None, **species: Any) -> Site:
    """A site whose table has one rate everywhere."""
    site = site or make_site()
    fish = replace(FISH, table=table((1, 10, percent), (5000, 35, percent),
                                     (1, 35, percent), (5000, 10, percent)), **species)  # fmt: skip
    return replace(site, species={"fish": fish})


def good(site: Site | None = None, count: int = 300, weight: str = "250") -> Days:
    """A tank with good water and plenty fed yesterday."""
    days = Days(site)
    days.stock(count=count, weight=weight)
    days.good_water()
    return days
