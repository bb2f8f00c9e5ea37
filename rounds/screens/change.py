"""Another amount than advised: the amount, then the reason; both go into the entry."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from decimal import Decimal
from typing import Any, Final

from rounds.screens.ask import Ask
from rounds.screens.choose import Choose
from rounds.screens.page import Page
from rounds.text import number

OTHER: Final = "other: write it"
FEED_WHYS: Final = ("fish left food", "fish still hungry", "not enough feed here", "fish handled")
DOSE_WHYS: Final = ("supervisor said so", "not enough of it here", "read again since")


def ask_amount(
    page: Page[Any],
    label: str,
    question: str,
    says: Sequence[str],
    unit: str,
    whys: Sequence[str],
    then: Callable[[Decimal, str], Awaitable[None]],
) -> None:
    """Ask for an amount and why it is not the advised one, then call `then` with both.

    Args:
        page: The sheet that asks; Esc at any step leads back to it with nothing kept.
        label: Its name.
        question: What is given where.
        says: What was advised, and what speaks against it.
        unit: The unit of the amount.
        whys: Reasons one digit away; any other is written.
        then: Takes the amount and the reason.
    """

    async def reasoned(amount: Decimal, why: str | None) -> None:
        if why:
            await then(amount, why)

    def amounted(text: str | None) -> None:
        if text is None:
            return
        amount = number(text)

        async def written(why: str | None) -> None:
            await reasoned(amount, why)

        async def picked(index: int | None) -> None:
            if index is None:
                return
            if index == len(whys):
                page.app.push_screen(Ask(label, "Why another amount?"), written)
            else:
                await reasoned(amount, whys[index])

        title = f"Why {text} {unit}?"
        page.app.push_screen(Choose(label, title, [*whys, OTHER]), picked)

    page.app.push_screen(Ask(label, question, says=says, unit=unit), amounted)
