"""Deaths over days, fish that are missing, and lots that ate live fish: what must be said."""

from __future__ import annotations

from datetime import timedelta

import pytest
from quiet_farm import alarms, called_by
from small_farm import NOW, Days, make_site, with_place

from rounds.day.feeding import rations
from rounds.day.lots.deaths import call_vet, last_counts, short
from rounds.day.telling import handoff
from rounds.day.verdict import of_place
from rounds.records import entry as e


def dead(days: Days, counts: list[int], place: str = "T1", lot: str = "L1") -> Days:
    """Count the dead once a day; the last count is today's."""
    for back, count in enumerate(reversed(counts)):
        days.write(e.Died, -24.0 * back - 0.5, place=place, lot=lot, count=count)
    return days


def stocked(hours: float = -24 * 30) -> Days:
    days = Days()
    days.stock(hours=hours)
    return days


def vet(days: Days) -> list[str]:
    return [one.says for one in call_vet(days.farm, days.site.places["T1"], NOW)]


# -- three days running ------------------------------------------------------------------------


def test_deaths_above_expectation_on_three_days_call_the_veterinarian() -> None:
    days = dead(stocked(), [0] * 14 + [1, 2, 3])
    (judged,) = call_vet(days.farm, days.site.places["T1"], NOW)
    assert judged.verdict == "act"
    assert "1, 2, 3 dead of L1 on three days running, rising" in judged.says
    assert "Call the veterinarian" in judged.do
    assert judged.reasons
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.worst is not None
    assert "veterinarian" in stands.worst.do
    document = handoff.matters(days.site, days.farm, NOW, "ana")
    assert any("three days running" in line and "veterinarian" in line for line in document.watch)


def test_one_day_without_dead_does_not_silence_the_call_at_once() -> None:
    days = dead(stocked(), [0] * 14 + [1, 2, 3, 0])
    (judged,) = call_vet(days.farm, days.site.places["T1"], NOW)
    assert (judged.verdict, judged.says) == (
        "watch", "1, 2, 3 dead of L1 on three days running, 0 since"
    )  # fmt: skip
    assert "veterinarian" in judged.do
    assert vet(dead(stocked(), [0] * 14 + [1, 2, 3, 0, 0])) == []


@pytest.mark.parametrize(
    "counts",
    [
        [0] * 14 + [0, 1, 1],  # two days only
        [0] * 14 + [1, 0, 2],  # not running
        [2] * 14 + [3, 3, 3],  # as this lot loses every day
        [0] * 14,
    ],
)
def test_what_is_not_three_days_above_expectation_is_no_such_call(counts: list[int]) -> None:
    assert vet(dead(stocked(), counts)) == []


def test_a_day_nobody_counted_ends_the_run_and_an_old_run_is_over() -> None:
    days = stocked()
    for back in (4, 3, 1):
        days.write(e.Died, -24.0 * back, place="T1", lot="L1", count=2)
    assert vet(days) == []
    old = stocked()
    for back in (5, 4, 3):
        old.write(e.Died, -24.0 * back, place="T1", lot="L1", count=2)
    assert vet(old) == []


def test_larvae_are_judged_by_their_own_curve() -> None:
    days = Days()
    days.stock("L1", lot="LV", count=5000, weight="0.01")
    dead(days, [5, 50, 500], "L1", "LV")
    assert call_vet(days.farm, days.site.places["L1"], NOW) == []


@pytest.mark.parametrize(("deaths_a_day", "looked_at"), [(0.05, 1.0), (0.05, 0.7)])
def test_a_quiet_farm_raises_about_one_alarm_in_90_days_by_both_rules(
    deaths_a_day: float, looked_at: float
) -> None:
    both, vets = alarms(deaths_a_day, looked_at, farms=2, seed=3)
    assert both <= 2
    assert vets <= 0.5


