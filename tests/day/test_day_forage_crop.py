"""A crop of the pond: its hold, what begins it anew, its ledger, and what the hand-off tells."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site, with_place

from rounds.day.feeding import rations
from rounds.day.forage import pond, pond_estimate
from rounds.day.forage.need import Asked
from rounds.day.forage.pond_watch import forage_watch
from rounds.day.lots import forage_hold
from rounds.day.lots.crops import crops
from rounds.day.recording.forms import FORMS, draft
from rounds.day.slips import Unsure
from rounds.records import entry as e
from rounds.site.model import ForagePond, Place

DAY = 24.0
ASKED = {
    "from": "P1", "permit": "yes", "to": "H1", "lot": "C2", "mass": "0.2", "weight": "2",
}  # fmt: skip


def a_pond(stock: int = 10_000, age_days: float = 10.0, warm: object = 25, **own: object) -> Days:
    """A pond of 2 g fish that carries 40 kg, estimated so long ago; a holding tank beside it."""
    told = ForagePond(**{"r_per_yr": 1.2, "k_kg": 40.0, "hold_days": 21.0, **own})  # type: ignore[arg-type]
    site = with_place(make_site(), "P1", forage=told, area_m2=400.0)
    hold = Place("H1", "Holding", "tank", 6, "A", "quarantine", "fish", 1.0)
    days = Days(replace(site, places={**site.places, "H1": hold}))
    days.stock("P1", count=4000, weight="2", lot="K", hours=-DAY * 200, estimated=True)
    estimate = e.Counted(place="P1", lot="K", count=stock, method="seine hauls", estimated=True)
    days.write(estimate, -DAY * age_days)
    days.read("P1", -1, temperature=warm)
    return days


def crop(days: Days, kg: float, days_ago: float, lot: str = "C1", place: str = "H1") -> None:
    days.write(
        e.Stocked, -DAY * days_ago, lot=lot, place=place, count=round(kg * 500), mean_weight="2",
        unit="g", source="P1", parents=["K"], estimated=True, origin="crop of P1",
    )  # fmt: skip


def told(days: Days, later_days: float = 0.0) -> str:
    return " ".join(forage_watch(days.site, days.farm, NOW + timedelta(days=later_days)))


def stands(days: Days) -> pond.Pond:
    return pond.pond(days.site, days.farm, days.site.places["P1"], NOW, Asked(), 0.0)


def count(days: Days, place: str) -> int:
    return sum(stock.count for stock in days.farm.stocks.get(place, ()))


def test_cold_days_save_up_no_crop() -> None:
    """What is free is the day's crop times the days that were warm, by hand."""
    warm = stands(a_pond(age_days=20))
    days = a_pond(age_days=20)
    for ago in range(3, 21):
        days.read("P1", -DAY * ago, temperature="12")
    cold = stands(days)
    assert warm.warm_days == 21  # unread before: as it was read first
    assert cold.warm_days == 1  # today; the days without a reading were as cold as the last one
    assert cold.allowed_kg_day == warm.allowed_kg_day
    assert cold.free_kg == pytest.approx(cold.allowed_kg_day)


# -- a lot of its own ------------------------------------------------------------------------------


def test_fish_are_neither_made_nor_lost_by_a_crop_and_a_meal_of_it() -> None:
    days = a_pond()
    before = count(days, "P1")
    crop(days, 0.4, 5)
    assert (count(days, "P1"), count(days, "H1")) == (before - 200, 200)
    days.stock()
    meal = days.feed("100", -1, product="KILLI", feed_lot="C1")
    assert count(days, "H1") == 150
    days.write(e.Correction, 0, of=meal.id, void=True, why="not given")
    assert count(days, "H1") == 200


def test_a_crop_is_drafted_from_what_was_weighed() -> None:
    days = a_pond()
    days.site = with_place(days.site, "P1", forage=replace(
        days.site.places["P1"].forage, permit="A-7"))  # fmt: skip
    made = draft(FORMS["cropped"], ASKED, days.farm, NOW)
    assert isinstance(made, e.Stocked)
    assert (made.lot, made.place, made.source, made.parents) == ("C2", "H1", "P1", ["K"])
    assert (made.count, made.mean_weight, made.estimated) == (100, "2", True)
    assert made.origin == "crop of P1, permit looked at: A-7"


