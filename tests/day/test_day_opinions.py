"""Opinions of a ration: what each says, which governs, when a person is asked, what rests fish."""

from __future__ import annotations

from decimal import Decimal

import pytest
from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site, table, with_place, with_product

from rounds.day.feeding import rations
from rounds.day.feeding.opinions import choose
from rounds.day.feeding.rations import Ration
from rounds.day.lots.growth import growths
from rounds.day.telling.handoff import matters
from rounds.reason import lines
from rounds.records import entry as e
from rounds.reports.day import sheet
from rounds.reports.handoff import render
from rounds.site.model import Site


def flat(percent: float, **species: object) -> Site:
    points = [(w, t, percent) for w in (1, 5000) for t in (10, 35)]
    fish = replace(FISH, table=table(*points), **species)  # type: ignore[arg-type]
    return replace(make_site(), species={"fish": fish})


def good(site: Site | None = None, count: int = 300, weight: str = "250") -> Days:
    days = Days(site or flat(1.02))
    days.stock(count=count, weight=weight)
    days.good_water()
    return days


def of(days: Days) -> Ration:
    return next(r for r in rations.today(days.site, days.farm, NOW) if r.place == "T1")


def grams(days: Days) -> dict[str, float | None]:
    return {one.name: one.g_day for one in of(days).opinions}


# -- side by side --------------------------------------------------------------------------------


def test_without_a_history_the_table_governs_and_the_others_say_what_they_lack() -> None:
    ration = of(good())
    assert grams(good())["table"] == pytest.approx(765)  # husbandry: 300 x 250 g x 1.02 %
    assert ration.governs == "table"
    assert not ration.choose
    lacking = {one.name: one.says for one in ration.opinions if one.g_day is None}
    assert "weigh L1 twice" in lacking["growth"]
    assert "not known" in lacking["last accepted"]


def test_within_a_quarter_the_table_governs() -> None:
    days = good()
    days.feed("700", -22, left="20")
    ration = of(days)
    assert grams(days)["last accepted"] == pytest.approx(680)
    assert (ration.governs, ration.choose) == ("table", False)
    # fed yesterday, the fish have grown a little
    assert ration.total_g == pytest.approx(grams(days)["table"] or 0, abs=1)


def test_further_apart_the_smallest_stands_and_a_person_is_asked() -> None:
    days = good()
    days.feed("700", -22, left="120")
    ration = of(days)
    assert (ration.governs, ration.choose) == ("last accepted", True)
    assert any("choose" in line for line in ration.cautions)
    assert any("smallest stands" in line for line in lines(ration.reasons))
    # a sixth was left: what it ate, and no more than three quarters of the table
    assert ration.total_g == pytest.approx(0.75 * (grams(days)["table"] or 0), abs=1)
    days.feed("700", -21, left="650", place="T2")  # another tank says nothing of this one
    assert of(days).total_g == ration.total_g


def test_a_choice_governs_for_three_days_with_its_reason() -> None:
    days = good()
    days.feed("500", -22)
    assert of(days).total_g == pytest.approx(500)
    days.write(choose("T1", "table", "hungry at every meal"), -20)
    ration = of(days)
    assert (ration.governs, ration.choose) == ("table", False)
    assert ration.total_g > 700
    assert any("hungry at every meal" in line for line in lines(ration.reasons))
    old = good()
    old.feed("500", -22)
    old.write(choose("T1", "table", "hungry"), -73)
    assert of(old).choose
    for wrong in (("T1", "mine", "x"), ("T1", "table", " ")):
        with pytest.raises(ValueError, match=r"."):
            choose(*wrong)


def test_a_missed_meal_a_day_of_poor_water_and_the_day_of_arrival_teach_nothing() -> None:
    missed = good()
    missed.feed("255", -22, meal=1, advised="255", left="0")
    assert grams(missed)["last accepted"] == pytest.approx(765)
    poor = good()
    poor.read("T1", -22.5, nitrite="10")
    poor.feed("380", -22, left="0")
    assert grams(poor)["last accepted"] is None
    new = Days(flat(1.02))
    new.stock(hours=-23)
    new.good_water()
    new.feed("200", -22)
    assert grams(new)["last accepted"] is None


