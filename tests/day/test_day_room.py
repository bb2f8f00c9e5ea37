"""Room to grow from the book: each limit, the least of them, and no default for a measurement."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site, with_place, with_product

from rounds.day.lots.room import Limit, Room, room
from rounds.fish.air import alarm_uptake_mg_kg_h
from rounds.fish.ration import RationTable
from rounds.records import entry as e
from rounds.site.model import Limits, Site

# a table that is flat, so that published examples with one ration can be asked through the book
FLAT = RationTable((1, 5000), (10, 30), ((1.5, 1.5), (1.5, 1.5)), "flat")
OXYGEN = Limits("oxygen", 5.0, None, 4.0, None)


def tank(**changes) -> Site:
    limits = {"any": (OXYGEN, *(one for one in FISH.limits["any"] if "oxygen" not in one.measure))}
    site = make_site(species={"fish": replace(FISH, table=FLAT, limits=limits)})
    keys = {"volume_m3": 5.678, "flow_m3_h": 5.678, "density_kg_m3": 30.0, **changes}
    return with_place(site, "T1", **keys)


def ask(days: Days, weight: float | None = 250, count: int | None = None) -> Room:
    return room(days.site, days.farm, days.site.places["T1"], NOW, weight, count)


def limit(found: Room, name: str) -> Limit:
    return next(one for one in found.limits if one.name == name)


def test_an_empty_tank_by_oxygen_as_published() -> None:
    """Worked example: 5.678 m3, one turnover an hour, 7.0 to 5.0 mg/L, 250 mg/kg/h: 45 kg.

    In water this cold it is more than what fish use after a meal.
    """
    days = Days(tank())
    days.good_water(temperature=13)
    days.read("T1", -0.5, oxygen="7.0")
    days.read("T1", -30, oxygen="5.0")  # long ago
    found = limit(ask(days), "oxygen")
    # the lowest of 24 h is what good_water read, 6.8; what comes in is measured below
    assert found.kg == pytest.approx(5678 * 1.8 / 250, rel=1e-6)
    days.read("T1", -0.4, oxygen_in="7.0")
    found = limit(ask(days), "oxygen")
    assert found.kg == pytest.approx(45.424, abs=0.01)
    assert found.fish == 181
    assert "from memory" in {reason.source for reason in found.reasons}


def test_warm_fish_are_given_room_for_what_they_use_after_a_meal_as_in_minutes_of_air() -> None:
    days = Days(tank())
    days.good_water()
    days.read("T1", -0.4, oxygen_in="7.0")
    after_a_meal = alarm_uptake_mg_kg_h(250, 24, 0)
    assert after_a_meal > 250
    assert limit(ask(days), "oxygen").kg == pytest.approx(5678 * 2 / after_a_meal)


def test_fish_there_and_the_margin_of_the_water_add_up() -> None:
    """Balance: the same tank read with fish in it takes the same fish, wherever oxygen stands."""
    days = Days(tank())
    days.stock("T1", count=100, weight="250")
    days.good_water(temperature=13)
    drop = 25 * 250 / 5678  # what 25 kg take from 7.0 mg/L at that flow
    days.entries = [e for e in days.entries if getattr(e, "measure", "") != "oxygen"]
    days.read("T1", -1, oxygen=f"{7.0 - drop:.6f}")
    assert limit(ask(days), "oxygen").kg == pytest.approx(45.424, abs=0.01)
    days.read("T1", -0.5, oxygen="4.5")  # below the least wanted: fewer than there are
    assert (limit(ask(days), "oxygen").kg or 0) < 25


def test_fish_that_come_after_the_reading_bring_no_room_with_them() -> None:
    """Balance: oxygen read before they came says what the water carried without them."""
    days = Days(tank())
    days.good_water()
    before = limit(ask(days), "oxygen").kg
    days.stock("T2", count=120, weight="250")
    days.write(e.Moved, -0.1, lot="L1", source="T2", target="T1", count=100)
    found = ask(days)
    assert limit(found, "oxygen").kg == pytest.approx(before)
    assert "Fish came or went since the water was read" in found.cautions[0]
    days.read("T1", -0.05, oxygen="6.8")  # with 25 kg in it
    days.entries = [one for one in days.entries if getattr(one, "value", "") != "6.8"
                    or one.at > NOW - timedelta(minutes=10)]  # fmt: skip
    assert limit(ask(days), "oxygen").kg == pytest.approx((before or 0) + 25)


def test_fish_that_left_after_the_reading_leave_their_room() -> None:
    days = Days(tank())
    days.stock("T1", count=100, weight="250")
    days.good_water()
    before = limit(ask(days), "oxygen").kg
    days.write(e.Moved, -0.1, lot="L1", source="T1", target="T2", count=60)
    assert limit(ask(days), "oxygen").kg == pytest.approx(before)


def test_ammonia_and_filter_by_the_balance_of_nitrogen() -> None:
    days = Days(tank())
    days.good_water()
    found = limit(ask(days), "ammonia")
    per_kg = 0.015 * 0.45 * 0.092 * 1000  # g N a day a kilogram of fish
    at = next(r for r in found.reasons if "stands at TAN" in r.says).values["limit"]
    assert isinstance(at, float)
    assert found.kg == pytest.approx(5.678 * 24 * (at - 0.3) / per_kg, rel=1e-6)
    assert limit(ask(days), "filter").kg is None
    assert "tan_removal" in limit(ask(days), "filter").missing
    days.site = with_place(days.site, "M1", area_m2=60.0, tan_removal_g_m2_day=0.5)
    alone = limit(ask(days), "filter").kg
    assert alone == pytest.approx(30 / per_kg)
    days.stock("T2", count=80, weight="250", lot="L2")
    assert limit(ask(days), "filter").kg == pytest.approx(30 / per_kg - 20)


def test_the_least_governs_and_the_answer_is_a_number_of_fish() -> None:
    days = Days(with_place(tank(), "M1", area_m2=200.0, tan_removal_g_m2_day=0.5))
    days.good_water()
    days.read("T1", -1, alkalinity="120", oxygen_in="7.0")
    found = ask(days, 250, 150)
    assert {one.name: one.kg is not None for one in found.limits} == dict.fromkeys(
        ("oxygen", "ammonia", "carbon dioxide", "filter", "space"), True
    )
    assert found.kg == min(one.kg for one in found.limits if one.kg is not None)
    assert found.kg == limit(found, found.governs).kg
    assert not found.at_most
    assert found.fish == int(found.kg * 1000 / 250)
    assert found.fits is (found.fish >= 150)
    assert found.grow_to_g
    again = ask(days, found.grow_to_g, 150)
    assert again.kg == pytest.approx(150 * found.grow_to_g / 1000, rel=1e-6)


def test_smaller_fish_eat_more_so_fewer_kilograms_fit() -> None:
    days = Days(replace(tank(), species={"fish": replace(FISH, limits={"any": (OXYGEN,)})}))
    days.good_water()
    small, large = (limit(ask(days, weight), "oxygen").kg for weight in (100, 400))
    assert small
    assert large
    assert small < large


def test_no_default_stands_in_for_a_measurement() -> None:
    found = ask(Days(tank(flow_m3_h=None, density_kg_m3=None)))
    assert (found.kg, found.fish, found.governs, found.at_most) == (None, None, "", True)
    assert "Temperature not read here: measure it" in found.missing
    assert "no density limit is set for T1: put it into site.toml" in found.missing
    days = Days(with_product(tank(flow_m3_h=None), "P", protein=None))
    days.good_water()
    found = ask(days)
    assert "flow of T1 is not known" in limit(found, "oxygen").missing
    assert limit(found, "filter").kg is None
    assert found.governs == "space"
    assert found.at_most
    days.read("T1", -0.5, flow="5.678")
    assert limit(ask(days), "oxygen").kg
    assert "protein of the feed of T1" in limit(ask(days), "ammonia").missing


def test_the_warning_at_four_fifths_of_the_density_limit() -> None:
    days = Days(tank())
    days.stock("T1", count=540, weight="250")
    days.good_water()
    days.feed("500", -3)
    assert ask(days).cautions == ()
    days.stock("T1", count=10, weight="250", lot="L2", hours=-20)
    assert ask(days).cautions[0].startswith("At 8")
    assert ask(days).dates[0].startswith("L1: weighed once")


def test_an_empty_tank_needs_a_weight_and_larvae_are_not_judged_here() -> None:
    days = Days(tank())
    with pytest.raises(ValueError, match="--weight"):
        ask(days, None)
    with pytest.raises(ValueError, match="weight -3"):
        ask(days, -3)
    larvae = room(days.site, days.farm, days.site.places["L1"], NOW, 1.0)
    assert larvae.kg is None
