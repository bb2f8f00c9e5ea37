"""The ration sheet: what every place gets today, the next meal first, and why."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import ClassVar
from zoneinfo import ZoneInfo

from textual.binding import BindingType
from textual.content import Content

from rounds.day.feeding.meals import MEANT_WHYS, OTHER_WHYS, last_meal, last_today, next_number
from rounds.day.feeding.rations import Ration, fed, today
from rounds.day.fold.state import FedAt
from rounds.day.when import clock, local_day, week_day
from rounds.reports.feed_table import drawn, in_use
from rounds.reports.told import Told
from rounds.screens.change import ask_amount
from rounds.screens.choose import Choose
from rounds.screens.feeding import choose_opinion, look_after, withhold_feed
from rounds.screens.giving import GivingPage
from rounds.screens.ink import BOLD, QUIET, STYLES, cell, grams, ink, row
from rounds.screens.keys import bind
from rounds.screens.listing import Listing, Row
from rounds.text import plain


class RationPage(GivingPage, inherit_bindings=False):
    """One row a place; Enter gives its next meal as advised, Down goes on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        bind("enter", "give", "given"),
        bind("c", "choose", "choose"),
        bind("e", "change", "amount"),
        bind("u", "undo", "take back"),
        bind("l", "looked", "left"),
        bind("f", "fast", "no feed"),
        *(bind(key, f"idle('{key}')", "", show=False) for key in "ulc"),
        *Listing.BINDINGS,
    ]
    about = (
        "Enter writes down that the next meal of the marked place was given as advised. E is for "
        "another amount, with a reason. Once a meal was given, U takes it back and L writes down "
        "what was left of it, or how fast it was gone. C lets a person choose, where table, "
        "growth and intake differ by more than a quarter. F withholds feed until an hour, by a "
        "decision with a name, and ends that. Where it says NO FEED nothing is given until the "
        "water has been read again or the fast is over; E feeds all the same, after one more "
        "question. A ? behind %/day: nobody has verified that feed table."
    )
    nothing = "No fish on record: nothing to feed"
    meant = MEANT_WHYS
    idle: ClassVar[dict[str, tuple[str, str]]] = {
        **GivingPage.idle,
        "l": ("looked", "No meal was given here in the last day: L has nothing to ask about"),
        "c": ("choose", "Table, growth and intake agree here: there is nothing to choose"),
    }

    def __init__(self, place: str = "") -> None:
        super().__init__("RATION", place)
        self.rations: tuple[Ration, ...] = ()

    def heading(self) -> Content:
        """Return the day and what is given in all."""
        day = local_day(self.desk.now(), self.desk.site.timezone)
        total = sum(ration.total_g for ration in self.rations)
        return ink(f"{week_day(day)}   {grams(total)} in all today", BOLD)

    def heads(self) -> Sequence[Content]:
        """Return the heads of the cells."""
        heads = (cell(*_HEADS[n], QUIET, "right") for n in _shown(self.width))
        return [row("   ", cell("Place", 6, QUIET), *heads, "  ", ink("Next meal", QUIET))]

    def listed(self) -> Sequence[Row]:
        """Work the rations out as the farm stands now."""
        desk = self.desk
        self.rations = today(desk.site, desk.farm, desk.now())
        return [
            Row(
                _cells(one, desk.site.timezone, self.width),
                self._says(one), one.place,
                loud=(one.held_back,) if one.held_back else (), word="act" if one.no_feed else "",
            )
            for one in self.rations
        ]  # fmt: skip

    def _says(self, ration: Ration) -> Told:
        product = self.desk.site.products.get(ration.product)
        feed = product.name if product else ration.product or "no feed set"
        table = "   table unverified" if ration.unverified else ""
        missing = (f"Missing: {text}" for text in ration.missing)
        return Told(
            f"{ration.place}: {grams(ration.total_g)} today",
            (
                f"{', '.join(ration.lots)}   {feed}{table}",
                *_opinions(ration),
                *missing,
                *ration.cautions,
            ),
            ration.reasons,
        )

    def figure(self) -> tuple[str, ...]:
        """Return the feed table of the marked ration, drawn."""
        tables = in_use(self.desk.site, [self.ration] if self.ration else [])
        return tuple(
            line for one in tables for line in ("", *drawn(one, width=self.width - 4, height=14))
        )

    @property
    def ration(self) -> Ration | None:
        """The marked row's."""
        return self.rations[self.chosen] if self.marked else None

    @property
    def last_given(self) -> FedAt | None:
        """The last meal given today at the marked place."""
        return last_today(self.desk.farm, self.place, self.desk.now())

    @property
    def last_meal(self) -> FedAt | None:
        """What L asks about: yesterday's last meal still, until one is given."""
        return last_meal(self.desk.farm, self.place, self.desk.now())

    # -- keys ------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to look after a meal that was given, and to choose where opinions differ."""
        if action == "looked":
            return self.last_meal is not None
        if action == "choose":
            return self.ration is not None and self.ration.apart
        return super().check_action("give" if action == "fast" else action, parameters)

    async def action_give(self) -> None:
        """Write down the next meal as advised, or keep what was told to be odd."""
        ration = self.ration
        if ration is None or await self.answered():
            return
        meal = ration.next_meal
        if ration.next_meal_g <= 0 or meal is None:
            done = ration.held_back or "every meal is given"
            self.tell(
                f"{ration.place}: {done}. Nothing to give as advised; E for an amount", "watch"
            )
            return
        says = f"{ration.place}: meal {meal.number}, {ration.next_meal_g:.10g} g given"
        await self.given(
            lambda why, sure: fed(ration, meal.number, None, why, confirmed=sure), says
        )

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
        number = next_number(self.desk.farm, ration, self.desk.now())
        advised = f"Advised: {grams(ration.next_meal_g)}. {ration.held_back}".rstrip()

        async def then(amount: Decimal, why: str) -> None:
            says = f"{ration.place}: meal {number}, {plain(amount)} g given"
            await self.given(
                lambda why, sure: fed(ration, number, amount, why, confirmed=sure),
                says, why, confirmed,
            )  # fmt: skip

        question = f"{ration.place}, meal {number}: how much was given?"
        ask_amount(self, "RATION", question, [advised], "g", OTHER_WHYS, then)

    def action_choose(self) -> None:
        """Let a person choose which opinion governs, with the reason."""
        if (ration := self.ration) is not None:
            choose_opinion(self, ration)

    def action_looked(self) -> None:
        """Ask what was left of the last meal, or how fast it was gone."""
        if (given := self.last_meal) is not None:
            look_after(self, given)

    def action_fast(self) -> None:
        """Withhold feed until an hour, or feed again where it is withheld."""
        if (ration := self.ration) is not None:
            withhold_feed(self, ration.place)

    def action_undo(self) -> None:
        """Take back the last meal given here today."""
        if (given := self.last_given) is not None:
            self.take_back(given.id, f"{given.place} meal {given.meal}, {grams(given.amount_g)}")