# -- growth ----------------------------------------------------------------------------------------


def weighed(end: str = "250", feed: str = "1200", warm: object = 24) -> Days:
    """300 fish of 200 g weighed fifteen days ago, again yesterday, fed each day between."""
    days = Days(flat(1.02))
    days.stock(weight="200", hours=-24 * 20, estimated=True)
    for day, mean in ((16, 200.0), (1, float(end))):
        days.write(e.Weighed, -24 * day - 3, place="T1", lot="L1", count=60,
                   mass=f"{60 * mean:g}", unit="g")  # fmt: skip
    for day in range(1, 17):
        days.feed(feed, -24 * day - 2, left="0")
        days.read("T1", -24 * day - 2, temperature=warm)
    days.good_water(temperature=24)
    return days


def test_growth_learnt_here_calls_for_the_feed_it_took() -> None:
    days = weighed()
    # conservation: 15 meals of 1200 g made 300 x 50 g; the same growth takes the same feed, a
    # little more each day as the fish are larger than their mean over those days
    gain = 250 * ((250 / 200) ** (1 / 15) - 1)
    fcr = 15 * 1200 / (300 * 50)
    found = grams(days)["growth"]
    assert found == pytest.approx(300 * gain * fcr, rel=0.02)
    assert any("grew 1.49 % a day" in line for line in lines(of(days).reasons))


def test_growth_is_not_used_where_it_was_not_learnt() -> None:
    assert grams(weighed(warm=20))["growth"] is None  # colder water
    assert grams(weighed(end="195"))["growth"] is None  # no gain
    moved = weighed()
    moved.write(e.Moved, -24 * 5, lot="L1", source="T1", target="T2", count=50)
    assert grams(moved)["growth"] is None


def test_old_weighings_never_raise_a_ration() -> None:
    assert grams(aged(0))["growth"] is not None
    assert grams(aged(31))["growth"] is None  # last weighed a month ago
    apart = Days(flat(1.02))
    apart.stock(weight="100", hours=-24 * 90)
    for day in range(90, 0, -1):
        apart.feed("1200", -24 * day + 1, left="0")
        apart.read("T1", -24 * day, temperature=24)
    apart.write(e.Weighed, -27, place="T1", lot="L1", count=60, mass="15000", unit="g")
    apart.good_water(temperature=24)
    assert grams(apart)["growth"] is None  # small fish of three months ago grew faster


def aged(days_ago: int) -> Days:
    """The fish of `weighed`, everything so many days longer ago."""
    days = Days(flat(1.02))
    days.stock(weight="200", hours=-24 * (20 + days_ago), estimated=True)
    for day, mean in ((16, 200.0), (1, 250.0)):
        days.write(e.Weighed, -24 * (day + days_ago) - 3, place="T1", lot="L1", count=60,
                   mass=f"{60 * mean:g}", unit="g")  # fmt: skip
    for day in range(1, 17 + days_ago):
        days.feed("1200", -24 * day - 2, left="0")
        days.read("T1", -24 * day - 2, temperature=24)
    days.good_water(temperature=24)
    return days


def test_two_lots_in_a_tank_teach_nothing_of_either() -> None:
    both = weighed()
    both.stock(lot="L2", weight="200", hours=-24 * 20)
    found = next(one for one in of(both).opinions if one.name == "growth")
    assert found.g_day is None
    assert "L2 ate here too" in found.says


def test_what_growth_says_is_what_the_growth_of_the_lot_says() -> None:
    days = weighed()
    (grown,) = (one for one in growths(days.site, days.farm, NOW) if one.place == "T1")
    says = f"grew {grown.spans[-1].sgr_percent_day:.2f} % a day on {grown.fcr_biological:.2f} g"
    assert any(says in line for line in lines(of(days).reasons))


# -- energy ----------------------------------------------------------------------------------------


def test_the_printed_energy_budget_stands_beside_and_does_not_decide() -> None:
    # husbandry 2.3: 100 g at 24 degC on 18 kJ/g: 1.314 % of body weight
    site = with_product(flat(2.5, energy_budget="gilthead"), "P", energy_kj_g=18.0)
    days = good(site, weight="100")
    ration = of(days)
    assert grams(days)["energy budget"] == pytest.approx(300 * 1.314, abs=0.5)
    assert (ration.governs, ration.choose) == ("table", False)
    no_energy = good(flat(2.5, energy_budget="gilthead"), weight="100")
    assert grams(no_energy)["energy budget"] is None
    assert "energy budget" not in grams(good())


