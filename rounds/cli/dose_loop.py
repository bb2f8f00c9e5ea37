"""`rounds dose WHAT LOOP`: what a loop of the site needs today."""

from __future__ import annotations

import argparse
from typing import Final

from rounds.cli.dose_words import as_row, tell
from rounds.cli.failure import Failure
from rounds.cli.opened import Opened, opened
from rounds.cli.out import say, why
from rounds.day.fold.corrections_draft import void
from rounds.day.fold.state import DosedAt
from rounds.day.loops import doses
from rounds.day.loops.dose_lines import DoseLine, Kind, last_today
from rounds.day.loops.doses import DoseSheet
from rounds.day.when import clock
from rounds.units import Amount, shown

KINDS: Final[dict[str, tuple[Kind, ...]]] = {
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
    with opened(asked, writes=asked.take_back) as farm:
        loop = _loop(farm, asked.loop)
        if asked.take_back:
            _take_back(farm, loop, asked)
            return 0
        sheets = doses.today(farm.site, farm.farm, farm.now, farm.here, _targets(asked))
        sheet = next((one for one in sheets if one.loop == loop), None)
        if sheet is None:
            raise Failure(f"loop {loop} has no fish: it is not dosed")
        lines = [line for line in sheet.lines if line.kind in KINDS[asked.kind]]
        if asked.json:
            rows = [_row(sheet, line) for line in lines or _none(sheet, asked.kind)]
            farm.emit("dose", rows)
            return 0
        _show(farm, sheet, lines)
    return 0


def _take_back(farm: Opened, loop: str, asked: argparse.Namespace) -> None:
    """Take back what was last given of a kind today."""
    zone = farm.site.timezone
    last = last_today(farm.site, farm.farm, loop, farm.now, KINDS[asked.kind])
    if last is None:
        raise Failure(f"nothing of this kind was given to loop {loop} today")
    entry = farm.write(void(farm.farm, last.id, asked.why))
    if isinstance(last, DosedAt):
        product = farm.site.products.get(last.product)
        what = f"{last.amount_g:g} g {product.name if product else last.product}"
    else:
        volume = shown(Amount(last.volume_in_m3, "m^3"), farm.site.display_units)
        what = f"{volume:.2f} of water let in"
    if asked.json:
        row = {"loop": loop, "of": last.id, "id": entry.id, "what": what}
        farm.emit("dose", [row])
        return
    say(f"Taken back: loop {loop}, {what}, {last.by} {clock(last.at, zone)}.")


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


def _none(sheet: DoseSheet, kind: str) -> list[DoseLine]:
    """Return a row that says why there is no dose; none where nothing is missing."""
    lacking = tuple(f"Measure: {text}" for text in sheet.missing)
    unit = "g" if kind in ("alkalinity", "salt") else "L"
    return [DoseLine(KINDS[kind][0], unit=unit, refused=lacking)] if lacking else []


def _row(sheet: DoseSheet, line: DoseLine) -> dict[str, object]:
    return {
        "loop": sheet.loop,
        **as_row(line),
        "volume_m3": sheet.water.volume_m3,
        "missing": sheet.missing,
        "cautions": (*sheet.unheard, *sheet.cautions, *line.cautions),
        "given": line.given,
    }


def _show(farm: Opened, sheet: DoseSheet, lines: list[DoseLine]) -> None:
    loop = farm.site.loops[sheet.loop]
    known = sheet.water.volume_m3
    volume = "unknown" if known is None else f"{shown(Amount(known, 'm^3'), sheet.display):.1f}"
    say(f"Loop {loop.code}  {loop.name}  water today {volume}")
    for text in sheet.missing:
        say(f"Measure: {text}", hang=2)
    for text in (*sheet.unheard, *sheet.cautions):
        say(f"! {text}", hang=2)
    for number, line in enumerate(lines):
        say("", *(["Or, in its place:"] if number and line.kind == lines[0].kind else []))
        tell(line, line.reasons[len(sheet.shared) :], sheet.display)
    if lines:
        say("", "Water and readings:")
        why(sheet.shared, sheet.display)
    if not lines:
        say("Nothing of this kind is worked out for this loop today.")
