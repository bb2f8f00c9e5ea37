"""Larval tanks by age, columns and the microscope."""

from __future__ import annotations

from datetime import timedelta

import pytest
from larval_farm import hatchery, lived, looked, sheet
from small_farm import NOW, Days, with_place

from rounds.day import verdict
from rounds.day.feeding import rations
from rounds.day.larvae import look as larval_look
from rounds.day.larvae import tanks as larvae
from rounds.day.larvae.tanks import Asked
from rounds.day.recording import forms as recording
from rounds.day.recording.forms import FORMS
from rounds.day.slips import Unsure
from rounds.day.telling import handoff
from rounds.day.walking.typed import find
from rounds.reason import render
from rounds.records import entry as e
from rounds.site.model import Step

# -- age -------------------------------------------------------------------------------------------


def test_age_comes_from_the_hatch_date_on_record_through_moves_and_splits() -> None:
    days = lived(18)
    assert sheet(days).days_after_hatch == 18
    assert not any("Record the day" in line for line in sheet(days).missing)
    assert sheet(days, day=30).days_after_hatch == 30
    days.write(e.Moved, -5, lot="LV", source="L1", target="T2", count=2000)
    days.stock("T1", count=10, weight="0.01", lot="LV-2", hours=-4, parents=["LV"])
    hatched = (NOW - timedelta(days=18)).date()
    for place in ("L1", "T1", "T2"):
        assert [stock.hatched for stock in days.farm.stocks[place]] == [hatched]


def test_without_a_hatch_date_the_sheet_says_how_to_record_it() -> None:
    days = Days(hatchery())
    days.stock("L1", count=7000, weight="0.0004", lot="LV", hours=-24 * 12)
    found = sheet(days)
    assert found.days_after_hatch == 12
    assert any("rounds record hatched lot=LV" in line for line in found.missing)
    assert any(f"K, {FORMS['hatched'].title}" in line for line in found.missing)
    assert any("they are older" in line for line in found.cautions)
    form = recording.FORMS["hatched"]
    for wrong, says in (("soon", "not a date"), ("2026-04-01", "still to come")):
        with pytest.raises(ValueError, match=says):
            recording.draft(form, {"lot": "LV", "hatched": wrong}, days.farm, NOW)
    with pytest.raises(Unsure, match="days old"):
        recording.draft(form, {"lot": "LV", "hatched": "2001-01-01"}, days.farm, NOW)
    days.write(recording.draft(form, {"lot": "LV", "hatched": "2026-02-20"}, days.farm, NOW))
    assert sheet(days).days_after_hatch == 18
    assert sheet(days).larvae == 7000
    with pytest.raises(ValueError, match="on record already"):
        recording.draft(form, {"lot": "LV", "hatched": "2026-02-20"}, days.farm, NOW)
    changed = handoff.matters(days.site, days.farm, NOW, "ana").changed
    assert any("hatched 2026-02-20" in line for line in changed)


def test_a_weight_no_larva_of_that_age_has_is_asked_about() -> None:
    days = Days(hatchery())
    form = recording.FORMS["stocked"]
    fish = {"place": "T1", "lot": "LN", "count": "300", "origin": "x"}

    def draft(weight: str, hatched: str) -> object:
        answers = {**fish, "weight": weight, "hatched": hatched}
        return recording.draft(form, answers, days.farm, NOW)

    with pytest.raises(Unsure, match="300 g at 1 days of age"):
        draft("300 g", (NOW - timedelta(days=1)).date().isoformat())
    assert draft("0.4 mg", (NOW - timedelta(days=1)).date().isoformat())
    assert draft("0.3 g", (NOW - timedelta(days=35)).date().isoformat())
    assert draft("300 g", (NOW - timedelta(days=300)).date().isoformat())
    days.stock("T1", count=300, weight="300", lot="BIG", hours=-24)
    yesterday = (NOW - timedelta(days=2)).date().isoformat()
    with pytest.raises(Unsure, match="days of age"):
        recording.draft(
            recording.FORMS["hatched"], {"lot": "BIG", "hatched": yesterday}, days.farm, NOW
        )


def test_of_mixed_ages_the_youngest_counts() -> None:
    days = lived(18)
    days.stock("L1", count=500, weight="0.0004", lot="L8", hours=-24, hatched="2026-03-02")
    found = sheet(days)
    assert found.days_after_hatch == 8
    assert any("the youngest counts" in line for line in found.cautions)


