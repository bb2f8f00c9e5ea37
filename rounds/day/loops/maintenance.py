"""The dose between two tests: what feed takes of a loop's alkalinity, learnt on its own tests.

Between two tests what was dosed, less the change in the water and what left with water let out, is
what the feed took. Grams per kilogram fed differ from loop to loop; the loop's own tests tell them.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from msgspec import Struct

from rounds.day.fold.pellets import pellet_equivalent_g
from rounds.day.fold.state import FedAt, Read
from rounds.day.loops.alkalis import brought_mg_l, untold
from rounds.day.loops.dose_lines import Case
from rounds.day.when import spoken
from rounds.dosing.alkalis import dose_g_m3_per_mg_l
from rounds.fish.respiration import bicarbonate_for_feed_g_day
from rounds.reason import Reason, Reasons
from rounds.units import Amount

LEAST_INTERVALS: Final = 2
MOST_TESTS: Final = 9
APART: Final = timedelta(hours=18)
"""Tests nearer than this are of one round: the change between them is noise (common practice)."""
REACHES: Final = timedelta(days=60)
"""How far back the tests of a loop still speak of it (common practice)."""
TEST_LASTS: Final = timedelta(days=7)
"""How old a test may be for what the feed took since to be replaced (common practice)."""
CHANGED_MOST: Final = 0.10
"""Part of the water changed between two tests from which they tell nothing of the feed."""
BICARBONATE: Final = dose_g_m3_per_mg_l("NaHCO3")
"""g NaHCO3 for each g of alkalinity as CaCO3."""


class Interval(Struct, frozen=True):
    """Between two tests: feed, and what it took, g NaHCO3."""

    feed_kg: float
    taken_g: float

    @property
    def g_per_kg(self) -> float:
        """What each kilogram of feed took."""
        return self.taken_g / self.feed_kg


class Learnt(Struct, frozen=True):
    """Grams of NaHCO3 that a kilogram of feed takes on this loop.

    `low` and `high` hold the middle half of what any two of the tests say.
    """

    g_per_kg: float
    low: float
    high: float
    tests: int


class Replaced(Struct, frozen=True):
    """What to count with so that a dose gives back what feed took since a test, and no more."""

    alkalinity_mg_l: float
    target_mg_l: float
    says: str
    reasons: Reasons


def learnt(case: Case) -> Learnt | str:
    """Learn what feed takes of a loop's alkalinity from its own tests.

    Args:
        case: The loop, with what was read, fed, dosed and let out.

    Returns:
        The median of what any two tests say of the feed between them, each pair weighing as much
        as that feed: one wrong test moves little. Or in words why it is not known.

    Source: median of pairwise slopes, Theil 1950, Sen 1968; balance of alkalinity.
    """
    intervals = _intervals(case)
    count = sum(one is not None and one.feed_kg > 0 for one in intervals)
    if count < LEAST_INTERVALS:
        return (
            "a dose from feed is not learnt yet: it needs three tests some days apart, "
            f"with feed between them ({count} of {LEAST_INTERVALS} intervals so far)"
        )
    pairs = _between_any_two(intervals)
    low, middle, high = (_share(pairs, part) for part in (0.25, 0.5, 0.75))
    if low <= 0:
        return "a dose from feed is not learnt: the last tests disagree on what feed takes"
    return Learnt(middle, low, high, count + 1)


def replaced(case: Case) -> Replaced | None:
    """Return what to count with where the last test is too old to raise anything on.

    Args:
        case: The loop; what is missing is noted in it.

    Returns:
        Alkalinity as it should be now, and the target: what the test showed or what is wanted,
        whichever is less. None where there is no test, none recent enough, or nothing is learnt.
    """
    tests = _tests(case)
    if not tests:
        return None
    test = tests[-1]
    since = [dose for dose in case.dosed if dose.at > test.at]
    if case.now - test.at > TEST_LASTS:
        return None
    if strange := untold(case, since):
        case.missing.append(
            f"alkalinity: {strange[-1]} was given, what it brings is not known: measure it again"
        )
        return None
    if case.changed_since(test.at, CHANGED_MOST):
        case.missing.append("alkalinity: water was changed since the test, measure it again")
        return None
    demand = learnt(case)
    if isinstance(demand, str):
        case.missing.append(demand)
        return None
    meals = _meals(case, test.at, case.now)
    feed_kg, most_g = _feed_kg(case, meals), _most_g(case, meals)
    taken_g = demand.g_per_kg * feed_kg
    counted_g = taken_g if most_g is None else min(taken_g, most_g)
    given_g = brought_mg_l(case, since) * case.volume_m3 * BICARBONATE
    wanted = case.targets.get("alkalinity", case.loop.alkalinity_target_mg_l)
    now = test.value + (given_g - counted_g) / case.volume_m3 / BICARBONATE
    when = spoken(test.at, case.now, case.site.timezone)
    return Replaced(
        max(now, 0.0),
        min(test.value, wanted),
        f"Replaces what {feed_kg:.1f} kg of feed took since the test of {when}; it lifts nothing. "
        "Test alkalinity on the next test day: each test corrects it.",
        (
            Reason(
                "Alkalinity {typed} mg/L CaCO3, {place}, {when}: too old to raise anything on",
                {"typed": test.typed, "place": test.place, "when": when},
                "reading",
            ),
            *_why(demand, feed_kg, taken_g, most_g),
            Reason(
                "{given:.0f} NaHCO3 given since, so alkalinity should be {now:.0f} mg/L CaCO3",
                {"given": Amount(given_g, "g"), "now": max(now, 0.0)},
                "balance since the test",
            ),
        ),
    )


def _why(demand: Learnt, feed_kg: float, taken_g: float, most_g: float | None) -> Reasons:
    reasons = [
        Reason(
            "{learnt:.0f} g NaHCO3 per kg fed, learnt from {tests} tests of this loop; any two of "
            "them say mostly {low:.0f} to {high:.0f}",
            {
                "learnt": demand.g_per_kg,
                "tests": demand.tests,
                "low": demand.low,
                "high": demand.high,
            },
            "dosed, less the change in the water and what left with it; new water counted as 0",
        ),
        Reason(
            "{feed:.2f} fed since takes {taken:.0f} NaHCO3",
            {"feed": Amount(feed_kg, "kg"), "taken": Amount(taken_g, "g")},
        ),
    ]
    if most_g is not None:
        held = ": counted with that" if taken_g > most_g else ""
        reasons.append(
            Reason(
                "That feed can take at most {most:.0f} NaHCO3{held}",
                {"most": Amount(most_g, "g"), "held": held},
                "protein x 0.092 nitrified, all feed eaten",
            )
        )
    return tuple(reasons)


def _tests(case: Case) -> list[Read]:
    """Return the loop's tests of alkalinity, oldest first, since its water is what it is today."""
    changed = _water_changed(case)
    since = max(filter(None, [changed, case.now - REACHES]))
    found = [
        read
        for place in case.site.places_of(case.loop.code)
        if case.farm.state_of(place.code) == "in service"
        for read in case.farm.between(place.code, "alkalinity", since, case.now)
    ]
    return sorted(found, key=lambda read: (read.at, read.id))


