"""What the farm remembers of each entry, in plain figures. Made by the fold, read by judgement."""

from __future__ import annotations

import math
from datetime import date, datetime

from msgspec import Struct

from rounds.reason import Reasons
from rounds.units import UnitError, convert


def amount(text: str, unit: str, to: str) -> float | None:
    """Return a decimal string of an entry as a finite float in `to`; None when it is not one."""
    try:
        value = convert(float(text), unit, to)
    except (UnitError, ValueError):
        return None
    return value if math.isfinite(value) else None


class Read(Struct, frozen=True, array_like=True, gc=False):
    """A measured value: `value` in the measure's own unit, `typed` with `unit` as it was typed."""

    id: str
    place: str
    measure: str
    value: float
    typed: str
    unit: str
    at: datetime
    day: str
    by: str
    walk: str | None
    step: str
    verdict: str
    confirmed: bool
    writer: str


class Sample(Struct, frozen=True, array_like=True, gc=False):
    """Weighed fish: mean weight in g and its standard error, None for a batch weighing."""

    id: str
    lot: str
    place: str
    at: datetime
    count: int
    mean_weight_g: float
    se_g: float | None


class Weighing(Struct, frozen=True, array_like=True, gc=False):
    """A weighing of the fish that are there still; `netted` is 0 for the weight at stocking."""

    at: datetime
    netted: int
    mean_weight_g: float


class Shortage(Struct, frozen=True, array_like=True, gc=False):
    """Fewer fish counted than the account carried, when and by whom."""

    at: datetime
    on_record: int
    counted: int
    by: str = ""


class Stock(Struct, frozen=True):
    """Fish of one lot in one place.

    `carried_weight_g` is what carrying forward from the last adopted weight gives, `sampled` the
    last sample, `weight_g` the adopted mean weight that rations use, with feed since added.
    """

    lot: str
    place: str
    count: int
    estimated: bool
    carried_weight_g: float
    sampled: Sample | None
    weight_g: float
    stocked_at: datetime
    weight_at: datetime
    recount: bool
    """Carried and sampled weight disagree: weigh again before the larger one is used."""
    reasons: Reasons
    handled_at: datetime | None = None
    """When fish were last moved into or taken out of this place."""
    shortage: Shortage | None = None
    """What the last count missed."""
    ever_fed_live: bool = False
    """The lot, one it came from or one it was mixed with was once given live or raw fish."""
    weighings: tuple[Weighing, ...] = ()
    """Since fish last joined, left or were counted anew here, oldest first."""
    hatched: date | None = None
    """When the lot hatched, or the youngest it came from."""

    @property
    def biomass_kg(self) -> float:
        """Number times adopted mean weight, kg."""
        return self.count * self.weight_g / 1000


class FedAt(Struct, frozen=True, array_like=True, gc=False):
    """Feed given, g; `left_g` is None when nobody looked."""

    id: str
    place: str
    at: datetime
    day: str
    product: str
    amount_g: float
    left_g: float | None
    meal: int
    advised_g: float | None
    why: str
    by: str
    minutes: float | None = None
    """Until nothing was left; None when nobody timed it."""


class DosedAt(Struct, frozen=True, array_like=True, gc=False):
    """A product given to a loop, g."""

    id: str
    loop: str
    at: datetime
    day: str
    product: str
    amount_g: float
    portion: int
    advised_g: float | None
    why: str
    by: str


class ExchangedAt(Struct, frozen=True, array_like=True, gc=False):
    """Water out of and into a loop, m^3."""

    id: str
    loop: str
    at: datetime
    day: str
    volume_out_m3: float
    volume_in_m3: float
    salinity_in: float | None
    by: str


class DeadAt(Struct, frozen=True, array_like=True, gc=False):
    """Dead fish taken out of a place; 0 says somebody looked."""

    id: str
    lot: str
    place: str
    at: datetime
    day: str
    count: int
    cause: str
    by: str


