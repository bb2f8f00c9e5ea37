"""A ration raised for fish that clear it at once, and the table's largest that nothing passes."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from ration_farm import fed_on
from small_farm import FISH, NOW, Days, make_site, table

from rounds.day.feeding import rations
from rounds.day.feeding.opinions import choose
from rounds.reason import lines
from rounds.records import entry as e
from rounds.site.model import Site


def site(percent: float = 1.02, largest: float = 2.0) -> Site:
    """One rate at 24 degC and colder, a larger one where it is warmest."""
    points = [(w, t, percent if t < 35 else largest) for w in (1, 5000) for t in (10, 30, 35)]
    return replace(make_site(), species={"fish": replace(FISH, table=table(*points))})


def fed_days(
    days: int, minutes: str = "1.5", left: str = "0", largest: float = 2.0, grams: str = "260"
) -> Days:
    """300 fish of 250 g, three meals timed on each of the last days, good water."""
    found = Days(site(largest=largest))
    found.stock()
    for back in range(days + 1, 0, -1):
        found.good_water(hours=-24.0 * back - 1)
        for meal, hour in ((1, 0), (2, 4), (3, 8)) if back <= days else ():
            found.read("T1", -24 * back + hour - 0.1, oxygen="6.8")
            found.feed(grams, -24 * back + hour, meal=meal, advised=grams, left=left,
                       minutes=minutes)  # fmt: skip
    found.good_water()
    return found


def raised(days: Days) -> float:
    """Today's ration as a part of the table's."""
    ration = fed_on(days)
    by_table = next(one.g_day for one in ration.opinions if one.name == "table")
    assert by_table
    return ration.total_g / by_table


@pytest.mark.parametrize(("days", "part"), [(2, 1.0), (3, 1.05), (4, 1.1), (6, 1.1)])
def test_fish_that_clear_every_meal_get_a_little_more_each_day_up_to_a_tenth(
    days: int, part: float
) -> None:
    # husbandry 2.5: clean in under 2 min for 3 days, water good: +5 % a day, +10 % at most
    assert raised(fed_days(days)) == pytest.approx(part, abs=0.002)
    told = any("gone within 2 minutes" in line for line in lines(fed_on(fed_days(days)).reasons))
    assert told == (part > 1)


@pytest.mark.parametrize(
    "how", [{"minutes": "2"}, {"minutes": ""}, {"left": "1"}, {"grams": "200"}]
)
def test_slow_untimed_or_small_meals_and_feed_left_raise_nothing(how: dict[str, str]) -> None:
    assert raised(fed_days(4, **how)) <= 1.0  # type: ignore[arg-type]


def test_a_small_meal_gone_fast_raises_nothing_where_a_person_chose_the_table() -> None:
    days = fed_days(4, grams="200")
    days.write(choose("T1", "table", "hungry"), -0.5)
    assert fed_on(days).governs == "table"
    assert raised(days) == pytest.approx(1, abs=0.002)


@pytest.mark.parametrize(
    "worse", [{"nitrite": "2"}, {"oxygen": "4.8"}, {"tan": "2", "ph": "7.9"}, {"temperature": "28"}]
)
def test_only_good_water_raises(worse: dict[str, str]) -> None:
    days = fed_days(4)
    days.read("T1", -0.5, **worse)
    assert raised(days) < 1.0


def test_a_day_of_poor_water_or_a_missed_meal_ends_the_row() -> None:
    poor = fed_days(4)
    poor.read("T1", -24 + 7.9, nitrite="5")
    poor.read("T1", -24 + 9, nitrite="0.2")
    assert raised(poor) == pytest.approx(1, abs=0.002)
    missed = fed_days(4)
    missed.entries = [
        x for x in missed.entries if not (isinstance(x, e.Fed) and x.meal == 3 and "09T" in x.t)
    ]
    assert raised(missed) == pytest.approx(1, abs=0.002)


def test_a_raise_stays_under_the_largest_of_the_table_and_says_so() -> None:
    days = fed_days(4, largest=1.04)
    assert raised(days) == pytest.approx(1.04 / 1.02, abs=0.002)
    assert any("table's largest" in line for line in lines(fed_on(days).reasons))


def test_a_person_who_chooses_more_gets_no_more_than_the_tables_largest() -> None:
    days = fed_days(3, grams="700")
    assert fed_on(days).choose
    days.write(choose("T1", "accepted", "hungry"), -0.5)
    ration = fed_on(days)
    assert ration.governs == "last accepted"
    assert ration.total_g == pytest.approx(ration.biomass_kg * 2.0 * 10, abs=1)  # 2 % is largest


@settings(max_examples=25, deadline=None)
@given(
    grams=st.integers(1, 3000),
    minutes=st.sampled_from(["", "1", "5"]),
    left=st.integers(0, 100),
    chosen=st.sampled_from(["", "table", "growth", "accepted"]),
    nitrite=st.floats(0, 12),
    worse=st.floats(0, 12),
)
def test_no_history_passes_the_largest_and_worse_water_never_gives_more(
    grams: int, minutes: str, left: int, chosen: str, nitrite: float, worse: float
) -> None:
    days = fed_days(3, minutes, f"{min(left, grams)}", grams=f"{grams}")
    if chosen:
        days.write(choose("T1", chosen, "why not"), -0.5)
    totals = []
    for value in sorted((nitrite, worse)):
        tried = Days(days.site)
        tried.entries, tried.n = list(days.entries), days.n
        tried.read("T1", -0.4, nitrite=f"{value:.3f}")
        ration = fed_on(tried)
        assert sum(meal.advised_g for meal in ration.meals) <= ration.biomass_kg * 2.0 * 10 + 1e-6
        totals.append(sum(meal.advised_g for meal in ration.meals))
    assert totals[1] <= totals[0]
    assert rations.today(days.site, days.farm, NOW)
