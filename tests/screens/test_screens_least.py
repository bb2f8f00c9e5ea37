"""A whole morning round of the sample farm takes hardly a key more than its digits and Enters."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from shutil import copytree

import pytest
from screens_hand import Clock, Hand, open_book, opened
from textual import events
from textual.keys import _character_to_key

from rounds.day.fold.farm import fold
from rounds.day.walking.answering import last_kept
from rounds.day.walking.walk import Item
from rounds.records.entry import Answer
from rounds.site.loading import load
from tests.conftest import Made

MORNING = datetime(2026, 11, 24, 7, 30, tzinfo=UTC)
ALLOWED = 1.15


class Counting(Hand):
    """Counts the keys it presses."""

    pressed = 0

    async def keys(self, keys: str) -> None:
        """Press keys one after the other; a line break is Enter."""
        self.pressed += len(keys)
        for key in keys:
            name = "enter" if key == "\n" else _character_to_key(key)
            self.app.post_message(events.Key(name, None if key == "\n" else key))
        await self.settle()

    async def value(self, typed: str) -> None:
        """Type a value, a key a sign, and Enter; pasted here, for it is painted once so."""
        self.pressed += len(typed)
        self.app.post_message(events.Paste(typed))
        await self.keys("\n")


def usual(hand: Hand, item: Item) -> str:
    """What a person would type where all is as it was: the value of the day before."""
    state = hand.app.screen.state  # type: ignore[attr-defined]
    last = last_kept(state, item, hand.app.desk.now())
    if item.step.answer in ("yes-no", "choice"):
        choices = ("yes", "no") if item.step.answer == "yes-no" else item.step.choices
        return str(choices.index(last[0]) + 1 if last and last[0] in choices else 1)
    return last[0].split(" ")[0] if last else "0"


@pytest.fixture
def farm(made_once: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ROUNDS_STATE", str(tmp_path / "state"))
    return Path(copytree(made_once(date(2026, 11, 23), 4), tmp_path / "farm"))


async def test_a_round_takes_little_more_than_digits_and_enter(farm: Path, clock: Clock) -> None:
    site, least = load(farm), 0
    clock.now = MORNING
    async with opened(site, clock, by="rui") as plain:
        hand = Counting(plain.app)
        board = hand.app.board.board
        assert board is not None
        codes = [one.checklist.code for one in board.rounds]
        await hand.keys(str(codes.index("first-light") + 1))
        if hand.label == "BOARD":  # begun early, it asks once
            await hand.keys("\n")
        while (item := hand.app.screen.state.item) is not None:  # type: ignore[attr-defined]
            typed = usual(hand, item)
            if item.step.answer == "text":
                await hand.keys("\nall well\n")
                least += len("all well") + 1
                continue
            number = item.step.answer in ("number", "count")
            await (hand.value(typed) if number else hand.keys(typed))
            least += len(typed) + number
            while hand.label == "WALK" and "Enter again" in hand.lines("telling"):
                await hand.keys("\n")
            if hand.label != "WALK":
                await hand.keys("1")  # what the dead died of
        assert "Every step is walked" in hand.text
        await hand.keys("\n")
        steps = len([e for e in hand.app.desk.farm.entries.values() if isinstance(e, Answer)])
    assert steps > 0
    assert least > 200, least
    assert hand.pressed <= ALLOWED * least, f"{hand.pressed} keys, {least} at least"
    with open_book(site, clock) as book:
        (walk,) = [w for w in fold(site, book.entries()).walks.values() if w.begun_at == MORNING]
        assert walk.done_at is not None
