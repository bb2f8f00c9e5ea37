"""Fish in, moved, out and counted, water and faults: what is kept, asked about and refused."""

from __future__ import annotations

import re
from typing import Any

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site, with_place

from rounds.day.recording.forms import FORMS, draft
from rounds.day.recording.words import words
from rounds.day.slips import Unsure
from rounds.records import entry as e

STOCK: dict[str, Any] = {
    "place": "T1",
    "lot": "RD-30",
    "count": "400",
    "weight": "4.2 g",
    "origin": "own larvae",
}


def make(days: Days, form: str, confirmed: bool = False, **answers: Any) -> e.Entry:
    asked = {("from" if name == "source" else name): text for name, text in answers.items()}
    return draft(FORMS[form], asked, days.farm, NOW, confirmed=confirmed)


def keep(days: Days, form: str, **answers: str) -> None:
    days.write(make(days, form, confirmed=True, **answers))


@pytest.fixture
def days() -> Days:
    found = Days()
    found.stock("T1", 409, "250", "RD-18")
    return found


def test_an_empty_farm_is_stocked_moved_counted_and_emptied() -> None:
    days = Days()
    keep(days, "stocked", **STOCK)
    (stock,) = days.farm.stocks["T1"]
    assert (stock.lot, stock.count, stock.weight_g, stock.estimated) == ("RD-30", 400, 4.2, False)
    keep(days, "moved", lot="rd-30", source="t1", to="T2", count="100")
    keep(days, "removed", place="T1", lot="RD-30", count="300", mass="1.5", cause="sold")
    assert "T1" not in days.farm.stocks
    keep(days, "counted", place="T2", lot="RD-30", count="98", method="by hand")
    assert [one.count for one in days.farm.stocks["T2"]] == [98]


@pytest.mark.parametrize(
    ("form", "answers", "says"),
    [
        ("stocked", {**STOCK, "estimated": "yes", "parents": "B-1, rd-18"},
         "RD-30: about 400 fish of 4.2 g into T1, own larvae, from B-1, RD-18"),
        ("moved", {"lot": "RD-18", "source": "T1", "to": "T2", "count": "9", "mass": "5 lb"},
         "RD-18: 9 fish from T1 to T2, 5 lb"),
        ("removed", {"place": "T1", "lot": "RD-18", "count": "20", "cause": "sold"},
         "RD-18: 20 fish out of T1, sold"),
        ("state", {"place": "T2", "state": "isolated", "volume": "3,5"}, "T2: isolated, 3.5 m^3"),
        ("fault", {"about": "pump", "where": "A", "text": "hums"},
         "fault began: pump, loop A, hums"),
        ("fault", {"about": "power"}, "fault began: power, the farm"),
    ],
)  # fmt: skip
def test_an_entry_is_said_in_words(
    days: Days, form: str, answers: dict[str, Any], says: str
) -> None:
    assert words(make(days, form, confirmed=True, **answers)) == says