@pytest.mark.parametrize(
    ("answers", "says"),
    [
        ({"permit": "no"}, "look that it names this species"),
        ({"to": "P1"}, "there is no place for fish P1"),
        ({"lot": "K"}, "each crop is a lot of its own"),
        ({"mass": "0.0001"}, "less than one fish"),
        ({"weight": ""}, "weight is missing"),
    ],
)
def test_a_crop_that_cannot_be_is_refused(answers: dict[str, str], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        draft(FORMS["cropped"], ASKED | answers, a_pond().farm, NOW, confirmed=True)


def test_a_permit_that_ran_out_stops_the_crop_and_one_that_ends_soon_is_told() -> None:
    gone = a_pond(permit_until=date(2026, 3, 9))
    with pytest.raises(ValueError, match="ran out on 9 Mar 2026: take nothing"):
        draft(FORMS["cropped"], ASKED, gone.farm, NOW, confirmed=True)
    ends = a_pond(permit_until=date(2026, 3, 20))
    crop(ends, 0.1, 2)
    assert "runs out on 20 Mar 2026" in told(ends)
    assert "runs out" in stands(ends).cautions[0]


@pytest.mark.parametrize(
    ("days", "says"),
    [
        (a_pond(warm=17), "P1 bears now, too cold to breed"),
        (a_pond(age_days=50), "its estimate is too old"),
        (a_pond(stock=300), "above the"),
        (Days(a_pond().site), "is not known"),
    ],
)
def test_a_crop_the_pond_does_not_bear_is_asked_about(days: Days, says: str) -> None:
    with pytest.raises(Unsure, match=says):
        draft(FORMS["cropped"], ASKED, days.farm, NOW)
    assert draft(FORMS["cropped"], ASKED, days.farm, NOW, confirmed=True)


def test_a_crop_put_in_with_other_fish_is_asked_about() -> None:
    days = a_pond()
    days.stock("H1", lot="RD", count=5)
    with pytest.raises(Unsure, match="holds 5 of RD: a crop is held apart"):
        draft(FORMS["cropped"], ASKED, days.farm, NOW)


def test_empty_places_are_offered_first_for_a_hold() -> None:
    days = a_pond()
    days.stock("L1")
    days.stock("H1", lot="RD")
    to = next(one for one in FORMS["cropped"].fields if one.name == "to")
    assert to.offers(days.farm, {"from": "P1"}) == ("T1", "T2", "L1", "H1")


def test_no_pond_fish_is_sold_and_culling_is_free() -> None:
    days = a_pond()
    crop(days, 0.4, 5)
    for place, lot in (("P1", "K"), ("H1", "C1")):
        answers = {"place": place, "lot": lot, "count": "10", "cause": "sold"}
        with pytest.raises(ValueError, match="no pond fish leaves the site"):
            draft(FORMS["removed"], answers, days.farm, NOW)
        assert draft(FORMS["removed"], answers | {"cause": "culled"}, days.farm, NOW)


# -- the hold --------------------------------------------------------------------------------------


def only(days: Days) -> forage_hold.Held:
    (one,) = forage_hold.held(days.site, days.farm, NOW)
    return one


def test_a_crop_waits_for_the_days_of_its_pond() -> None:
    days = a_pond()
    crop(days, 0.4, 20.5)
    assert (only(days).days_left, only(days).ready) == (1, False)
    assert "hold 1 day more, to 10 Mar" in told(days)
    assert told(days, 1) == ""
    longer = a_pond(hold_days=28.0)
    crop(longer, 0.4, 20.5)
    assert only(longer).days_left == 8


def test_odd_fish_or_newcomers_begin_the_hold_anew() -> None:
    days = a_pond()
    crop(days, 0.4, 30)
    assert only(days).ready
    days.write(e.Answer, -DAY * 2, place="H1", step="look", value="flashing", verdict="watch")
    assert (only(days).days_left, only(days).anew) == (19, "fish flashing")
    calm = a_pond()
    crop(calm, 0.4, 30)
    calm.write(e.Answer, -DAY * 2, place="H1", step="look", value="calm", verdict="ok")
    calm.write(
        e.Answer, -DAY, place="H1", step="look", value="cannot see them", verdict="watch"
    )  # fmt: skip
    assert only(calm).ready
    crop(calm, 0.2, 3, lot="C2")
    assert [one.days_left for one in forage_hold.held(calm.site, calm.farm, NOW)] == [18, 18]


def test_a_crop_moved_in_with_another_waits_anew() -> None:
    days = a_pond()
    crop(days, 0.4, 40)
    crop(days, 0.4, 30, lot="C2", place="T2")
    assert all(one.ready for one in forage_hold.held(days.site, days.farm, NOW))
    days.write(e.Moved, -DAY, lot="C2", source="T2", target="H1", count=200)
    assert {one.days_left for one in forage_hold.held(days.site, days.farm, NOW)} == {20}


def test_many_deaths_in_the_hold_are_for_the_veterinarian_first() -> None:
    days = a_pond()
    crop(days, 0.4, 30)
    days.write(e.Died, -DAY * 20, place="H1", lot="C1", count=20)
    assert only(days).ready
    assert "20 dead (10.0 %)" in only(days).says
    days.write(e.Died, -DAY * 19, place="H1", lot="C1", count=1)
    assert not only(days).ready
    assert "call the veterinarian before any is fed; 21 dead (10.5 %)" in told(days)


def test_forage_is_fed_from_the_oldest_crop_out_of_its_hold() -> None:
    days = a_pond()
    days.stock(count=300, weight="250")
    days.good_water()
    crop(days, 0.4, 10, lot="C2", place="T2")
    killi = days.site.products["KILLI"]
    ration = next(r for r in rations.today(days.site, days.farm, NOW) if r.place == "T1")

    def give(why: str = "", lot: str = "") -> e.Fed:
        return pond.give(
            days.site, days.farm, NOW, ration, Decimal(50), stands(days), why, lot
        )  # fmt: skip

    assert "hold 11 days more" in forage_hold.no_forage(days.site, days.farm, killi, NOW)
    with pytest.raises(ValueError, match=r"No crop is out of its hold.*Say why"):
        give()
    crop(days, 0.4, 30)
    assert forage_hold.no_forage(days.site, days.farm, killi, NOW) == ""
    assert give("variety").feed_lot == "C1"
    with pytest.raises(ValueError, match=r"C2 in T2.*hold 11 days more"):
        give(lot="C2")
    assert give("the vet saw them", lot="c2").feed_lot == "C2"
    with pytest.raises(ValueError, match="no crop C3: C1, C2"):
        give("x", lot="C3")


def test_a_tank_on_forage_is_told_of_the_hold_and_fed_in_it_only_when_it_is_meant() -> None:
    days = a_pond()
    days.site = with_place(days.site, "T1", feed="KILLI")
    days.stock(count=300, weight="250")
    days.good_water()

    def ration() -> rations.Ration:
        return next(r for r in rations.today(days.site, days.farm, NOW) if r.place == "T1")

    args = (1, Decimal(50), "variety")
    crop(days, 0.4, 10)
    assert any("hold 11 days more" in line for line in ration().cautions)
    with pytest.raises(Unsure, match="No crop is out of its hold"):
        rations.fed(ration(), *args)
    assert rations.fed(ration(), *args, confirmed=True).amount == "50"
    crop(days, 0.4, 30, lot="C0", place="T2")
    assert ration().cautions[1:] == ("Take it from C0 in T2, 0.40 kg left",)
    with pytest.raises(Unsure, match=r"^L1 would lose the exemption .* decides\.$"):
        rations.fed(ration(), *args)
    meal = rations.fed(ration(), *args, confirmed=True)
    assert (meal.product, meal.feed_lot) == ("KILLI", "C0")
    days.write(meal)
    assert (count(days, "T2"), crops(days.site, days.farm, "P1", NOW)[0].lot) == (175, "C0")
    assert ration().cautions == ("Take it from C0 in T2, 0.35 kg left",)
    assert rations.fed(ration(), *args).feed_lot == "C0"  # nothing is left to lose


def test_pellets_have_no_hold_and_neither_has_forage_where_there_is_no_pond() -> None:
    site = make_site()
    farm = Days(site).farm
    assert forage_hold.no_forage(site, farm, site.products["P"], NOW) == ""
    dry = replace(site, places={c: p for c, p in site.places.items() if p.kind != "pond"})
    assert forage_hold.no_forage(dry, farm, site.products["KILLI"], NOW) == ""
    assert forage_hold.no_forage(site, farm, site.products["KILLI"], NOW)


# -- the ledger, and what is told ------------------------------------------------------------------


def test_the_years_crops_stand_against_what_the_pond_bears() -> None:
    days = a_pond()
    crop(days, 0.1, 8)
    crop(days, 0.2, 3, lot="C2")
    crop(days, 0.7, 80, lot="C0")  # last year
    days.feed("50", -30, product="KILLI")  # straight from the pond
    days.feed("50", -30, product="KILLI", feed_lot="C0")
    found = stands(days)
    assert (found.crops_this_year, found.taken_this_year_kg) == (3, pytest.approx(0.35))
    assert found.most_a_year_kg == pytest.approx(1.2 * 40 / 4)  # husbandry 4.3: r K / 4
    assert found.taken_kg == pytest.approx(0.35)
    # 20 kg of 40: 1.2 x 20 x 0.5 = 12 kg a year, the 11th day since the estimate
    assert found.free_kg == pytest.approx(12 / 365.25 * 11 - 0.35)
    assert [one.lot for one in crops(days.site, days.farm, "P1", NOW)] == ["C0", "C1", "C2", ""]


def test_a_sound_pond_is_quiet_for_as_long_as_its_estimate_holds() -> None:
    days = a_pond(age_days=35)
    for week in range(5):  # a fifth of a kilogram a week, 0.23 are borne
        crop(days, 0.2, 34 - 7 * week, lot=f"C{week}")
    held = [one.says for one in forage_hold.held(days.site, days.farm, NOW)]
    assert "P1:" not in told(days)
    assert len(held) == 5
    assert "P1:" not in told(days, 7)
    assert "last estimated 43 days ago: take none" in told(days, 8)  # delay: six weeks and a day


@pytest.mark.parametrize("kg", ["0.65", "1.5"])
def test_a_crop_too_many_is_told_the_day_it_is_written(kg: str) -> None:
    days = a_pond(age_days=20)
    for week in range(2):
        crop(days, 0.2, 14 - 7 * week, lot=f"C{week}")
    assert "P1:" not in told(days)
    crop(days, float(kg), 0, lot="TOO")
    # 12 kg made in 180 days, of which 0.7 may go: 0.98 kg in 21 days; 0.69 kg by r B (1 - B / K)
    assert f"P1: {0.4 + float(kg):.2f} kg taken since the estimate, it bears 0.98 kg" in told(days)
    assert stands(days).free_kg == 0


def test_a_crop_in_the_cold_and_a_stock_run_down_are_told() -> None:
    cold = a_pond()
    cold.read("P1", -DAY * 3, temperature="17")
    crop(cold, 0.05, 2)
    assert "at 17.0 degC, below 20: take none" in told(cold)
    assert "degC" not in told(cold, 7)
    low = a_pond(stock=6_000)  # 12 kg of 40
    assert "under a third of the 40.0 kg" in told(low)


def test_a_pond_nobody_uses_is_not_told_of() -> None:
    unused = Days(a_pond().site)
    assert told(unused) == ""
    winter = a_pond(age_days=120, warm=9)
    assert told(winter) == ""
    assert "120 days ago" in told(a_pond(age_days=120))


def test_an_estimate_by_seine_is_read_back_with_its_interval_and_misses_no_fish() -> None:
    days = a_pond()
    kept = pond_estimate.by_seine("P1", "K", [4000, 2400, 1440])
    days.write(kept, -1)
    found = stands(days)
    assert found.fish == kept.count == pytest.approx(10_000, rel=0.005)
    assert found.low_fish is not None
    assert found.high_fish is not None
    assert found.low_fish < found.fish < found.high_fish
    (stock,) = days.farm.stocks["P1"]
    assert (stock.count, stock.estimated, stock.shortage) == (kept.count, True, None)


def test_what_is_typed_goes_before_what_the_site_says() -> None:
    days = a_pond()
    place = days.site.places["P1"]
    args = (days.site, days.farm, place, NOW)
    typed = pond.pond(*args, Asked(r_per_yr=2.4, k_kg=40.0), 0.0)
    assert typed.most_a_year_kg == pytest.approx(2 * 12)
    assert pond.pond(*args, Asked(breeding_c=26.0), 0.0).allowed_kg_day == 0
    full = pond.of_pond(days.farm, place, NOW, Asked())
    assert (full.r_per_yr, full.k_kg, full.breeding_c, full.prey_g) == (1.2, 40.0, 20.0, 2.0)
