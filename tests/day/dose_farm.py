"""What the tests of doses share: a farm whose water was read, its sheet and its lines."""

from __future__ import annotations

from small_farm import NOW, Days

from rounds.day.loops import doses
from rounds.day.loops.doses import DoseLine, DoseSheet
from rounds.site.model import Site


def read_all(site: Site, **values: object) -> Days:
    days = Days(site)
    water = {"alkalinity": 60, "ph": "7.4", "temperature": 24, "salinity": 30, "tan": "0.3"}
    days.read("T1", -1, **{**water, **values})
    return days


def sheet_of(days: Days, **targets: float) -> DoseSheet:
    (sheet,) = doses.today(days.site, days.farm, NOW, "aaaaaa", targets)
    return sheet


def line_of(days: Days, kind: str, product: str | None = None, **targets: float) -> DoseLine:
    found = [
        line
        for line in sheet_of(days, **targets).lines
        if line.kind == kind and product in (None, line.product)
    ]
    assert len(found) == 1, found
    return found[0]