def test_foods_screens_and_skimmer_by_age_and_what_comes_within_ten_days() -> None:
    found = sheet(lived(5))
    assert [one.mesh_um for one in found.screens] == [250, 500]
    assert "in from day 3 to 8" in found.skimmer
    assert [line.partition(":")[0] for line in found.coming] == [
        "day 9, in 4 days", "day 11, in 6 days", "day 12, in 7 days",
    ]  # fmt: skip
    assert "outlet screen 500 um" in found.coming[1]
    later = sheet(lived(12))
    assert [one.mesh_um for one in later.screens] == [500]
    assert later.skimmer.startswith("skimmer: out, if 90 %")
    assert [one.partition(": ")[2] for one in later.coming] == ["dry feed begins"]
    assert sheet(lived(12, screens=(), swim_bladder=None)).screens == ()


# -- number ----------------------------------------------------------------------------------------


def test_a_number_by_columns_is_kept_as_an_estimate_with_its_interval() -> None:
    days = lived(12)
    asked = Asked(columns=(4, 6, 5, 3, 7, 5, 4, 6, 2, 5))
    found = larvae.sheet(days.site, days.farm, days.site.places["L1"], NOW, asked)
    assert found.number is not None
    assert found.number.fish == 2350
    # 47 in ten columns: 3.45 to 6.25 a column, of 7000 stocked
    ends = (found.survival_low, found.survival, found.survival_high)
    assert ends == pytest.approx((3.453 / 14, 4.7 / 14, 6.25 / 14), abs=0.001)
    assert any("On record are 7000" in line for line in found.cautions)
    (stock,) = days.farm.stocks["L1"]
    draft = larvae.counted(found, stock, asked)
    assert "column samples: 4 6 5 3 7 5 4 6 2 5 of 1 L" in draft.method
    assert "1727 to 3125 (95 %)" in draft.method
    days.write(draft)
    told = handoff.matters(days.site, days.farm, NOW, "ana").changed
    assert any("about 2350, column samples" in line for line in told)
    (stock,) = days.farm.stocks["L1"]
    assert (stock.count, stock.estimated, stock.shortage) == (2350, True, None)
    later = sheet(days)
    assert later.survival == pytest.approx(2350 / 7000)
    assert any("survival is no better" in line for line in later.cautions)


def test_more_larvae_than_were_stocked_cast_doubt_on_the_number_stocked() -> None:
    assert any("More larvae than" in x for x in sheet(lived(12), columns=(20,) * 5).cautions)
    assert not any("More larvae than" in x for x in sheet(lived(12), columns=(9,) * 5).cautions)


def test_columns_ask_for_more_where_they_are_few_or_clumped() -> None:
    few = sheet(lived(12), columns=(14, 15))
    assert any("2 columns do not show" in line for line in few.cautions)
    clumped = sheet(lived(12), columns=(2, 41, 9, 30, 1))
    assert any("clumped" in line for line in clumped.cautions)
    assert any("columns more" in line for line in clumped.cautions)
    bare = lived(12)
    bare.site = with_place(bare.site, "L1", volume_m3=None)
    assert sheet(bare, columns=(2, 3)).number is None
    with pytest.raises(ValueError, match="--columns"):
        larvae.counted(sheet(bare), bare.farm.stocks["L1"][0], Asked())


def test_larvae_taken_for_the_microscope_are_no_deaths_and_start_no_fast() -> None:
    days = lived(18)
    days.good_water("L1")
    days.write(e.Removed, -2, lot="LV", place="L1", count=1000, cause="sample")
    days.write(e.Counted, -1, lot="LV", place="L1", count=3000, estimated=True)
    found = sheet(days)
    assert found.survival == pytest.approx(3000 / 6000)
    assert any("1000 were taken out" in render(one) for one in found.reasons)
    assert (found.no_feed, rations.today(days.site, days.farm, NOW)[0].no_feed) == (False, False)


def test_nothing_is_to_go_in_while_oxygen_stops_feeding() -> None:
    days = lived(18)
    days.good_water("L1")
    days.read("L1", rotifer_density="2")
    asked = {"target_per_ml": 5.0, "culture_per_ml": 300.0}
    assert (sheet(days, **asked).add_culture_l or 0) > 0
    days.read("L1", -0.2, oxygen="3.0")
    found = sheet(days, **asked)
    assert (found.no_feed, found.add_culture_l, found.need_until_next) == (True, None, None)
    assert found.cautions[0].startswith("NO FEED: Oxygen 3.0 mg/L")


