"""Growth from the book: the published runs end to end, what holds, and what has no date."""

from __future__ import annotations

import math
import re
from datetime import datetime, timedelta

import pytest
from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site, with_place

from rounds.day.lots.growth import Growth, growths
from rounds.day.lots.projection import Projection, project
from rounds.day.lots.series import warmth
from rounds.fish.growth import step_days
from rounds.fish.seabream import days_to_weight_seabream, seabream_gain_g_day
from rounds.records.entry import Counted, Died, Moved, Removed, Stocked, Weighed


def weigh(days: Days, ago: float, mean: float, count: int = 50, place: str = "T1") -> None:
    days.write(
        Weighed, -24 * ago, lot="L1", place=place, count=count, mass=f"{mean * count:.6f}", unit="g"
    )


def each(days: Days, ago: float, *grams: float) -> None:
    days.write(
        Weighed, -24 * ago, lot="L1", place="T1", count=len(grams), mass=f"{sum(grams):g}",
        unit="g", weights=[f"{one:g}" for one in grams],
    )  # fmt: skip


def warm(days: Days, span: int, temperature: float, place: str = "T1") -> None:
    for ago in range(span + 1):
        days.read(place, -24 * ago, temperature=temperature)


def grown(days: Days, place: str = "T1") -> Growth:
    return next(one for one in growths(days.site, days.farm, NOW) if one.place == place)


def ahead(days: Days) -> Projection:
    return project(days.site, days.farm, grown(days), NOW)


def test_the_red_drum_cage_run_end_to_end_through_the_book() -> None:
    """Near-shore cage feeding demonstration (public report): 312.5 fish/m3 in 6.4 m3, 14 to 232 g
    in 103 days, feed per gain 1.54, 73 % alive; the sums are those of the published checks."""
    days = Days(with_place(make_site(), "T1", volume_m3=6.4))
    days.stock("T1", count=2000, weight="14", hours=-24 * 103)
    for day in range(54):
        days.write(Died, -24 * (102 - day), lot="L1", place="T1", count=10)
    for day in range(100):
        days.feed("4785.088", -24 * (102 - day) + 2)
    weigh(days, 0, 232.0)
    one = grown(days)
    assert one.count == 1460
    assert one.biomass_kg == pytest.approx(338.72, abs=0.05)
    assert one.density_kg_m3 == pytest.approx(52.925, abs=0.01)
    assert one.gain_kg == pytest.approx(310.72, abs=0.05)
    assert one.feed_given_kg == pytest.approx(478.5, abs=0.05)
    assert one.fcr_economic == pytest.approx(1.54, abs=0.001)
    assert one.sgr_percent_day == pytest.approx(2.7259, abs=0.001)
    assert one.survival == pytest.approx(0.73, abs=1e-9)
    assert one.mortality_z_per_day == pytest.approx(0.00305544, abs=1e-6)
    # the dead ate too: 540 of them, each somewhere between 14 and 232 g
    assert one.fcr_biological
    assert 478.5 / (310.72 + 540 * 0.232) < one.fcr_biological < 478.5 / (310.72 + 540 * 0.014)
    assert "read on 0 of 103 days" in one.spans[0].says


def test_the_published_tgc_example_through_the_book() -> None:
    """Public calculation note: 10 to 350 g, 11 degC, 200 days: 0.222 on the x100 scale."""
    days = Days()
    days.stock("T1", weight="10", hours=-24 * 200)
    warm(days, 200, 11)
    weigh(days, 0, 350)
    one = grown(days)
    assert one.tgc
    assert one.tgc.x1000 == pytest.approx(2.2240, abs=1e-4)
    assert (one.tgc.scale, one.tgc.temperatures_c, one.tgc.weights_g[0]) == (1000, (11, 11), 10)


@pytest.mark.parametrize(("at", "end", "tgc"), [(13, 116.75, 0.529857), (25, 236.4, 0.8927)])
def test_sea_bass_by_temperature(at: float, end: float, tgc: float) -> None:
    """Person-Le Ruyet et al. 2004, 80 g, 84 days."""
    days = Days()
    days.stock("T1", weight="80", hours=-24 * 84)
    warm(days, 84, at)
    weigh(days, 0, end)
    found = grown(days).tgc
    assert found
    assert found.x1000 == pytest.approx(tgc, abs=1e-3)


