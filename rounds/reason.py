"""The reason of a number: what went in, which rule, from where. One place turns it into words."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

from rounds.units import Amount, shown

Value = float | int | str | Amount


class Reason(Struct, frozen=True):
    """One step of a calculation, in the order it was applied.

    `says` is a format template over `values` ("{biomass:.1f} at {rate:.2f} % a day = {feed:.0f}");
    a value may be a number, text, or an `Amount`, which prints with its unit and follows the
    site's display units. `source` names the equation or rule, or says "common practice".
    """

    says: str
    values: Mapping[str, Value] = field(default_factory=dict)
    source: str = ""


Reasons = tuple[Reason, ...]


def render(reason: Reason, display: str = "metric") -> str:
    """Return the reason as one line of text, with its source in brackets.

    Args:
        reason: The reason.
        display: "metric" or "us".

    Returns:
        One line, without markup.
    """
    values = {
        k: shown(v, display) if isinstance(v, Amount) else v for k, v in reason.values.items()
    }
    line = reason.says.format(**values)
    return f"{line} [{reason.source}]" if reason.source else line


def lines(reasons: Reasons, display: str = "metric") -> list[str]:
    """Return every reason as text, in order."""
    return [render(reason, display) for reason in reasons]
