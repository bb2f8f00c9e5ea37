"""The pond and what tanks would take of it: printed examples through the book."""

from __future__ import annotations

import math
from datetime import timedelta
from decimal import Decimal

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site, with_place

from rounds.day.feeding import rations
from rounds.day.forage import need as forage_need
from rounds.day.forage import pond, pond_estimate
from rounds.records import entry as e


def killifish(survivors: int, end: str, start: str, fish: int) -> Days:
    """A hectare of killifish pond over 16 weeks, as printed."""
    days = Days(with_place(make_site(), "P1", area_m2=10_000.0))
    days.stock("P1", count=fish, weight=start, lot="K", hours=-24 * 112)
    days.write(e.Weighed, -1, place="P1", lot="K", count=100, mass=f"{float(end) * 100:g}",
               unit="g")  # fmt: skip
    days.write(e.Counted, -0.001, place="P1", lot="K", count=survivors)
    days.read("P1", temperature="25")
    return days


def stands(days: Days, need: float = 0.0, **asked: object) -> pond.Pond:
    place = days.site.places["P1"]
    typed = forage_need.Asked(**asked)  # type: ignore[arg-type]
    return pond.pond(days.site, days.farm, place, NOW, typed, need)


def test_the_printed_killifish_ponds_end_to_end() -> None:
    # husbandry 4.4: net 0.90 kg/ha/day, 0.090 g/m2/day; and -0.024 kg/ha/day: growth, yet a loss
    good = stands(killifish(round(26_500 * 0.543), "7.88", "0.47", 26_500))
    assert good.made_kg_day == pytest.approx(0.90, abs=0.005)
    assert good.made_g_m2_day == pytest.approx(0.090, abs=0.0005)
    assert good.by_yield_kg_day == pytest.approx(0.7 * 0.90, abs=0.005)
    bad = stands(killifish(round(20_450 * 0.431), "13.90", "6.12", 20_450))
    assert bad.made_kg_day == pytest.approx(-0.024, abs=0.002)
    assert bad.by_yield_kg_day == 0


def test_need_against_yield_stands_on_one_line() -> None:
    # husbandry 4.4: 45 kg fed 5 % wet need 2.25 kg a day: about 25,000 m2 at the killifish rate
    days = killifish(round(26_500 * 0.543), "7.88", "0.47", 26_500)
    found = stands(days, 2.25)
    assert found.area_needed_m2 is not None
    assert found.area_needed_m2 * 0.7 == pytest.approx(25_000, rel=0.01)
    assert "Needed 2250 g a day, allowed 631 g, pellets for the rest" in found.line
    assert "this one has 10000" in found.line
    assert any("Permit" in line for line in found.cautions)


def test_surplus_production_is_shown_beside_and_the_smaller_is_allowed() -> None:
    # husbandry 4.3: r 1.2, K 200 kg, B 60 kg: 50.4 kg a year, halved under a third of K
    days = killifish(30_000, "2", "0.47", 26_500)
    found = stands(days, r_per_yr=1.2, k_kg=200.0)
    assert found.stock_kg == pytest.approx(60)
    assert found.by_surplus_kg_day == pytest.approx(50.4 / 365.25 / 2, rel=1e-6)
    assert found.by_yield_kg_day is not None
    assert found.by_yield_kg_day > found.by_surplus_kg_day
    assert found.allowed_kg_day == found.by_surplus_kg_day


def test_nothing_is_taken_from_a_cold_pond_or_on_an_old_estimate() -> None:
    days = killifish(14_000, "7.88", "0.47", 26_500)
    days.read("P1", hours=-0.5, temperature="19")
    assert stands(days).allowed_kg_day == 0
    assert (stands(days, breeding_c=18.0).allowed_kg_day or 0) > 0
    old = Days(with_place(make_site(), "P1", area_m2=60.0))
    old.stock("P1", count=5000, weight="1", lot="K", hours=-24 * 90)
    old.write(e.Counted, -24 * 43, place="P1", lot="K", count=4000)
    old.read("P1", temperature="25")
    assert stands(old).allowed_kg_day == 0
    assert stands(old).by_yield_kg_day is None
    never = Days(make_site())
    assert stands(never).allowed_kg_day is None
    assert any("Estimate the stock" in line for line in stands(never).missing)


def test_mark_recapture_is_written_with_its_date_and_read_back_with_its_interval() -> None:
    days = Days(make_site())
    days.stock("P1", count=900, weight="2", lot="K")
    days.write(pond_estimate.by_marks("P1", "K", 200, 150, 30), -1)
    found = stands(days)
    # husbandry 4.3: Chapman (M + 1)(C + 1) / (R + 1) - 1
    assert found.fish == round(201 * 151 / 31 - 1)
    assert found.low_fish is not None
    assert found.high_fish is not None
    assert found.low_fish < found.fish < found.high_fish
    assert found.estimated_at == NOW - timedelta(hours=1)
    with pytest.raises(ValueError, match="recaptured"):
        pond_estimate.by_marks("P1", "K", 20, 15, 30)


