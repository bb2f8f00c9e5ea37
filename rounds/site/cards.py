"""Emergency cards: what to do first, with this site's own numbers, valves and calls."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping
from datetime import time
from functools import cache
from pathlib import Path
from textwrap import wrap
from typing import Any, Final

from msgspec import Struct

from rounds.dosing.chlorine import thiosulfate_g
from rounds.site.measures import MEASURES
from rounds.site.model import Limits, Site
from rounds.units import Amount, shown

CARDS: Final = (
    "person-hurt",
    "power-cut",
    "low-oxygen",
    "pump-stopped",
    "chlorine",
    "sulphide",
    "heat",
    "leak",
)
WIDTH: Final = 74
"""No line of a card is longer, so that a number or a mark fits before it at 80 columns."""
NOTE: Final = (
    "This is not an alarm, and no more than a reminder: training, the supervisor,",
    "the fish veterinarian and the emergency services come before it.",
)


class Card(Struct, frozen=True):
    """One emergency: short lines, each part in the order to do it; `people` comes first."""

    code: str
    title: str
    people: tuple[str, ...]
    """What keeps people alive, before anything else."""
    first: tuple[str, ...]
    then: tuple[str, ...]
    numbers: tuple[str, ...]
    """This site's figures for it."""
    at_hand: tuple[str, ...]
    """This site's valves, switches and spares for it."""
    call: tuple[str, ...]


def cards(site: Site) -> tuple[Card, ...]:
    """Return every emergency card of a site.

    Args:
        site: Gives limits, volumes, valves and who to call.

    Returns:
        The cards in the order of `CARDS`.
    """
    texts = _texts()
    return tuple(
        Card(
            code=code,
            title=texts[code]["title"],
            people=tuple(texts[code].get("people", ())),
            first=tuple(texts[code]["first"]),
            then=tuple(texts[code]["then"]),
            numbers=_wrapped(_NUMBERS[code](site) if code in _NUMBERS else ()),
            at_hand=_wrapped(
                f"{valve.code} ({valve.where}): {valve.does}"
                for valve in site.valves
                if code in valve.cards
            ),
            call=_wrapped(site.emergency),
        )
        for code in CARDS
    )


def _wrapped(lines: Iterable[str]) -> tuple[str, ...]:
    return tuple(part for line in lines for part in wrap(line, WIDTH, subsequent_indent="  "))


@cache
def _texts() -> Mapping[str, Mapping[str, Any]]:
    data = tomllib.loads(Path(__file__).with_name("cards.toml").read_text("utf-8"))
    return {card["code"]: card for card in data["card"]}


def _act(site: Site, measure: str, bound: Callable[[Limits], float | None]) -> tuple[str, ...]:
    """Return act bounds of the tanks, equal ones on one line."""
    found: dict[tuple[float, str], list[str]] = {}
    for place in site.places.values():
        limits = site.limits_for(measure, place, time(12))
        value = bound(limits) if limits and place.kind == "tank" else None
        if limits and value is not None:
            found.setdefault((value, MEASURES[measure].unit), []).append(place.code)
    return tuple(
        f"{shown(Amount(value, unit), site.display_units):g}: {' '.join(codes)}"
        for (value, unit), codes in found.items()
    )


def _oxygen(site: Site) -> tuple[str, ...]:
    floors = _act(site, "oxygen", lambda limits: limits.act_low)
    percents = _act(site, "oxygen_percent", lambda limits: limits.act_low)
    return tuple(f"Act below {line}" for line in (*floors, *percents))


def _heat(site: Site) -> tuple[str, ...]:
    ceilings = _act(site, "temperature", lambda limits: limits.act_high)
    return tuple(f"Act above {line}" for line in ceilings)


def _thiosulfate(site: Site) -> tuple[str, ...]:
    lines = []
    for loop in site.loops.values():
        places = site.places_of(loop.code)
        volume = loop.sump_volume_m3 + sum(place.volume_m3 or 0 for place in places)
        grams = thiosulfate_g(volume, 1.0)
        water = shown(Amount(volume, "m^3"), site.display_units)
        lines.append(
            f"Loop {loop.code}, full {water:.1f}: {grams:.0f} g crystals for each mg/L of chlorine"
        )
    return tuple(lines)


_NUMBERS: Final[Mapping[str, Callable[[Site], tuple[str, ...]]]] = {
    "power-cut": _oxygen,
    "low-oxygen": _oxygen,
    "pump-stopped": _oxygen,
    "chlorine": _thiosulfate,
    "heat": _heat,
}