def _intervals(case: Case) -> list[Interval | None]:
    """Return the intervals between the last tests; None where one tells nothing of the feed."""
    spaced: list[Read] = []
    for test in _tests(case):
        if not spaced or test.at - spaced[-1].at >= APART:
            spaced.append(test)
    return [_interval(case, *pair) for pair in pairwise(spaced[-MOST_TESTS:])]


def _interval(case: Case, first: Read, second: Read) -> Interval | None:
    doses = [dose for dose in case.dosed if first.at < dose.at <= second.at]
    changes = [change for change in case.exchanged if first.at < change.at <= second.at]
    out_m3 = sum(change.volume_out_m3 for change in changes)
    if out_m3 > CHANGED_MOST * case.volume_m3 or untold(case, doses):
        return None
    rise = second.value - first.value
    left = out_m3 * (first.value + second.value) / 2
    taken = (brought_mg_l(case, doses) - rise) * case.volume_m3 - left
    return Interval(_feed_kg(case, _meals(case, first.at, second.at)), taken * BICARBONATE)


def _between_any_two(intervals: list[Interval | None]) -> list[Interval]:
    """Return feed and what it took between any two tests with nothing unknown between them."""
    found = []
    for first in range(len(intervals)):
        feed_kg = taken_g = 0.0
        for one in intervals[first:]:
            if one is None:
                break
            feed_kg, taken_g = feed_kg + one.feed_kg, taken_g + one.taken_g
            if feed_kg > 0:
                found.append(Interval(feed_kg, taken_g))
    return found


def _share(pairs: list[Interval], part: float) -> float:
    """Return the grams per kilogram that cover this part of all, each weighing as its feed."""
    ranked = sorted(pairs, key=lambda one: one.g_per_kg)
    needed, seen = part * sum(one.feed_kg for one in ranked), 0.0
    for one in ranked:
        seen += one.feed_kg
        if seen >= needed * (1 - 1e-9):
            break
    return one.g_per_kg


def _meals(case: Case, since: datetime, until: datetime) -> list[FedAt]:
    return [
        meal
        for place in case.site.places_of(case.loop.code)
        if case.farm.state_of(place.code) == "in service"
        for meal in case.farm.fed(place.code, since)
        if since < meal.at <= until
    ]


def _feed_kg(case: Case, meals: list[FedAt]) -> float:
    """Return feed eaten as kilograms of pellets; live food does not count."""
    products = case.site.products
    return sum(
        pellet_equivalent_g(products.get(m.product), m.amount_g, m.left_g) / 1000 for m in meals
    )


def _most_g(case: Case, meals: list[FedAt]) -> float | None:
    """Return the most NaHCO3 these meals can take; None where the protein of one is not known."""
    most = 0.0
    for meal in meals:
        product = case.site.products.get(meal.product)
        eaten = pellet_equivalent_g(product, meal.amount_g, meal.left_g) / 1000
        if not eaten or product is None:
            continue
        if product.protein is None:
            return None
        most += bicarbonate_for_feed_g_day(eaten, product.protein)
    return most


def _water_changed(case: Case) -> datetime | None:
    """Return when a place of the loop was last isolated, drained or filled, or None."""
    states = case.farm.now.states
    codes = (place.code for place in case.site.places_of(case.loop.code))
    return max((states[code].at for code in codes if code in states), default=None)
