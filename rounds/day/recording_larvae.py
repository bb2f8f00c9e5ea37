"""Forms of the larval house: the day a lot hatched, what cysts gave, and what was enriched."""

from __future__ import annotations

from datetime import date
from typing import Final

from rounds.day import changes
from rounds.day.asking import Answers, Asked, Field, Form, all_lots, fixed
from rounds.day.farm import Farm
from rounds.day.when import local_day
from rounds.fish.livefood import hatch_yield_per_g
from rounds.records.entry import Correction, Enriched, Entry, Hatch, Stocked
from rounds.units import convert

_OLDEST_DAYS: Final = 4000
"""A hatch longer ago is taken for a slip (common practice)."""
_NO_CULTURE: Final = "no place is a culture: name one in site.toml"


def larval_words(entry: Entry) -> str:
    """Return an entry of these forms in words: "B1: 12 g of cysts GSL-7 gave 2700000 nauplii"."""
    match entry:
        case Correction():
            return f"{entry.lot}: hatched {entry.set['hatched']}"
        case Hatch():
            return changes.hatch(entry)
        case Enriched():
            return changes.enriched(entry)
    raise TypeError(f"{type(entry).__name__} is not of these forms")


# -- the day a lot hatched -------------------------------------------------------------------------


def hatched_on(asked: Asked) -> str:
    """Return the day a lot hatched as a date; one to come is refused, one long past doubted."""
    text, today = asked.text("hatched"), local_day(asked.now, asked.farm.site.timezone)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text} is not a date, such as {today}") from None
    if day > today:
        raise ValueError(f"{day} is still to come: the day they hatched")
    if (today - day).days > _OLDEST_DAYS:
        asked.doubts.append(f"they would be {(today - day).days} days old: is {day} right?")
    return day.isoformat()


def _hatch_date(asked: Asked) -> Correction:
    """Put the day a lot hatched into its first stocking, where nobody said it then."""
    lot, farm = asked.text("lot"), asked.farm
    came = next((one for one in farm.lots.get(lot, ()) if isinstance(one, Stocked)), None)
    if came is None:
        raise ValueError(f"{lot} was never recorded as stocked: record it as stocked first")
    day = hatched_on(asked)
    if came.hatched == day:
        raise ValueError(f"that {lot} hatched {day} is on record already")
    return Correction(
        of=came.id, after=list(farm.corrections_of(came.id)), set={"hatched": day},
        why="day of hatching", place=came.place, lot=lot, day=came.day,
    )  # fmt: skip


# -- live food -------------------------------------------------------------------------------------


def _cultures(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(place.code for place in farm.site.places.values() if place.kind == "culture")


def _cyst_lots(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(sorted({hatch.cysts for hatch in farm.hatches}))


def _hatch(asked: Asked) -> Hatch:
    digits, unit, grams = asked.amount("grams", "g")
    _, _, per_ml = asked.amount("density", "1/mL")
    _, _, volume_m3 = asked.amount("volume", "m^3")
    place = asked.farm.site.places[asked.text("place")]
    if volume_m3 is None and place.volume_m3 is None:
        raise ValueError(f"say the volume counted in: site.toml has none for {place.code}")
    litres = convert(volume_m3 or place.volume_m3 or 0.0, "m^3", "L")
    nauplii = round((per_ml or 0.0) * litres * 1000)
    nominal = asked.text("nominal")
    per_g = hatch_yield_per_g(nauplii, grams or 0.0)
    if nominal and not 1 / 8 < per_g / int(nominal) < 2:
        says = f"{per_g:.0f} nauplii a gram, the tin says {nominal}"
        asked.doubts.append(f"{says}: are grams, count and volume right?")
    return Hatch(
        place=place.code, cysts=asked.text("cysts"), amount=digits, unit=unit, nauplii=nauplii,
        nominal=nominal,
    )  # fmt: skip


def _enriched(asked: Asked) -> Enriched:
    hours, _, _ = asked.amount("hours", "h")
    return Enriched(
        place=asked.text("place"), food=asked.text("food"), hours=hours,
        cold=asked.text("cold") == "yes",
    )  # fmt: skip


HATCHED: Final = Field("hatched", "Day they hatched, such as 2026-11-20", "text")
LARVAL_FORMS: Final = (
    Form(
        "hatched", "the day a lot hatched",
        (Field("lot", "Which lot", "choice", all_lots, "lot with fish"), HATCHED),
        _hatch_date, "no fish are on record: record fish that came in first",
    ),
    Form(
        "cysts", "cysts hatched: what they gave",
        (
            Field("place", "Hatched where", "choice", _cultures, "culture"),
            Field("cysts", "Which lot of cysts, the name on the tin", "text", _cyst_lots),
            Field("grams", "Cysts set up", "number", unit="g"),
            Field("density", "Nauplii counted after the hatch", "number", unit="1/mL"),
            Field("volume", "Water they were counted in; left out, that of the place", "number",
                  unit="L", optional=True),
            Field("nominal", "Nauplii a gram, as the tin says", "count", optional=True),
        ),
        _hatch, _NO_CULTURE,
    ),
    Form(
        "enriched", "live food enriched and taken out",
        (
            Field("place", "From which culture", "choice", _cultures, "culture"),
            Field("food", "What", "choice", fixed("nauplii", "rotifers"), "live food"),
            Field("hours", "Hours in the enrichment", "number", unit="h"),
            Field("cold", "Is it held cold, below 10 degC", "choice", fixed("no", "yes"),
                  "answer", optional=True),
        ),
        _enriched, _NO_CULTURE,
    ),
)  # fmt: skip
"""In the order they are offered."""
