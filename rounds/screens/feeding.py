"""What a person decides beside a meal: whose ration governs, what was left, when not to feed."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from rounds.day.feeding.fasting import AGAIN_WHYS, WHYS, fast_of, feed_again, withhold
from rounds.day.feeding.meals import looked
from rounds.day.feeding.opinions import CHOICE_WHYS, CHOICES, choose
from rounds.day.feeding.rations import Ration
from rounds.day.fold.state import FedAt
from rounds.records.entry import Matter
from rounds.screens.ask import Ask
from rounds.screens.change import OTHER, ask_why
from rounds.screens.choose import Choose
from rounds.screens.giving import GivingPage
from rounds.screens.ink import grams
from rounds.text import number

_UNTIL: Final = ("12 h", "24 h", "48 h")


def choose_opinion(page: GivingPage, ration: Ration) -> None:
    """Ask which opinion governs for three days, and why.

    Args:
        page: The ration sheet.
        ration: What it shows.
    """
    codes = {name: code for code, name in CHOICES.items()}
    known = [one for one in ration.opinions if one.name in codes and one.g_day is not None]
    options = [f"{one.name}: {grams(one.g_day or 0.0)} a day" for one in known]
    says = [f"{ration.governs_why}. Never more than the table's largest is given."]
    says += [
        f"{one.name}: {'' if one in known or not one.g_day else f'{grams(one.g_day)}, '}{one.says}"
        for one in ration.opinions
    ]

    def picked(index: int | None) -> None:
        if index is None:
            return
        name = known[index].name

        async def reasoned(why: str) -> None:
            await page.write(
                lambda: choose(ration.place, codes[name], why),
                f"{ration.place} is fed by {name} for three days",
            )

        ask_why(page, page.label, f"Why by {name}?", CHOICE_WHYS, reasoned)

    question = f"{ration.place}: look at the fish, then choose"
    page.app.push_screen(Choose(page.label, question, options, says=says), picked)


def look_after(page: GivingPage, given: FedAt) -> None:
    """Ask what was left of a meal, or how many minutes it took until nothing was.

    Args:
        page: The ration sheet.
        given: The meal.
    """
    meal = f"{given.place} meal {given.meal}, {grams(given.amount_g)}"

    async def kept(left: Decimal, minutes: Decimal | None, says: str) -> None:
        await page.write(lambda: looked(page.desk.farm, given.id, left, minutes), says)

    async def timed(text: str | None) -> None:
        if text:
            await kept(Decimal(0), number(text), f"{meal}: gone in {text} min")

    async def weighed(text: str | None) -> None:
        if text:
            await kept(number(text), None, f"{meal}: {text} g left")

    async def picked(index: int | None) -> None:
        if index == 0:
            ask = Ask(page.label, "How many minutes until nothing was left?", unit="min")
            page.app.push_screen(ask, timed)
        elif index == 1:
            await kept(Decimal(0), None, f"{meal}: nothing left")
        elif index == 2:
            ask = Ask(page.label, "How much was left?", unit="g")
            page.app.push_screen(ask, weighed)

    options = ["all gone, and timed", "all gone, not timed", "some was left"]
    says = ["Feed left is taken out and never given again; the next meal is smaller for it."]
    page.app.push_screen(Choose(page.label, f"{meal}: what of it?", options, says=says), picked)


def withhold_feed(page: GivingPage, place: str) -> None:
    """Ask until when and why a place is not fed; where that is so already, why it is fed again.

    Args:
        page: The ration sheet.
        place: Where.
    """
    desk = page.desk
    fast = fast_of(desk.farm, place, desk.now())

    async def again(why: str) -> None:
        await page.write(
            lambda: feed_again(desk.farm, place, why, desk.now()), f"{place} is fed again"
        )

    if fast is not None:
        says = [f"{place}: {fast.says(desk.now(), desk.site.timezone)}."]
        ask_why(page, page.label, f"Feed {place} again: why?", AGAIN_WHYS, again, says)
        return

    async def reasoned(why: str) -> None:
        def fast(until: str) -> Matter:
            return withhold(desk.farm, place, until, why, desk.now(), desk.by)

        async def ended(until: str | None) -> None:
            if until:
                await page.write(lambda: fast(until), f"{place} is not fed: {why}")

        async def picked(index: int | None) -> None:
            if index is not None and index < len(_UNTIL):
                await ended(_UNTIL[index])
            elif index is not None:
                says = ["36 h, 18:00, or a day and time such as 2026-03-12 08:00"]
                ask = Ask(page.label, "Until when?", says=says, check=fast)
                page.app.push_screen(ask, ended)

        question = f"{place} is not fed until when?"
        page.app.push_screen(Choose(page.label, question, [*_UNTIL, OTHER]), picked)

    ask_why(page, page.label, f"Withhold feed from {place}: why?", WHYS, reasoned)
