"""The dose sheet: loop by loop what may be added today, in portions, and what it will do."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.content import Content

from rounds.day.fold.state import DosedAt, ExchangedAt
from rounds.day.loops.dose_lines import last_today
from rounds.day.loops.doses import MEANT_WHYS, OTHER_WHYS, DoseLine, DoseSheet, dosed, today
from rounds.day.readings.judgement import NAMES
from rounds.day.when import clock, local_day
from rounds.reports.told import Told
from rounds.screens.change import ask_amount
from rounds.screens.giving import GivingPage
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, flagged, grams, ink, paragraphs, row
from rounds.screens.keys import bind, digits
from rounds.screens.listing import Row
from rounds.screens.why import why
from rounds.site.measures import MEASURES
from rounds.units import Amount, shown

_LOW: Final = 20
"""Fewer rows than these have none empty above the water."""


class DosePage(GivingPage):
    """One loop at a time; Enter writes down that the next portion was given as advised."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("right", "loop_by(1)", "next loop"),
        bind("left", "loop_by(-1)", "loop before", show=False),
        *digits("loop", "that loop", show=False),
    ]
    about = (
        "Up and Down mark a line, Left and Right change the loop. Enter writes down that the next "
        "portion of the marked line was given as advised; E is for another amount, with a reason. "
        "Once something was given to this loop today, U takes back the last of it."
    )
    meant = MEANT_WHYS

    def __init__(self) -> None:
        super().__init__("DOSE")
        self.at = 0
        self.sheets: tuple[DoseSheet, ...] = ()

    @property
    def sheet(self) -> DoseSheet | None:
        """The loop in sight."""
        return self.sheets[self.at] if self.sheets else None

    @property
    def line(self) -> DoseLine | None:
        """The marked line."""
        return self.sheet.lines[self.chosen] if self.sheet and self.marked else None

    def heading(self) -> Content:
        """Return which loop of how many."""
        sheet = self.sheet
        if sheet is None:
            return Content("")
        name = self.desk.site.loops[sheet.loop].name
        return ink(f"Loop {sheet.loop}  {name}   {self.at + 1} of {len(self.sheets)}", BOLD)

    def listed(self) -> Sequence[Row]:
        """Work the doses out as the farm stands now; the loop in sight stays in sight."""
        desk, loop = self.desk, self.sheet.loop if self.sheet else ""
        self.sheets = today(desk.site, desk.farm, desk.now(), desk.here)
        self.at = next((n for n, one in enumerate(self.sheets) if one.loop == loop), 0)
        self.nothing = "Nothing can be worked out yet" if self.sheets else "No loop has fish"
        return self._lines()

    def heads(self) -> Sequence[Content]:
        """Return the loop's water and readings, and what to know before anything is given."""
        if (sheet := self.sheet) is None:
            return []
        low = self.app.size.height < _LOW
        first = [
            line for text in sheet.first for line in flagged(text, STYLES["watch"], self.width, 2)
        ]
        return [*([] if low else [Content("")]), *self._water_rows(sheet), *first]

    def _water_rows(self, sheet: DoseSheet) -> list[Content]:
        volume, display = sheet.water.volume_m3, sheet.display
        water = "not known" if volume is None else f"{shown(Amount(volume, 'm^3'), display):.1f}"
        rows = [row("   ", cell("Water today", 14, QUIET), ink(water, BOLD))]
        read = "; ".join(
            f"{NAMES.get(one.measure, MEASURES[one.measure].name)} {one.typed} {one.place} {age}"
            for one, age in sheet.readings
        )
        head = row("   ", cell("Read", 14, QUIET))
        folded = ink(read or "nothing fresh enough").wrap(self.width - 18)
        return [*rows, *(row(head if not n else " " * 17, part) for n, part in enumerate(folded))]

    def _lines(self) -> Sequence[Row]:
        """Return a row a line of the loop; the name has what plan and given leave."""
        if (sheet := self.sheet) is None:
            return ()
        told = [(self._plan(line), _given(line)) for line in sheet.lines]
        plan, given = (max((len(pair[n]) for pair in told), default=0) + 2 for n in (0, 1))
        name = min(max(self.width - 27 - plan - given, 8), 40)
        return [
            Row(
                row(
                    cell(line.kind.capitalize(), 13, "bold"), cell(line.name or "", name),
                    cell(_amount(line), 9, align="right"), "  ", cell(does, plan),
                    ink(gave, QUIET),
                ),
                _told(line),
                key=f"{sheet.loop} {line.kind} {line.product}",
                loud=tuple(f"NOT NOW {text}" for text in line.refused),
                word="act",
            )
            for line, (does, gave) in zip(sheet.lines, told, strict=True)
        ]  # fmt: skip

    def _plan(self, line: DoseLine) -> str:
        parts = line.portions
        if not parts:
            plan = "nothing today" if not line.refused else "not advised"
        elif line.next_at is not None:
            zone = self.desk.site.timezone
            later = local_day(line.next_at, zone) != local_day(self.desk.now(), zone)
            at = clock(line.next_at, zone)
            plan = f"not before {at} tomorrow" if later else f"next not before {at}"
        elif line.kind == "exchange":
            plan = "if wanted"
        elif len(parts) == 1:
            plan = "at once"
        else:
            plan = f"{_each(parts, line.unit)}, {line.hours_between:g} h apart"
        return plan

    def detail_rows(self) -> list[Content]:
        """Return what is missing, what belongs to the marked line, and what to mind in the loop."""
        missing, cautions = (self.sheet.missing, self.sheet.cautions) if self.sheet else ((), ())
        rows = [Content("")] if missing else []
        for text in missing:
            rows += flagged(f"MISSING {text}", STYLES["watch"], self.width)
        others = [text for text in cautions if text not in (self.sheet.first if self.sheet else ())]
        return [*rows, *super().detail_rows(), *paragraphs(others, self.width - 2, 2)]

    @property
    def last_given(self) -> DosedAt | ExchangedAt | None:
        """The last that was given to this loop today, product or water."""
        desk, sheet = self.desk, self.sheet
        return last_today(desk.site, desk.farm, sheet.loop, desk.now()) if sheet else None

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only loops there are; the reasons of the water where no line is marked."""
        if action == "loop_by":
            return len(self.sheets) > 1
        if action == "loop":
            return 1 < len(self.sheets) >= int(str(parameters[0]))
        if action == "why":
            return self.sheet is not None
        return super().check_action(action, parameters)

    def action_loop_by(self, by: int) -> None:
        """Show another loop."""
        self.action_loop((self.at + by) % len(self.sheets) + 1)

    def action_loop(self, digit: int) -> None:
        """Show the loop of this digit."""
        self.at, self.chosen = digit - 1, 0
        self.found = self._lines()
        self.action_move(0)

    async def action_give(self) -> None:
        """Write down the next portion as advised, or keep what was told to be odd."""
        line, sheet = self.line, self.sheet
        if await self.answered() or sheet is None:
            return
        if line is None or not line.portions:
            said = " ".join(line.refused) if line else ""
            self.tell(said or "Nothing to give here today", "watch")
            return
        await self._keep(sheet, line, None, "")

    def action_change(self) -> None:
        """Ask for another amount, and why."""
        line, sheet = self.line, self.sheet
        if line is None or sheet is None:
            return
        advised = mass(line.portions[0], line.unit) if line.portions else "nothing"
        says = [f"Advised now: {advised}.", *line.refused, *line.cautions]
        question = f"Loop {sheet.loop}, {line.kind}: how much was given?"
        then = partial(self._keep, sheet, line)
        ask_amount(self, "DOSE", question, says, line.unit, OTHER_WHYS, then)

    async def _keep(
        self, sheet: DoseSheet, line: DoseLine, amount: Decimal | None, why: str
    ) -> None:
        """Keep a portion of the line that was asked about, whatever is marked by now."""
        given = amount if amount is not None else Decimal(f"{line.portions[0]:.10g}")
        next_one = f"   next portion in {line.hours_between:g} h" if len(line.portions) > 1 else ""
        says = f"Loop {sheet.loop}: {given} {line.unit} {line.name} given{next_one}"
        await self.given(lambda why, sure: dosed(line, sheet, 1, amount, why, sure), says, why)

    def action_undo(self) -> None:
        """Take back what was given last to this loop today."""
        given, sheet = self.last_given, self.sheet
        if given is None or sheet is None:
            return
        at = clock(given.at, self.desk.site.timezone)
        if isinstance(given, DosedAt):
            product = self.desk.site.products.get(given.product)
            what = f"{grams(given.amount_g)} {product.name if product else given.product}"
        else:
            what = f"{given.volume_in_m3 * 1000:,.0f} L of water".replace(",", " ")
        self.take_back(given.id, f"{what} of {at} in loop {sheet.loop}")

    def action_why(self) -> None:
        """Open the reasons of the marked dose, or of the loop's water where none is marked."""
        if self.marked is None and (sheet := self.sheet):
            self.app.push_screen(why(self.desk, f"Loop {sheet.loop}: water", sheet.water.reasons))
        else:
            super().action_why()


