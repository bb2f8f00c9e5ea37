"""What a value means: ok, watch or act by today's limits, and what to do.

A value inside the target band is ok, outside the act band act, between them watch; a value on a
limit is still inside.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final, Literal

from msgspec import Struct

from rounds.reason import Reason, Reasons, Value
from rounds.site.measures import MEASURES
from rounds.site.model import Limits, Place, Site
from rounds.units import Amount, convert, shown, written

Word = Literal["ok", "watch", "act", "unknown"]
SIGNS: Final[dict[Word, str]] = {
    "ok": "OK",
    "watch": "! WATCH",
    "act": "X ACT NOW",
    "unknown": "not done",
}
RANK: Final[dict[Word, int]] = {"ok": 0, "unknown": 1, "watch": 2, "act": 3}
REREAD_MIN: Final[dict[Word, int]] = {"watch": 30, "act": 15}
"""Minutes until a value out of its band is read again (common practice)."""
_TEST_KIT_H: Final = 24.0
"""A measure that counts for longer is a test, not a probe: on watch it waits for the next round."""
NAMES: Final = {
    "ammonia": "NH3-N", "co2": "CO2", "oxygen_percent": "Oxygen", "ph": "pH", "tan": "TAN",
}  # fmt: skip
"""Short names of measures, for a line of text."""


def in_words(measure: str) -> str:
    """Return a measure's name as it stands inside a sentence; another code as it is."""
    info = MEASURES.get(measure)
    name = NAMES.get(measure, info.name) if info else measure
    return name.lower() if name[1:].islower() else name


def with_unit(value: str, unit: str) -> str:
    """Return a stored value with its unit, as it was typed."""
    return f"{value} {written(unit)}".rstrip(" ")


def worst(words: Iterable[Word]) -> Word:
    """Return the word that governs: act, then watch, then unknown, then ok; unknown of none."""
    return max(words, key=RANK.__getitem__, default="unknown")


def as_word(text: str) -> Word:
    """Return the verdict an entry holds, unknown for any other text."""
    return next((word for word in RANK if word == text), "unknown")


def reread_at(measure: str, verdict: Word, at: datetime) -> datetime | None:
    """Return when a value with this verdict is to be read again, None when the next round does."""
    minutes = REREAD_MIN.get(verdict)
    info = MEASURES[measure]
    if minutes is None or info.slow or (verdict == "watch" and info.stale_h > _TEST_KIT_H):
        return None
    return at + timedelta(minutes=minutes)


class Judgement(Struct, frozen=True):
    """A value judged. `says` names value and limit, `do` what to do about it."""

    measure: str
    place: str
    verdict: Word
    says: str
    at: datetime
    do: str = ""
    reasons: Reasons = ()
    value: float | None = None
    unit: str = ""
    limits: Limits | None = None
    reread_at: datetime | None = None

    @property
    def sentence(self) -> str:
        """The whole of it: "Oxygen 3.9 mg/L, below 4.0: Aerate now, stop feeding ..."."""
        return f"{self.says}: {self.do}" if self.do else f"{self.says}."

    @property
    def unlimited(self) -> bool:
        """Whether it is a value that no limit judges: it says nothing about its place."""
        return self.verdict == "ok" and self.value is not None and self.limits is None


def word_of(site: Site, place: Place, measure: str, value: float, at: datetime) -> Word:
    """Return the verdict of one value alone, in its measure's unit; see `judge`."""
    limits = site.limits_at(measure, place, at)
    return "ok" if limits is None else band(value, limits)[0]


