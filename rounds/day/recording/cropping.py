"""The form of a crop: forage taken from a pond into a place of its own, as a lot with its hold."""

from __future__ import annotations

from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.forage.need import Asked as Typed
from rounds.day.forage.pond import pond
from rounds.day.lots.crops import cropped, permit, ponds
from rounds.day.recording.asking import Answers, Asked, Field, Form, in_use, lots
from rounds.day.when import local_day
from rounds.fish.pond import STALE_AFTER_DAYS
from rounds.records.entry import Stocked


def _ponds(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(place.code for place in ponds(farm.site))


def _holding(farm: Farm, answers: Answers) -> tuple[str, ...]:
    """Offer the places for fish, those without any first: a crop is held apart."""
    there = ponds(farm.site)
    source = answers.get("from") or (there[0].code if len(there) == 1 else "")
    places = (code for code in in_use(farm, answers) if code != source)
    return tuple(sorted(places, key=lambda code: code in farm.stocks))


def _cropped(asked: Asked) -> Stocked:
    farm, site = asked.farm, asked.farm.site
    source, place, lot = (asked.text(name) for name in ("from", "to", "lot"))
    today = local_day(asked.now, site.timezone)
    reminder = permit(site.places[source], today)
    until = site.places[source].forage.permit_until
    if asked.text("permit") != "yes" or (until is not None and until < today):
        raise ValueError(reminder)
    if farm.state_of(place) == "drained":
        raise ValueError(f"{place} is drained: fill it, record it in service, then crop")
    parents = list(lots(farm, {"place": source}))
    if lot in farm.lots:
        raise ValueError(f"{lot} is on record already: each crop is a lot of its own")
    digits, unit, mean_kg = asked.amount("weight", "kg")
    _, _, mass_kg = asked.amount("mass", "kg")
    if mean_kg is None or mass_kg is None:
        raise ValueError("weigh the crop, and thirty fish of it")
    count = round(mass_kg / mean_kg)
    if count < 1:
        raise ValueError(f"{mass_kg:g} kg is less than one fish of {digits} {unit}")
    _above(asked, source, mass_kg)
    _mixed(asked, place)
    named = site.places[source].forage.permit
    return Stocked(
        lot=lot, place=place, count=count, mean_weight=digits, unit=unit, estimated=True,
        origin=f"crop of {source}, permit looked at{f': {named}' if named else ''}",
        parents=parents, source=source,
    )  # fmt: skip


def _above(asked: Asked, source: str, mass_kg: float) -> None:
    """Doubt a crop above what the pond bears now."""
    site, farm = asked.farm.site, asked.farm
    stands = pond(site, farm, site.places[source], asked.now, Typed(), 0.0)
    if stands.free_kg is None:
        what = " ".join(stands.missing)
        asked.doubts.append(f"what {source} bears is not known. {what} Take it all the same?")
    elif mass_kg > stands.free_kg:
        cold = (stands.temperature_c or 99) < site.places[source].forage.breeding_c
        old = (stands.age_days or 0) > STALE_AFTER_DAYS
        why = ", too cold to breed" if cold else ", its estimate is too old" if old else ""
        asked.doubts.append(
            f"{mass_kg * 1000:.0f} g is above the {stands.free_kg * 1000:.0f} g {source} bears "
            f"now{why}: "
            "take it all the same?"
        )


def _mixed(asked: Asked, place: str) -> None:
    """Doubt a holding place with other fish in it."""
    forage = {entry.lot for entry in cropped(asked.farm, asked.now)}
    for stock in asked.farm.stocks.get(place, ()):
        then = "their hold begins anew" if stock.lot in forage else "a crop is held apart"
        asked.doubts.append(f"{place} holds {stock.count} of {stock.lot}: {then}, is it meant?")


CROPPED: Final = Form(
    "cropped", "crop of forage",
    (
        Field("from", "From which pond", "choice", _ponds, "pond"),
        Field("permit", "Permit looked at: species and date right", "choice",
              lambda farm, answers: ("yes", "no"), "answer"),
        Field("to", "Into which place for its hold", "choice", _holding,
              "place for fish"),
        Field("lot", "Name of the new lot", "text"),
        Field("mass", "Weight of all together", "number", unit="kg"),
        Field("weight", "Mean weight of one fish, from thirty", "number", unit="g"),
    ),
    _cropped, "no pond stands in site.toml",
)  # fmt: skip