# -- what rests the fish, and the account ----------------------------------------------------------


@pytest.mark.parametrize(("hours", "factor"), [(-1, 0), (-22, 0.5), (-46, 0.75), (-70, 1)])
def test_fish_moved_or_taken_out_are_rested(hours: float, factor: float) -> None:
    for draft in (
        e.Moved(lot="L2", source="T2", target="T1", count=10),
        e.Removed(lot="L1", place="T1", count=10),
    ):
        days = good()
        days.stock("T2", lot="L2")
        days.write(draft, hours)
        assert of(days).factor == factor
        assert of(days).no_feed == (factor == 0)


def test_the_meals_after_a_weighing_are_halved_that_day_only() -> None:
    for hours, factor in ((-1, 0.5), (-20, 1)):
        days = good()
        days.write(e.Weighed, hours, place="T1", lot="L1", count=30, mass="7500", unit="g")
        assert of(days).factor == factor
        assert not of(days).no_feed


def test_feed_is_accounted_in_dry_matter() -> None:
    site = with_product(flat(1.02), "P", dry_matter=0.9)
    days = good(site)
    days.feed("100", -3)
    days.feed("400", -2, product="KILLI", meal=2)
    days.feed("50", -2, product="ROT", meal=3)
    ration = of(days)
    assert ration.dry_matter_g == pytest.approx(ration.total_g * 0.9)
    assert ration.given_dry_matter_g == pytest.approx(100 * 0.9 + 400 * 0.23)
    assert ration.given_g == 550


def test_wet_forage_counts_as_a_meal_by_its_dry_matter() -> None:
    wet = good()
    wet.feed("1000", -0.5, product="KILLI", meal=1)
    ration = of(wet)
    left = sum(Decimal(f"{m.advised_g:g}") for m in ration.meals if m.given is None)
    assert ration.total_g - 256 <= left <= ration.total_g - 249  # 1000 x 0.23 / 0.92 = 250


def test_a_pellet_of_another_size_is_cautioned_with_the_days_of_mixing() -> None:
    for mm, told in ((6.0, False), (4.0, True)):
        days = good(with_product(flat(1.02), "P", pellet_mm=mm))
        assert any("mixed for 3 to 7 days" in line for line in of(days).cautions) == told


def test_an_unverified_table_is_named() -> None:
    site = flat(1.02)
    fish = site.species["fish"]
    open_ = replace(fish, table=replace(fish.table, verified=False, source="a guess, unverified"))
    assert of(good(replace(site, species={"fish": open_}))).unverified == "a guess, unverified"
    assert of(good()).unverified == ""
    assert of(good(with_place(site, "T1", feed=None))).unverified == ""


def test_a_table_of_another_feed_or_of_other_energy_is_cautioned() -> None:
    def cautions(energy: float, **of: object) -> str:
        site = with_product(flat(1.02), "P", energy_kj_g=energy)
        fish = replace(site.species["fish"], table=replace(site.species["fish"].table, **of))
        return " ".join(of_site(replace(site, species={"fish": fish})).cautions)

    def of_site(site: Site) -> Ration:
        return of(good(site))

    assert "feed table" not in cautions(18, feed="P", energy_kj_g=18.5)
    assert "is that of OTHER, P is fed" in cautions(18, feed="OTHER")
    assert "0.90 g of it hold as much as 1 g" in cautions(20, energy_kj_g=18.0)  # 18 / 20


def test_the_hand_off_and_the_day_sheet_name_a_table_nobody_verified() -> None:
    site = flat(1.02)
    fish = site.species["fish"]
    open_ = replace(fish, table=replace(fish.table, verified=False, source="a guess, unverified"))
    for one, told in ((replace(site, species={"fish": open_}), True), (site, False)):
        days = good(one)
        line = "Feed table of fish: a guess, unverified"
        assert (line in render(matters(one, days.farm, NOW, "ana"))) == told
        assert (line in sheet(one, days.farm, NOW)) == told