def test_days_nobody_looked_before_a_run_do_not_call_the_veterinarian() -> None:
    """Three a day for ever, four days unseen: fifteen in the next count are no outbreak."""
    days = stocked()
    for back in range(20, 6, -1):
        days.write(e.Died, -24.0 * back, place="T1", lot="L1", count=3)
    for back, count in ((2, 15), (1, 4), (0, 4)):
        days.write(e.Died, -24.0 * back - 0.5, place="T1", lot="L1", count=count)
    assert vet(days) == []
    seen = dead(stocked(), [3] * 14 + [15, 4, 4])
    assert len(vet(seen)) == 1


def test_deaths_that_rose_threefold_are_called_within_the_stated_delay() -> None:
    """Stated: from 3 to 9 a day, four tanks in five by the third day."""
    assert called_by(3, 9, day=3, tanks=60, seed=5) > 0.7
    assert called_by(0.05, 2, day=5, tanks=60, seed=5) > 0.7


def test_an_unusual_sign_beside_deaths_calls_the_veterinarian() -> None:
    days = dead(stocked(), [0] * 14 + [1])
    assert vet(days) == []
    days.write(e.Answer, -0.4, place="T1", step="look", value="flashing", verdict="watch")
    assert vet(days) == ["1 dead, and fish flashing"]
    days.write(e.Answer, -0.3, place="T1", step="look", value="cannot see them", verdict="watch")
    assert vet(days) == []
    calm = dead(stocked(), [0] * 15)
    calm.write(e.Answer, -0.4, place="T1", step="look", value="flashing", verdict="watch")
    assert vet(calm) == []  # the answer itself is told; nobody died


# -- missing fish ------------------------------------------------------------------------------


def test_a_suspected_disease_is_watched_for_a_week_and_calls_the_veterinarian() -> None:
    days = stocked()
    days.write(e.Died, -24 * 5, place="T1", lot="L1", count=1, cause="disease suspected")
    days.write(e.Died, -0.5, place="T1", lot="L1", count=0)
    (judged,) = call_vet(days.farm, days.site.places["T1"], NOW)
    assert judged.verdict == "watch"
    assert judged.says == "1 dead of L1, disease suspected (Thu 5 Mar 08:00)"
    assert "Call the veterinarian" in judged.do
    late = NOW + timedelta(days=3)
    assert call_vet(days.farm, days.site.places["T1"], late) == []


def test_a_high_part_of_a_small_lot_is_watched_though_chance_allows_it() -> None:
    """A lot that came yesterday has no days before it: three dead of it are no rare chance."""
    for count, word in ((20, "watch"), (100, "ok")):
        days = Days()
        days.stock(count=count, hours=-24)
        dead(days, [3])
        (judged,) = last_counts(days.farm, days.site.places["T1"], NOW)
        assert judged.verdict == word
        assert ("15% of the lot in a day" in judged.says) is (count == 20)


def test_more_fish_than_are_wanted_are_watched() -> None:
    for density, words in ((15.0, []), (14.0, ["15.0 kg/m3 of fish, 14 wanted"])):
        days = Days(with_place(make_site(), "T1", density_kg_m3=density))
        days.stock(count=300)  # 75 kg in 5 m3
        stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
        found = [one for one in stands.judgements if one.measure == "crowding"]
        assert [one.says for one in found] == words
        assert {one.verdict for one in found} <= {"watch"}


def test_fewer_counted_than_carried_is_its_own_line() -> None:
    days = stocked()
    days.write(e.Died, -30, place="T1", lot="L1", count=2)
    days.write(e.Counted, -20, place="T1", lot="L1", count=276)
    (judged,) = short(days.farm, days.site.places["T1"], NOW)
    assert judged.says == "22 of L1 missing: 276 counted (Ana, yesterday 12:00), 298 on record"
    assert judged.verdict == "watch"
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert any(one.measure == "count" for one in stands.judgements)
    document = handoff.matters(days.site, days.farm, NOW, "ana")
    assert any("T1: 22 of L1 missing" in line for line in document.watch)
    days.write(e.Counted, -2, place="T1", lot="L1", count=275)  # so it was no slip
    (judged,) = short(days.farm, days.site.places["T1"], NOW)
    assert judged.says.startswith("23 of L1 missing: 275 counted (Ana, today")
    days.write(e.Counted, -1, place="T1", lot="L1", count=297)  # they were there
    assert short(days.farm, days.site.places["T1"], NOW) == []


