"""On the ration sheet: an opinion is chosen, feed is withheld, what was left is written down."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace
from screens_hand import NOW, Clock, open_book, opened

from rounds.day.feeding.fasting import withhold
from rounds.records.entry import Correction, Fed, Matter, Note, Reading, Stocked
from rounds.site.model import Site

MEASURES = (
    ("oxygen", "6.8", "mg/L"), ("temperature", "25", "degC"), ("salinity", "32", "g/kg"),
    ("ph", "7.9", "pH"), ("tan", "0.3", "mg/L"), ("nitrite", "0.2", "mg/L"),
)  # fmt: skip


@pytest.fixture
def apart(site: Site, clock: Clock) -> Site:
    """A1 ate two thirds of what the table says yesterday; the water is good."""
    for hours in (-72, -24, -0.3):
        clock.now = NOW + timedelta(hours=hours)
        with open_book(site, clock) as book:
            for code in ("A1", "A2") if hours == -72 else ():
                book.append(
                    Stocked(lot="L1", place=code, count=400, mean_weight="100", unit="g", by="ana")
                )
            for measure, value, unit in MEASURES:
                book.append(Reading(measure=measure, value=value, unit=unit, place="A1", by="rui"))
            for meal in (1, 2) if hours == -24 else ():
                book.append(
                    Fed(place="A1", product="PELLET", amount="400", unit="g", meal=meal, by="rui")
                )
    clock.now = NOW
    return site


async def test_opinions_far_apart_are_chosen_from_with_a_reason_the_meal_keeps(
    apart: Site, clock: Clock
) -> None:
    async with opened(apart, clock) as hand:
        await hand.press("r")
        ration = hand.app.screen.ration
        assert (ration.choose, ration.governs) == (True, "last accepted")
        assert "choose" in hand.lines("keys")
        assert "look at the fish and choose" in hand.lines("detail").lower()
        await hand.press("c")
        assert "table: " in hand.text
        assert "last accepted: 800 g a day" in hand.text
        assert "differ by more than a quarter" in hand.text
        await hand.press("1", "1")
        (note,) = [e for e in hand.entries() if isinstance(e, Note)]
        assert (note.about, note.text, note.by) == ("ration: table", "fish are hungry", "ana")
        ration = hand.app.screen.ration
        assert (ration.choose, ration.governs) == (False, "table")
        assert "Ana chose table" in hand.lines("detail")
        assert "choose" in hand.lines("keys")  # it may be chosen again
        await hand.press("enter")
        fed = [e for e in hand.entries() if isinstance(e, Fed)][-1]
        assert any("Ana chose table" in reason for reason in fed.reasons)
        assert any("fish are hungry" in reason for reason in fed.reasons)


async def test_esc_chooses_nothing_and_c_is_not_offered_where_there_is_no_choice(
    apart: Site, clock: Clock
) -> None:
    async with opened(apart, clock) as hand:
        await hand.press("r", "c", "escape")
        await hand.press("c", "2", "escape")
        assert not [e for e in hand.entries() if isinstance(e, Note)]
        await hand.press("down")
        assert "choose" not in hand.lines("keys")


async def test_what_was_left_and_how_fast_a_meal_was_gone_go_into_that_meal(
    apart: Site, clock: Clock
) -> None:
    async with opened(apart, clock) as hand:
        await hand.press("r", "down")
        assert "left" not in hand.lines("keys")
        await hand.press("up", "enter", "l", "1")
        await hand.type("1,5")
        await hand.press("enter")
        fed = [e for e in hand.entries() if isinstance(e, Fed)][-1]
        found = [e for e in hand.entries() if isinstance(e, Correction)][-1]
        assert (found.of, found.set) == (fed.id, {"left": "0", "minutes": "1.5"})
        assert "gone in 1,5 min" in hand.lines("telling")
        await hand.press("l", "3")
        await hand.type("40")
        await hand.press("enter")
        meal = hand.app.desk.farm.fed("A1")[-1]
        assert (meal.left_g, meal.minutes) == (40, None)
        await hand.press("l", "3")
        await hand.type("99999")
        await hand.press("enter")
        assert "is not between 0 and" in hand.lines("telling")
        assert hand.app.desk.farm.fed("A1")[-1].left_g == 40


async def test_feed_is_withheld_by_a_name_until_an_hour_and_given_again(
    apart: Site, clock: Clock
) -> None:
    async with opened(apart, clock) as hand:
        await hand.press("r", "f", "1", "2")
        (matter,) = [e for e in hand.entries() if isinstance(e, Matter)]
        assert (matter.place, matter.about, matter.owner) == ("A1", "no feed", "ana")
        assert (matter.text, matter.until) == ("before transport", "2026-11-25 07:10")
        assert "NO FEED" in hand.lines("table")
        assert "feed withheld until Wed 25 Nov 07:10 by Ana" in hand.lines("detail")
        await hand.press("enter")
        assert not [e for e in hand.entries() if isinstance(e, Fed) and e.day == "2026-11-24"]
        await hand.press("escape")
        assert "A1: feed withheld until Wed 25 Nov 07:10 by Ana" in hand.text
        await hand.press("r", "f", "2")
        assert hand.app.desk.farm.matters == []
        assert "NO FEED" not in hand.lines("table")


async def test_an_end_in_words_that_is_none_is_told(apart: Site, clock: Clock) -> None:
    async with opened(apart, clock) as hand:
        await hand.press("r", "f", "1", "4")
        await hand.type("soon")
        await hand.press("enter")
        assert "is not a time" in hand.lines("telling")
        assert not [e for e in hand.entries() if isinstance(e, Matter)]


async def test_a_broken_fast_is_on_the_board_at_once(apart: Site, clock: Clock) -> None:
    clock.now = NOW - timedelta(minutes=10)
    async with opened(apart, clock) as hand:
        with open_book(apart, clock) as other:
            draft = withhold(hand.app.desk.farm, "A1", "24 h", "harvest", clock.now, "ana")
            other.append(replace_by(draft))
            clock.now = NOW
            other.append(Fed(place="A1", product="PELLET", amount="90", unit="g", by="rui"))
        await hand.app.listen()
        assert "Fast broken: 90 g fed today 07:10 by Rui" in hand.text


def replace_by(draft: Matter) -> Matter:
    return Matter(place=draft.place, text=draft.text, owner=draft.owner, until=draft.until,
                  about=draft.about, by="ana")  # fmt: skip


async def test_an_unverified_table_is_marked_on_the_sheet_and_drawn_under_why(
    apart: Site, clock: Clock
) -> None:
    drum = apart.species["drum"]
    table = replace(drum.table, verified=False, source="starting table, unverified")
    site = replace(apart, species={"drum": replace(drum, table=table)})
    async with opened(site, clock) as hand:
        await hand.press("r")
        assert "table unverified" in hand.lines("detail")
        row = next(line for line in hand.lines("table").split("\n") if "A1" in line)
        assert "?" in row
        await hand.press("w")
        leaf = hand.app.screen
        assert any("% of body weight a day" in line for line in leaf.figure)
        assert any("1 A1" in line for line in leaf.figure)
        assert all(len(line) <= 76 for line in leaf.figure)
