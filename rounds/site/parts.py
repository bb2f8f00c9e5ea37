"""Reads the parts of a site: products, loops, places, people, valves and the site's own limits."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from typing import Any, Final, get_args

from msgspec.structs import replace

from rounds.dosing.alkalis import ALKALIS
from rounds.site.cards import CARDS
from rounds.site.model import (
    HELD,
    KINDS,
    STAGES,
    TEST_POINT,
    Food,
    ForagePond,
    Kind,
    Limits,
    Loop,
    Person,
    Place,
    Product,
    ProductKind,
    Species,
    Stage,
    Valve,
)
from rounds.site.profiles import read_limits
from rounds.site.reading import Table, nearest, unique
from rounds.site.usual import usual

_FORMULAS: Final[Mapping[str, tuple[str, ...]]] = {
    "alkali": tuple(ALKALIS),
    "dechlorinator": ("Na2S2O3.5H2O", "Na2S2O3"),
}
_RESERVED: Final = (*KINDS, *STAGES, *HELD, TEST_POINT, "any")
_ZONES: Final[Mapping[Kind | Stage, int]] = {
    "house": 0, "store": 0, "culture": 0, "larval": 1, "nursery": 2, "grow-out": 3, "holding": 3,
    "tank": 3, "filter": 3, "tray": 3, "quarantine": 4, "pond": 5,
}  # fmt: skip


def read_products(tables: Iterable[Table]) -> dict[str, Product]:
    """Read the [[product]] tables."""
    found: dict[str, Product] = {}
    for table in tables:
        code = table.code()
        kind: ProductKind = table.word("kind", get_args(ProductKind))
        formula = None
        if kind in _FORMULAS:
            formula = table.word("formula", _FORMULAS[kind])
        product = Product(
            code=code,
            name=table.text("name", code),
            kind=kind,
            formula=formula,
            purity=table.fraction("purity"),
            dissolved_fraction=table.fraction("dissolved_fraction"),
            protein=table.fraction("protein"),
            dry_matter=table.fraction("dry_matter"),
            pellet_mm=table.maybe("pellet", "mm", 0.01, 50),
            energy_kj_g=table.maybe("energy", "kJ/g", 2, 30),
            for_weights_g=_weights(table),
            caution=table.text("caution", ""),
        )
        for key in ("purity", "dissolved_fraction", "dry_matter"):
            if getattr(product, key) == 0:
                table.problem(key, 0, "must be above 0")
        if unique(found, code, table):
            found[code] = product
        table.close()
    return found


def _weights(table: Table) -> tuple[float, float] | None:
    value = table.take("for_weights_g", None)
    if value is None:
        return None
    if isinstance(value, list) and len(value) == 2:
        low, high = (part if isinstance(part, int | float) else -1 for part in value)
        if 0 <= low < high <= 500_000:
            return float(low), float(high)
    table.problem("for_weights_g", value, "must be [from, to] in g, such as [20, 100]")
    return None


def read_loops(tables: Iterable[Table], products: Mapping[str, Product]) -> dict[str, Loop]:
    """Read the [[loop]] tables."""
    found: dict[str, Loop] = {}
    for table in tables:
        code = table.code()
        loop = Loop(
            code=code,
            name=table.text("name", code),
            sump_volume_m3=table.number("sump_volume", "m^3", 0, 10_000),
            alkalinity_target_mg_l=table.number("alkalinity_target", "mg/L CaCO3", 20, 400),
            salinity_target=table.number("salinity_target", "g/kg", 0, 42),
            alkalinity_daily_rise_mg_l=table.number(
                "alkalinity_daily_rise", "mg/L CaCO3", 1, 50, 20.0
            ),
            alkali=_known(table, "alkali", products, ("alkali",)),
            salt=_known(table, "salt", products, ("salt",)),
            inhabited=table.flag("inhabited", True),
        )
        if unique(found, code, table):
            found[code] = loop
        table.close()
    return found


def _known(
    table: Table, key: str, among: Mapping[str, Any], kinds: Collection[str] = ()
) -> str | None:
    """Read a reference to a loop, a product or a species that must be there."""
    code = table.text(key, "")
    allowed = [name for name, thing in among.items() if not kinds or thing.kind in kinds]
    if code and code not in allowed:
        what = f"a product of kind {' or '.join(kinds)}" if kinds else f"a {key} of this site"
        table.problem(key, code, f"must be {what}: {nearest(code, allowed)}")
    return code or None


def read_site_limits(tables: Iterable[Table]) -> list[tuple[tuple[Kind, ...], Limits]]:
    """Read the site's own limits; those for kinds of place go to the places."""
    found = []
    for table in tables:
        kinds = table.texts("kinds", ())
        for kind in kinds:
            if kind not in KINDS:
                table.problem("kinds", kind, nearest(kind, KINDS))
        limits = read_limits(table)
        table.close()
        if limits is not None:
            found.append((tuple(kind for kind in KINDS if kind in kinds), limits))
    return found


