"""A small constructed farm for tests of sheets: two tanks, a larval tank and a tray on one loop."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from rounds.day.fold.farm import Farm, fold
from rounds.records import entry as e
from rounds.site.model import (
    Checklist,
    Limits,
    Loop,
    Person,
    Place,
    Product,
    RationTable,
    Site,
    Species,
    Step,
)

NOW = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
FISH = Species(
    code="fish", name="Fish", latin="", feeding_low_c=16, optimum_low_c=22, optimum_high_c=27,
    upper_limit_c=32, fcr=1.3, market_weight_g=900,
    table=RationTable((100, 400), (20, 24), ((1.042, 1.314), (0.712, 0.897)), "a maker's table"),
    meals=((100, 3), (400, 3), (2000, 2)),
    limits={
        "any": (
            Limits("oxygen", 5.0, None, 4.0, None, do_act="Aerate now, stop feeding."),
            Limits("oxygen_percent", 75, None, 60, None, do_act="Aerate now."),
            Limits("ammonia", None, 0.02, None, 0.05, do_act="Stop feeding."),
            Limits("nitrite", None, 1, None, 10, do_act="Stop feeding."),
            Limits("ph", 7.5, 8.2, 7.0, 8.5),
            Limits("co2", None, 10, None, 15, do_act="Aerate hard, stop feeding."),
        )
    },
)  # fmt: skip


def table(*rows: tuple[float, float, float]) -> RationTable:
    """Return a table of (weight_g, temperature_c, percent) points of a full grid."""
    weights = tuple(sorted({w for w, _, _ in rows}))
    temperatures = tuple(sorted({t for _, t, _ in rows}))
    grid = {(w, t): p for w, t, p in rows}
    percent = tuple(tuple(grid[w, t] for t in temperatures) for w in weights)
    return RationTable(weights, temperatures, percent, "a maker's table")


def make_site(**changes: Any) -> Site:
    """Return the site; keys replace its own."""
    places = (
        Place("HOUSE", "House", "house", 0),
        Place("L1", "Larvae", "tank", 1, "A", "larval", "fish", 0.5, feed="ROT"),
        Place("T1", "Tank 1", "tank", 3, "A", "grow-out", "fish", 5.0, feed="P", test_point=True),
        Place("T2", "Tank 2", "tank", 3, "A", "grow-out", "fish", 4.0, feed="P"),
        Place("M1", "Mats", "tray", 5, "A", volume_m3=1.0),
        Place("P1", "Pond", "pond", 6, volume_m3=20.0),
    )
    look = Step("look", "Fish look", "choice", choices=("calm", "odd"))
    site = Site(
        folder=Path(), id="testsite", name="Test House", timezone=ZoneInfo("UTC"), latitude=38,
        longitude=-9, elevation_m=6, ph_buffers="nbs", display_units="metric", emergency=(),
        digest="0" * 16,
        loops={"A": Loop("A", "Loop A", 2.0, 100, 30, alkali="BIC", salt="SALT")},
        places={place.code: place for place in places},
        people={"ana": Person("ana", "Ana", "supervisor"), "rui": Person("rui", "Rui", "tech")},
        products={
            "P": Product("P", "Pellet 4 mm", "feed", protein=0.45, for_weights_g=(50, 1000)),
            "ROT": Product("ROT", "Rotifers", "live feed"),
            "KILLI": Product("KILLI", "Killifish", "forage", dry_matter=0.23),
            "BIC": Product("BIC", "Bicarbonate", "alkali", "NaHCO3", 0.99),
            "ASH": Product("ASH", "Soda ash", "alkali", "Na2CO3", 0.99),
            "SALT": Product("SALT", "Sea salt", "salt", dissolved_fraction=0.95),
        },
        species={"fish": FISH},
        checklists={
            "morning": Checklist("morning", "First light", ("tank",), "daily", "06:00-09:00",
                                 (look,)),
        },
    )  # fmt: skip
    return replace(site, **changes)


def with_place(site: Site, code: str, **changes: Any) -> Site:
    """Return the site with one place changed."""
    return replace(site, places={**site.places, code: replace(site.places[code], **changes)})


def with_product(site: Site, code: str, **changes: Any) -> Site:
    """Return the site with one product changed."""
    return replace(site, products={**site.products, code: replace(site.products[code], **changes)})


class Days:
    """Writes entries as a book would, `hours` before or after NOW."""

    def __init__(self, site: Site | None = None, writer: str = "aaaaaa") -> None:
        self.site = site or make_site()
        self.writer, self.by, self.n = writer, "ana", 0
        self.entries: list[e.Entry] = []

    @property
    def farm(self) -> Farm:
        """All of them, folded."""
        return fold(self.site, self.entries)

    def write(self, kind: type[e.Entry] | e.Entry, hours: float = 0.0, **keys: Any) -> e.Entry:
        """Add an entry of a kind, or a draft, written at NOW + hours."""
        self.n += 1
        at = NOW + timedelta(hours=hours)
        given = {
            "id": f"{self.writer}-run001-{self.n:04d}", "t": e.stamp(at), "off": "+00:00",
            "day": f"{at:%Y-%m-%d}", "by": self.by,
        }  # fmt: skip
        if isinstance(kind, e.Entry):
            from msgspec.structs import replace as stamped

            entry = stamped(kind, **given)
        else:
            entry = kind(**{**given, **keys})
        self.entries.append(entry)
        return entry

    def read(self, place: str, hours: float = -1.0, verdict: str = "ok", **values: object) -> None:
        """Add readings: `read("T1", oxygen="6.5", temperature="24")`."""
        from rounds.site.measures import MEASURES

        for measure, value in values.items():
            self.write(
                e.Reading, hours, place=place, measure=measure, value=str(value),
                unit=MEASURES[measure].unit, verdict=verdict,
            )  # fmt: skip

    def stock(
        self, place: str = "T1", count: int = 300, weight: str = "250", lot: str = "L1",
        hours: float = -240.0, **keys: Any,
    ) -> None:  # fmt: skip
        """Put a lot into a place."""
        self.write(
            e.Stocked, hours, lot=lot, place=place, count=count, mean_weight=weight, unit="g",
            **keys,
        )  # fmt: skip

    def feed(self, grams: str, hours: float, place: str = "T1", **keys: Any) -> e.Entry:
        """Give a meal."""
        return self.write(
            e.Fed,
            hours,
            place=place,
            product=keys.pop("product", "P"),
            amount=grams,
            unit="g",
            **keys,
        )

    def good_water(self, place: str = "T1", temperature: object = 24, hours: float = -1.0) -> None:
        """Read everything a ration needs, in band, and the temperature of three days."""
        for before in (-48, -24):
            self.read(place, hours + before, temperature=temperature)
        self.read(
            place, hours, temperature=temperature, oxygen="6.8", salinity="30", ph="7.6",
            tan="0.3", nitrite="0.2",
        )  # fmt: skip
