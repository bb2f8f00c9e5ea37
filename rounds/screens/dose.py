"""The dose sheet: loop by loop what may be added today, in portions, and what it will do."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal
from functools import partial
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.doses import DoseLine, DoseSheet, dosed, today
from rounds.day.judgement import NAMES
from rounds.day.slips import Unsure
from rounds.day.state import DosedAt, ExchangedAt
from rounds.day.when import clock, local_day
from rounds.screens.change import DOSE_WHYS, ask_amount
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, flagged, grams, ink, paragraphs, row
from rounds.screens.keys import bind, digits
from rounds.screens.lines import Lines
from rounds.screens.sheet import SheetPage
from rounds.screens.why import why
from rounds.site.measures import MEASURES
from rounds.units import Amount, shown


class DosePage(SheetPage):
    """One loop at a time; Enter writes down that the next portion was given as advised."""

    CSS_PATH = "dose.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "give", "given"),
        bind("e", "change", "other amount"),
        bind("u", "undo", "take back"),
        bind("right", "loop_by(1)", "next loop"),
        bind("left", "loop_by(-1)", "loop before", show=False),
        *digits("loop", "that loop", show=False),
        bind("page-down", "scroll(8)", "more of the marked line", show=False),
        bind("page-up", "scroll(-8)", "back up", show=False),
        bind("up", "move(-1)", "line above", show=False),
        bind("down", "move(1)", "line below", show=False),
        bind("w", "why", "why"),
        bind("escape", "close", "board"),
    ]
    about = (
        "Up and Down mark a line, Left and Right change the loop. Enter writes down that the next "
        "portion of the marked line was given as advised; E is for another amount, with a reason; "
        "U takes back the last that was given to this loop today."
    )

    def __init__(self) -> None:
        super().__init__("DOSE")
        self.at = 0
        self.chosen = 0
        self.sheets: tuple[DoseSheet, ...] = ()
        self.water = Lines("water")
        self.table = Lines("table")
        self.detail = Lines("detail")

    def rows(self) -> ComposeResult:
        """Yield the loop's water and readings, its lines, and what belongs to the marked one."""
        yield self.water
        yield self.table
        yield self.detail

    @property
    def sheet(self) -> DoseSheet | None:
        """The loop in sight."""
        return self.sheets[self.at] if self.at < len(self.sheets) else None

    @property
    def line(self) -> DoseLine | None:
        """The marked line."""
        sheet = self.sheet
        return sheet.lines[self.chosen] if sheet and self.chosen < len(sheet.lines) else None

    def heading(self) -> Content:
        """Return which loop of how many."""
        sheet = self.sheet
        if sheet is None:
            return Content("")
        name = self.desk.site.loops[sheet.loop].name
        return ink(f"Loop {sheet.loop}  {name}   {self.at + 1} of {len(self.sheets)}", BOLD)

    def show(self) -> None:
        """Work the doses out as the farm stands now and show one loop's."""
        desk = self.desk
        if self.moved():
            loop, marked = self.sheet.loop if self.sheet else "", _key(self.line)
            self.sheets = today(desk.site, desk.farm, desk.now(), desk.here)
            self.at = next((n for n, one in enumerate(self.sheets) if one.loop == loop), 0)
            known = self.sheet.lines if self.sheet else ()
            self.chosen = next((n for n, line in enumerate(known) if _key(line) == marked), 0)
        sheet = self.sheet
        if sheet is None:
            self.table.show([ink("  No loop with fish: nothing to dose")])
            return
        water = self._water_rows(sheet)
        self.water.styles.height = len(water) + 1
        self.water.show(water)
        told = [(self._plan(line), _given(line)) for line in sheet.lines]
        lines = self._line_rows(sheet.lines, told)
        self.table.show(lines or [ink("   Nothing can be worked out yet", QUIET)], self.chosen)
        self.table.styles.height = max(len(lines), 1)
        self.detail.show(self._detail_rows(sheet))
        if not self._told.plain and self.detail.span:
            self._told = ink(f"PgDn: more of this line, {self.detail.span}", QUIET)

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

    def _line_rows(
        self, lines: Sequence[DoseLine], told: Sequence[tuple[str, str]]
    ) -> list[Content]:
        """Return a row a line; the name has what plan and given leave."""
        plan, given = (max((len(pair[n]) for pair in told), default=0) + 2 for n in (0, 1))
        name = min(max(self.width - 27 - plan - given, 8), 40)
        rows = []
        for n, (line, (does, gave)) in enumerate(zip(lines, told, strict=True)):
            chosen = "on $chosen" if n == self.chosen else ""
            rows.append(
                row(
                    Content.styled(" > " if n == self.chosen else "   ", BOLD),
                    cell(line.kind.capitalize(), 13, f"bold {chosen}".strip()),
                    cell(line.name or "", name, chosen),
                    cell(_amount(line), 9, chosen, "right"),
                    "  ", cell(does, plan), ink(gave, QUIET),
                )
            )  # fmt: skip
        return rows

    def _plan(self, line: DoseLine) -> str:
        parts = line.portions
        if not parts:
            plan = "nothing today" if not line.refused else "not advised"
        elif line.next_at is not None:
            zone = self.desk.site.timezone
            later = local_day(line.next_at, zone) != local_day(self.desk.now(), zone)
            at = clock(line.next_at, zone)
            plan = f"not before {at} tomorrow" if later else f"next not before {at}"
        elif len(parts) == 1:
            plan = "at once"
        else:
            plan = f"{_each(parts, line.unit)}, {line.hours_between:g} h apart"
        return plan

    def _detail_rows(self, sheet: DoseSheet) -> list[Content]:
        line, width = self.line, self.width - 2
        rows = [Content("")]
        for missing in sheet.missing:
            rows += flagged(f"MISSING {missing}", STYLES["watch"], self.width)
        if line is not None:
            for refused in line.refused:
                rows += flagged(f"NOT NOW {refused}", STYLES["act"], self.width)
            if line.portions:
                when = "Next" if line.next_at else "Give now"
                first = f"{when} {mass(line.portions[0], line.unit)} {line.name}".rstrip()
                rows.append(ink(f"  {first}", BOLD))
            rows += paragraphs((f"! {text}" for text in line.cautions), width, 2)
            rows += paragraphs((f"Expected: {text}" for text in line.expected), width, 2)
            rows += paragraphs(line.how, width, 2)
            rows += paragraphs((f"Afterwards: {text}" for text in line.measure_after), width, 2)
        rows += paragraphs(sheet.cautions, width, 2)
        return [*paragraphs(sheet.unheard[:2], width, 2), *rows]

    @property
    def last_given(self) -> DosedAt | ExchangedAt | None:
        """The last that was given to this loop today, product or water."""
        sheet, farm = self.sheet, self.desk.farm
        if sheet is None:
            return None
        day = local_day(self.desk.now(), self.desk.site.timezone).isoformat()
        since = self.desk.now() - timedelta(days=2)
        given: list[DosedAt | ExchangedAt] = [
            *farm.dosed(sheet.loop, since),
            *farm.exchanged(sheet.loop, since),
        ]
        return max((one for one in given if one.day == day), key=lambda d: d.at, default=None)

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only loops, lines and rows there are."""
        lines = self.sheet.lines if self.sheet else ()
        if action == "loop_by":
            return len(self.sheets) > 1
        if action == "loop":
            return len(self.sheets) > 1 and int(str(parameters[0])) <= len(self.sheets)
        if action == "move":
            return len(lines) > 1
        if action == "scroll":
            return bool(self.detail.span)
        if action == "undo":
            return self.last_given is not None
        if action == "why":
            return self.sheet is not None
        return bool(lines) if action in ("give", "change") else True

    def action_scroll(self, by: int) -> None:
        """Move through what belongs to the marked line."""
        self.detail.scroll_rows(by)
        self.tell()
        self.paint()

    def action_loop_by(self, by: int) -> None:
        """Show another loop."""
        if self.sheets:
            self.action_loop((self.at + by) % len(self.sheets) + 1)

    def action_loop(self, digit: int) -> None:
        """Show the loop of this digit."""
        if digit <= len(self.sheets):
            self.at, self.chosen = digit - 1, 0
            self.tell()
            self.paint()

    def action_move(self, by: int) -> None:
        """Mark another line."""
        if self.sheet is not None and self.sheet.lines:
            self.chosen = min(max(self.chosen + by, 0), len(self.sheet.lines) - 1)
            self.tell()
            self.paint()

    async def action_give(self) -> None:
        """Write down the next portion as advised, or keep what was told to be odd."""
        line, sheet = self.line, self.sheet
        if await self.meant() or sheet is None:
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
        ask_amount(self, "DOSE", question, says, line.unit, DOSE_WHYS, then)

    async def _keep(
        self, sheet: DoseSheet, line: DoseLine, amount: Decimal | None, why: str,
        confirmed: bool = False,
    ) -> None:  # fmt: skip
        """Keep a portion of the line that was asked about, whatever is marked by now."""
        try:
            draft = dosed(line, sheet, 1, amount, why, confirmed)
        except Unsure as doubt:

            async def meant(why: str) -> None:
                await self._keep(sheet, line, amount, why, confirmed=True)

            self.doubted(str(doubt), why, meant)
            return
        except ValueError as error:
            self.tell(str(error), "watch")
            return
        given = amount if amount is not None else Decimal(f"{line.portions[0]:.10g}")
        next_one = f"   next portion in {line.hours_between:g} h" if len(line.portions) > 1 else ""
        says = f"Loop {sheet.loop}: {given} {line.unit} {line.name} given{next_one}"
        await self.write(lambda: draft, says)

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
        """Open the reasons of the marked dose."""
        line, sheet = self.line, self.sheet
        if sheet is None:
            return
        if line is None:
            self.app.push_screen(why(self.desk, f"Loop {sheet.loop}: water", sheet.water.reasons))
            return
        title = f"Loop {sheet.loop}: {line.kind} {mass(line.amount, line.unit)}"
        self.app.push_screen(why(self.desk, title, line.reasons))

    def action_close(self) -> None:
        """Go back to the board."""
        self.dismiss(None)


def _key(line: DoseLine | None) -> tuple[str, str | None]:
    """Return what a line is known by when the sheet is worked out anew."""
    return (line.kind, line.product) if line is not None else ("", None)


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
