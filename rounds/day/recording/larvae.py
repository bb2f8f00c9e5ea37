"""Forms of the larval house: the day a lot hatched, what cysts gave, and what was enriched."""

from __future__ import annotations

from datetime import date
from math import exp
from typing import Final

from rounds.day.fold.farm import Farm
from rounds.day.fold.state import amount
from rounds.day.larvae.cultures import HARVEST
from rounds.day.larvae.tanks import GIVEN
from rounds.day.larvae.topping_up import MOST_PER_ML, in_millions
from rounds.day.recording.asking import Answers, Asked, Field, Form, all_lots, fixed
from rounds.day.when import local_day
from rounds.fish.livefood import hatch_yield_per_g
from rounds.records.entry import Correction, Enriched, Entry, Hatch, Reading, Stocked
from rounds.units import convert

_OLDEST_DAYS: Final = 4000
"""A hatch longer ago is taken for a slip (common practice)."""
_YOUNG: Final = 60
"""Up to so many days of age no fish is heavier than 1 mg grown by 25 % a day (common practice)."""
_NO_CULTURE: Final = "no place is a culture: name one in site.toml"


def hatch(entry: Hatch) -> str:
    """Return a hatch in words: "B1: 12 g of cysts GSL-7 gave 2700000 nauplii"."""
    gave = f"{entry.cysts} gave {entry.nauplii} nauplii"
    return f"{entry.place}: {entry.amount} {entry.unit} of cysts {gave}"


def enriched(entry: Enriched) -> str:
    """Return live food taken out of its enrichment in words."""
    cold = ", held cold" if entry.cold else ""
    return f"{entry.place}: {entry.food} enriched for {entry.hours} h, taken out{cold}"


def larval_words(entry: Entry) -> str:
    """Return an entry of these forms in words: "B1: 12 g of cysts GSL-7 gave 2700000 nauplii"."""
    match entry:
        case Correction():
            return f"{entry.lot}: hatched {entry.set['hatched']}"
        case Hatch():
            return hatch(entry)
        case Enriched():
            return enriched(entry)
        case Reading(measure="harvest"):
            return f"{entry.place}: {entry.value} {entry.unit} taken out"
        case Reading():
            food = entry.measure.removesuffix("_given")
            return f"{entry.place}: {in_millions(float(entry.value))} {food} given"
    raise TypeError(f"{type(entry).__name__} is not of these forms")


# -- the day a lot hatched -------------------------------------------------------------------------


def hatched_on(asked: Asked, weight_g: float | None, stocked: date) -> str:
    """Return the day a lot hatched as a date; one to come is refused, one that is odd doubted.

    Args:
        asked: The form as answered.
        weight_g: Mean weight of its fish when they were stocked.
        stocked: The day they were.
    """
    text, today = asked.text("hatched"), local_day(asked.now, asked.farm.site.timezone)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text} is not a date, such as {today}") from None
    if day > today:
        raise ValueError(f"{day} is still to come: the day they hatched")
    if (today - day).days > _OLDEST_DAYS:
        asked.doubts.append(f"they would be {(today - day).days} days old: is {day} right?")
    age = (stocked - day).days
    if weight_g is not None and age <= _YOUNG and weight_g > 0.001 * exp(0.25 * max(age, 0)):
        asked.doubts.append(
            f"{weight_g:.3g} g at {age} days of age: is {day} right, or the weight?"
        )
    return day.isoformat()


def _hatch_date(asked: Asked) -> Correction:
    """Put the day a lot hatched into its first stocking, where nobody said it then."""
    lot, farm = asked.text("lot"), asked.farm
    came = next((one for one in farm.lots.get(lot, ()) if isinstance(one, Stocked)), None)
    if came is None:
        raise ValueError(f"{lot} was never recorded as stocked: record it as stocked first")
    weighed = amount(came.mean_weight, came.unit, "g")
    day = hatched_on(asked, weighed, local_day(came.at, farm.site.timezone))
    if came.hatched == day:
        raise ValueError(f"that {lot} hatched {day} is on record already")
    return Correction(
        of=came.id, after=list(farm.corrections_of(came.id)), set={"hatched": day},
        why="day of hatching", place=came.place, lot=lot, day=came.day,
    )  # fmt: skip


# -- live food -------------------------------------------------------------------------------------


def _cultures(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(place.code for place in farm.site.places.values() if place.kind == "culture")


def _larval(farm: Farm, answers: Answers) -> tuple[str, ...]:
    return tuple(place.code for place in farm.site.places.values() if place.stage == "larval")


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


def _harvest(asked: Asked) -> Reading:
    """Keep the litres taken out of a culture, on top of what was taken before."""
    place = asked.farm.site.places[asked.text("place")]
    digits, unit, volume_m3 = asked.amount("volume", "m^3")
    if place.volume_m3 is not None and (volume_m3 or 0.0) > place.volume_m3:
        litres = convert(place.volume_m3, "m^3", "L")
        raise ValueError(f"{place.code} holds {litres:g} L: {digits} {unit} cannot be taken")
    return Reading(place=place.code, measure=HARVEST, value=digits, unit=unit, verdict="ok")


def _given(asked: Asked) -> Reading:
    """Keep the animals that went into a larval tank: millions, or litres of so many a mL."""
    _, _, litres = asked.amount("volume", "L")
    _, _, per_ml = asked.amount("density", "1/mL")
    _, _, millions = asked.amount("millions", "1")
    food, place = asked.text("food"), asked.text("place")
    poured = None if litres is None or per_ml is None else litres * 1000 * per_ml
    if (poured is None) == (millions is None):
        raise ValueError("say how many, once: millions, or volume and density of what went in")
    animals = poured if millions is None else millions * 1e6
    tank = asked.farm.site.places[place]
    animals = animals or 0.0
    if tank.volume_m3 and animals / (tank.volume_m3 * 1e6) > 2 * MOST_PER_ML[food]:
        into = f"{animals / (tank.volume_m3 * 1e6):.0f} per mL of {place}"
        asked.doubts.append(f"{in_millions(animals)} are {into}: is it meant?")
    return Reading(place=place, measure=GIVEN[food], value=f"{animals:.0f}", unit="1", verdict="ok")


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
        "harvested", "live food taken out of a culture",
        (
            Field("place", "From which culture", "choice", _cultures, "culture"),
            Field("volume", "Taken out, besides what is on record", "number", unit="L"),
        ),
        _harvest, _NO_CULTURE,
    ),
    Form(
        "given", "live food given to larvae",
        (
            Field("place", "Into which larval tank", "choice", _larval, "larval tank"),
            Field("food", "What", "choice", fixed(*GIVEN), "live food"),
            Field("volume", "What went in", "number", unit="L", optional=True),
            Field("density", "Animals counted in a mL of it", "number", unit="1/mL",
                  optional=True),
            Field("millions", "Or how many million animals", "number", unit="1", optional=True),
        ),
        _given, "no place is a larval tank: name one in site.toml",
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
