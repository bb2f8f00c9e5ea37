"""Larvae and cultures: printed examples through the book, and what is not advised."""

from __future__ import annotations

import math
from datetime import timedelta

import pytest
from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site, with_place

from rounds.day.larvae import cultures, hatching
from rounds.day.larvae import tanks as larvae
from rounds.day.larvae.tanks import Asked
from rounds.day.recording import forms as recording
from rounds.day.recording import words as recording_words
from rounds.day.recording.forms import FORMS
from rounds.day.slips import Unsure
from rounds.records import entry as e
from rounds.site.model import Limits, Place, Site, Weaning


def hatchery(**species: object) -> Site:
    """A larval tank of 1000 L and a rotifer culture of 100 L."""
    site = with_place(make_site(), "L1", volume_m3=1.0)
    larval = (Limits("rotifer_density", 10.0, 20.0, 2.0, None),)
    fish = replace(FISH, limits={**FISH.limits, "larval": larval}, **species)  # type: ignore[arg-type]
    places = {"R1": Place("R1", "Rotifers", "culture", 0, volume_m3=0.1), **site.places}
    return replace(site, places=places, species={"fish": fish})


def sheet(days: Days, **asked: object) -> larvae.Sheet:
    place = days.site.places["L1"]
    return larvae.sheet(days.site, days.farm, place, NOW, Asked(**asked))  # type: ignore[arg-type]


# -- larvae ------------------------------------------------------------------------------------


def test_the_printed_top_up_of_a_thousand_litres() -> None:
    # husbandry 3.3: 1000 L, 10 from 3 per mL, culture 300 per mL: 24.1 L, or 23.3 L rinsed
    days = Days(hatchery())
    days.read("R1", rotifer_density="300")
    days.read("L1", rotifer_density="3")
    found = sheet(days)
    assert (found.per_ml, found.target_per_ml, found.culture_per_ml) == (3, 10, 300)
    assert found.add_culture_l == pytest.approx(24.1, abs=0.05)
    assert found.add_rinsed_l == pytest.approx(23.3, abs=0.05)
    assert not found.missing


def test_larvae_of_the_ledger_eat_until_the_next_top_up() -> None:
    days = Days(hatchery())
    days.stock("L1", count=7000, weight="0.004", lot="LV", hours=-24 * 12)
    days.read("R1", rotifer_density="300")
    days.read("L1", rotifer_density="10")
    found = sheet(days, hours=6.0)
    # extension text: a larva eats up to 1,900 a day
    assert found.eaten_until_next == pytest.approx(7000 * 1900 / 4)
    assert found.need_until_next == found.eaten_until_next
    assert found.add_rinsed_l == 0
    assert found.add_rinsed_until_next_l == pytest.approx(7000 * 1900 / 4 / 300 / 1000)
    assert (found.add_culture_until_next_l or 0) > (found.add_rinsed_until_next_l or 0)


@pytest.mark.parametrize(
    ("counts", "ml", "expected"),  # husbandry 3.2, exact Poisson
    [((47,), 10, (4.70, 3.45, 6.25)), ((12,), 10, (1.20, 0.62, 2.10)), ((0,), 10, (0, 0, 0.37))],
)
def test_a_count_has_its_exact_interval(
    counts: tuple[int, ...], ml: float, expected: tuple[float, float, float]
) -> None:
    found = sheet(Days(hatchery()), counts=counts, volume_ml=ml)
    got = (found.per_ml, found.low_per_ml, found.high_per_ml)
    assert got == pytest.approx(expected, abs=0.006)
    assert any("three samples" in line for line in found.cautions)


def test_counts_that_differ_more_than_chance_ask_for_a_recount() -> None:
    days = Days(hatchery())
    assert not any("mix" in line for line in sheet(days, counts=(4, 6, 5)).cautions)
    assert any("mix and count again" in x for x in sheet(days, counts=(1, 30, 5)).cautions)
    thinned = sheet(days, counts=(4, 6, 5), dilution=10.0)
    assert thinned.per_ml == 50


def test_a_culture_not_counted_today_gives_no_number() -> None:
    days = Days(hatchery())
    days.read("R1", hours=-20, rotifer_density="300")
    days.read("L1", rotifer_density="3")
    found = sheet(days)
    assert found.add_culture_l is None
    assert found.add_rinsed_l is None
    assert any("Count the culture" in line for line in found.missing)
    thin = sheet(days, culture_per_ml=8.0)
    assert thin.add_culture_l is None  # no denser than the target
    assert thin.asks_l == pytest.approx(875)
    assert thin.add_rinsed_l == pytest.approx(25)  # its growth not known: a quarter of 100 L
    assert any("sieve" in line for line in thin.cautions)


