"""Two forms of one stop that do not fit: each way a meter tells on itself, and a near miss."""

from __future__ import annotations

import pytest
from meter_farm import (
    doubts,
    kinds,
    one,
    tank,
)
from small_farm import NOW, Days

from rounds.day.feeding import rations
from rounds.day.verdict import of_place

# -- mg/L against percent: the saturations are printed ones, 9.092 and 7.396 mg/L at 20 degC -------


def test_a_meter_left_at_salinity_0_is_named_and_the_true_figure_given() -> None:
    found = one(tank(temperature="20", salinity="35", oxygen="8.2", oxygen_percent="90"))
    assert (found.kind, found.places) == ("salinity setting", ("G1",))
    assert "stands at salinity 0" in found.says
    assert "set it to 35" in found.says
    assert "6.7 mg/L in G1" in found.says  # 0.90 x 7.396


@pytest.mark.parametrize("mg_l", ["6.7", "6.4", "7.0"])  # 91, 87 and 95 % where 90 was read
def test_mg_l_and_percent_within_five_points_belong_together(mg_l: str) -> None:
    assert kinds(tank(temperature="20", salinity="35", oxygen=mg_l, oxygen_percent="90")) == []


@pytest.mark.parametrize("mg_l", ["7.3", "5.9"])  # 99 and 80 %
def test_mg_l_and_percent_further_apart_are_told_without_naming_salinity_0(mg_l: str) -> None:
    found = one(tank(temperature="20", salinity="35", oxygen=mg_l, oxygen_percent="90"))
    assert found.kind == "pair"
    assert "if the percent is right it is 6.7 mg/L in G1" in found.says


def test_forms_of_two_stops_are_not_compared_nor_without_salinity() -> None:
    days = tank(temperature="20", salinity="35", oxygen="8.2")
    days.read("G1", -3, oxygen_percent="90")
    assert kinds(days) == []
    assert kinds(tank(temperature="20", oxygen="8.2", oxygen_percent="90")) == []


def test_the_doubt_ends_with_the_next_reading_that_fits_and_after_a_day() -> None:
    days = tank(temperature="20", salinity="35", oxygen="8.2", oxygen_percent="90")
    assert kinds(days, hours=24.5) == []
    days.read("G1", -0.5, oxygen="6.7", oxygen_percent="90")
    assert kinds(days) == []


def test_act_stays_act_and_the_meter_comes_second() -> None:
    days = Days()
    days.stock()
    days.read("T1", -1, temperature="20", salinity="35", oxygen="3.5", oxygen_percent="90")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.verdict == "act"
    assert stands.worst is not None
    assert stands.worst.do == "Aerate now, stop feeding. Then check the meter."
    assert any("do not fit" in str(r.values.get("says")) for r in stands.worst.reasons)


def test_what_the_percent_comes_to_can_only_raise_a_verdict_and_the_ration_agrees() -> None:
    # 34 degC, S 35: saturation 5.858 in this water, 7.065 in fresh; 65 % is 3.8, shown as 4.6
    days = Days()
    days.stock()
    days.read("T1", -1, temperature="34", salinity="35", oxygen="4.6", oxygen_percent="65")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.verdict == "act"
    assert stands.worst is not None
    assert stands.worst.says == "Oxygen 3.8 mg/L, below 4.0 (by the percent)"
    ration = next(r for r in rations.today(days.site, days.farm, NOW) if r.place == "T1")
    assert ration.no_feed


# -- conductivity, pH against alkalinity -----------------------------------------------------------


@pytest.mark.parametrize(("salinity", "told"), [("35", False), ("34.2", False), ("33.4", True)])
def test_conductivity_of_the_standard_against_salinity(salinity: str, told: bool) -> None:
    days = tank(temperature="15", conductivity="42.914", salinity=salinity)  # PSS-78: 35 at 15 degC
    assert [(d.kind, d.measure) for d in doubts(days)] == [("pair", "salinity")] * told


@pytest.mark.parametrize(
    ("ph", "alkalinity", "told"),
    [("10.2", "20", True), ("5.9", "100", True), ("7.6", "100", False), ("8.9", "100", False)],
)
def test_ph_that_no_water_of_this_alkalinity_has(ph: str, alkalinity: str, told: bool) -> None:
    days = tank(temperature="24", salinity="30", ph=ph, alkalinity=alkalinity)
    assert [(d.kind, d.measure) for d in doubts(days)] == [("pair", "ph")] * told
    if told:
        assert "Check the pH meter in two buffers" in one(days).says
