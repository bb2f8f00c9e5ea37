"""Forms and their questions: what each one asks, offers to choose from and takes as an answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Final, Literal

from msgspec import Struct

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import IncidentAt, Stock
from rounds.day.where import where
from rounds.records.entry import Entry, Incident
from rounds.text import clean, number, plain
from rounds.units import UNITS, convert, quantity, shown_unit

Answers = Mapping[str, str]
Offers = Callable[[Farm, Answers], tuple[str, ...]]
Needed = Callable[[Farm, Answers, datetime], str]

_FISH_IN: Final = ("tank", "pond")
_BEGINS: Final = 5
"""Signs of an answer that stand for the one choice that begins so."""
_AMOUNT: Final = re.compile(r"([0-9.,+-]+)\s*(.*)", re.ASCII)


class Field(Struct, frozen=True):
    """One question. `offers` are the only answers of a choice, and known ones of a text."""

    name: str
    ask: str
    kind: Literal["number", "count", "choice", "text"]
    offers: Offers = lambda farm, answers: ()
    of: str = ""
    """What a choice names, for the sentence when there is no such thing."""
    unit: str = ""
    optional: bool = False
    needed: Needed | None = None
    """Of a question asked only then: why it is asked, empty where it is not."""

    def unit_for(self, farm: Farm) -> str:
        """Return the unit of a bare number, as this site reads it."""
        return shown_unit(self.unit, farm.site.display_units) if self.unit else ""


class Form(Struct, frozen=True):
    """A kind of event with its questions; `none` is said where nothing can be chosen."""

    key: str
    title: str
    fields: tuple[Field, ...]
    make: Callable[[Asked], Entry]
    none: str = ""

    def asks(self, farm: Farm, answers: Answers, now: datetime) -> tuple[Field, ...]:
        """Return its questions, without those that these answers do not call for."""
        return tuple(
            one
            for one in self.fields
            if one.needed is None or answers.get(one.name) or one.needed(farm, answers, now)
        )


class Asked(Struct, frozen=True):
    """Answers as read, with the farm they are about; `doubts` gathers likely slips."""

    farm: Farm
    now: datetime
    answers: Answers
    doubts: list[str]
    by: str = ""
    """Who writes it."""

    def text(self, name: str) -> str:
        """Return an answer; empty where it was left out."""
        return self.answers.get(name, "")

    def amount(self, name: str, to: str) -> tuple[str, str, float | None]:
        """Return the digits, their unit, and the value in `to`; None where it was left out."""
        digits, _, unit = self.text(name).partition(" ")
        return digits, unit or to, convert(float(digits), unit, to) if digits else None


# -- what can be chosen ----------------------------------------------------------------------------


def stocks(farm: Farm) -> Iterator[Stock]:
    """Return every lot in every place."""
    return (stock for here in farm.stocks.values() for stock in here)


def in_use(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the places fish may live in."""
    return tuple(place.code for place in farm.site.places.values() if place.kind in _FISH_IN)


def with_fish(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the places with fish, of the lot answered before."""
    lot = answers.get("lot")
    held = {stock.place for stock in stocks(farm) if lot in (None, stock.lot)}
    return tuple(code for code in farm.site.places if code in held)


def lots(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the lots in the place answered before."""
    place = answers.get("place")
    return tuple(sorted({s.lot for s in stocks(farm) if place in (None, s.place)}))


def all_lots(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the lots of the whole farm."""
    return lots(farm, {})


def with_water(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the places that hold water."""
    return tuple(place.code for place in farm.site.places.values() if place.wet)


def spots(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the places with water, and the loops."""
    return (*with_water(farm, answers), *(f"loop {code}" for code in farm.site.loops))


def open_faults(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer what is broken, each once."""
    return tuple(dict.fromkeys(fault(incident) for incident in farm.incidents))


def fault(incident: Incident | IncidentAt) -> str:
    """Return what is broken and where: "pump, loop A"."""
    return f"{incident.about}, {where(incident, 'the farm')}"


def fixed(*choices: str) -> Offers:
    """Offer always the same."""
    return lambda farm, answers: choices


# -- one answer ------------------------------------------------------------------------------------


def answer(form: Form, asked: Field, typed: str, farm: Farm, answers: Answers) -> str:
    """Read the answer to one question.

    Args:
        form: The form.
        asked: Its question.
        typed: What was typed; empty leaves an optional one out.
        farm: The farm as it stands.
        answers: The answers before it, as this function returned them.

    Returns:
        The answer as `draft` takes it: a code as the site writes it, a whole number, or a number
        with its unit.

    Raises:
        ValueError: It is no answer to this; one sentence says what is.
    """
    text, offered = clean(typed), asked.offers(farm, answers)
    if asked.kind == "choice" and not offered and not asked.optional:
        raise ValueError(form.none)
    if not text:
        if asked.optional:
            return ""
        raise ValueError(f"{asked.name} is missing: {asked.ask.lower()}")
    if asked.kind == "count":
        return _whole(text)
    if asked.kind == "number":
        return _quantity(asked, text, asked.unit_for(farm))
    known = {one.casefold(): one for one in offered}
    found = known.get(text.casefold()) or known.get(f"loop {text}".casefold())
    if found is None and asked.kind == "choice" and len(text) >= _BEGINS:
        begun = [one for name, one in known.items() if name.startswith(text.casefold())]
        found = begun[0] if len(begun) == 1 else None
    if found is None and asked.kind == "choice":
        raise ValueError(f"there is no {asked.of} {text}: {', '.join(offered)}")
    return found or text


def _whole(text: str) -> str:
    value = number(text)
    if not re.fullmatch("[0-9]+", text):
        raise ValueError(f"{plain(value)} is not a count: a whole number, without marks")
    if int(text) > 100_000_000:
        raise ValueError(f"{text} fish are more than any farm holds")
    return str(int(text))


def _quantity(asked: Field, text: str, unit: str) -> str:
    found = _AMOUNT.fullmatch(text)
    digits, own = (found[1], found[2] or unit) if found else (text, unit)
    value = number(digits)
    kind = UNITS[asked.unit].dimension
    if own not in UNITS or UNITS[own].dimension != kind:
        units = ", ".join(name for name, one in UNITS.items() if one.dimension == kind)
        raise ValueError(f"{own} is not a unit of {kind}: {units}")
    if quantity(f"{digits} {own}", asked.unit) <= 0:
        raise ValueError(f"{asked.name} must be above 0")
    return f"{plain(value)} {own}"
