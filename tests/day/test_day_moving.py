"""When fish are split, graded or harvested, and which tank could take them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from small_farm import NOW, Days, make_site, with_place

from rounds.day.lots.growth import of_stock
from rounds.day.lots.moving import Plan, plans, rooms
from rounds.day.lots.room import room
from rounds.day.when import long_day
from rounds.records.entry import Died, Weighed
from rounds.site.model import Site


def site(density: float = 30.0) -> Site:
    made = with_place(make_site(), "T1", volume_m3=5.678, density_kg_m3=density)
    return with_place(made, "T2", density_kg_m3=30.0)


def farm(density: float = 30.0, count: int = 400, end_g: float = 300.0) -> Days:
    """Fish that grew at TGC x1000 0.6 in 24 degC to a weight weighed today."""
    days = Days(site(density))
    start = (end_g ** (1 / 3) - 0.0006 * 24 * 60) ** 3
    days.stock("T1", count=count, weight=f"{start}", hours=-24 * 60)
    for ago in range(61):
        days.read("T1", -24 * ago, temperature=24)
    weigh(days, end_g)
    return days


def weigh(days: Days, mean_g: float, *each: float) -> None:
    grams = each or (mean_g,) * 50
    days.write(
        Weighed, 0, lot="L1", place="T1", count=len(grams), mass=f"{sum(grams):.6f}", unit="g",
        weights=[f"{one:g}" for one in each],
    )  # fmt: skip


def planned(days: Days) -> Plan:
    (found,) = plans(days.site, days.farm, days.site.places["T1"], NOW)
    return found


def test_the_split_has_its_date_and_reason_and_how_many_may_stay() -> None:
    """Published check days_to_density_limit: 400 fish of 300 g, 5.678 m3, 30 kg/m3: 57.58 days."""
    found = planned(farm())
    about = long_day((NOW + timedelta(days=58)).date())
    assert f": 400 of these fish reach 30 kg/m3 about {about}" in found.split
    assert found.split_by is not None
    assert found.split_by < (NOW + timedelta(days=58)).date()
    assert found.split.startswith(f"Split by {long_day(found.split_by)}")
    assert found.stay == 189  # 5.678 m3 x 30 kg/m3 / 0.9 kg
    assert "189 can stay until 900 g" in found.split


def test_a_tank_over_its_limit_is_split_now_without_any_growth_known() -> None:
    days = Days(site(20.0))
    days.stock("T1", count=500, weight="250")
    found = planned(days)
    assert "Split now: 22.0 kg/m3 here, the limit is 20" in found.split
    assert found.split_by == NOW.date()


def test_without_support_the_line_says_what_is_wanted_and_gives_no_date() -> None:
    days = Days(site())
    days.stock("T1", count=300, weight="200")
    found = planned(days)
    assert found.split_by is None
    assert "weighed once: weigh again" in found.split
    assert "no spread is known" in found.grade
    days.site = with_place(days.site, "T1", density_kg_m3=None)
    assert "no density limit is set for T1" in planned(days).split


def test_fish_of_market_size_before_the_limit_need_no_split() -> None:
    found = planned(farm(density=70.0, count=300, end_g=700))
    assert found.split_by is None
    assert "not before market size" in found.split


def test_the_part_above_market_size_is_counted_once_its_spread_is_known() -> None:
    days = Days(site())
    days.stock("T1", count=200, weight="800", hours=-1)
    assert planned(days).above_market == {}
    # ten fish with mean 800 g and CV 20 %: 26.6 % by normal, 24.4 % by log-normal (published)
    low, high = 800 - 151.789, 800 + 151.789
    weigh(days, 800, *([low] * 5 + [high] * 5))
    found = planned(days)
    assert found.above_market["normal"] == pytest.approx(0.266, abs=0.001)
    assert found.above_market["log-normal"] == pytest.approx(0.244, abs=0.001)
    assert "of 200 are above 900 g: sorting them out makes room" in found.harvest


def test_tanks_of_the_same_stage_and_species_take_what_their_limits_leave() -> None:
    days = farm()
    place = days.site.places["T1"]
    (one,) = rooms(days.site, days.farm, place, 300, NOW)
    # 4 m3 at 30 kg/m3 by space; oxygen and the rest were never read there
    assert (one.place, one.fish, one.governs, one.at_most) == ("T2", 400, "space", True)
    assert one.missing
    assert (one.holds, one.same_loop) == ((), True)
    days.stock("T2", count=100, weight="300", lot="L2", hours=0)
    assert rooms(days.site, days.farm, place, 300, NOW)[0].fish == 300
    days.stock("T2", count=300, weight="300", lot="L2", hours=0)
    assert rooms(days.site, days.farm, place, 300, NOW) == ()
    assert planned(days).free_says == "no other grow-out tank of this species has room"
    days.site = with_place(days.site, "T2", species=None)
    assert rooms(days.site, days.farm, place, 300, NOW) == ()


def test_a_tank_with_sick_fish_or_with_prey_is_no_room_and_sick_fish_seek_none() -> None:
    days = farm()
    place = days.site.places["T1"]
    days.stock("T2", count=50, weight="60", lot="L2")  # 0.2 of 300 g: below 60 % of the length
    assert rooms(days.site, days.farm, place, 300, NOW) == ()
    days.stock("T2", count=50, weight="200", lot="L2")
    assert [one.place for one in rooms(days.site, days.farm, place, 300, NOW)] == ["T2"]
    days.write(Died, -1, lot="L2", place="T2", count=1, cause="disease suspected")
    assert rooms(days.site, days.farm, place, 300, NOW) == ()
    days.write(Died, -1, lot="L1", place="T1", count=1, cause="disease suspected")
    assert planned(days).free_says.startswith("none sought. T1: 1 dead of L1, disease suspected")
    asked = room(days.site, days.farm, place, NOW)
    assert "no fish in or out" in asked.cautions[0]


def test_the_weight_another_limit_carries_has_its_date_too() -> None:
    days = farm()
    days.site = with_place(days.site, "T1", flow_m3_h=3.0)
    days.good_water()
    found = room(days.site, days.farm, days.site.places["T1"], NOW)
    assert found.governs == "oxygen"
    assert found.grow_to_g
    says = found.dates[-1]
    assert f"{found.grow_to_g:.4g} g (what oxygen carries)" in says
    growth = of_stock(days.site, days.farm, days.site.places["T1"], days.farm.stocks["T1"][0], NOW)
    assert growth.tgc
    assert [one.lot for one in found.plans] == ["L1"]
