"""The sheet of a larval tank, and what may be typed for it beside the records."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from rounds.day.larvae.look import Look
from rounds.fish.larvae import LarvalNumber
from rounds.reason import Reasons
from rounds.site.model import Screen, Weaning

UNTIL_NEXT_H: Final = 8.0
"""Hours of light until the next top-up where nobody says (common practice)."""


class Asked(Struct, frozen=True):
    """What is typed beside the records; None is not typed. `counts` are of `volume_ml` each."""

    food: str = ""
    counts: Sequence[int] = ()
    volume_ml: float = 1.0
    dilution: float = 1.0
    target_per_ml: float | None = None
    culture_per_ml: float | None = None
    hours: float = UNTIL_NEXT_H
    day: int | None = None
    """Days after hatch."""
    columns: Sequence[int] = ()
    """Larvae in each column sample of `column_l`."""
    column_l: float = 1.0
    precision_percent: float = 10.0


class Sheet(Struct, frozen=True):
    """A larval tank: density with its interval, what to add, who is left, what is due by age."""

    place: str
    food: str
    larvae: int
    larvae_estimated: bool
    days_after_hatch: int | None
    per_ml: float | None = None
    low_per_ml: float | None = None
    high_per_ml: float | None = None
    target_per_ml: float | None = None
    no_feed: bool = False
    """Something stops feeding: nothing is worked out to go in, the cautions say why."""
    culture_per_ml: float | None = None
    add_culture_l: float | None = None
    add_rinsed_l: float | None = None
    eaten_until_next: float | None = None
    need_until_next: float | None = None
    add_culture_until_next_l: float | None = None
    add_rinsed_until_next_l: float | None = None
    portions: int = 1
    """In so many equal parts over the hours, so that none lifts the tank above what is aimed at;
    the litres until the next are those of one."""
    part_animals: float = 0.0
    """In one of them."""
    culture_place: str | None = None
    asks_l: float = 0.0
    """Of that culture until the next top-up, before what it may give bounds it."""
    given_today: float = 0.0
    """Animals of this food on record as given today."""
    survival: float | None = None
    """By the columns typed, with its ends, else by the ledger."""
    survival_low: float | None = None
    survival_high: float | None = None
    weight_start_g: float | None = None
    weight_now_g: float | None = None
    growth_percent_day: float | None = None
    weaning: tuple[Weaning, ...] = ()
    screens: tuple[Screen, ...] = ()
    skimmer: str = ""
    coming: tuple[str, ...] = ()
    """What changes within the next days, soonest first."""
    look: Look | None = None
    number: LarvalNumber | None = None
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reasons: Reasons = ()
