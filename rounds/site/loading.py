"""Loads a site's files into the model, or says everything that is wrong with them at once."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final, get_args
from zoneinfo import ZoneInfo

from rounds.site.cards import CARDS
from rounds.site.checklists import load_checklists
from rounds.site.model import (
    KINDS,
    STAGES,
    TEST_POINT,
    Kind,
    Limits,
    Loop,
    Person,
    Place,
    Product,
    ProductKind,
    Site,
    Stage,
    Valve,
)
from rounds.site.profiles import read_limits, read_species
from rounds.site.reading import Problem, SiteErrors, Table, nearest, read_toml, unique

FILE: Final = "site.toml"
_ID: Final = re.compile(r"[a-z0-9]{8}", re.ASCII)
_FORMULAS: Final[Mapping[str, tuple[str, ...]]] = {
    "alkali": (
        "NaHCO3",
        "Na2CO3",
        "Na2CO3.H2O",
        "Na2CO3.10H2O",
        "KHCO3",
        "NaOH",
        "Ca(OH)2",
        "CaO",
        "Mg(OH)2",
    ),
    "dechlorinator": ("Na2S2O3.5H2O", "Na2S2O3"),
}
_RESERVED: Final = (*KINDS, *STAGES, TEST_POINT, "any")
_ZONES: Final[Mapping[Kind | Stage, int]] = {
    "house": 0, "store": 0, "culture": 0, "larval": 1, "nursery": 2, "grow-out": 3, "holding": 3,
    "tank": 3, "filter": 3, "tray": 3, "quarantine": 4, "pond": 5,
}  # fmt: skip
_SKIPS: Final = ("no time", "instrument broken", "cannot reach", "not in use")
_CAUSES: Final = ("unknown", "injury", "jumped", "oxygen", "handling", "disease suspected")
_TABLES: Final = ("loop", "place", "product", "person", "valve", "species", "limits")


def load(folder: Path) -> Site:
    """Load the site a folder describes.

    Args:
        folder: The folder with site.toml, and with checklists, feeds and species of its own.

    Returns:
        The site.

    Raises:
        SiteErrors: Anything is wrong; it carries every problem of every file.
    """
    problems: list[Problem] = []
    path = folder / FILE
    if not path.is_file():
        said = "is not here: go to a site's folder, or make one with rounds start"
        raise SiteErrors((Problem(FILE, "", "", "", said),))
    data = read_toml(path, FILE, problems)
    if data is not None:
        site = _read(Table(data, FILE, "", problems), folder)
        if not problems:
            return site
    else:
        load_checklists(folder, None, problems)
        read_species(folder, [], problems)
    raise SiteErrors(tuple(problems))


def digest(folder: Path) -> str:
    """Return which version of a site's files this is.

    Args:
        folder: The site's folder.

    Returns:
        The first 16 hex digits of the SHA-256 of site.toml and of every file under checklists,
        species and feeds, by name and content.
    """
    sha = hashlib.sha256()
    paths = [folder / FILE]
    for name in ("checklists", "feeds", "species"):
        paths += sorted(path for path in (folder / name).rglob("*") if path.is_file())
    for path in paths:
        content = path.read_bytes()
        sha.update(f"{path.relative_to(folder).as_posix()}\0{len(content)}\0".encode())
        sha.update(content)
    return sha.hexdigest()[:16]


def _read(top: Table, folder: Path) -> Site:
    problems = top.problems
    head = top.table("site")
    tables = {name: top.tables(name, "measure" if name == "limits" else "code") for name in _TABLES}
    species = read_species(folder, tables["species"], problems)
    products = _products(tables["product"])
    loops = _loops(tables["loop"], products)
    by_kind = _limits(tables["limits"])
    places = _places(tables["place"], loops, products, species, by_kind)
    site = Site(
        folder=folder,
        id=_id(head),
        name=head.text("name"),
        timezone=_timezone(head),
        latitude=head.number("latitude", "1", -90, 90),
        longitude=head.number("longitude", "1", -180, 180),
        elevation_m=head.number("elevation", "m", -430, 6000),
        ph_buffers=head.word("ph_buffers", ("nbs", "total"), "nbs"),
        display_units=head.word("display_units", ("metric", "us"), "metric"),
        emergency=head.texts("emergency", allowed="who to call, first the emergency number"),
        digest=digest(folder),
        notice=head.text("notice", ""),
        loops=loops,
        places=places,
        people=_people(tables["person"]),
        products=products,
        species=species,
        limits=tuple(limits for kinds, limits in by_kind if not kinds),
        checklists=load_checklists(folder, places, problems),
        valves=_valves(tables["valve"]),
        skip_reasons=head.texts("skip_reasons", _SKIPS),
        causes=head.texts("causes", _CAUSES),
    )
    head.close()
    top.close()
    return site


def _id(head: Table) -> str:
    rule = "8 small letters and digits, made by rounds start; never changed once entries exist"
    value = head.text("id", allowed=rule)
    if value and not _ID.fullmatch(value):
        head.problem("id", value, f"must be {rule}")
    return value


def _timezone(head: Table) -> ZoneInfo:
    name = head.text("timezone", allowed='a name such as "Europe/Lisbon"')
    try:
        return ZoneInfo(name or "UTC")
    except (ValueError, OSError, KeyError):
        head.problem("timezone", name, 'must be a time zone\'s name such as "Europe/Lisbon"')
        return ZoneInfo("UTC")


def _products(tables: Iterable[Table]) -> dict[str, Product]:
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


def _loops(tables: Iterable[Table], products: Mapping[str, Product]) -> dict[str, Loop]:
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


def _limits(tables: Iterable[Table]) -> list[tuple[tuple[Kind, ...], Limits]]:
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


def _places(
    tables: Iterable[Table],
    loops: Mapping[str, Loop],
    products: Mapping[str, Product],
    species: Mapping[str, Any],
    by_kind: list[tuple[tuple[Kind, ...], Limits]],
) -> dict[str, Place]:
    found: dict[str, Place] = {}
    for table in tables:
        place = _place(table, loops, products, species)
        if place.code in _RESERVED:
            table.problem("code", place.code, f"is a word of its own: not {', '.join(_RESERVED)}")
        own = {limits.measure for limits in place.limits}
        of_kind = tuple(
            limits for kinds, limits in by_kind if place.kind in kinds and limits.measure not in own
        )
        if unique(found, place.code, table):
            found[place.code] = replace(place, limits=place.limits + of_kind)
        table.close()
    return _with_test_points(found)


def _place(
    table: Table,
    loops: Mapping[str, Loop],
    products: Mapping[str, Product],
    species: Mapping[str, Any],
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
        limits=tuple(own),
        note=table.text("note", ""),
    )


def _with_test_points(places: dict[str, Place]) -> dict[str, Place]:
    """Make the first tank or pond of a loop its test point where the site names none."""
    served = {place.loop for place in places.values() if place.test_point}
    for code, place in places.items():
        if place.loop not in served and place.kind in ("tank", "pond") and place.loop:
            places[code] = replace(place, test_point=True)
            served.add(place.loop)
    return places


def _people(tables: Iterable[Table]) -> dict[str, Person]:
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


def _valves(tables: Iterable[Table]) -> tuple[Valve, ...]:
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
