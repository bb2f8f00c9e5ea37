"""Limits in figures and words: which band a value lies in, what is aimed at, how it is written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from rounds.site.model import Limits
from rounds.units import Amount, convert, shown

BARE: Final = ("1", "pH", "SG")
"""Units that are not written after a number."""


def band(
    value: float, limits: Limits
) -> tuple[Literal["ok", "watch", "act"], Literal["", "below", "above"], float | None]:
    """Return the verdict of a value in the limits' unit, the side it is out on, the limit passed.

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
    return f"aim {_span(limits.target_low, limits.target_high, limits.unit, unit)}"


def span(low: float | None, high: float | None, unit: str, display: str = "metric") -> str:
    """Return a band as words: "4 to 8 mg/L", "5 or more mg/L", "not set"."""
    if low is None and high is None:
        return "not set"
    return _span(low, high, unit, shown(Amount(0.0, unit), display).unit)


def _span(low: float | None, high: float | None, unit: str, to: str) -> str:
    edges = [f"{round(convert(e, unit, to), 4):g}" for e in (low, high) if e is not None]
    word = "" if len(edges) == 2 else " or less" if low is None else " or more"
    after = "" if to in BARE else f" {to}"
    return f"{' to '.join(edges)}{word}{after}"


@dataclass(frozen=True, slots=True)
class Figure:
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