def test_no_coefficient_above_the_optimum_and_none_from_other_water() -> None:
    hot = Days()
    hot.stock("T1", weight="80", hours=-24 * 84)
    warm(hot, 84, 29)
    weigh(hot, 0, 221.06)
    assert grown(hot).tgc is None
    assert "above the optimum" in ahead(hot).market.says
    was_hot = Days()
    was_hot.stock("T1", weight="80", hours=-24 * 84)
    for ago in range(85):
        was_hot.read("T1", -24 * ago, temperature=28 if ago > 15 else 26.5)
    weigh(was_hot, 16, 200)
    assert "28.0 degC is above the optimum" in ahead(was_hot).market.says
    cooled = Days()
    cooled.stock("T1", weight="80", hours=-24 * 84)
    for ago in range(85):
        cooled.read("T1", -24 * ago, temperature=25 if ago > 15 else 18)
    weigh(cooled, 16, 200)
    assert "nothing was learnt within 2 degC of 18" in ahead(cooled).market.says


def test_gilthead_stepped_with_the_books_temperatures_meets_the_closed_form() -> None:
    """Lupatsch, Kissil & Sklan 2003: 1 to 400 g at 24 degC; stepping within 0.2 %."""
    span = days_to_weight_seabream(1, 400, 24)
    days = Days()
    days.stock("T1", weight="1", hours=-24 * 354)
    warm(days, 354, 24)
    farm = days.farm
    start = farm.stocks["T1"][0]
    read = warmth(farm, ("T1",), start.stocked_at, NOW)
    assert read
    weights = step_days(start.weight_g, read.daily_c, seabream_gain_g_day)
    before, after = weights[int(span) - 1], weights[int(span)]
    assert before + (after - before) * (span % 1) == pytest.approx(400, rel=0.002)


def test_the_band_widens_and_the_middle_is_the_closed_form() -> None:
    days = Days()
    days.stock("T1", weight="260", hours=-24 * 60)
    warm(days, 60, 24)
    weigh(days, 30, 316.0)
    weigh(days, 0, 380.0)
    one, found = grown(days), ahead(days)
    assert one.tgc
    widths = [(day.high_g - day.low_g) / day.weight_g for day in found.ahead]
    assert widths == sorted(widths)
    assert widths[0] > 0
    for day in found.ahead:
        root = one.weight_g ** (1 / 3) + one.tgc.x1000 / 1000 * 24 * day.days
        assert day.weight_g == pytest.approx(root**3, rel=0.002)
        assert day.biomass_kg == pytest.approx(day.weight_g * 300 / 1000)
    market = found.market
    assert market.day
    assert market.earliest
    assert market.earliest < market.day
    assert market.latest is None or market.latest > market.day


def test_the_date_of_the_density_limit_with_its_warning_before() -> None:
    """Published check days_to_density_limit: 400 fish of 300 g, 5.678 m3, 30 kg/m3: 57.58 days."""
    site = with_place(make_site(), "T1", volume_m3=5.678, density_kg_m3=30.0)
    days = Days(site)
    start = (300 ** (1 / 3) - 0.0006 * 24 * 60) ** 3
    days.stock("T1", count=400, weight=f"{start}", hours=-24 * 60)
    warm(days, 60, 24)
    weigh(days, 0, 300)
    found = ahead(days)
    assert found.density_limit.day == (NOW + timedelta(days=58)).date()
    assert found.density_warn.day
    assert found.density_warn.day < found.density_limit.day
    no = project(make_site(), days.farm, grown(days), NOW)
    assert "no density limit is set for T1" in no.density_limit.says


def test_no_date_without_support() -> None:
    days = Days()
    days.stock("T1", weight="200", hours=-24 * 30)
    assert "weighed once" in ahead(days).market.says
    assert ahead(days).ahead == ()
    assert "weigh a sample" in grown(days).missing[0]
    weigh(days, 0, 201)
    warm(days, 30, 24)
    assert "cannot be told from the error" in ahead(days).market.says
    small = Days()
    small.stock("T1", weight="20", hours=-24 * 30)
    warm(small, 30, 24)
    weigh(small, 0, 60)
    assert "900 g: no date, more than 3 times" in ahead(small).market.says
    old = Days()
    old.stock("T1", weight="200", hours=-24 * 120)
    warm(old, 120, 24)
    weigh(old, 70, 320)
    assert "not weighed for 60 days" in ahead(old).market.says


