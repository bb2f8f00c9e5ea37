"""The ration sheet: what every place gets today, the next meal first, and why."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content

from rounds.day.rations import Ration, fed, today
from rounds.day.slips import Unsure
from rounds.day.state import FedAt
from rounds.day.unheard import unheard
from rounds.day.when import clock, local_day
from rounds.reports.feed_table import drawn, in_use
from rounds.screens.change import FEED_WHYS, ask_amount
from rounds.screens.choose import Choose
from rounds.screens.feeding import choose_opinion, look_after, withhold_feed
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, flagged, grams, ink, paragraphs, row
from rounds.screens.keys import bind
from rounds.screens.lines import Lines
from rounds.screens.sheet import SheetPage
from rounds.screens.why import why

_LEAST = 13
"""Rows that are not the table's: of the screen, and of what belongs to the marked place."""


class RationPage(SheetPage):
    """One row a place; Enter gives its next meal as advised, Down goes on."""

    CSS_PATH = "ration.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "give", "given"),
        bind("c", "choose", "choose"),
        bind("e", "change", "amount"),
        bind("u", "undo", "take back"),
        bind("l", "looked", "left"),
        bind("f", "fast", "no feed"),
        bind("up", "move(-1)", "up", show=False),
        bind("down", "move(1)", "next place", show=False),
        bind("page-down", "scroll(5)", "more of the marked place", show=False),
        bind("page-up", "scroll(-5)", "back up", show=False),
        bind("w", "why", "why"),
        bind("escape", "close", "board"),
    ]
    about = (
        "Enter writes down that the next meal of the marked place was given as advised. E is for "
        "another amount, with a reason; U takes back the last meal given there today. L writes "
        "down what was left of it, or how fast it was gone. C lets a person choose where table, "
        "growth and intake differ by more than a quarter. F withholds feed until an hour, by a "
        "decision with a name, and ends that. Where it says NO FEED nothing is given until the "
        "water has been read again or the fast is over; E feeds all the same, after one more "
        "question. A ? behind %/day: nobody has verified that feed table."
    )

    def __init__(self, place: str = "") -> None:
        super().__init__("RATION")
        self.chosen = 0
        self._begins = place
        self.rations: tuple[Ration, ...] = ()
        self.columns = Lines("columns")
        self.table = Lines("table", mark=True)
        self.detail = Lines("detail")

    def rows(self) -> ComposeResult:
        """Yield the table and what is to be said of the marked row."""
        yield self.columns
        yield self.table
        yield self.detail

    def heading(self) -> Content:
        """Return the day and what is given in all."""
        day = local_day(self.desk.now(), self.desk.site.timezone)
        total = sum(ration.total_g for ration in self.rations)
        return ink(f"{day:%a} {day.day} {day:%b}   {grams(total)} in all today", BOLD)

    def show(self) -> None:
        """Work the rations out as the farm stands now and show them."""
        desk = self.desk
        if self.moved():
            marked, self._begins = self._begins or self.place, ""
            self.rations = today(desk.site, desk.farm, desk.now())
            self.chosen = self._row_of(marked) or 0
        self.columns.show([_COLUMNS])
        self.table.show(
            [
                _row(index == self.chosen, ration, self._not_before(ration))
                for index, ration in enumerate(self.rations)
            ]
            or [ink("  No fish on record: nothing to feed")],
            self.chosen,
        )
        self.table.styles.height = min(max(len(self.rations), 1), self.app.size.height - _LEAST)
        self.detail.show(self._detail_rows())
        if not self._told.plain and self.detail.span:
            self._told = ink(f"PgDn: more of {self.place}, {self.detail.span}", QUIET)

    @property
    def place(self) -> str:
        """The marked row's."""
        return self.ration.place if self.ration else ""

    def _row_of(self, place: str) -> int | None:
        return next((n for n, one in enumerate(self.rations) if one.place == place), None)

    def reach(self, place: str) -> None:
        """Mark a place that was found, if it is fed."""
        at = self._row_of(place)
        if at is None:
            super().reach(place)
        else:
            self.action_move(at - self.chosen)

    @property
    def ration(self) -> Ration | None:
        """The marked row."""
        return self.rations[self.chosen] if self.chosen < len(self.rations) else None

    def _not_before(self, ration: Ration) -> str:
        at = ration.next_at
        return f"not before {clock(at, self.desk.site.timezone)}" if at else ""

    @property
    def last_given(self) -> FedAt | None:
        """The last meal given today at the marked place."""
        if (ration := self.ration) is None:
            return None
        day = local_day(self.desk.now(), self.desk.site.timezone).isoformat()
        given = self.desk.farm.fed_on(ration.place, day)
        return given[-1] if given else None

    def _detail_rows(self) -> list[Content]:
        ration, width = self.ration, self.width - 2
        rows = [Content("")]
        if ration is not None:
            product = self.desk.site.products.get(ration.product)
            lots = ", ".join(ration.lots)
            feed = product.name if product else ration.product or "no feed set"
            table = "   table unverified" if ration.unverified else ""
            rows.append(ink(f"  {ration.place}   {lots}   {feed}{table}", BOLD))
            word = "act" if ration.no_feed else ""
            if ration.held_back:
                rows += flagged(ration.held_back, STYLES.get(word, BOLD), self.width)
            says = [*_opinions(ration), *(f"Missing: {text}" for text in ration.missing)]
            says += ration.cautions
            rows += paragraphs(says, width, indent=2)
        away = unheard(self.desk.farm, self.desk.now(), self.desk.here)[:2]
        return [*paragraphs(away, width, indent=2), *rows]

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer rows only where there are some."""
        if action == "move":
            return len(self.rations) > 1
        if action in ("undo", "looked"):
            return self.last_given is not None
        if action == "scroll":
            return bool(self.detail.span)
        if action == "choose":
            return self.ration is not None and self.ration.apart
        return bool(self.rations) if action in ("give", "change", "why", "fast") else True

    def action_move(self, by: int) -> None:
        """Mark another row."""
        self.chosen = min(max(self.chosen + by, 0), max(len(self.rations) - 1, 0))
        self.detail.to_top()
        self.tell()
        self.paint()

    def action_scroll(self, by: int) -> None:
        """Read on in what belongs to the marked place."""
        self.detail.scroll_rows(by)
        self.tell()
        self.paint()

    async def action_give(self) -> None:
        """Write down the next meal as advised, or keep what was told to be odd."""
        ration = self.ration
        if ration is None or await self.meant():
            return
        meal = ration.next_meal
        if ration.next_meal_g <= 0 or meal is None:
            done = ration.held_back or "every meal is given"
            self.tell(
                f"{ration.place}: {done}. Nothing to give as advised; E for an amount", "watch"
            )
            return
        await self._keep(ration, meal.number, None, "", confirmed=False)

    def action_change(self) -> None:
        """Ask for another amount, and first whether to feed at all where nothing is advised."""
        ration = self.ration
        if ration is None:
            return
        if not ration.no_feed:
            self._ask_amount(ration, confirmed=False)
            return

        def decided(index: int | None) -> None:
            if index == 1:
                self._ask_amount(ration, confirmed=True)

        options = [f"do not feed {ration.place}", f"feed {ration.place} all the same"]
        says = [f"NO FEED: {ration.held_back}. See to that before you feed."]
        says += [ration.too_soon, ration.doubt]
        self.app.push_screen(
            Choose("RATION", f"{ration.place} is NO FEED", options, says=says), decided
        )

    def _ask_amount(self, ration: Ration, confirmed: bool) -> None:
        number = self._meal_number(ration)
        advised = f"Advised: {grams(ration.next_meal_g)}. {ration.held_back}".rstrip()

        async def then(amount: Decimal, why: str) -> None:
            await self._keep(ration, number, amount, why, confirmed)

        question = f"{ration.place}, meal {number}: how much was given?"
        ask_amount(self, "RATION", question, [advised], "g", FEED_WHYS, then)

    def _meal_number(self, ration: Ration) -> int:
        if ration.next_meal is not None:
            return ration.next_meal.number
        day = local_day(self.desk.now(), self.desk.site.timezone).isoformat()
        given = [one.meal for one in self.desk.farm.fed_on(ration.place, day)]
        return max(given, default=0) + 1

    async def _keep(
        self, ration: Ration, meal: int, amount: Decimal | None, why: str, confirmed: bool
    ) -> None:
        try:
            draft = fed(ration, meal, amount, why, confirmed=confirmed)
        except Unsure as doubt:

            async def meant(why: str) -> None:
                await self._keep(ration, meal, amount, why, confirmed=True)

            self.doubted(str(doubt), why, meant)
            return
        except ValueError as error:
            self.tell(str(error), "watch")
            return
        says = f"{ration.place}: meal {meal}, {draft.amount} {draft.unit} given"
        await self.write(lambda: draft, says)

    def action_choose(self) -> None:
        """Let a person choose which opinion governs, with the reason."""
        if (ration := self.ration) is not None:
            choose_opinion(self, ration)

    def action_looked(self) -> None:
        """Ask what was left of the last meal, or how fast it was gone."""
        if (given := self.last_given) is not None:
            look_after(self, given)

    def action_fast(self) -> None:
        """Withhold feed until an hour, or feed again where it is withheld."""
        if (ration := self.ration) is not None:
            withhold_feed(self, ration.place)

    def action_undo(self) -> None:
        """Take back the last meal given here today."""
        if (given := self.last_given) is not None:
            self.take_back(given.id, f"{given.place} meal {given.meal}, {grams(given.amount_g)}")

    def action_why(self) -> None:
        """Open the reasons of the marked ration."""
        if (ration := self.ration) is not None:
            title = f"{ration.place}: {grams(ration.total_g)} today"
            figure: list[str] = []
            for one in in_use(self.desk.site, [ration]):
                figure += ["", *drawn(one, width=self.width - 4, height=14)]
            self.app.push_screen(why(self.desk, title, ration.reasons, figure=tuple(figure)))

    def action_close(self) -> None:
        """Go back to the board."""
        self.dismiss(None)


_COLUMNS = row(
    "   ", cell("Place", 6, QUIET), cell("Fish", 6, QUIET, "right"),
    cell("Mean g", 7, QUIET, "right"), cell("kg", 7, QUIET, "right"),
    cell("Temp", 6, QUIET, "right"), cell("%/day", 7, QUIET, "right"),
    cell("Today", 9, QUIET, "right"), cell("Given", 8, QUIET, "right"), "  ",
    cell("Next meal", 19, QUIET),
)  # fmt: skip


def _row(marked: bool, ration: Ration, not_before: str) -> Content:
    chosen = "on $chosen" if marked else ""
    meal = ration.next_meal
    if ration.no_feed:
        following = ink(" NO FEED ", STYLES["act"])
    elif meal is None:
        following = ink("all given" if ration.meals else "by hand, see below", QUIET)
    elif ration.next_meal_g <= 0:
        held = ration.held_back.partition(";")[0] or "nothing"
        following = ink(f" {held} ", STYLES["watch"])
    elif not_before:
        following = ink(f"{meal.number}: {not_before}", QUIET)
    else:
        following = ink(f"{meal.number} of {len(ration.meals)}: {grams(ration.next_meal_g)}", BOLD)
    return row(
        Content.styled(" > " if marked else "   ", BOLD),
        cell(ration.place, 6, f"bold {chosen}".strip()),
        cell(f"{ration.count}", 6, chosen, "right"),
        cell(f"{ration.mean_weight_g:.3g}", 7, chosen, "right"),
        cell(f"{ration.biomass_kg:.1f}", 7, chosen, "right"),
        cell(_or_dash(ration.temperature_c), 6, chosen, "right"),
        cell(_or_dash(ration.rate_percent) + "?" * bool(ration.unverified), 7, chosen, "right"),
        cell(grams(ration.total_g), 9, chosen, "right"),
        cell(grams(ration.given_g), 8, chosen, "right"),
        "  ",
        following,
    )


def _opinions(ration: Ration) -> list[str]:
    """Return the opinions side by side; where a person is to choose the cautions say them."""
    if ration.choose or not ration.opinions:
        return []
    told = (f"{one.name} {grams(one.g_day)}" for one in ration.opinions if one.g_day is not None)
    return [f"By {', '.join(told)}: {ration.governs_why}"]


def _or_dash(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"