def test_a_slip_in_counting_more_fish_or_an_estimate_is_no_shortage() -> None:
    for counted, keys in ((298, {}), (305, {}), (200, {"estimated": True})):
        days = Days()
        days.stock(**keys)
        days.write(e.Counted, -2, place="T1", lot="L1", count=counted)
        assert short(days.farm, days.site.places["T1"], NOW) == []


def test_fish_moved_away_do_not_take_the_shortage_along() -> None:
    days = stocked()
    days.write(e.Counted, -20, place="T1", lot="L1", count=200)
    days.write(e.Moved, -10, lot="L1", source="T1", target="T2", count=100)
    assert short(days.farm, days.site.places["T2"], NOW) == []
    assert len(short(days.farm, days.site.places["T1"], NOW)) == 1


# -- live and raw fish -------------------------------------------------------------------------


def flagged(days: Days) -> set[tuple[str, str]]:
    return {(s.place, s.lot) for ss in days.farm.stocks.values() for s in ss if s.ever_fed_live}


def test_a_lot_that_ate_forage_loses_the_exemption_for_good_through_moves_and_merges() -> None:
    days = Days()
    days.stock("T1", lot="A")
    days.stock("T2", lot="B")
    days.feed("200", -200)
    assert flagged(days) == set()
    days.feed("500", -100, product="KILLI")
    assert flagged(days) == {("T1", "A")}
    days.feed("200", -90)  # pellets again change nothing
    days.write(e.Moved, -80, lot="A", source="T1", target="T2", count=300)
    assert flagged(days) == {("T2", "A"), ("T2", "B")}  # nobody can tell them apart
    days.write(e.Moved, -70, lot="B", source="T2", target="T1", count=100)
    assert flagged(days) == {("T2", "A"), ("T2", "B"), ("T1", "B")}
    days.write(e.Stocked, -60, lot="C", place="T1", count=10, mean_weight="1", unit="g",
               parents=["B"])  # fmt: skip
    assert ("T1", "C") in flagged(days)


def test_a_lot_stocked_on_top_is_mixed_and_one_that_met_nobody_is_not() -> None:
    days = Days()
    days.stock("T1", lot="A")
    days.stock("T2", lot="B")
    days.feed("500", -100, product="KILLI")
    days.stock("T1", lot="D", hours=-50)
    assert flagged(days) == {("T1", "A"), ("T1", "D")}


def test_a_voided_meal_of_forage_flags_nothing() -> None:
    days = Days()
    days.stock("T1", lot="A")
    meal = days.feed("500", -100, product="KILLI")
    days.write(e.Correction, -99, of=meal.id, void=True)
    assert flagged(days) == set()


def test_hand_off_says_so_and_defers_to_the_food_authority() -> None:
    days = Days()
    days.stock("T1", lot="A")
    days.feed("500", -100, product="KILLI")
    lines = [x for x in handoff.matters(days.site, days.farm, NOW, "ana").watch if "A was" in x]
    assert len(lines) == 1
    assert lines[0].startswith("T1: ")
    assert "the local food authority decides" in lines[0]
    assert "safe" not in lines[0]
    assert rations.today(make_site(), Days().farm, NOW) == ()


def test_what_to_do_about_many_dead_leaves_the_amount_to_the_ration_sheet() -> None:
    days = Days()
    days.stock(count=300)
    days.good_water()
    days.write(e.Died, -0.4, place="T1", lot="L1", count=6)
    place = days.site.places["T1"]
    judged = next(
        j for j in of_place(days.site, days.farm, place, NOW).judgements if j.measure == "dead"
    )
    (ration,) = rations.today(days.site, days.farm, NOW)
    assert (judged.verdict, ration.factor, ration.no_feed) == ("act", 0.5, False)
    assert "feed only what the ration sheet says" in judged.do
    assert "hold" not in judged.do.lower()