def test_feed_per_gain_in_words_where_it_has_no_meaning() -> None:
    lost = Days()
    lost.stock("T1", weight="200", hours=-24 * 20)
    for day in range(20):
        lost.feed("500", -24 * day - 1)
    weigh(lost, 0, 190)
    assert grown(lost).fcr_economic is None
    assert "no gain that lived" in grown(lost).fcr_says
    hungry = Days()
    hungry.stock("T1", weight="200", hours=-24 * 20)
    weigh(hungry, 0, 230)
    assert "no feed is on record" in grown(hungry).fcr_says
    hungry.stock("T1", weight="100", lot="L2", hours=-24 * 19)
    assert "L2 ate here too" in grown(hungry).fcr_says


def test_forage_counts_by_its_dry_matter_and_what_was_left_was_not_eaten() -> None:
    days = Days()
    days.stock("T1", count=100, weight="200", hours=-24 * 20)
    for day in range(20):
        days.feed("400", -24 * day - 1, product="KILLI", left="200")
    weigh(days, 0, 240)
    one = grown(days)
    # 20 x 400 g at 23 % dry matter as pellets of 92 %: 2 kg given, half of it eaten, 4 kg gained
    assert one.feed_given_kg == pytest.approx(2.0)
    assert one.fcr_economic == pytest.approx(0.5)
    assert one.fcr_biological == pytest.approx(0.25)


def test_sold_fish_and_a_count_are_neither_deaths_nor_growth() -> None:
    days = Days()
    days.stock("T1", count=300, weight="200", hours=-24 * 20)
    for day in range(20):
        days.feed("1000", -24 * day - 1)
    days.write(Removed, -24 * 10, lot="L1", place="T1", count=100, mass="22", unit="kg")
    days.write(Counted, -24 * 5, lot="L1", place="T1", count=198)
    weigh(days, 0, 242)
    one = grown(days)
    assert one.survival == 1.0
    # 198 x 0.242 - 300 x 0.2 + 22
    assert one.gain_kg == pytest.approx(198 * 0.242 - 60 + 22)
    assert "taken out between weighings" in one.cautions[0]


def test_a_lot_moved_whole_carries_its_history_and_a_mixed_one_begins_anew() -> None:
    days = Days()
    days.stock("T1", count=300, weight="200", hours=-24 * 40)
    warm(days, 40, 24)
    warm(days, 20, 24, "T2")
    days.write(Moved, -24 * 20, lot="L1", source="T1", target="T2", count=300)
    weigh(days, 0, 290, place="T2")
    moved = grown(days, "T2")
    assert [point.what for point in moved.points] == ["stocked", "sample"]
    assert moved.tgc
    days.stock("T2", count=50, weight="100", hours=-24 * 10)
    assert [point.what for point in grown(days, "T2").points] == ["sample"]


def test_fish_weighed_better_soon_after_they_came_grew_from_that_weight() -> None:
    days = Days()
    days.stock("T1", count=410, weight="92", hours=-24 * 14 - 5)
    days.feed("800", -24 * 14 - 2)
    warm(days, 14, 24)
    weigh(days, 14, 91.24)
    for day in range(14):
        days.feed("700", -24 * day - 1)
    weigh(days, 0, 116.1)
    one = grown(days)
    assert one.sgr_percent_day == pytest.approx(100 * math.log(116.1 / 91.24) / 14)
    assert one.sgr_percent_day == pytest.approx(one.spans[0].sgr_percent_day)
    assert one.gain_kg == pytest.approx(410 * (116.1 - 91.24) / 1000)
    assert one.feed_given_kg == pytest.approx(14 * 0.7)
    assert [point.what for point in one.points] == ["stocked", "sample", "sample"]


def test_nets_of_one_day_are_one_weighing() -> None:
    days = Days()
    days.stock("T1", hours=-24 * 20)
    for count, kg in ((25, "5.35"), (22, "4.62"), (27, "5.94")):
        days.write(Weighed, 0, lot="L1", place="T1", count=count, mass=kg, unit="kg")
    point = grown(days).points[-1]
    assert point.weight_g == pytest.approx(215.0, abs=0.05)  # all kilograms over all fish
    assert point.n == 74


def test_grading_by_the_spread_of_single_fish() -> None:
    days = Days()
    days.stock("T1", weight="100", hours=-24 * 30)
    assert "no spread is known" in ahead(days).grading.says
    each(days, 20, 90, 100, 110, 100, 95, 105)
    assert "of one weighing" in ahead(days).grading.says
    each(days, 10, 80, 120, 100, 85, 115, 100)
    rising = ahead(days).grading
    assert rising.day
    assert rising.day > NOW.date()
    each(days, 0, 60, 180, 100, 70, 150, 110)
    assert "grade now" in ahead(days).grading.says