def read_places(
    tables: Iterable[Table],
    loops: Mapping[str, Loop],
    products: Mapping[str, Product],
    species: Mapping[str, Species],
    by_kind: list[tuple[tuple[Kind, ...], Limits]],
) -> dict[str, Place]:
    """Read the [[place]] tables, in walking order; limits for a kind go to its places."""
    found: dict[str, Place] = {}
    for table in tables:
        place = _place(table, loops, products, species)
        if place.code in _RESERVED:
            table.problem("code", place.code, f"is a word of its own: not {', '.join(_RESERVED)}")
        own = {limits.measure for limits in place.limits}
        of_kind = tuple(
            limits for kinds, limits in by_kind if place.kind in kinds and limits.measure not in own
        )
        said = own | {
            limits.measure for kinds, limits in by_kind if place.kind in kinds or not kinds
        }
        of_kind += tuple(one for one in usual(place) if one.measure not in said)
        if unique(found, place.code, table):
            found[place.code] = replace(place, limits=place.limits + of_kind)
        table.close()
    return _with_test_points(found)


def _place(
    table: Table,
    loops: Mapping[str, Loop],
    products: Mapping[str, Product],
    species: Mapping[str, Species],
) -> Place:
    kind: Kind = table.word("kind", KINDS)
    stage: Stage | None = table.word("stage", STAGES, None)
    if kind == "tank":
        needs = {"loop": "its loop", "stage": "its stage", "species": "its species"}
        for key, what in {**needs, "volume": "its water volume"}.items():
            if not table.has(key):
                table.problem(key, None, f"is missing: a tank needs {what}")
    own = []
    for one in table.tables("limits", "measure"):
        limits = read_limits(one)
        one.close()
        if limits is not None:
            own.append(limits)
    code = table.code()
    return Place(
        code=code,
        name=table.text("name", code),
        kind=kind,
        zone=table.whole("zone", 0, 9, _ZONES.get(stage or kind, 3)),
        loop=_known(table, "loop", loops),
        stage=stage,
        species=_known(table, "species", species),
        volume_m3=table.maybe("volume", "m^3", 0.0001, 1_000_000),
        flow_m3_h=table.maybe("flow", "m^3/h", 0, 100_000),
        area_m2=table.maybe("area", "m^2", 0.0001, 10_000_000),
        feed=_known(table, "feed", products, ("feed", "live feed", "forage")),
        test_point=table.flag("test_point", False),
        density_kg_m3=table.maybe("density", "1", 0.01, 300),
        tan_removal_g_m2_day=_removal(table, kind),
        aeration_per_h=table.maybe("aeration", "1", 0, 100),
        forage=_forage(table, kind),
        holds=_holds(table, kind),
        limits=tuple(own),
        note=table.text("note", ""),
    )


def _holds(table: Table, kind: Kind) -> Food | None:
    if table.has("holds") and kind != "culture":
        table.problem("holds", None, "is for a culture")
    food: Food | None = table.word("holds", HELD, None)
    return food


def _removal(table: Table, kind: Kind) -> float | None:
    rate = table.maybe("tan_removal", "1", 0, 5)
    if rate is not None and (kind not in ("filter", "tray") or not table.has("area")):
        table.problem("tan_removal", rate, "is for a filter or a tray with its area: g N/m2/day")
    return rate


def _forage(table: Table, kind: Kind) -> ForagePond:
    """Read what a pond of forage bears; its two figures stand together, and say their source."""
    if table.has("forage") and kind != "pond":
        table.problem("forage", None, "is for a pond")
    own, usual = table.table("forage"), ForagePond()
    r_per_yr = own.maybe("growth_rate", "1", 0.01, 20)
    k_kg = own.maybe("carries", "kg", 0.001, 1e7)
    for key, other in (("growth_rate", "carries"), ("carries", "growth_rate")):
        if own.has(key) and not own.has(other):
            own.problem(other, None, f"is missing: {key} tells nothing without it")
    until = own.take("permit_until", None)
    if until is not None and (not isinstance(until, date) or isinstance(until, datetime)):
        own.problem("permit_until", until, "must be a date without quotes, such as 2027-03-31")
        until = None
    found = ForagePond(
        r_per_yr,
        k_kg,
        own.number("breeding", "degC", 0, 35, usual.breeding_c),
        own.number("hold", "d", 14, 28, usual.hold_days),
        own.text("permit", ""),
        until,
        own.text("source") if r_per_yr is not None else own.text("source", usual.source),
    )
    own.close()
    return found


def _with_test_points(places: dict[str, Place]) -> dict[str, Place]:
    """Make the first tank or pond of a loop its test point where the site names none."""
    served = {place.loop for place in places.values() if place.test_point}
    for code, place in places.items():
        if place.loop not in served and place.kind in ("tank", "pond") and place.loop:
            places[code] = replace(place, test_point=True)
            served.add(place.loop)
    return places


def read_people(tables: Iterable[Table]) -> dict[str, Person]:
    """Read the [[person]] tables."""
    found: dict[str, Person] = {}
    for table in tables:
        code = table.code()
        person = Person(
            code, table.text("name", code), table.text("role", ""), table.text("phone", "")
        )
        if unique(found, code, table):
            found[code] = person
        table.close()
    return found


def read_valves(tables: Iterable[Table]) -> tuple[Valve, ...]:
    """Read the [[valve]] tables."""
    found: dict[str, Valve] = {}
    for table in tables:
        code = table.code()
        cards = table.texts("cards", ())
        for card in cards:
            if card not in CARDS:
                table.problem("cards", card, nearest(card, CARDS))
        if unique(found, code, table):
            found[code] = Valve(code, table.text("where"), table.text("does"), cards)
        else:
            table.text("where"), table.text("does")
        table.close()
    return tuple(found.values())