def judge(
    site: Site,
    place: Place,
    measure: str,
    value: float,
    at: datetime,
    unit: str | None = None,
) -> Judgement:
    """Judge one value by the limits that govern it in a place at an hour of the site's day.

    Args:
        site: The site, with its limits.
        place: Where it was read.
        measure: A code of the list of measures.
        value: The value, in `unit`.
        at: When it was read.
        unit: A unit of the measure's dimension; the measure's own when left out.

    Returns:
        The judgement; a measure without limits here is ok, and says that it has none.

    Raises:
        UnitError: The unit is of another dimension.
    """
    info = MEASURES[measure]
    own = value if unit is None else convert(value, unit, info.unit)
    limits = site.limits_at(measure, place, at)
    name = NAMES.get(measure, info.name)
    amount = Figure(info.decimals, info.unit, site.display_units)
    if limits is None:
        says = f"{name} {amount.with_unit(own)}, no limits set here"
        return Judgement(measure, place.code, "ok", says, at, value=own, unit=info.unit)
    word, side, edge = band(own, limits)
    says = f"{name} {amount.with_unit(own, edge)}"
    if edge is not None:
        says += f", {side} {amount.bare(edge)}"
    do = {"watch": limits.do_watch, "act": limits.do_act or limits.do_watch}.get(word, "")
    again = None if info.derived else reread_at(measure, word, at)
    reasons = [
        Reason(
            "{name} {value} in {place}: {word}; target {target}, act outside {act}",
            {
                "name": name,
                "value": amount.with_unit(own, edge),
                "place": place.code,
                "word": SIGNS[word],
                "target": span(
                    limits.target_low, limits.target_high, info.unit, site.display_units
                ),
                "act": span(limits.act_low, limits.act_high, info.unit, site.display_units),
            },
            limits.source,
        )
    ]
    if again is not None:
        values: dict[str, Value] = {"n": REREAD_MIN[word], "word": SIGNS[word]}
        reasons.append(Reason("Read again {n} minutes after {word}", values, "common practice"))
    return Judgement(
        measure, place.code, word, says, at, do, tuple(reasons), own, info.unit, limits, again
    )


# -- figures and bands in words --------------------------------------------------------------------


def band(
    value: float, limits: Limits
) -> tuple[Literal["ok", "watch", "act"], Literal["", "below", "above"], float | None]:
    """Return the verdict of a value in its measure's unit, the side it is out on, the limit passed.

    A value on a limit is still inside it.
    """
    if limits.act_low is not None and value < limits.act_low:
        return "act", "below", limits.act_low
    if limits.act_high is not None and value > limits.act_high:
        return "act", "above", limits.act_high
    if limits.target_low is not None and value < limits.target_low:
        return "watch", "below", limits.target_low
    if limits.target_high is not None and value > limits.target_high:
        return "watch", "above", limits.target_high
    return "ok", "", None


def aim(limits: Limits | None, unit: str) -> str:
    """Return the target band in the unit a person types: "aim 5 or more mg/L"; empty if none."""
    if limits is None or (limits.target_low is None and limits.target_high is None):
        return ""
    own = MEASURES[limits.measure].unit
    return f"aim {_span(limits.target_low, limits.target_high, own, unit)}"


def span(low: float | None, high: float | None, unit: str, display: str = "metric") -> str:
    """Return a band as words: "4 to 8 mg/L", "5 or more mg/L", "not set"."""
    if low is None and high is None:
        return "not set"
    return _span(low, high, unit, shown(Amount(0.0, unit), display).unit)


def _span(low: float | None, high: float | None, unit: str, to: str) -> str:
    edges = [f"{round(convert(e, unit, to), 4):g}" for e in (low, high) if e is not None]
    word = "" if len(edges) == 2 else " or less" if low is None else " or more"
    return with_unit(f"{' to '.join(edges)}{word}", to)


class Figure(Struct, frozen=True):
    """Writes values of one measure in the site's display units.

    A digit more is written where rounding would hide that a value has passed a limit.
    """

    decimals: int
    unit: str
    display: str

    def rounded(self, value: float) -> str:
        """Return the number alone, with the usual digits of its measure."""
        return f"{shown(Amount(value, self.unit), self.display).value:.{self.decimals}f}"

    def bare(self, value: float) -> str:
        """Return the number alone, with the digits it needs."""
        number = shown(Amount(value, self.unit), self.display).value
        text = f"{number:.{self.decimals}f}"
        return text if abs(float(text) - number) < 1e-9 else f"{round(number, 4):g}"

    def with_unit(self, value: float, limit: float | None = None) -> str:
        """Return the number with its unit, told apart from a limit it has passed."""
        amount, digits = shown(Amount(value, self.unit), self.display), self.decimals
        if limit is not None:
            edge = shown(Amount(limit, self.unit), self.display).value
            while digits < 6 and f"{amount.value:.{digits}f}" == f"{edge:.{digits}f}":
                digits += 1
        return format(amount, f".{digits}f")
