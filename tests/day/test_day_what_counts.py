"""Water, fish and readings that count, and those that do not: a fault each that was there once."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace
from ration_farm import fed_on, good
from small_farm import NOW, Days, make_site, with_place

from rounds.day.fold.waters import water_m3
from rounds.day.larvae.live_food import live_food
from rounds.day.larvae.rearing import since_stocking
from rounds.day.loops import air
from rounds.day.lots import deaths
from rounds.day.lots.growth import growths
from rounds.day.lots.room import room
from rounds.day.readings.derived import derived
from rounds.day.verdict import of_place
from rounds.reason import render
from rounds.records import entry as e
from rounds.site.model import Place


@pytest.mark.parametrize(
    ("state", "left"), [("in service", 2.0), ("isolated", 2.0), ("drained", None)]
)
def test_the_water_recorded_last_counts_in_every_state(state: str, left: float | None) -> None:
    days = good()
    days.write(e.State, -0.5, place="T1", state=state, volume="2.0", unit="m^3")
    place = days.site.places["T1"]
    assert water_m3(place, days.farm.now.states) == left
    line = air.of_place(days.site, days.farm, place, NOW)
    assert (line.shortest is None) == (left is None)


def test_less_water_lasts_less_long_isolated_too() -> None:
    minutes = []
    for volume in ("5.0", "2.0"):
        days = good()
        days.write(e.State, -0.5, place="T1", state="isolated", volume=volume, unit="m^3")
        case = air.of_place(days.site, days.farm, days.site.places["T1"], NOW).shortest
        assert case is not None
        minutes.append(case.to_act_min or 0.0)
    assert minutes[1] / minutes[0] == pytest.approx(2 / 5)  # the same fish, the same oxygen


@pytest.mark.parametrize("counted", [0, 200])
def test_missing_fish_are_told_when_none_is_left_too(counted: int) -> None:
    days = good()
    days.write(e.Counted, -1, lot="L1", place="T1", count=counted)
    [told] = deaths.short(days.farm, days.site.places["T1"], NOW)
    assert told.says.startswith(f"{300 - counted} of L1 missing: {counted} counted")
    assert of_place(days.site, days.farm, days.site.places["T1"], NOW).verdict != "ok"


def test_the_reason_of_oxygen_names_what_was_read() -> None:
    days = good()
    days.read("T1", -3, oxygen="3.4")
    days.read("T1", -0.2, oxygen="7")
    ration = fed_on(days)
    told = " ".join(render(reason) for reason in ration.reasons)
    assert ration.factor == 0.5
    assert "oxygen fell to 3.4 mg/L, 48 %, below where one acts: x0.50" in told
    assert "60 %" not in told


def test_the_days_worst_ammonia_knows_a_test_made_elsewhere_in_the_loop() -> None:
    days = Days()
    days.stock()
    days.read("T1", -4, ph="8.2", temperature="26", salinity="30")
    days.read("T2", -3, tan="2.0")
    place = days.site.places["T1"]

    def ammonia(hours: float):
        found = derived(days.site, days.farm, place, NOW + timedelta(hours=hours), day=True)
        return next(one for one in found if one.measure == "ammonia")

    then = ammonia(-2.9)
    days.read("T2", -0.5, tan="0.2")
    now = ammonia(0)
    assert now.worst is not None
    assert now.worst[0] == then.cautious
    assert f"{then.cautious:.3f} at " in now.line


def test_the_age_at_least_is_that_of_the_youngest() -> None:
    days = Days()
    days.stock("L1", lot="OLD", count=500, weight="0.001", hours=-24 * 20)
    days.stock("L1", lot="NEW", count=500, weight="0.001", hours=-24 * 2)
    assert since_stocking(days.site, days.farm, days.site.places["L1"], NOW) == 2


def test_a_ration_begun_with_one_size_does_not_grow_by_the_other() -> None:
    days = good()
    days.feed("900", -20)
    total = fed_on(days).total_g
    days.feed("300", -2, meal=1)
    days.feed("100", -1, meal=1, product="P2")
    assert fed_on(days).total_g == pytest.approx(total, rel=1e-6)


def test_a_flow_read_as_nothing_is_no_unknown_flow() -> None:
    days = good(with_place(make_site(), "T1", flow_m3_h=5.0))
    days.read("T1", -0.2, flow="0")
    found = room(days.site, days.farm, days.site.places["T1"], NOW)
    assert any("read as 0: no water comes in" in one.missing for one in found.limits)


def test_feed_shared_with_a_lot_that_left_since_cannot_be_told_apart() -> None:
    days = Days()
    days.stock("T1", hours=-24 * 40)
    days.stock("T1", hours=-24 * 40, lot="X")
    for ago in range(40, 3, -1):
        days.feed("900", -24 * ago)
    for ago, kg in ((39, "2.5"), (3, "3.2")):
        days.write(e.Weighed, -24 * ago, lot="L1", place="T1", count=10, mass=kg, unit="kg")
    days.write(e.Moved, -24 * 2, lot="X", source="T1", target="T2", count=300)
    [grown] = [one for one in growths(days.site, days.farm, NOW) if one.place == "T1"]
    assert grown.fcr_economic is None
    assert grown.fcr_says == "X ate here too: feed cannot be told apart"


def test_days_are_those_of_the_site_wherever_it_lies() -> None:
    days = Days(make_site(timezone=ZoneInfo("Pacific/Auckland")))
    days.stock("T1", hours=-240)
    days.write(e.Weighed, -13, lot="L1", place="T1", count=10, mass="2.7", unit="kg")
    [grown] = growths(days.site, days.farm, NOW)  # 19:00 UTC of 9 March is 08:00 of the 10th there
    assert "10 Mar 2026 sample" in " ".join(render(reason) for reason in grown.reasons)


def test_what_was_left_of_one_culture_is_not_put_into_another() -> None:
    site = replace(make_site(), places={
        **make_site().places,
        "R1": Place("R1", "Rotifers", "culture", 7, holds="rotifers", volume_m3=0.2),
        "R2": Place("R2", "Back-up", "culture", 8, holds="rotifers", volume_m3=0.2),
    })  # fmt: skip
    days = Days(site)
    for place in ("R1", "R2"):
        days.read(place, -24, rotifer_density="200")
        days.read(place, -1, rotifer_density="220")
    _, plain = live_food(site, days.farm, NOW)
    _, told = live_food(site, days.farm, NOW, None, {"R1": 100})
    assert [one.place for one in told] == ["R1", "R2"]
    assert told[1] == plain[1]
    assert told[0] != plain[0]
