"""How a dose is printed, of a loop or from bare figures: as text, and as a row of JSON."""

from __future__ import annotations

from typing import Final

from rounds.cli.out import say, why
from rounds.day.loops.dose_lines import DoseLine
from rounds.reason import Reasons

KILOGRAMS_FROM: Final = 10_000.0
_MOVED: Final = {"fresh water": " out, then in", "exchange": " out, then in", "top-up": " in"}


def as_row(line: DoseLine) -> dict[str, object]:
    """Return a dose as JSON has it: `mass_g` of a product, or `volume_l` of water."""
    amount = "mass_g" if line.unit == "g" else "volume_l"
    return {
        "kind": line.kind,
        "product": line.product or ("water" if line.unit == "L" else None),
        "name": line.name,
        amount: line.amount,
        "portions": line.portions,
        "hours_between": line.hours_between,
        "after": line.after if line.portions else {},
        "expected": line.expected,
        "how": line.how,
        "measure_after": line.measure_after,
        "reasons": line.reasons,
        "cautions": line.cautions,
        "refused": line.refused,
    }


def tell(line: DoseLine, reasons: Reasons, display: str) -> None:
    """Print what and how much, the steps, what to mind and expect, what to look at, and why."""
    name = line.name or line.kind
    say(f"{name[0].upper()}{name[1:]}: {_amount(line)}", hang=2)
    for refused in line.refused:
        say(f"  Because: {refused}", hang=2)
    for number, step in enumerate(line.how, 1):
        say(f"  {number}. {step}", hang=3)
    for caution in line.cautions:
        say(f"  ! {caution}", hang=2)
    if line.expected:
        say(f"  Expect: {' '.join(line.expected)}", hang=2)
    for after in line.measure_after:
        say(f"  Afterwards: {after}", hang=2)
    say("  Why:")
    why(reasons, display)


def _amount(line: DoseLine) -> str:
    if not line.portions:
        return "REFUSED, give nothing" if line.refused else "nothing today"
    unit, size, digits = line.unit, 1.0, 0 if line.amount >= 10 else 1
    if unit == "g" and line.amount >= KILOGRAMS_FROM:
        unit, size, digits = "kg", 1000.0, 2
    total, *each = (f"{a / size:.{digits}f} {unit}" for a in (line.amount, *line.portions))
    total += _MOVED.get(line.kind, "")
    count = len(each)
    if count == 1:
        return total
    parts = " + ".join(each)
    if count > 4:
        parts = f"{each[0]} each" if each[0] == each[-1] else f"{each[0]} to {each[-1]} each"
    return f"{total}, today in {count} portions {line.hours_between:g} h apart: {parts}"