def test_weaning_by_age_with_survival_and_growth_side_by_side() -> None:
    foods = (Weaning("rotifers", 3, 11, "x"), Weaning("dry feed", 21, 35, "x"))
    days = Days(hatchery(weaning=foods))
    days.stock("L1", count=1000, weight="0.004", lot="LV", hours=-24 * 18)
    days.write(e.Counted, -2, place="L1", lot="LV", count=430)
    assert sheet(days).weight_now_g is None
    assert any("rounds weigh L1" in line for line in sheet(days).missing)
    days.write(e.Weighed, 0, place="L1", lot="LV", count=50, mass="1.6", unit="g")
    found = sheet(days)
    assert found.days_after_hatch == 18
    assert [one.food for one in found.weaning] == ["dry feed"]
    assert found.survival == pytest.approx(0.43)
    assert found.weight_now_g == pytest.approx(0.032)
    assert found.growth_percent_day == pytest.approx(100 * math.log(8) / 18)  # three doublings
    assert any("fewer survive" in line for line in found.cautions)
    assert [one.food for one in sheet(days, day=5).weaning] == ["rotifers", "dry feed"]


def test_a_tank_on_a_food_its_age_has_done_with_is_told_to_change_over() -> None:
    foods = (Weaning("rotifers", 3, 11, "x"), Weaning("brine shrimp nauplii", 9, 30, "x"),
             Weaning("dry feed", 20, 35, "x"))  # fmt: skip
    days = Days(hatchery(weaning=foods))
    days.read("L1", rotifer_density="9")
    late = sheet(days, day=21)
    assert late.food == "rotifers"
    assert any("at day 21: by age it is brine shrimp nauplii and dry" in x for x in late.cautions)
    assert not any("by age" in line for line in sheet(days, day=10).cautions)
    days.read("L1", nauplii_density="0.4")
    assert [sheet(days, day=day).food for day in (5, 10, 21)] == ["rotifers", "nauplii", "nauplii"]
    assert not any("by age" in line for line in sheet(days, day=21).cautions)


# -- cultures ----------------------------------------------------------------------------------


def culture(days: Days, left: float | None = None) -> cultures.Culture:
    found = cultures.culture(days.site, days.farm, days.site.places["R1"], NOW, left)
    assert found is not None
    return found


def test_two_counts_a_day_apart_tell_the_printed_harvest() -> None:
    # husbandry 3.3: 40 % a day is made good by +66.7 % a day
    days = Days(hatchery())
    days.read("R1", hours=-25, rotifer_density="180")
    days.read("R1", hours=-1, rotifer_density="300", egg_ratio="30")
    found = culture(days)
    assert found.harvest_fraction == pytest.approx(0.40, abs=1e-9)
    assert found.harvest_l == pytest.approx(40)
    assert found.egg_state == "good"
    assert (culture(days, left=100).harvest_fraction or 0) > 0.4
    for share, state in (("20", "low"), ("10", "crash")):
        days.read("R1", hours=-0.5, egg_ratio=share)
        assert culture(days).egg_state == state
    assert any("crash" in line for line in culture(days).cautions)


def test_what_was_harvested_tells_how_fast_it_grew_and_what_is_left_to_take() -> None:
    # 300 less 40 of 100 L leave 180, which are 300 again a day later: 40 % a day
    days = Days(hatchery())
    days.read("R1", hours=-25, rotifer_density="300")
    days.read("R1", hours=-1, rotifer_density="300", egg_ratio="30")
    told = culture(days)
    assert told.harvest_fraction == 0
    assert any(f"K, {FORMS['harvested'].title}" in line for line in told.cautions)
    days.read("R1", hours=-24, harvest="40")
    found = culture(days)
    assert (found.harvest_fraction, found.cautions) == (pytest.approx(0.4), ())
    assert (found.taken_l, found.free_l) == (0, pytest.approx(40))
    days.read("R1", hours=-0.5, harvest="15")
    assert (culture(days).harvest_l, culture(days).free_l) == (pytest.approx(40), pytest.approx(25))


def test_a_hatch_is_harvested_whole_and_a_culture_not_counted_says_how() -> None:
    site = hatchery()
    b1 = Place("B1", "Hatcher", "culture", 0, volume_m3=0.06, holds="nauplii")
    days = Days(replace(site, places={**site.places, "B1": b1}))
    first = cultures.culture(days.site, days.farm, b1, NOW)
    assert first is not None
    assert first.missing == ("Count B1: rounds walk live-food",)
    days.read("B1", hours=-25, nauplii_density="210")
    days.read("B1", hours=-1, nauplii_density="200")
    found = cultures.culture(days.site, days.farm, b1, NOW)
    assert found is not None
    assert (found.harvest_l, found.growth_per_day, found.missing) == (60, None, ())
    assert cultures.food_of(days.farm, replace(b1, holds="algae"), NOW) is None


