"""What is kept is what was asked about: a minute passes, or another laptop writes, meanwhile."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from msgspec.structs import replace
from screens_hand import Clock, Hand, of_kind, open_book, opened
from textual import events
from textual.keys import _character_to_key

from rounds.day.feeding.rations import Ration, today
from rounds.day.fold.corrections_draft import void
from rounds.day.fold.farm import Farm
from rounds.records.entry import Dosed, Entry, Fed, Matter, Moved, Open, Reading, Stocked, Walk
from rounds.screens.choose import option_rows
from rounds.site.model import Product, Site


@pytest.fixture
def read(stocked: Site, clock: Clock) -> Site:
    """Oxygen, pH and a low alkalinity of this morning; two alkalis in the store."""
    with open_book(stocked, clock) as book:
        for code in ("A1", "A2", "Q1"):
            book.append(Reading(measure="oxygen", value="6.8", unit="mg/L", place=code, by="rui"))
        for measure, value, unit in (
            ("ph", "7.6", "pH"), ("alkalinity", "80", "mg/L CaCO3"),
        ):  # fmt: skip
            book.append(Reading(measure=measure, value=value, unit=unit, place="A1", by="rui"))
    soda = Product("SODA", "Soda ash", "alkali", "Na2CO3", 0.99)
    return replace(stocked, products={**stocked.products, "SODA": soda})


async def meanwhile(hand: Hand, site: Site, clock: Clock) -> None:
    """A minute passes; elsewhere fish come to the first tank, and what was kept is taken back."""
    clock.now += timedelta(minutes=1)
    hand.app.repaint()
    kept = [one for one in hand.entries() if isinstance(one, Fed | Dosed | Matter)]
    with open_book(site, clock) as other:
        other.append(Stocked(lot="L9", place="A1", count=9, mean_weight="90", unit="g", by="rui"))
        if kept:
            other.append(replace(void(hand.app.desk.farm, kept[-1].id, "twice"), by="rui"))
    await hand.app.listen()


FLOWS = {
    "r | enter": ("Fed", "A1"),
    "r down | e 3 0 0 enter | 2": ("Fed", "A2", "300"),
    "r enter u | 1": ("Correction", "pressed by mistake"),
    "r enter l | 2": ("Correction", "looked after the meal"),
    "r f 1 | 2": ("Matter", "A1"),
    "d down | e 1 0 0 enter | 1": ("Dosed", "SODA", "100"),
    "d enter u | 1": ("Correction", "pressed by mistake"),
    "o n h u m enter 2 | 1": ("Matter", "hum", "rui"),
    "o n h u m enter 2 1 e | 1": ("Matter", "hum"),
    "o end g | 1": ("Handoff", "rui"),
    "k 8 1 1 4 enter enter 1 | enter": ("Died", "A1", "4"),
}
"""Keys that end in an entry, and what it must say; at a bar it may be interrupted."""


@pytest.mark.parametrize(
    ("keys", "at"), [(keys, n) for keys in FLOWS for n in range(-1, keys.count("|"))]
)
async def test_what_is_kept_is_what_was_asked_about(
    read: Site, clock: Clock, keys: str, at: int
) -> None:
    kind, *says = FLOWS[keys]
    *before, last = keys.split()
    bars = iter(range(9))
    async with opened(read, clock) as hand:
        for key in before:
            if key != "|":
                await hand.press(key)
            elif next(bars) == at:
                await meanwhile(hand, read, clock)
        known = {one.id for one in hand.entries()}
        await hand.press(last)
        assert hand.app.crashed is None
        new = [one for one in hand.entries() if one.by and one.id not in known]
        kept = [one for one in new if not isinstance(one, Open)]
    for one in kept:
        assert type(one).__name__ == kind
        assert all(word in str(one) for word in says)
    assert len(kept) == 1 if at < 0 else len(kept) <= 1


async def test_the_mark_stays_on_its_tank_when_another_gets_fish(read: Site, clock: Clock) -> None:
    with open_book(read, clock) as book:  # the first tank stands empty
        book.append(Moved(lot="L1", source="A1", target="A2", count=400, by="rui"))
    async with opened(read, clock) as hand:
        await hand.press("r", "down")
        assert hand.app.screen.place == "Q1"
        await meanwhile(hand, read, clock)
        assert [one.place for one in hand.app.screen.found] == ["A1", "A2", "Q1"]
        await hand.press("enter")
        assert [one.place for one in of_kind(hand.entries(), Fed)] == ["Q1"]


async def test_a_meal_another_laptop_took_back_is_told_not_a_crash(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r", "enter", "u")
        [meal] = of_kind(hand.entries(), Fed)
        with open_book(read, clock) as other:
            other.append(void(hand.app.desk.farm, meal.id, "twice written"))
        await hand.app.listen()
        await hand.press("1")
        assert hand.app.crashed is None
        assert "taken back already" in hand.lines("telling")


def test_an_option_is_folded_never_cut() -> None:
    long = "oxygen probe of loop A to be sent for repair, the spare one reads 0.2 low until then"
    rows, marked = option_rows([long, "other"], 1, 60)
    text = " ".join(row.plain.strip() for row in rows)
    assert text.count("repair") == text.count("until then") == 1
    assert all(row.cell_length <= 60 for row in rows)
    assert rows[marked].plain.strip().startswith(">")


async def test_options_below_the_window_are_counted(read: Site, clock: Clock) -> None:
    with open_book(read, clock) as book:
        for n in range(30):
            book.append(Matter(text=f"matter {n}", by="rui"))
    async with opened(read, clock, size=(60, 16)) as hand:
        await hand.press("o", "e")
        shown = "\n".join(row.plain for row in hand.app.screen.body._seen)
        assert "matter 0" in shown
        assert "more" in shown or "below" in shown


async def test_words_for_the_next_shift_outlive_the_program(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("o", "m", *"watch G2", "enter")
    async with opened(read, clock) as hand:
        await hand.press("o")
        assert "watch G2" in hand.lines("body")
    async with opened(read, clock, by="rui") as hand:
        assert hand.app.desk.words == ""


async def test_what_belongs_to_a_tank_is_read_to_its_end(
    read: Site, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def many(site: Site, farm: Farm, now: datetime) -> tuple[Ration, ...]:
        told = tuple(f"caution {n}" for n in range(20))
        return tuple(replace(one, cautions=told) for one in today(site, farm, now))

    monkeypatch.setattr("rounds.screens.ration.today", many)
    async with opened(read, clock, size=(60, 16)) as hand:
        await hand.press("r")
        detail = hand.app.screen.detail
        assert "PgDn" in hand.lines("telling")
        for _ in range(10):
            await hand.press("pagedown")
        assert detail.at_end


async def test_the_hand_off_of_the_screen_tells_lines_that_cannot_be_read(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        hand.app.desk.unread = 3
        await hand.press("o")
        assert hand.app.screen.document.unread.startswith("3 lines or files of the records")


@pytest.mark.parametrize(
    ("keys", "right", "kept"),
    [
        (("o", "n", *"pump hums", "enter", "1", "6"), "18:00", Matter),
        (("r", "f", "1", "4"), "18:00", Matter),
        (("p", "2", "1"), "06:40", Walk),
    ],
)
async def test_a_time_that_cannot_be_read_is_asked_again_and_no_answer_is_lost(
    read: Site, clock: Clock, keys: tuple[str, ...], right: str, kept: type[Entry]
) -> None:
    async with opened(read, clock) as hand:
        await hand.press(*keys, *"9x", "enter")
        assert hand.app.screen.words  # the line is still there
        assert not of_kind(hand.entries(), kept)
        await hand.press("backspace", "backspace", *right, "enter")
        await hand.settle()
        assert len(of_kind(hand.entries(), kept)) == 1


async def test_enter_gives_nothing_when_what_was_marked_is_gone(read: Site, clock: Clock) -> None:
    async with opened(read, clock) as hand:
        await hand.press("r")
        assert hand.app.screen.place == "A1"
        with open_book(read, clock) as other:
            other.append(Moved(lot="L1", source="A1", target="A2", count=400, by="rui"))
        await hand.app.listen()
        assert "A1 is no longer on the sheet" in hand.lines("telling")
        await hand.press("enter")
        assert not of_kind(hand.entries(), Fed)
        await hand.press("down", "down", "enter")
        assert [one.place for one in of_kind(hand.entries(), Fed)] == ["Q1"]


async def test_keys_that_come_all_at_once_are_for_the_screens_in_turn(
    read: Site, clock: Clock
) -> None:
    async with opened(read, clock) as hand:
        for key in ("r", "e", "3", "4", "0", "enter", "2"):  # as a slow line delivers them
            name = key if len(key) > 1 else _character_to_key(key)
            hand.app.post_message(events.Key(name, key if len(key) == 1 else None))
        await hand.until("340 g given")
        [meal] = of_kind(hand.entries(), Fed)
        assert (meal.place, meal.amount, meal.why) == ("A1", "340", "fish still hungry")