def _told(line: DoseLine) -> Told:
    says, title = [f"! {text}" for text in line.cautions], ": nothing to give now"
    if line.portions:
        when = "next" if line.next_at else "give now"
        first = f"{mass(line.portions[0], line.unit)} {line.name}".rstrip()
        title = f" {mass(line.amount, line.unit)}: {when} {first}"
    says += [f"Expected: {text}" for text in line.expected]
    says += [*line.how, *(f"Afterwards: {text}" for text in line.measure_after)]
    return Told(line.kind.capitalize() + title, tuple(says), line.reasons)


def mass(amount: float, unit: str) -> str:
    """Return an amount of a dose in its unit."""
    return grams(amount) if unit == "g" else f"{amount:,.0f} {unit}".replace(",", " ")


def _each(parts: tuple[float, ...], unit: str) -> str:
    low, high = min(parts), max(parts)
    if low == high:
        return f"{len(parts)} x {mass(low, unit)}"
    if len(parts) < 4:
        return f"{' + '.join(f'{part:.0f}' for part in parts)} {unit}"
    return f"{len(parts)} x {low:.0f} to {high:.0f} {unit}"


def _given(line: DoseLine) -> str:
    return f"{len(line.given)} given" if line.given else ""


def _amount(line: DoseLine) -> str:
    return mass(line.amount, line.unit) if line.portions else "-"