_HEADS = (
    ("Fish", 6), ("Mean g", 7), ("kg", 7), ("Temp", 6), ("%/day", 7), ("Today", 9), ("Given", 8),
)  # fmt: skip
_NARROW = 76
"""Cells below which number, mass and temperature give way to the next meal."""
_FEW = (1, 4, 5, 6)


def _shown(width: int) -> Sequence[int]:
    return _FEW if width < _NARROW else range(len(_HEADS))


def _cells(ration: Ration, zone: ZoneInfo, width: int) -> Content:
    meal = ration.next_meal
    if ration.no_feed:
        following = ink(" NO FEED ", STYLES["act"])
    elif meal is None:
        following = ink("all given" if ration.meals else "by hand, see below", QUIET)
    elif ration.next_meal_g <= 0:
        held = ration.held_back.partition(";")[0] or "nothing"
        following = ink(f" {held} ", STYLES["watch"])
    elif ration.next_at is not None:
        following = ink(f"{meal.number}: not before {clock(ration.next_at, zone)}", QUIET)
    else:
        following = ink(f"{meal.number} of {len(ration.meals)}: {grams(ration.next_meal_g)}", BOLD)
    figures = (
        f"{ration.count}", f"{ration.mean_weight_g:.3g}", f"{ration.biomass_kg:.1f}",
        _or_dash(ration.temperature_c),
        _or_dash(ration.rate_percent) + "?" * bool(ration.unverified),
        grams(ration.total_g), grams(ration.given_g),
    )  # fmt: skip
    cells = (cell(figures[n], _HEADS[n][1], align="right") for n in _shown(width))
    return row(cell(ration.place, 6, "bold"), *cells, "  ", following)


def _opinions(ration: Ration) -> list[str]:
    """Return the opinions side by side; where a person is to choose the cautions say them."""
    if ration.choose or not ration.opinions:
        return []
    told = (f"{one.name} {grams(one.g_day)}" for one in ration.opinions if one.g_day is not None)
    return [f"By {', '.join(told)}: {ration.governs_why}"]


def _or_dash(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"
