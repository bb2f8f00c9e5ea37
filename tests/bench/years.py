"""A farm of many days, made fast: 24 tanks, three rounds a day, 12 readings, three laptops.

Each tank's lot is sold when the next one comes. Every segment is sealed as the book seals it. The
values mean little; there are as many of them as a farm of that size writes.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Final

from rounds.records.decoding import encode
from rounds.records.entry import (
    FORMAT,
    Died,
    Entry,
    Fed,
    Open,
    Reading,
    Removed,
    Stocked,
    Walk,
    stamp,
)
from rounds.records.layout import SealedFile, sealed_tree
from rounds.records.segment import chained
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.shipped import shipped

YEARS: Final = 1826
TANKS: Final = 24
_LAPTOPS: Final = ("aaaaaa", "bbbbbb", "cccccc")
_ROUNDS: Final = ((time(6, 30), "ana"), (time(12, 30), "rui"), (time(18, 30), "ines"))
_LOT_DAYS: Final = 300
_FISH: Final = 300
_DIES_EVERY: Final = 20
"""Days; a lot's are a multiple of them."""
_MEASURES: Final = (
    ("temperature", "degC", 25.0, 0.6), ("oxygen", "mg/L", 6.8, 0.3),
    ("oxygen_percent", "%", 94.0, 3.0), ("salinity", "g/kg", 30.0, 0.4), ("ph", "pH", 7.6, 0.08),
    ("tan", "mg/L", 0.4, 0.1), ("nitrite", "mg/L", 0.3, 0.1), ("nitrate", "mg/L", 40.0, 4.0),
    ("alkalinity", "mg/L CaCO3", 120.0, 6.0), ("co2", "mg/L", 6.0, 1.0),
    ("flow", "m^3/h", 5.5, 0.2), ("level", "cm", 100.0, 0.5),
)  # fmt: skip


def made(folder: Path, days: int, last: date) -> Site:
    """Make a farm of so many days that ends with the last one, and return its site."""
    folder.mkdir(parents=True)
    (folder / "site.toml").write_text(_site(), "utf-8")
    site = load(folder)
    previous = dict.fromkeys(_LAPTOPS, "")
    chance = random.Random(7)
    for number in range(days):
        day = last - timedelta(days=days - 1 - number)
        for (at, by), writer in zip(_ROUNDS, _LAPTOPS, strict=True):
            begun = datetime.combine(day, at, site.timezone)
            entries = _round(site, number, begun, by, chance)
            previous[writer] = _sealed(site, folder, writer, number + 1, entries, previous[writer])
    return site


def morning(folder: Path, day: date) -> None:
    """Add the first round of one more day to a farm that was made."""
    site, writer = load(folder), _LAPTOPS[0]
    number = len(list((sealed_tree(folder / "records") / writer).iterdir()))
    begun = datetime.combine(day, _ROUNDS[0][0], site.timezone)
    entries = _round(site, number, begun, _ROUNDS[0][1], random.Random(number))
    _sealed(site, folder, writer, number + 1, entries, "")


def _site() -> str:
    """Return the sample's site file with other places: a house, and tanks on both loops."""
    text = (shipped("sample_site") / "site.toml").read_text("utf-8")
    start, end = text.index("# --- Places"), text.index("# --- Products")
    places = ['[[place]]\ncode = "HOUSE"\nname = "The house"\nkind = "house"\n']
    for n in range(TANKS):
        places.append(
            f'[[place]]\ncode = "T{n + 1}"\nname = "Tank {n + 1}"\nkind = "tank"\n'
            f'loop = "{"AB"[n % 2]}"\nstage = "grow-out"\nspecies = "red-drum"\n'
            'volume = "5.7 m^3"\nflow = "5.5 m^3/h"\nfeed = "PEL-40"\ntest_point = true\n'
        )
    text = text[:start] + "\n".join(places) + text[end:]
    return re.sub(r'\n\[\[loop\]\]\ncode = "P".*?(?=\n\[\[)', "\n", text, flags=re.DOTALL)


def _round(
    site: Site, number: int, begun: datetime, by: str, chance: random.Random
) -> Iterator[Entry]:
    day = f"{begun:%Y-%m-%d}"
    walk = f"first-light.{day}.{begun:%H%M}.{by}"
    common = {"day": day, "off": begun.isoformat()[-6:], "by": by}
    at = begun
    yield Walk(t=stamp(at), walk=walk, event="begun", checklist="first-light", **common)
    for n in range(TANKS):
        place = f"T{n + 1}"
        if begun.hour < 8 and number % _LOT_DAYS == 0:
            if number:
                yield Removed(t=stamp(at), lot=f"L{n + 1}-{number - _LOT_DAYS}", place=place,
                              count=_FISH - _LOT_DAYS // _DIES_EVERY, cause="sold",
                              **common)  # fmt: skip
            yield Stocked(t=stamp(at), lot=f"L{n + 1}-{number}", place=place, count=_FISH,
                          mean_weight="120", unit="g", origin="hatchery", **common)  # fmt: skip
        for measure, unit, mean, spread in _MEASURES:
            at += timedelta(seconds=20)
            yield Reading(t=stamp(at), place=place, walk=walk, measure=measure, unit=unit,
                          value=f"{chance.gauss(mean, spread):.2f}", step=measure, verdict="ok",
                          **common)  # fmt: skip
        if begun.hour < 8:
            lot = f"L{n + 1}-{number - number % _LOT_DAYS}"
            dead = int((7 * number + n) % _DIES_EVERY == 0)
            yield Died(t=stamp(at), place=place, lot=lot, count=dead, **common)
            yield Fed(t=stamp(at), place=place, lot=lot, product="PEL-40", amount="600", unit="g",
                      left="0", advised="600", **common)  # fmt: skip
    yield Walk(t=stamp(at), walk=walk, event="done", checklist="first-light", **common)


def _sealed(
    site: Site, folder: Path, writer: str, seg: int, entries: Iterator[Entry], previous: str
) -> str:
    run = f"{seg:06d}"
    first = next(entries)
    header = Open(
        t=first.t, off=first.off, day=first.day, by=first.by, format=FORMAT, site=site.id,
        site_digest=site.digest, writer=writer, seg=seg, prev=previous, seen={}, app="0",
    )  # fmt: skip
    bodies = []
    for n, entry in enumerate((header, first, *entries)):
        body = encode(entry)  # `id` stands after `kind`
        kind, _, rest = body.partition(b",")
        bodies.append(b'%b,"id":"%b-%b-%d",%b' % (kind, writer.encode(), run.encode(), n, rest))
    data = chained(bodies)
    digest = sha256(data).hexdigest()[:32]
    path = SealedFile(writer, seg, first.day.replace("-", ""), digest).path(
        sealed_tree(folder / "records")
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return digest
