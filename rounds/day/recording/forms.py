"""What happens to fish, water and machines: the forms of it, and the entry each one makes.

The app and the command line ask the same forms.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final, Literal, cast

from msgspec.structs import replace

from rounds.day.fold.farm import Farm
from rounds.day.lots.crops import forage_lot
from rounds.day.lots.deaths import SHORT_DO, judge_deaths, too_few
from rounds.day.lots.handling import before_moving, before_sale, before_stocking, checks, too_many
from rounds.day.lots.series import LOST
from rounds.day.recording.asking import (
    Answers,
    Asked,
    Field,
    Form,
    all_lots,
    answer,
    fault,
    fixed,
    in_use,
    lots,
    open_faults,
    spots,
    with_fish,
    with_water,
)
from rounds.day.recording.batches import BATCH
from rounds.day.recording.cropping import CROPPED
from rounds.day.recording.doubts import (
    TEN,
    again,
    crowded,
    filled,
    leaving,
    odd_weight,
    some,
    stock_of,
)
from rounds.day.recording.larvae import HATCHED, LARVAL_FORMS, hatched_on
from rounds.day.recording.matters import MATTER, SETTLED
from rounds.day.recording.mistake import MISTAKE
from rounds.day.recording.permits import MOVE_PERMIT, SALE_PERMIT, STOCK_PERMIT
from rounds.day.recording.signing import SIGNED
from rounds.day.slips import Unsure
from rounds.day.when import local_day
from rounds.records.entry import (
    Counted,
    Died,
    Entry,
    Incident,
    Moved,
    Removed,
    State,
    Stocked,
)

CAUSES: Final = ("sold", "culled", "sample", LOST)
FAULTS: Final = ("power", "pump", "air", "filter", "leak", "other")
STATES: Final = ("in service", "isolated", "drained")
_RECOUNTED: Final = 2.0
"""A count this many times off what is on record is asked about (common practice)."""


# -- all of them -----------------------------------------------------------------------------------


def draft(
    form: Form,
    answers: Answers,
    farm: Farm,
    now: datetime,
    *,
    confirmed: bool = False,
    by: str = "",
) -> Entry:
    """Make the entry of a form.

    Args:
        form: The form.
        answers: What was typed, by the name of the question.
        farm: The farm as it stands.
        now: The present, aware.
        confirmed: The person was told what looks like a slip and means it.
        by: Who writes it, for what not everybody may sign.

    Returns:
        The entry, without what the book gives it.

    Raises:
        ValueError: A question without an answer or with a wrong one, or what cannot be.
        Unsure: One sentence saying what looks like a slip; `confirmed=True` keeps it.
    """
    strange = sorted(set(answers) - {one.name for one in form.fields})
    if strange:
        names = ", ".join(one.name for one in form.fields)
        raise ValueError(f"{form.key} does not ask {strange[0]}: {names}")
    read: dict[str, str] = {}
    for asked in form.fields:
        if asked.needed and not answers.get(asked.name, "").strip():
            if why := asked.needed(farm, read, now):
                raise ValueError(f"{why}. {asked.ask}? Say it with {asked.name}")
            continue
        if found := answer(form, asked, answers.get(asked.name, ""), farm, read):
            read[asked.name] = found
    whole = Asked(farm, now, read, [], by)
    entry = form.make(whole)
    again(whole, entry)
    if whole.doubts and not confirmed:
        raise Unsure(" ".join(whole.doubts))
    return entry


def _stocked(asked: Asked) -> Stocked:
    farm, lot, place = asked.farm, asked.text("lot"), asked.text("place")
    digits, unit, mean_g = asked.amount("weight", "g")
    count = some(asked)
    filled(farm, place, f"put {lot} there")
    if mean_g is not None:
        odd_weight(asked, lot, place, mean_g)
        crowded(asked, place, count * mean_g / 1000)
        _company(asked, lot, place, mean_g, count)
    parents = [
        answer(STOCKED, STOCKED.fields[1], one, farm, {})
        for one in re.split(r"[,\s]+", asked.text("parents"))
        if one
    ]
    if lot in parents:
        raise ValueError(f"{lot} cannot be its own parent")
    today = local_day(asked.now, farm.site.timezone)
    return Stocked(
        lot=lot, place=place, count=count, mean_weight=digits, unit=unit,
        origin=asked.text("origin"), estimated=asked.text("estimated") == "yes", parents=parents,
        hatched=hatched_on(asked, mean_g, today) if asked.text("hatched") else "",
        permit=asked.text("permit"),
    )  # fmt: skip


def _company(asked: Asked, lot: str, place: str, mean_g: float, count: int) -> None:
    """Doubt fish where others could eat them, infect them or leave them no room."""
    farm, target = asked.farm, asked.farm.site.places[place]
    own = lot in farm.lots or bool(asked.text("parents"))
    if not asked.doubts:
        asked.doubts.extend(too_many(farm.site, farm, target, mean_g, count, asked.now))
    asked.doubts.extend(before_stocking(farm.site, farm, target, mean_g, asked.now, own=own))


def _moved(asked: Asked) -> Moved:
    lot, source, target = (asked.text(name) for name in ("lot", "from", "to"))
    if source == target:
        raise ValueError(f"{lot} is in {source} already: name the place it goes to")
    filled(asked.farm, target, f"move {lot} there")
    count, digits, unit, mass_kg = leaving(asked, lot, source)
    site, stock = asked.farm.site, stock_of(asked.farm, lot, source)
    first = checks(site, asked.farm, stock, site.places[target], count, asked.now)
    asked.doubts.extend(before_moving(first))
    crowded(asked, target, mass_kg)
    return Moved(
        lot=lot, source=source, target=target, count=count, mass=digits, unit=unit,
        permit=asked.text("permit"),
    )  # fmt: skip


def _removed(asked: Asked) -> Removed:
    lot, place = asked.text("lot"), asked.text("place")
    if asked.text("cause") == "sold" and forage_lot(asked.farm, lot, place, asked.now):
        raise ValueError(f"no pond fish leaves the site: what is too many of {lot} is culled")
    count, digits, unit, _ = leaving(asked, lot, place)
    cause, farm = asked.text("cause"), asked.farm
    if cause == "sold":
        asked.doubts.extend(before_sale(farm.site, farm, stock_of(farm, lot, place), asked.now))
    return Removed(
        lot=lot, place=place, count=count, mass=digits, unit=unit, cause=cause, to=asked.text("to"),
        permit=asked.text("permit"),
    )  # fmt: skip


def _died(asked: Asked) -> Died:
    lot, place = asked.text("lot"), asked.text("place")
    count, digits, unit, _ = leaving(asked, lot, place)
    here = asked.farm.site.places[place]
    judged = judge_deaths(asked.farm, here, lot, count, asked.now)
    if judged.verdict == "act":
        asked.doubts.append(f"{judged.says}: is the number meant?")
    return Died(
        lot=lot, place=place, count=count, mass=digits, unit=unit, cause=asked.text("cause")
    )


def _counted(asked: Asked) -> Counted:
    lot, place, count = asked.text("lot"), asked.text("place"), int(asked.text("count"))
    before = stock_of(asked.farm, lot, place).count
    if too_few(count, before):
        missing = f"{before - count} of {lot} missing: {count} counted, {before} on record"
        asked.doubts.append(f"{missing}. {SHORT_DO}")
    elif count / before > _RECOUNTED:
        asked.doubts.append(f"{count} counted, {before} of {lot} are on record: is it meant?")
    return Counted(lot=lot, place=place, count=count, method=asked.text("method"))


def _state(asked: Asked) -> State:
    farm, code, state = asked.farm, asked.text("place"), asked.text("state")
    place = farm.site.places[code]
    digits, unit, volume = asked.amount("volume", "m^3")
    here = farm.stocks.get(code, ())
    if state == "drained" and here:
        held = " and ".join(f"{stock.count} of {stock.lot}" for stock in here)
        raise ValueError(f"{code} holds {held}: record them as moved or removed, then drain it")
    if state == "drained" and digits:
        raise ValueError(f"a drained place holds no water: leave the volume of {code} out")
    if state == "isolated" and place.loop is None:
        raise ValueError(f"{code} shares no loop: there is nothing to isolate it from")
    if state == farm.state_of(code) and not digits:
        raise ValueError(f"{code} is {state} already: give its volume, or leave it")
    usual = place.volume_m3
    if volume is not None and usual and not 1 / TEN < volume / usual < 1.5:
        said = f"{digits} {unit} in {code}, {usual:g} m^3 stand in site.toml"
        asked.doubts.append(f"{said}: is it meant?")
    return State(place=code, state=cast("_State", state), volume=digits, unit=unit)


_State = Literal["in service", "isolated", "drained"]


def _began(asked: Asked) -> Incident:
    spot, about, text = asked.text("where"), asked.text("about"), asked.text("text")
    if about == "other" and not text:
        raise ValueError("say in text what broke")
    loop = spot.removeprefix("loop ") if spot.startswith("loop ") else None
    place = spot if spot and loop is None else None
    entry = Incident(about=about, event="began", place=place, loop=loop, text=text)
    if about != "other" and fault(entry) in open_faults(asked.farm, {}):
        raise ValueError(f"{fault(entry)} is on record as broken: record it as repaired first")
    return entry


def _ended(asked: Asked) -> Incident:
    found = next(one for one in asked.farm.incidents if fault(one) == asked.text("fault"))
    return Incident(
        about=found.about, event="ended", place=found.place, loop=found.loop,
        text=asked.text("text"),
    )  # fmt: skip


# -- the forms -------------------------------------------------------------------------------------

_LOT: Final = Field("lot", "Which lot", "choice", lots, "lot with fish here")
_COUNT: Final = Field("count", "How many fish", "count")
_MASS: Final = Field("mass", "Weight of all together", "number", unit="kg", optional=True)
_TEXT: Final = Field("text", "In words", "text", optional=True)
_NO_FISH: Final = "no fish are on record: record fish that came in first"

STOCKED: Final = Form(
    "stocked", "fish came in",
    (
        Field("place", "Into which place", "choice", in_use, "place for fish"),
        Field("lot", "Which lot, a new name or a known one", "text", all_lots),
        _COUNT,
        Field("estimated", "Is the number an estimate", "choice", fixed("no", "yes"), "answer",
              optional=True),
        Field("weight", "Mean weight of one fish", "number", unit="g"),
        Field("origin", "Where they come from", "text"),
        Field("parents", "Lots they come from, with blanks between", "text", all_lots,
              optional=True),
        replace(HATCHED, optional=True),
        STOCK_PERMIT,
    ),
    _stocked,
    "no place is for fish: name a tank or a pond in site.toml",
)  # fmt: skip

FORMS: Final = {
    form.key: form
    for form in (
        STOCKED,
        Form(
            "moved", "fish moved",
            (
                Field("lot", "Which lot", "choice", all_lots, "lot with fish"),
                Field("from", "From which place", "choice", with_fish, "place with this lot"),
                Field("to", "To which place", "choice", in_use, "place for fish"),
                _COUNT, _MASS, MOVE_PERMIT,
            ),
            _moved, _NO_FISH,
        ),
        Form(
            "removed", "fish out: sold, culled, sampled, lost",
            (
                Field("place", "Out of which place", "choice", with_fish, "place with fish"),
                _LOT, _COUNT, _MASS,
                Field("cause", "What for", "choice", fixed(*CAUSES), "cause"),
                Field("to", "To whom, or where they go", "text", optional=True),
                SALE_PERMIT,
            ),
            _removed, _NO_FISH,
        ),
        Form(
            "counted", "fish counted",
            (
                Field("place", "In which place", "choice", with_fish, "place with fish"),
                _LOT, _COUNT,
                Field("method", "How they were counted", "text", optional=True),
            ),
            _counted, _NO_FISH,
        ),
        Form(
            "state", "water: in service, isolated, drained",
            (
                Field("place", "Which place", "choice", with_water, "place with water"),
                Field("state", "What it is now", "choice", fixed(*STATES), "state"),
                Field("volume", "Water in it now", "number", unit="m^3", optional=True),
            ),
            _state, "no place holds water: name one in site.toml",
        ),
        Form(
            "fault", "something broke",
            (
                Field("about", "What broke", "choice", fixed(*FAULTS), "kind of fault"),
                Field("where", "Where; left out, the whole farm", "choice", spots,
                      "place or loop", optional=True),
                _TEXT,
            ),
            _began,
        ),
        Form(
            "repaired", "it works again",
            (Field("fault", "Which fault", "choice", open_faults, "open fault"), _TEXT),
            _ended, "no fault is open: nothing to repair",
        ),
        Form(
            "died", "fish died",
            (
                Field("place", "In which place", "choice", with_fish, "place with fish"),
                _LOT, _COUNT, _MASS,
                Field("cause", "What they died of", "choice", lambda farm, _: farm.site.causes,
                      "cause", optional=True),
            ),
            _died, _NO_FISH,
        ),
        CROPPED, BATCH,
        *LARVAL_FORMS,
        MATTER, SETTLED, SIGNED, MISTAKE,
    )
}  # fmt: skip
"""The forms by key, in the order they are offered."""
