"""A meal or a portion taken back: fish, rations and doses are as if it had never been given."""

from __future__ import annotations

from decimal import Decimal

import pytest
from small_farm import NOW, Days

from rounds.day.feeding import rations
from rounds.day.fold.corrections_draft import void
from rounds.day.fold.farm import fold
from rounds.day.loops import doses
from rounds.records import entry as e


@pytest.fixture
def days() -> Days:
    days = Days()
    days.stock()
    days.good_water()
    days.read("T1", -1, alkalinity=60)
    return days


def account(days: Days) -> tuple[object, ...]:
    """Everything a meal or a dose moves."""
    farm = days.farm
    return (
        dict(farm.stocks), farm.fed("T1"), farm.dosed("A"), farm.exchanged("A"),
        rations.today(days.site, farm, NOW), doses.today(days.site, farm, NOW, "aaaaaa"),
    )  # fmt: skip


def test_a_meal_taken_back_gives_back_biomass_and_the_day_exactly(days: Days) -> None:
    before = account(days)
    (ration,) = rations.today(days.site, days.farm, NOW)
    meal = days.write(rations.fed(ration, 1, Decimal(4000), "slip", confirmed=True), -0.5)
    assert days.farm.stocks["T1"][0].biomass_kg > before[0]["T1"][0].biomass_kg  # type: ignore[index]
    days.write(void(days.farm, meal.id, "typed a nought too many"), -0.4)
    assert account(days) == before


def test_a_portion_and_an_exchange_taken_back_give_back_the_day_exactly(days: Days) -> None:
    before = account(days)
    sheet = doses.today(days.site, days.farm, NOW, "aaaaaa")[0]
    portion = days.write(doses.dosed(sheet.lines[0], sheet), -0.5)
    moved = next(line for line in sheet.lines if line.kind == "exchange")
    water = days.write(doses.dosed(moved, sheet), -0.45)
    assert account(days) != before
    for entry in (portion, water):
        days.write(void(days.farm, entry.id, "wrong loop"), -0.4)
    assert account(days) == before


def test_it_has_seen_the_corrections_before_it_so_that_nothing_disagrees(days: Days) -> None:
    meal = days.feed("300", -0.5)
    other = days.write(e.Correction, -0.4, of=meal.id, set={"amount": "250"})
    draft = void(days.farm, meal.id, "wrong tank")
    assert draft.day == meal.day
    assert (draft.of, draft.after, draft.void, draft.why) == (
        meal.id, [other.id], True, "wrong tank",
    )  # fmt: skip
    days.write(draft, -0.3)
    assert fold(days.site, days.entries).conflicts == []
    assert days.farm.entry(meal.id) is None


def test_it_is_not_taken_back_without_a_reason_nor_twice(days: Days) -> None:
    meal = days.feed("300", -0.5)
    with pytest.raises(ValueError, match="Say why"):
        void(days.farm, meal.id, "  ")
    with pytest.raises(ValueError, match="no such entry"):
        void(days.farm, "nobody-run001-0001", "why")
    days.write(void(days.farm, meal.id, "wrong tank"), -0.3)
    with pytest.raises(ValueError, match="already"):
        void(days.farm, meal.id, "once more")