def fed_tank() -> Days:
    days = Days(make_site())
    days.stock(count=300, weight="250")
    days.good_water()
    return days


def test_need_is_the_same_dry_matter_and_fits_the_mouth() -> None:
    days = fed_tank()
    total_kg = rations.today(days.site, days.farm, NOW)[0].total_g / 1000
    typed = forage_need.Asked(share=0.5, predator_mm=250.0, prey_g=2.0)
    (need,) = forage_need.needs(days.site, days.farm, NOW, typed, "T1")
    assert need.wet_kg_day is not None
    assert need.wet_kg_day * 0.23 == pytest.approx(total_kg * 0.5 * 0.92)  # conservation
    assert need.prey_a_day == pytest.approx(need.wet_kg_day * 500)
    assert need.window is not None
    assert need.window.offer_mm == pytest.approx((30, 50))  # husbandry 4.1
    assert need.cautions == (
        "Refuse prey above 75 mm; deep-bodied or spiny prey no longer than 38 mm.",
    )
    (blind,) = forage_need.needs(days.site, days.farm, NOW, forage_need.Asked(), "T1")
    assert any("Measure ten fish" in line for line in blind.missing)


def test_the_pond_needs_to_bear_what_is_fed_of_it_and_no_pellets() -> None:
    days = fed_tank()
    asked = forage_need.Asked()
    args = (days.site, days.farm, NOW)
    (need,) = forage_need.needs(*args, asked)
    assert (need.fed, forage_need.needed_kg_day([need], asked)) == (False, 0)
    assert forage_need.needed_kg_day([need], replace(asked, share=1.0)) == need.wet_kg_day
    forage = forage_need.forage(days.site)
    assert forage is not None
    for day in (3, 2, 1, 0):
        days.write(e.Fed, -24 * day - 1, place="T1", product=forage.code, amount="500", unit="g",
                   why="x")  # fmt: skip
    (need,) = forage_need.needs(days.site, days.farm, NOW, asked)
    assert (need.fed, need.wet_kg_day) == (True, pytest.approx(0.5))
    assert forage_need.needed_kg_day([need], asked) == pytest.approx(0.5)


def test_forage_needs_a_reason_where_the_exemption_or_the_pond_is_at_stake() -> None:
    days = fed_tank()
    found = stands(killifish(14_000, "7.88", "0.47", 26_500))
    ration = rations.today(days.site, days.farm, NOW)[0]
    with pytest.raises(ValueError, match="No crop of the pond is on record"):
        pond.give(days.site, days.farm, NOW, ration, Decimal(100), found)
    days.write(
        e.Stocked, -24 * 29, lot="C1", place="T2", count=400, mean_weight="2", unit="g",
        source="P1", estimated=True,
    )  # fmt: skip
    args = (days.site, days.farm, NOW, ration)
    with pytest.raises(ValueError, match="food authority decides"):
        pond.give(*args, Decimal(100), found)
    draft = pond.give(*args, Decimal(100), found, "variety")
    assert (draft.product, draft.amount, draft.unit) == ("KILLI", "100", "g")
    assert draft.feed_lot == "C1"
    days.write(draft, -0.1)
    later = rations.today(days.site, days.farm, NOW)[0]
    assert any("no exemption" in line or "authority" in line for line in later.cautions)
    assert later.given_dry_matter_g == pytest.approx(23)  # its own dry matter, not a pellet's
    assert sum(m.advised_g for m in later.meals if not m.given) <= ration.total_g - 25 + 1
    with pytest.raises(ValueError, match=r"^T1 was fed at [^.]*\. Say why"):  # nothing to lose
        pond.give(days.site, days.farm, NOW, later, Decimal(100), found)
    assert pond.give(days.site, days.farm, NOW, later, Decimal(100), found, "left by mistake")
    with pytest.raises(ValueError, match="C1 has 700 g left"):
        pond.give(days.site, days.farm, NOW, later, Decimal(900), found)
    much = Decimal(math.ceil(later.left_g * 0.92 / 0.23) + 10)
    days.write(
        e.Stocked, -24 * 28, lot="C3", place="T3", count=40_000, mean_weight="2", unit="g",
        source="P1", estimated=True,
    )  # fmt: skip
    with pytest.raises(ValueError, match=r"g of pellets, .* left of today's ration of T1"):
        pond.give(days.site, days.farm, NOW, later, much, found, lot="C3")
    days.read("T1", -0.05, oxygen="3.0")
    stopped = rations.today(days.site, days.farm, NOW)[0]
    with pytest.raises(ValueError, match="not to be fed"):
        pond.give(days.site, days.farm, NOW, stopped, Decimal(100), found, "variety")
