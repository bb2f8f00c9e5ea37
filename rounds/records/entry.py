"""The kinds of entry, typed. One immutable line of the book is one of these.

Quantities are decimal strings as typed, with a `unit` of the closed list. Every kind carries the
common keys of `Entry`; unknown kinds become `Unknown` and are kept and counted, unknown keys stay
in the file. A key has one JSON type, for ever.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Literal

from msgspec import Struct, field

FORMAT = 1


class Entry(Struct, kw_only=True, frozen=True, omit_defaults=True, tag_field="kind", gc=False):
    """What every entry carries. `id`, `t`, `off`, `mono` and `h` are given by the book.

    It holds texts and numbers and never leads back to itself: nothing in it is garbage to find.
    """

    id: str = ""
    t: str = ""
    """When it was written: UTC, milliseconds, Z."""
    off: str = ""
    """Offset of the site's clock then, "+01:00"."""
    day: str = ""
    """Site-local date the entry belongs to; a correction takes its target's."""
    mono: float = 0.0
    by: str = ""
    place: str | None = None
    loop: str | None = None
    lot: str | None = None
    walk: str | None = None
    read_at: str | None = None
    """When the value was read, if not now: UTC, Z."""
    h: str = ""

    @property
    def at(self) -> datetime:
        """When the value was read, else when it was written: aware, UTC."""
        return instant(self.read_at or self.t)


class Open(Entry, tag="open", kw_only=True, frozen=True, omit_defaults=True):
    """Line 1 of a segment."""

    format: int
    site: str
    site_digest: str
    writer: str
    seg: int
    prev: str
    seen: dict[str, str]
    app: str
    site_since: str = ""
    """When this laptop changed over to these site files: UTC, Z; empty where it began with them."""
    site_before: str = ""
    """The digest of those it had before."""
    site_by: str = ""
    """Code of who wrote here first with these."""


class Walk(Entry, tag="walk", kw_only=True, frozen=True, omit_defaults=True):
    """A walk began, was left or was done. `walk` holds its id."""

    event: Literal["begun", "left", "done"]
    checklist: str


class Reading(Entry, tag="reading", kw_only=True, frozen=True, omit_defaults=True):
    """A measured value, with the verdict that was shown."""

    measure: str
    value: str
    unit: str
    step: str = ""
    verdict: str = ""
    confirmed: bool = False
    """The person was told the value is odd and kept it."""


class Answer(Entry, tag="answer", kw_only=True, frozen=True, omit_defaults=True):
    """An answer in words, a choice, yes or no, or a plain count without a measure."""

    step: str
    value: str
    verdict: str = ""


class Skipped(Entry, tag="skipped", kw_only=True, frozen=True, omit_defaults=True):
    """A step that was not done, and why."""

    step: str
    reason: str


class Note(Entry, tag="note", kw_only=True, frozen=True, omit_defaults=True):
    """Words about a place, a step, an entry or the farm."""

    text: str
    about: str = ""


class Stocked(Entry, tag="stocked", kw_only=True, frozen=True, omit_defaults=True):
    """A lot came into a place. Mean weight in `unit`."""

    count: int
    mean_weight: str
    unit: str
    origin: str = ""
    estimated: bool = False
    parents: list[str] = field(default_factory=list)
    hatched: str = ""
    """Site-local date on which the lot hatched; empty where nobody said."""
    source: str = ""
    """Of a crop of forage: the pond it was taken from, out of its parents there."""
    permit: str = ""
    """Who let them into a place with sick fish."""


class Moved(Entry, tag="moved", kw_only=True, frozen=True, omit_defaults=True):
    """Fish of a lot went from one place to another."""

    source: str
    target: str
    count: int
    mass: str = ""
    unit: str = "kg"
    cause: str = ""
    permit: str = ""
    """Who let sick fish, or fish in quarantine, be moved."""


class Removed(Entry, tag="removed", kw_only=True, frozen=True, omit_defaults=True):
    """Fish of a lot were sold, culled, sampled for good or lost."""

    count: int
    mass: str = ""
    unit: str = "kg"
    cause: str = ""
    permit: str = ""
    to: str = ""


class Counted(Entry, tag="counted", kw_only=True, frozen=True, omit_defaults=True):
    """Fish of a lot in a place were counted: the number from now on."""

    count: int
    method: str = ""
    estimated: bool = False
    """Worked out from samples, not counted one by one."""


class Died(Entry, tag="died", kw_only=True, frozen=True, omit_defaults=True):
    """Dead fish taken out. Count 0 is a finding too: looked, none dead."""

    count: int
    mass: str = ""
    unit: str = "kg"
    cause: str = ""


class Weighed(Entry, tag="weighed", kw_only=True, frozen=True, omit_defaults=True):
    """A sample: number and total mass, or each weight."""

    count: int
    mass: str
    unit: str
    weights: list[str] = field(default_factory=list)


class Fed(Entry, tag="fed", kw_only=True, frozen=True, omit_defaults=True):
    """Feed given in a place, with what was advised and its reasons as they were shown."""

    product: str
    amount: str
    unit: str
    meal: int = 1
    left: str = ""
    """What was not eaten, in `unit`; empty when it was not looked at."""
    minutes: str = ""
    """From offering until nothing was left, min; empty when it was not timed."""
    advised: str = ""
    reasons: list[str] = field(default_factory=list)
    why: str = ""
    """The person's reason for giving another amount than advised."""
    feed_lot: str = ""
    """The lot this feed was taken from: a crop of forage."""