def test_survival_is_not_told_before_a_count_and_growth_not_before_a_weighing() -> None:
    found = sheet(lived(12))
    assert (found.survival, found.weight_now_g) == (None, None)
    assert any("Survival is not known" in line for line in found.missing)
    assert any("Weigh larvae" in line for line in found.missing)


# -- twenty larvae ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "guts", "bladders", "eats", "fills"),
    [
        (2, 0, 0, "ok", "ok"),  # on yolk
        (4, 6, 5, "watch", "ok"),  # learning to eat; filling
        (15, 16, 20, "ok", "ok"),  # 20 % empty
        (15, 15, 17, "watch", "watch"),
        (15, 9, 10, "act", "act"),
        (None, 15, 10, "watch", "ok"),
    ],
)
def test_what_twenty_larvae_mean_at_their_age(
    day: int | None, guts: int, bladders: int, eats: str, fills: str
) -> None:
    days = lived(day) if day is not None else Days(hatchery())
    if day is None:
        days.stock("L1", count=7000, weight="0.0004", lot="LV", hours=-24 * 2)
    looked(days, 20, guts, bladders)
    found = sheet(days).look
    assert found is not None
    assert (found.guts_verdict, found.bladders_verdict) == (eats, fills)
    assert f"{guts} of 20" in found.says[0]
    told = [line for line in found.cautions if "call the supervisor" in line]
    assert len(told) == (eats != "ok") + (fills != "ok")


def test_hungry_larvae_stand_on_the_board_and_in_the_hand_off() -> None:
    days = lived(15)
    looked(days, 20, 9, 20)
    stands = verdict.of_place(days.site, days.farm, days.site.places["L1"], NOW)
    (told,) = (one for one in stands.judgements if one.measure == "guts_full")
    assert (told.verdict, stands.verdict) == ("act", "act")
    assert "9 of 20 guts with food, 45 % (23 to 68 %)" in told.says
    looked(days, 20, 19, 20, hours=-0.5)
    assert larval_look.judged(days.site, days.farm, days.site.places["L1"], NOW) == []


def test_a_count_is_judged_as_it_is_typed() -> None:
    days = lived(15)
    steps = {code: Step(code, code, "count") for code in (larval_look.GUTS, larval_look.BLADDERS)}
    args = days.site.places["L1"], steps["guts_full"]
    assert find(days.site, days.farm, *args, "9", NOW).verdict == "ok"  # of how many?
    days.write(e.Answer, -0.1, place="L1", step="larvae_looked", value="20", walk="w")
    hungry = find(days.site, days.farm, *args, "9", NOW)
    assert (hungry.verdict, hungry.value) == ("act", "9")
    assert hungry.judgement is not None
    assert "call the supervisor" in hungry.judgement.do
    assert find(days.site, days.farm, *args, "18", NOW).verdict == "ok"
    assert "21 of 20 larvae cannot be" in find(days.site, days.farm, *args, "21", NOW).refused
    flat = find(days.site, days.farm, args[0], steps["bladders_full"], "8", NOW)
    assert flat.verdict == "act"
    assert "after day 8" in flat.judgement.says if flat.judgement else False


def test_a_look_is_of_one_walk_lasts_two_days_and_cannot_hold_more_than_it_looked_at() -> None:
    days = lived(15)
    assert any("Look at twenty larvae" in line for line in sheet(days).missing)
    looked(days, 20, 25, 7, hours=-5)
    wrong = sheet(days)
    assert wrong.look is not None
    assert wrong.look.guts is None
    assert any("25 full guts of 20 larvae cannot be" in line for line in wrong.cautions)
    days.write(e.Answer, -1, place="L1", step="larvae_looked", value="8", walk="other")
    fewer = sheet(days).look
    assert fewer is not None
    assert (fewer.looked_at, fewer.guts, fewer.bladders) == (8, None, None)
    assert any("Only 8" in line for line in fewer.cautions)
    old = lived(15)
    looked(old, 20, 1, 1, hours=-49)
    assert sheet(old).look is None
