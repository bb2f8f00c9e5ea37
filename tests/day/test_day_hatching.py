"""Cysts, enrichment, cultures and their back-ups, from the book."""

from __future__ import annotations

from datetime import timedelta

import pytest
from larval_farm import hatchery
from small_farm import NOW, Days

from rounds.day.larvae import cultures, hatching
from rounds.day.recording import forms as recording
from rounds.day.slips import Unsure
from rounds.day.telling import handoff
from rounds.records import entry as e

# -- cysts and enrichment --------------------------------------------------------------------------


def hatch_of(days: Days, nauplii: int, hours: float, tin: str = "T7") -> None:
    days.write(e.Hatch, hours, place="B1", cysts=tin, amount="10", unit="g", nauplii=nauplii,
               nominal="250000")  # fmt: skip


def test_the_tins_own_yield_is_planned_with_and_its_fall_is_told() -> None:
    days = Days(hatchery())
    for n, nauplii in enumerate((2_400_000, 2_300_000, 2_200_000)):
        hatch_of(days, nauplii, -96 + 24 * n)
    (lot,) = hatching.cyst_lots(days.farm, NOW)
    assert lot.nauplii_per_g == pytest.approx(230_000)
    assert not lot.cautions
    wanted = NOW + timedelta(hours=60)
    planned = hatching.hatch(days.site, wanted, 1e6, 250_000, NOW, 12, lot)
    assert planned.cysts_g == pytest.approx(1e6 / 230_000)
    assert planned.out == wanted - timedelta(hours=0.5)
    assert planned.use_by_cold == planned.out + timedelta(hours=24)
    hatch_of(days, 1_600_000, -2)
    hatch_of(days, 2_000_000, -1, tin="T8")
    new, fallen = hatching.cyst_lots(days.farm, NOW)
    assert (new.cysts, fallen.cysts) == ("T8", "T7")
    assert fallen.nauplii_per_g == pytest.approx((230_000 + 220_000 + 160_000) / 3)
    assert any("20 % or more under its own mean 230000" in line for line in fallen.cautions)
    assert any("the tin says 250000" in line for line in new.cautions)
    watch = handoff.matters(days.site, days.farm, NOW, "ana").watch
    assert any("T7 gave 160000 nauplii a gram" in line for line in watch)
    assert any("T7" in line for line in hatching.hatch(days.site, wanted, 1e6, None, NOW, 0,
                                                      fallen).cautions)  # fmt: skip
    with pytest.raises(ValueError, match="nauplii-per-g"):
        hatching.hatch(days.site, wanted, 1e6, None, NOW)


def test_a_hatch_is_recorded_from_its_count() -> None:
    days = Days(hatchery())
    form = recording.FORMS["cysts"]
    given = {"place": "B1", "cysts": "T7", "grams": "12", "density": "46.12", "nominal": "250000"}
    draft = recording.draft(form, given, days.farm, NOW)
    assert isinstance(draft, e.Hatch)
    assert draft.nauplii == 46.12 * 60_000  # 60 L of the place
    days.write(draft)
    (lot,) = hatching.cyst_lots(days.farm, NOW)
    assert lot.nauplii_per_g == pytest.approx(230_600)
    assert days.farm == Days.farm.fget(days)  # type: ignore[attr-defined]
    told = handoff.matters(days.site, days.farm, NOW, "ana").changed
    assert any("12 g of cysts T7 gave 2767200 nauplii" in line for line in told)
    with pytest.raises(Unsure, match="the tin says"):
        recording.draft(form, {**given, "density": "4.6"}, days.farm, NOW)
    with pytest.raises(ValueError, match="nauplii/g is outside"):
        recording.draft(form, {**given, "density": "460"}, days.farm, NOW)


def test_enriched_food_expires() -> None:
    days = Days(hatchery())
    form = recording.FORMS["enriched"]
    draft = recording.draft(form, {"place": "B1", "food": "nauplii", "hours": "12"}, days.farm, NOW)
    days.write(draft, -5)
    days.write(replaced(draft, cold=True), -5)
    cold, warm = hatching.expiries(days.site, days.farm, NOW)
    assert (cold.expired, warm.expired) == (False, True)
    assert "enrich anew" in warm.says
    assert "feed it by" in cold.says
    told = handoff.matters(days.site, days.farm, NOW, "ana").watch
    assert [line for line in told if "enriched" in line] == [
        f"B1: {one.says}." for one in (cold, warm)
    ]
    assert hatching.expiries(days.site, days.farm, NOW + timedelta(hours=40)) == ()
    plan = hatching.enrichment(days.site, "rotifers", NOW + timedelta(hours=4), 6, NOW)
    assert plan.cautions  # it should be in by now


def replaced(draft: e.Entry, **keys: object) -> e.Entry:
    from msgspec.structs import replace as changed

    return changed(draft, **keys)


# -- cultures --------------------------------------------------------------------------------------


def upkeep(days: Days) -> cultures.Upkeep:
    found = cultures.upkeep(days.site, days.farm, NOW)
    assert found is not None
    return found


def test_one_culture_alone_is_told_until_a_second_lives_or_a_vial_is_renewed() -> None:
    days = Days(hatchery())
    assert cultures.upkeep(days.site, days.farm, NOW) is None
    days.read("R1", rotifer_density="300")
    assert any("only R1 is alive" in line for line in upkeep(days).cautions)
    watch = handoff.matters(days.site, days.farm, NOW, "ana").watch
    assert any("only R1 is alive" in line for line in watch)
    days.write(e.Answer, -2, place="R1", step="backup_culture", value="renewed today")
    assert upkeep(days).cautions == ()
    days.write(e.Answer, -1, place="R1", step="backup_culture", value="there is none")
    assert any("none on record" in line for line in upkeep(days).cautions)
    days.read("R2", rotifer_density="200")
    assert upkeep(days).alive == ("R1", "R2")
    assert upkeep(days).cautions == ()
    days.read("R2", -0.5, rotifer_density="0")
    assert upkeep(days).alive == ("R1",)


def test_a_culture_not_counted_and_a_back_up_not_renewed_are_told_within_their_delay() -> None:
    days = Days(hatchery())
    days.read("R1", -37, rotifer_density="300")
    days.read("R2", -35, rotifer_density="300")
    assert [line[:16] for line in upkeep(days).cautions] == ["R1 not counted s"]
    days.write(e.Answer, -24 * 9 - 1, place="R1", step="backup_culture", value="renewed today")
    assert any("renew it" in line for line in upkeep(days).cautions)
    dead = Days(hatchery())
    dead.read("R1", -24 * 8, rotifer_density="300")
    assert any("start one" in line for line in upkeep(dead).cautions)
