"""Reasons one digit away; another amount than advised, with its reason, both in the entry."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from decimal import Decimal
from typing import Any, Final

from rounds.screens.ask import Ask
from rounds.screens.choose import Choose
from rounds.screens.page import Page
from rounds.text import number

OTHER: Final = "other: write it"


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

    def amounted(text: str | None) -> None:
        if text is None:
            return
        amount = number(text)

        async def reasoned(why: str) -> None:
            await then(amount, why)

        ask_why(page, label, f"Why {text} {unit}?", whys, reasoned)

    page.app.push_screen(Ask(label, question, says=says, unit=unit), amounted)


def ask_why(
    page: Page[Any],
    label: str,
    question: str,
    whys: Sequence[str],
    then: Callable[[str], Awaitable[None]],
    says: Sequence[str] = (),
) -> None:
    """Ask for a reason from a short list, or in words, then call `then` with it.

    Args:
        page: The page that asks; Esc leads back to it and nothing happens.
        label: Its name.
        question: What is asked.
        whys: Reasons one digit away; any other is written.
        then: Takes the reason.
        says: What belongs to the question.
    """

    async def written(why: str | None) -> None:
        if why:
            await then(why)

    async def picked(index: int | None) -> None:
        if index == len(whys):
            page.app.push_screen(Ask(label, question), written)
        elif index is not None:
            await then(whys[index])

    page.app.push_screen(Choose(label, question, [*whys, OTHER], says=says), picked)