class Dosed(Entry, tag="dosed", kw_only=True, frozen=True, omit_defaults=True):
    """Alkali or salt given to a loop, with what was advised and its reasons as shown."""

    product: str
    amount: str
    unit: str
    portion: int = 1
    advised: str = ""
    reasons: list[str] = field(default_factory=list)
    why: str = ""


class Exchanged(Entry, tag="exchanged", kw_only=True, frozen=True, omit_defaults=True):
    """Water out and in of a loop; a top-up has volume_out "0"."""

    volume_out: str
    volume_in: str
    unit: str
    salinity_in: str = ""
    advised: str = ""
    reasons: list[str] = field(default_factory=list)
    why: str = ""


class Hatch(Entry, tag="hatch", kw_only=True, frozen=True, omit_defaults=True):
    """Brine-shrimp cysts hatched: how many grams of which tin, and the nauplii counted."""

    cysts: str
    """The name of their lot, as the tin has it."""
    amount: str
    unit: str
    nauplii: int
    nominal: str = ""
    """Nauplii a gram, as the tin says."""


class Enriched(Entry, tag="enriched", kw_only=True, frozen=True, omit_defaults=True):
    """Live food taken out of its enrichment, at the time of this entry."""

    food: str
    hours: str = ""
    """In the enrichment."""
    cold: bool = False
    """Held below 10 degC since."""


class State(Entry, tag="state", kw_only=True, frozen=True, omit_defaults=True):
    """A place in service, isolated from its loop, or drained; its water now."""

    state: Literal["in service", "isolated", "drained"]
    volume: str = ""
    unit: str = "m^3"


class Incident(Entry, tag="incident", kw_only=True, frozen=True, omit_defaults=True):
    """Something broke or was repaired."""

    about: str
    event: Literal["began", "ended"]
    text: str = ""


class Matter(Entry, tag="matter", kw_only=True, frozen=True, omit_defaults=True):
    """Opens a matter, or settles the one `of` names."""

    text: str
    owner: str = ""
    until: str = ""
    again_if: str = ""
    of: str = ""
    """Id of the matter entry this one settles; empty when it opens one."""
    about: str = ""
    """"no feed": feed is withheld in `place` until `until`, site-local "YYYY-MM-DD HH:MM"."""


class Correction(Entry, tag="correction", kw_only=True, frozen=True, omit_defaults=True):
    """Sets keys of an earlier entry, or voids it. The old line stays."""

    of: str
    after: list[str] = field(default_factory=list)
    """The corrections of that entry its author had seen."""
    set: dict[str, str | int | bool | list[str]] = field(default_factory=dict)
    void: bool = False
    why: str = ""


class Handoff(Entry, tag="handoff", kw_only=True, frozen=True, omit_defaults=True):
    """The shift handed on: what it covers and the text as it was shown."""

    covers: str
    """From this instant, UTC, until `t`."""
    text: str
    to: str = ""


class Takeover(Entry, tag="takeover", kw_only=True, frozen=True, omit_defaults=True):
    """The next person took the hand-off `of` over and had seen these matters."""

    of: str
    seen: list[str] = field(default_factory=list)


class Calibrated(Entry, tag="calibrated", kw_only=True, frozen=True, omit_defaults=True):
    """A meter checked against something known: what it read there, and whether that is good.

    `slope` is what it read in percent of what it should, `offset` what it read too much, in the
    measure's unit; one of them is given.
    """

    measure: str
    result: Literal["good", "poor"]
    instrument: str = ""
    """Which meter, such as "handheld 1"."""
    points: list[str] = field(default_factory=list)
    """What it was held into: "air", or the buffers' and standards' values."""
    slope: str = ""
    offset: str = ""
    due: str = ""
    """Site-local date of the next check."""
    step: str = ""


class Signed(Entry, tag="signed", kw_only=True, frozen=True, omit_defaults=True):
    """Who may do what: `person` is signed off for a checklist by whoever writes this."""

    person: str
    task: str
    """Code of the checklist."""
    level: Literal["seen", "done with", "done alone", "taught"]


class Laptop(Entry, tag="laptop", kw_only=True, frozen=True, omit_defaults=True):
    """A laptop of the site was taken in by whoever writes this, or is no longer in use."""

    laptop: str
    """Its writer id."""
    event: Literal["enrolled", "retired"]
    last: str = ""
    """The time of its newest entry known then: UTC, Z. One that writes later is in use again."""


class Clock(Entry, tag="clock", kw_only=True, frozen=True, omit_defaults=True):
    """The laptop's clock jumped against its steady one."""

    jump_s: float


class Damage(Entry, tag="damage", kw_only=True, frozen=True, omit_defaults=True):
    """A line of a segment could not be read; its bytes are kept aside."""

    file: str
    line: int


class Unknown(Struct, kw_only=True, frozen=True):
    """An entry of a kind this version does not know: kept in its file and counted."""

    id: str
    kind: str


Known = (
    Open | Walk | Reading | Answer | Skipped | Note | Stocked | Moved | Removed | Counted | Died
    | Weighed | Fed | Dosed | Exchanged | State | Incident | Matter | Correction | Handoff
    | Takeover | Calibrated | Hatch | Enriched | Signed | Laptop | Clock | Damage
)  # fmt: skip


def instant(text: str) -> datetime:
    """Read a UTC time of an entry ("2026-11-24T07:02:35.323Z") as an aware datetime.

    Raises:
        ValueError: Not a time, or one without its offset.
    """
    at = datetime.fromisoformat(text)
    if at.tzinfo is None:
        raise ValueError(f"{text!r} has no offset from UTC")
    return at


def stamp(at: datetime) -> str:
    """Write an aware datetime as entries hold it: UTC, milliseconds, Z."""
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