def test_no_more_goes_in_than_the_aim_and_the_culture_bear() -> None:
    # 80000 larvae could eat 50 million in 8 h; 1000 L at 20 per mL hold 20 million
    days = Days(hatchery())
    days.stock("L1", count=80_000, weight="0.0004", lot="LV", hours=-24)
    days.read("L1", rotifer_density="5")
    days.read("R1", hours=-24.5, rotifer_density="225")
    days.read("R1", hours=-0.5, rotifer_density="300")
    found = sheet(days)
    assert found.portions == 4  # 55.7 million in parts of 15 at most
    part = 5 + found.part_animals / 1e6
    assert part <= 20
    assert found.asks_l == pytest.approx(4 * 1000 * (part - 5) / (300 - part))
    assert 4 * (found.add_culture_until_next_l or 0) == pytest.approx(25)  # a quarter grew
    assert any("R1 may give 25.0 L today" in line for line in found.cautions)
    days.read("R1", hours=-0.2, harvest="20")
    assert 4 * (sheet(days).add_culture_until_next_l or 0) == pytest.approx(5)
    counted = sheet(days, columns=(12,) * 5)  # 12000 by columns, whatever is on record
    assert counted.eaten_until_next == pytest.approx(12_000 * 1900 / 3)


def test_tanks_that_ask_more_together_than_a_culture_gives_are_told_on_it() -> None:
    days = Days(hatchery())
    days.read("R1", hours=-25, rotifer_density="225")
    days.read("R1", hours=-1, rotifer_density="300")
    asked = (("L1", 14.4), ("L2", 8.0))
    enough = cultures.shared(culture(days), asked)
    assert enough.asked == asked
    assert not any("together" in line for line in enough.cautions)
    more = cultures.shared(culture(days), (*asked, ("L3", 4.0)))
    assert any("ask 26.4 L together, 25.0 L may" in line for line in more.cautions)
    assert not cultures.shared(culture(days), (("L1", 30.0),)).cautions[1:]


def test_a_shrinking_culture_gives_nothing_and_one_count_no_figure() -> None:
    days = Days(hatchery())
    days.read("R1", hours=-1, rotifer_density="300")
    assert culture(days).harvest_fraction is None
    assert any("two days" in line for line in culture(days).missing)
    days.read("R1", hours=-25, rotifer_density="400")
    assert culture(days).harvest_fraction == 0
    old = Days(hatchery())
    old.read("R1", hours=-48, rotifer_density="100")
    old.read("R1", hours=-24, rotifer_density="300")
    assert culture(old).harvest_fraction is None


def test_cysts_and_hours_backwards_from_when_they_are_wanted() -> None:
    # husbandry 3.3: 230,600 nauplii a gram, 1 million = 4.34 g
    wanted = NOW + timedelta(hours=60)
    found = hatching.hatch(make_site(), wanted, 1e6, 230_600, NOW, enrich_h=12)
    assert found.cysts_g == pytest.approx(4.34, abs=0.005)
    assert found.enrich is not None
    assert found.start < found.harvest < found.enrich < wanted
    assert wanted - found.enrich == timedelta(hours=12.5)
    assert not found.cautions
    (late,) = hatching.hatch(make_site(), NOW, 1e6, 230_600, NOW).cautions
    ready = NOW + timedelta(hours=24.5)  # a day of hatching, half an hour of rinsing
    assert f"{ready.astimezone(make_site().timezone):%a %d %b %H:%M}; sooner" in late


# -- what is written down ----------------------------------------------------------------------


def test_live_food_taken_and_given_is_kept_in_litres_and_animals() -> None:
    days = Days(hatchery())

    def keep(form: str, **answers: str) -> str:
        entry = recording.draft(recording.FORMS[form], answers, days.farm, NOW)
        days.write(entry)
        return recording_words.words(entry)

    assert keep("harvested", place="R1", volume="20") == "R1: 20 L taken out"
    with pytest.raises(ValueError, match="R1 holds 100 L"):
        keep("harvested", place="R1", volume="120 L")
    given = {"place": "L1", "food": "rotifers"}
    said = keep("given", **given, volume="14.4", density="300")
    assert said == "L1: 4.32 million rotifers given"
    keep("given", **given, millions="1.5")
    assert sheet(days).given_today == pytest.approx(5.82e6)
    with pytest.raises(Unsure, match="per mL of L1"):  # 1000 L
        keep("given", **given, millions="90")
    for wrong in ({}, {"volume": "3"}, {"volume": "3", "density": "300", "millions": "1"}):
        with pytest.raises(ValueError, match="say how many"):
            keep("given", **given, **wrong)
