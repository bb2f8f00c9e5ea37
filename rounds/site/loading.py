"""Loads a site's files into the model, or says everything that is wrong with them at once."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from rounds.site.addresses import read_sync
from rounds.site.checklists import load_checklists
from rounds.site.files import FILE, digest
from rounds.site.model import Site
from rounds.site.parts import (
    read_loops,
    read_people,
    read_places,
    read_products,
    read_site_limits,
    read_valves,
)
from rounds.site.profiles import read_species
from rounds.site.reading import Problem, SiteErrors, Table, read_toml
from rounds.text import clean

_ID: Final = re.compile(r"[a-z0-9]{8}", re.ASCII)
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
    try:
        if data is not None:
            site = _read(Table(data, FILE, "", problems), folder)
            if not problems:
                return site
        else:
            load_checklists(folder, None, problems)
            read_species(folder, [], problems)
    except OSError as error:
        said = f"cannot be read: {error.strerror}"
        problems.append(Problem(clean(str(error.filename)), "", "", "", said))
    raise SiteErrors(tuple(problems))


def _read(top: Table, folder: Path) -> Site:
    site = _site(top.table("site"), folder)
    tables = {name: top.tables(name, "measure" if name == "limits" else "code") for name in _TABLES}
    addresses = read_sync(top.tables("sync", "name"))
    top.close()
    products = read_products(tables["product"])
    loops = read_loops(tables["loop"], products)
    species = read_species(folder, tables["species"], top.problems)
    limits = read_site_limits(tables["limits"])
    places = read_places(tables["place"], loops, products, species, limits)
    return replace(
        site,
        loops=loops,
        places=places,
        people=read_people(tables["person"]),
        products=products,
        species=species,
        limits=tuple(one for kinds, one in limits if not kinds),
        checklists=load_checklists(folder, places, top.problems),
        valves=read_valves(tables["valve"]),
        sync=addresses,
    )


def _site(head: Table, folder: Path) -> Site:
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
        skip_reasons=head.texts("skip_reasons", _SKIPS),
        causes=head.texts("causes", _CAUSES),
    )
    head.close()
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