@pytest.mark.parametrize(
    ("form", "answers", "says"),
    [
        ("stocked", {**STOCK, "place": "G9"}, "there is no place for fish G9: L1, T1, T2, P1"),
        ("stocked", {**STOCK, "count": "1,000"}, "1.000 is not a count"),
        ("stocked", {**STOCK, "count": "0"}, "nothing to record"),
        ("stocked", {**STOCK, "weight": "1,500 g"}, "two ways: write 1500 or 1.5"),
        ("stocked", {**STOCK, "weight": "4.2 L"}, "L is not a unit of mass: kg, g, mg"),
        ("stocked", {**STOCK, "weight": "-4"}, "weight must be above 0"),
        ("stocked", {**STOCK, "origin": ""}, "origin is missing: where they come from"),
        ("stocked", {**STOCK, "colour": "red"}, "stocked does not ask colour: place, lot"),
        ("stocked", {**STOCK, "parents": "RD-30"}, "own parent"),
        ("moved", {"lot": "RD-19", "source": "T1", "to": "T2", "count": "9"},
         "there is no lot with fish RD-19: RD-18"),
        ("moved", {"lot": "RD-18", "source": "T2", "to": "T1", "count": "9"},
         "there is no place with this lot T2: T1"),
        ("moved", {"lot": "RD-18", "source": "T1", "to": "T1", "count": "9"}, "in T1 already"),
        ("moved", {"lot": "RD-18", "source": "T1", "to": "T2", "count": "900"},
         "T1 holds 409 of RD-18, 900 cannot leave"),
        ("removed", {"place": "T1", "lot": "RD-18", "count": "410", "cause": "sold"},
         "T1 holds 409 of RD-18, 410 cannot leave"),
        ("removed", {"place": "T1", "lot": "RD-18", "count": "4", "cause": "eaten"},
         "there is no cause eaten: sold, culled, sample, lost"),
        ("state", {"place": "T1", "state": "drained"},
         "T1 holds 409 of RD-18: record them as moved or removed, then drain it"),
        ("state", {"place": "P1", "state": "isolated"}, "P1 shares no loop"),
        ("state", {"place": "T1", "state": "in service"}, "T1 is in service already"),
        ("fault", {"about": "other"}, "say in text what broke"),
        ("repaired", {"fault": "pump"}, "no fault is open"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_sentence(
    days: Days, form: str, answers: dict[str, Any], says: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(says)):
        make(days, form, confirmed=True, **answers)


@pytest.mark.parametrize(
    ("form", "answers", "says"),
    [
        ("stocked", {**STOCK, "weight": "9 kg"}, "10 times the market weight of Fish, 900 g"),
        ("stocked", {**STOCK, "lot": "rd-18", "place": "T2", "weight": "25"},
         "0.1 times what RD-18 weighs now, 250 g"),
        ("moved", {"lot": "RD-18", "source": "T1", "to": "T2", "count": "9", "mass": "22.5"},
         "2500 g each, 250 g are carried"),
        ("counted", {"place": "T1", "lot": "RD-18", "count": "4090"}, "409 of RD-18 are on record"),
        ("counted", {"place": "T1", "lot": "RD-18", "count": "0"}, "0 counted, 409 on record"),
        ("state", {"place": "T2", "state": "in service", "volume": "40"}, "4 m^3 stand in"),
    ],
)  # fmt: skip
def test_a_slip_is_named_and_kept_only_when_meant(
    days: Days, form: str, answers: dict[str, Any], says: str
) -> None:
    with pytest.raises(Unsure) as told:
        make(days, form, **answers)
    assert says in str(told.value)
    assert make(days, form, confirmed=True, **answers)


def test_too_many_fish_for_the_place_are_asked_about() -> None:
    days = Days(with_place(make_site(), "T1", density_kg_m3=30.0))
    assert make(days, "stocked", **{**STOCK, "weight": "250"})
    with pytest.raises(Unsure, match="T1 would hold 200 kg/m3, 30 are wanted"):
        make(days, "stocked", **{**STOCK, "count": "4000", "weight": "250"})


def test_the_same_fish_twice_on_one_day_are_asked_about() -> None:
    days = Days()
    keep(days, "stocked", **STOCK)
    with pytest.raises(Unsure, match="the same was kept at 08:00: once more"):
        make(days, "stocked", **STOCK)
    assert make(days, "stocked", **{**STOCK, "place": "T2"})


def test_a_drained_place_takes_no_fish_and_an_isolated_one_leaves_the_loop(days: Days) -> None:
    before = days.farm.loop_water("A").volume_m3
    keep(days, "state", place="T2", state="drained")
    assert days.farm.loop_water("A").volume_m3 == before - 4.0  # type: ignore[operator]
    with pytest.raises(ValueError, match="T2 is drained: fill it"):
        make(days, "moved", lot="RD-18", source="T1", to="T2", count="9")
    keep(days, "state", place="T2", state="in service", volume="3")
    assert days.farm.loop_water("A").volume_m3 == before - 1.0  # type: ignore[operator]


def test_a_fault_is_open_until_it_is_repaired(days: Days) -> None:
    keep(days, "fault", about="pump", where="loop A")
    keep(days, "fault", about="leak", where="T1")
    with pytest.raises(ValueError, match="pump, loop A is on record as broken"):
        make(days, "fault", about="pump", where="A")
    keep(days, "repaired", fault="pump, loop A")
    assert [(one.about, one.place) for one in days.farm.incidents] == [("leak", "T1")]


def test_a_bare_number_is_read_in_the_units_of_the_site() -> None:
    days = Days(replace(make_site(), display_units="us"))
    entry = make(days, "state", place="T2", state="isolated", volume="1000")
    assert (entry.volume, entry.unit) == ("1000", "gal")  # type: ignore[attr-defined]
