"""The meals of a day: fixed at the first, taken off, never made up, and giving them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from ration_farm import fed_on, flat, good
from small_farm import NOW

from rounds.day.feeding import rations
from rounds.day.slips import Unsure
from rounds.reason import lines
from rounds.records import entry as e

# -- the day ---------------------------------------------------------------------------------------


def test_the_ration_is_fixed_at_the_first_meal() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.25)
    days.write(e.Counted, -0.1, place="T1", lot="L1", count=400)  # more fish than thought
    after = fed_on(days)
    assert after.meals[0].given is not None
    assert [m.advised_g for m in after.meals[1:]] <= [m.advised_g for m in before.meals[1:]]


def test_feed_given_today_does_not_feed_itself() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.25)
    after = fed_on(days)
    assert after.total_g == before.total_g
    assert after.given_g == before.meals[0].advised_g
    assert after.next_meal_g == before.meals[1].advised_g


def test_later_meals_are_reduced_but_never_made_up() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.5)
    days.read("T1", -0.25, nitrite="10")
    after = fed_on(days)
    assert after.meals[1].advised_g == pytest.approx(before.meals[1].advised_g / 2, abs=1)
    small = good()
    small.write(rations.fed(before, 1, Decimal(10), "fish were shy", confirmed=True), -0.5)
    assert fed_on(small).next_meal_g == before.meals[1].advised_g


def test_what_was_given_above_the_advice_is_taken_off_the_later_meals() -> None:
    days = good()
    before = fed_on(days)
    more = Decimal(int(before.meals[0].advised_g) + 50)
    days.write(rations.fed(before, 1, more, "bag was open"), -0.5)
    after = fed_on(days)
    rest = sum(meal.advised_g for meal in after.meals[1:])
    assert rest == sum(meal.advised_g for meal in before.meals[1:]) - 50


def test_a_meal_given_on_two_laptops_is_taken_off_the_later_ones() -> None:
    days = good()
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.5)
    days.writer = "bbbbbb"
    days.write(rations.fed(before, 1), -0.4)
    after = fed_on(days)
    coming = sum(meal.advised_g for meal in after.meals[1:])
    assert after.given_g + coming == before.total_g


def test_what_a_late_laptop_brings_never_raises_a_ration_begun() -> None:
    days = good()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "temperature")
    ]
    days.feed("300", -24)
    days.read("T1", -1, temperature="24")
    before = fed_on(days)
    days.write(rations.fed(before, 1), -0.5)
    days.read("T1", -26, temperature="27")
    days.feed("900", -25)
    after = fed_on(days)
    assert len(after.meals) == 3
    assert all(m.advised_g <= before.meals[0].advised_g for m in after.meals[1:])


def test_a_meal_against_the_advice_comes_off_the_day() -> None:
    days = good()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "oxygen")
    ]
    days.feed("900", -24)
    early = fed_on(days)
    days.write(rations.fed(early, 1, Decimal(100), "meter broken", confirmed=True), -0.5)
    days.read("T1", -0.1, oxygen="6.8")
    after = fed_on(days)
    assert 0 < after.next_meal_g < early.meals[1].advised_g


def test_a_meal_refused_by_the_gate_does_not_end_the_day() -> None:
    days = good()
    days.read("T1", -0.9, oxygen="3.5")
    held = fed_on(days)
    with pytest.raises(ValueError, match="nothing to give as advised"):
        rations.fed(held, 1)
    days.write(rations.fed(held, 1, Decimal(0)), -0.8)
    days.read("T1", -0.1, oxygen="6.8")
    after = fed_on(days)
    assert after.next_meal is not None
    assert after.next_meal.number == 2
    assert after.next_meal_g > 0


def test_readings_after_now_do_not_count() -> None:
    days = good()
    days.read("T1", +2, oxygen="2.0", nitrite="50")
    assert not fed_on(days).no_feed


# -- giving it -------------------------------------------------------------------------------------


def test_a_meal_as_advised_keeps_advice_and_reasons() -> None:
    ration = fed_on(good(flat(1.02)))
    draft = rations.fed(ration, 1, left=Decimal("5"))
    assert (draft.amount, draft.advised, draft.left, draft.meal) == ("255", "255", "5", 1)
    assert (draft.place, draft.lot, draft.product, draft.unit) == ("T1", "L1", "P", "g")
    assert draft.reasons == lines(ration.reasons)


def test_another_amount_needs_a_reason() -> None:
    ration = fed_on(good(flat(1.02)))
    with pytest.raises(ValueError, match="255 g: say why"):
        rations.fed(ration, 1, Decimal("200.5"))
    draft = rations.fed(ration, 1, Decimal("200.5"), "shy today")
    assert (draft.amount, draft.advised, draft.why) == ("200.5", "255", "shy today")


def test_feeding_against_no_feed_takes_a_second_step_and_a_reason() -> None:
    days = good()
    days.read("T1", -0.5, oxygen="3.0")
    ration = fed_on(days)
    for keys in ({}, {"why": "supervisor says so"}, {"confirmed": True}):
        with pytest.raises(ValueError, match="NO FEED"):
            rations.fed(ration, 1, Decimal(50), **keys)
    draft = rations.fed(ration, 1, Decimal(50), "supervisor says so", confirmed=True)
    assert (draft.amount, draft.advised) == ("50", "0")


def test_a_meal_is_not_given_twice_by_oversight() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1), -0.5)
    with pytest.raises(ValueError, match=r"given already, .* by ana"):
        rations.fed(fed_on(days), 1)
    assert rations.fed(fed_on(days), 2, confirmed=True).meal == 2


@pytest.mark.parametrize(
    ("grams", "says"),
    [
        ("2550", "2550 g is 10 times the meal of 255 g: a decimal point?"),
        ("2600", "2600 g is about 10 times the meal of 255 g: a decimal point?"),
        ("25.5", "25.5 g is a tenth of the meal of 255 g: a decimal point?"),
        ("1300", "1300 g is more than the whole day's ration, 765 g are left: is it meant?"),
    ],
)
def test_an_amount_that_looks_like_a_slip_is_kept_only_when_it_is_meant(
    grams: str, says: str
) -> None:
    ration = fed_on(good(flat(1.02)))
    with pytest.raises(Unsure) as asked:
        rations.fed(ration, 1, Decimal(grams), "typed")
    assert str(asked.value) == says
    assert rations.fed(ration, 1, Decimal(grams), "typed", confirmed=True).amount == grams


def test_what_is_left_of_the_day_may_be_given_at_once() -> None:
    ration = fed_on(good(flat(1.02)))
    for grams in (0, 30, 765, 1100):
        assert rations.fed(ration, 1, Decimal(grams), "one visit today").amount == str(grams)


def test_a_slip_is_named_beside_no_feed_too() -> None:
    days = good()
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "oxygen")
    ]
    days.feed("900", -24)
    ration = fed_on(days)
    grams = Decimal(str(ration.meals[0].advised_g)) * 10
    with pytest.raises(Unsure, match=r"not to be fed yet .* is 10 times the meal"):
        rations.fed(ration, 1, grams, "in a hurry")


def test_a_whole_day_in_one_meal_is_named_where_oxygen_is_not_read() -> None:
    days = good(flat(1.02))
    days.entries = [
        x for x in days.entries if not (isinstance(x, e.Reading) and x.measure == "oxygen")
    ]
    days.feed("900", -24)
    with pytest.raises(Unsure, match=r"read oxygen first.*765 g is 3 meals of 258 g in one"):
        rations.fed(fed_on(days), 1, Decimal(765), "one visit today")


def test_a_meal_too_soon_after_the_last_is_asked_about() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1), -0.5)
    soon = fed_on(days)
    # 10 March at 38 degrees north: 11 h 45 min of light, three meals, half of a third of it
    assert soon.next_at is not None
    assert 115 < (soon.next_at - NOW).total_seconds() / 60 + 30 < 119
    assert soon.too_soon in soon.cautions
    assert soon.too_soon == f"T1 was fed at 07:30: next not before {soon.next_at:%H:%M}."
    with pytest.raises(Unsure, match="next not before"):
        rations.fed(soon, 2)
    later = next(iter(rations.today(days.site, days.farm, soon.next_at)))
    assert (later.place, later.next_at, later.too_soon) == ("T1", None, "")


def test_fish_of_many_meals_wait_three_quarters_of_an_hour() -> None:
    days = good(flat(1.02, meals=((2000, 12),)))
    days.write(rations.fed(fed_on(days), 1), -0.5)
    assert fed_on(days).next_at == NOW + timedelta(minutes=15)


def test_the_total_is_the_day_as_fixed_whatever_was_advised_when_it_was_given() -> None:
    days = good(flat(1.02))
    before = fed_on(days)
    assert (before.total_g, before.given_g, before.left_g) == (765, 0, 765)
    for meal in (1, 2, 3):  # given against the sheet: nothing was advised
        days.feed("300", -0.9 + meal / 10, meal=meal, advised="0", why="fed before it was read")
    after = fed_on(days)
    assert (after.total_g, after.given_g, after.left_g) == (765, 900, 0)


def test_what_stops_a_meal_leaves_the_total_and_nothing_to_give() -> None:
    days = good(flat(1.02))
    days.write(rations.fed(fed_on(days), 1), -0.9)
    days.read("T1", -0.5, oxygen="3.0")
    after = fed_on(days)
    assert (after.total_g, after.given_g, after.left_g) == (765, 255, 0)


def test_an_act_after_the_first_meal_leaves_the_ration_as_that_meal_fixed_it() -> None:
    days = good(flat(1.02))
    days.write(rations.fed(fed_on(days), 1), -0.9)
    days.read("T1", -0.5, "act", nitrite="30")
    days.read("T1", -0.25, nitrite="0.1")
    days.read("T1", -0.2, nitrite="0.1")
    after = fed_on(days)
    assert (after.no_feed, after.total_g, after.left_g) == (False, 765, 510)


@pytest.mark.parametrize("bad", [Decimal(-1), Decimal("NaN")])
def test_no_such_amount(bad: Decimal) -> None:
    with pytest.raises(ValueError, match="not an amount"):
        rations.fed(fed_on(good()), 1, bad, "why")


def test_left_cannot_exceed_given() -> None:
    with pytest.raises(ValueError, match="not between"):
        rations.fed(fed_on(good()), 1, left=Decimal(99999))


def test_a_day_later_the_sheet_starts_anew() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1), -0.5)
    later = NOW + timedelta(days=1)
    (ration,) = rations.today(days.site, days.farm, later)
    assert ration.given_g == 0
    assert not ration.ready
