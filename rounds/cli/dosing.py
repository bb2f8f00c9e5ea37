"""`rounds dose WHAT LOOP`: what a loop of the site needs today."""

from __future__ import annotations

import argparse
from typing import Final

from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened
from rounds.cli.out import emit, say, why
from rounds.day import doses
from rounds.day.doses import DoseLine, DoseSheet
from rounds.units import Amount, shown

KINDS: Final = {
    "alkalinity": ("alkalinity",), "salt": ("salt",), "exchange": ("fresh water", "exchange"),
    "topup": ("top-up",),
}  # fmt: skip
_TARGETS: Final = {
    "target": "salinity", "part": "exchange", "salinity_in": "new_salinity",
    "temperature_in": "new_temperature",
}  # fmt: skip


def run(asked: argparse.Namespace) -> int:
    """Print the doses of one kind of one loop."""
    if asked.kind not in KINDS:
        raise Failure("chlorine is taken out of a batch, not of a loop: give --volume, --chlorine")
    with opened(asked, writes=False) as farm:
        loop = _loop(farm, asked.loop)
        sheets = doses.today(farm.site, farm.farm, farm.now, farm.here, _targets(asked))
        sheet = next((one for one in sheets if one.loop == loop), None)
        if sheet is None:
            raise Failure(f"loop {loop} has no fish: it is not dosed")
        lines = [line for line in sheet.lines if line.kind in KINDS[asked.kind]]
        if getattr(asked, "json", False):
            rows = [_row(sheet, line) for line in lines]
            emit("dose", farm.site.id, farm.now, rows, farm.site.display_units)
            return 0
        _show(farm, sheet, lines)
    return 0


def _targets(asked: argparse.Namespace) -> dict[str, float]:
    found = {
        name: value
        for option, name in _TARGETS.items()
        if (value := getattr(asked, option, None)) is not None
    }
    if asked.kind == "alkalinity" and "salinity" in found:
        found["alkalinity"] = found.pop("salinity")
    return found


def _loop(farm: Opened, typed: str) -> str:
    codes = {code.casefold(): code for code in farm.site.loops}
    code = codes.get(typed.casefold())
    if code is None:
        raise Failure(f"there is no loop {typed}: {', '.join(farm.site.loops)}")
    return code


def _row(sheet: DoseSheet, line: DoseLine) -> dict[str, object]:
    return {
        "loop": sheet.loop, "kind": line.kind, "product": line.product, "amount": line.amount,
        "unit": line.unit, "portions": line.portions, "hours_between": line.hours_between,
        "volume_m3": sheet.water.volume_m3, "expected": line.expected, "how": line.how,
        "measure_after": line.measure_after, "missing": sheet.missing,
        "cautions": (*sheet.cautions, *sheet.unheard, *line.cautions), "refused": line.refused,
        "given": line.given, "reasons": line.reasons,
    }  # fmt: skip


def _show(farm: Opened, sheet: DoseSheet, lines: list[DoseLine]) -> None:
    loop = farm.site.loops[sheet.loop]
    known = sheet.water.volume_m3
    volume = "unknown" if known is None else f"{shown(Amount(known, 'm^3'), sheet.display):.1f}"
    say(f"Loop {loop.code}  {loop.name}  water today {volume}")
    for read, age in sheet.readings:
        say(f"  {read.measure} {read.typed} {read.unit}, {read.place} {age}", hang=2)
    for text in sheet.missing:
        say(f"Measure: {text}", hang=2)
    for text in (*sheet.unheard, *sheet.cautions):
        say(f"! {text}", hang=2)
    for line in lines:
        say("", f"{line.kind.capitalize()}{f', {line.name}' if line.name else ''}: {_amount(line)}")
        for title, texts in (
            ("REFUSED", line.refused), ("Expect", line.expected), ("Caution", line.cautions),
            ("How", line.how), ("Afterwards", line.measure_after),
        ):  # fmt: skip
            for text in texts:
                say(f"{title}: {text}", hang=2)
        say("Why:")
        why(line.reasons, sheet.display)
    if not lines:
        say("Nothing of this kind is worked out for this loop today.")


def _amount(line: DoseLine) -> str:
    if not line.portions:
        return "none"
    parts = " + ".join(f"{part:.0f}" for part in line.portions)
    apart = f", {line.hours_between:g} h apart" if len(line.portions) > 1 else ""
    total = f"{line.amount:.0f} {line.unit}"
    return total if len(line.portions) == 1 else f"{total} in portions of {parts}{apart}"