def test_an_old_spread_gives_no_date_and_no_date_lies_in_the_past() -> None:
    days = Days()
    days.stock("T1", weight="100", hours=-24 * 200)
    each(days, 55, 90, 100, 110, 100, 95, 105)
    each(days, 45, 80, 125, 100, 80, 125, 90)
    said = ahead(days).grading
    assert said.day is None
    assert "by now if it went on so: weigh single fish" in said.says
    days = Days()
    days.stock("T1", weight="100", hours=-24 * 200)
    each(days, 100, 90, 100, 110, 100, 95, 105)
    each(days, 90, 80, 120, 100, 85, 115, 100)
    assert "weighed 90 days ago" in ahead(days).grading.says


def test_fish_so_unlike_that_they_eat_each_other_are_graded_whatever_their_spread() -> None:
    """60 % of the length is 0.216 of the weight, in fish of one shape; here the CV is 21 %."""
    days = Days()
    days.stock("T1", weight="100", hours=-24 * 30)
    for small, eats in ((22, False), (21, True)):
        each(days, 0 if eats else 10, small, *[95, 105] * 8, 100)
        assert ("smallest 21 g, largest 105 g" in ahead(days).grading.says) is eats


def test_the_error_of_a_sample_is_not_taken_for_uneven_growth() -> None:
    """It cancels between spans that join: what is left of their differences is the lot's own."""
    days = Days()
    mean = [(root / 1000) ** 3 for root in (6000, 6288, 6576, 6864)]  # TGC x1000 0.6, 24 degC
    for ago, grams, off in zip((60, 40, 20, 0), mean, (1, 1.07, 0.95, 1), strict=True):
        if ago == 60:
            days.stock("T1", weight=f"{grams}", hours=-24 * 60)
        each(days, ago, *(grams * off * part for part in (0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3)))
    warm(days, 60, 24)
    one = grown(days)
    assert one.tgc, one.tgc_says
    assert one.tgc.x1000 == pytest.approx(0.6, abs=1e-6)
    # the ends of 60 days alone: 8 % of the mean weight each
    assert one.tgc_sd_x1000 == pytest.approx(
        1000 * math.hypot(6.0, 6.864) * 0.0816 / 3 / 1440, rel=0.01
    )


def test_what_is_too_far_for_a_date_has_its_months() -> None:
    days = Days()
    days.stock("T1", weight=f"{(6.0 - 0.6 * 1.44) ** 3}", hours=-24 * 60)
    warm(days, 60, 24)
    weigh(days, 0, 216)
    says = ahead(days).market.says
    # from 6.000 to 9.655 in 3.655 / (0.0006 x 24) days, 254 from 10 March
    first, last = re.findall(r"between (\w+ \d+) and (\w+ \d+)", says)[0]
    assert says.startswith("900 g: no date, more than 3 times the largest weighed; if it grows on")
    months = [datetime.strptime(one, "%b %Y") for one in (first, last)]
    assert months[0] <= datetime(2026, 11, 1) <= months[1]
    assert ahead(days).market.day is None


def test_a_species_without_a_place_to_grow_says_so() -> None:
    site = make_site(species={"fish": replace(FISH, optimum_high_c=math.inf)})
    days = Days(with_place(site, "T1", species=None))
    days.stock("T1", weight="200", hours=-24 * 30)
    warm(days, 30, 24)
    weigh(days, 0, 300)
    assert "no species is set" in ahead(days).market.says


def test_forage_that_was_cropped_and_fed_has_no_account_of_gain() -> None:
    """Its number goes down by crops and meals, which are no deaths and no fish taken out."""
    days = Days()
    days.stock("T1", weight="250", hours=-24 * 60)
    days.stock("P1", count=5000, weight="2", lot="K", hours=-24 * 60)
    days.write(
        Stocked, -24 * 40, lot="C1", place="T2", count=500, mean_weight="2", unit="g",
        source="P1", parents=["K"],
    )  # fmt: skip
    for ago, mean in ((39, "2.1"), (1, "2.4")):
        for place, lot in (("P1", "K"), ("T2", "C1")):
            mass = f"{float(mean) * 50:g}"
            days.write(Weighed, -24 * ago, lot=lot, place=place, count=50, mass=mass, unit="g")
    days.feed("400", -24 * 10, product="KILLI", feed_lot="C1")
    assert days.farm.stocks["T2"][0].count < 500
    for place in ("P1", "T2"):
        one = grown(days, place)
        assert (one.gain_kg, one.survival) == (None, None)
        assert "forage is cropped and fed" in one.fcr_says
    weigh(days, 1, 280)
    assert grown(days).survival == 1