class CalibratedAt(Struct, frozen=True, array_like=True, gc=False):
    """A meter checked: `slope_percent` or `offset`, in the measure's unit, is what was found."""

    id: str
    measure: str
    step: str
    instrument: str
    points: tuple[str, ...]
    slope_percent: float | None
    offset: float | None
    good: bool
    due: str
    at: datetime
    by: str

    @property
    def found(self) -> str:
        """What was found, for a sentence: "slope 88 %", "0.4 off"."""
        if self.slope_percent is not None:
            return f"read {self.slope_percent:g} % of what it should"
        return "" if self.offset is None else f"read {self.offset:+g}"


class HatchAt(Struct, frozen=True, array_like=True, gc=False):
    """Cysts hatched, and the nauplii counted; `nominal_per_g` is what the tin says."""

    id: str
    place: str
    cysts: str
    grams: float
    nauplii: int
    nominal_per_g: float | None
    at: datetime
    by: str


class EnrichedAt(Struct, frozen=True, array_like=True, gc=False):
    """Live food taken out of its enrichment."""

    id: str
    place: str
    food: str
    hours: float | None
    cold: bool
    at: datetime
    by: str


class SignedAt(Struct, frozen=True, array_like=True, gc=False):
    """A person signed off for a checklist, how far and by whom."""

    id: str
    person: str
    task: str
    level: str
    at: datetime
    by: str


class AnswerAt(Struct, frozen=True, array_like=True, gc=False):
    """An answer in words or a choice."""

    id: str
    place: str
    step: str
    value: str
    verdict: str
    at: datetime
    day: str
    walk: str | None
    by: str


class SkipAt(Struct, frozen=True, array_like=True, gc=False):
    """A step that was not done, and why."""

    id: str
    place: str
    step: str
    reason: str
    at: datetime
    day: str
    walk: str | None
    by: str


class NoteAt(Struct, frozen=True, array_like=True, gc=False):
    """Words about a place, a loop or the farm."""

    id: str
    place: str | None
    loop: str | None
    text: str
    about: str
    at: datetime
    by: str


class WalkAt(Struct, frozen=True, array_like=True, gc=False):
    """A walk: when it began, was last left, was done."""

    id: str
    checklist: str
    day: str
    by: str
    begun_at: datetime
    left_at: datetime | None = None
    done_at: datetime | None = None
    begun: bool = True
    """False while only what came after its beginning was heard."""


class OpenMatter(Struct, frozen=True, array_like=True, gc=False):
    """A matter nobody has settled yet."""

    id: str
    text: str
    place: str | None
    loop: str | None
    owner: str
    until: str
    again_if: str
    at: datetime
    by: str
    about: str = ""
    """"no feed": it withholds feed, see `day.fasting`."""


class IncidentAt(Struct, frozen=True, array_like=True, gc=False):
    """Something broken that nobody has said is repaired."""

    id: str
    about: str
    place: str | None
    loop: str | None
    text: str
    at: datetime
    by: str


class HandoffAt(Struct, frozen=True, array_like=True, gc=False):
    """A shift handed on, and who took it over, having seen which matters."""

    id: str
    at: datetime
    covers: str
    text: str
    by: str
    to: str
    taken_by: str | None = None
    taken_at: datetime | None = None
    seen: tuple[str, ...] = ()


class Heard(Struct, frozen=True, array_like=True, gc=False):
    """The newest entry seen of one laptop."""

    writer: str
    at: datetime
    by: str


class LaptopAt(Struct, frozen=True, array_like=True, gc=False):
    """A laptop taken in, or retired, and by whom."""

    writer: str
    event: str
    last: datetime
    """What was known of it then goes so far."""
    at: datetime
    by: str


class Conflict(Struct, frozen=True, array_like=True, gc=False):
    """Corrections of one entry that do not name each other: neither counts until settled."""

    of: str
    corrections: tuple[str, ...]


class LoopWater(Struct, frozen=True):
    """The water of a loop as it is today. `volume_m3` is None while a volume is missing."""

    loop: str
    volume_m3: float | None
    parts: tuple[tuple[str, float, str], ...]
    """(place code or "sump", m^3 that count now, state)."""
    missing: tuple[str, ...]
    reasons: Reasons
