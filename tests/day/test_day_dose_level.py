"""Top-up, fresh water and exchange: what restores a level or a salinity, and what it leaves."""

from __future__ import annotations

import pytest
from dose_farm import line_of, read_all, sheet_of
from small_farm import make_site, with_place

from rounds.day.loops import doses
from rounds.records import entry as e
from rounds.site.model import Limits


def test_a_top_up_restores_the_salinity_it_was_worked_out_from() -> None:
    days = read_all(make_site(), salinity=32)
    line = line_of(days, "top-up", new_salinity=0)
    # salt stays: what is left of the water at 32 held 30 before
    assert line.amount / 1000 == pytest.approx(12.5 * (1 - 30 / 32), rel=0.01)
    assert any("only if the level is down" in caution for caution in line.cautions)
    draft = doses.dosed(line, sheet_of(days))
    assert isinstance(draft, e.Exchanged)
    assert (draft.volume_out, draft.salinity_in) == ("0", "0")


def test_a_level_that_was_written_down_governs_the_top_up() -> None:
    days = read_all(make_site())
    days.write(e.State, -1, place="T1", state="in service", volume="4.5")
    line = line_of(days, "top-up", new_salinity=0)
    assert line.amount == pytest.approx(500)


def test_a_level_below_its_mark_is_topped_up_by_its_area() -> None:
    site = make_site()
    mark = Limits("level", target_low=100)
    site = with_place(site, "T1", area_m2=4.0, limits=(mark,))
    days = read_all(site, level=95)
    assert line_of(days, "top-up", new_salinity=0).amount == pytest.approx(0.05 * 4 * 1000)
    assert not any(
        line.kind == "top-up" for line in sheet_of(read_all(site, level=101), new_salinity=0).lines
    )


def test_new_water_is_not_taken_for_fresh() -> None:
    days = read_all(make_site(), salinity=33)
    sheet = sheet_of(days)
    assert {line.kind for line in sheet.lines} == {"alkalinity", "exchange"}
    assert any("salinity of the fresh water" in line for line in sheet.missing)
    days.write(
        e.Exchanged, -30, loop="A", volume_out="0", volume_in="0.2", unit="m^3", salinity_in="0.4"
    )
    lowered = line_of(days, "fresh water")
    assert lowered.new_salinity == 0.4


def test_an_exchange_says_what_it_leaves() -> None:
    days = read_all(make_site(), tan="1.00", nitrate="60")
    line = line_of(days, "exchange", exchange=0.1)
    assert line.amount == 1250
    said = " ".join(line.expected)
    assert "TAN from 1.00 (today 07:00) to 0.90" in said
    assert "Nitrate from 60 (today 07:00) to 54" in said
    assert any("salinity 30.0 first" in caution for caution in line.cautions)
    assert any("24.0 degC first" in caution for caution in line.cautions)
    draft = doses.dosed(line, sheet_of(days))
    assert isinstance(draft, e.Exchanged)
    assert draft.volume_out == draft.volume_in == "1250"


def test_salinity_on_target_moves_nothing() -> None:
    kinds = {line.kind for line in sheet_of(read_all(make_site(), salinity="30.2")).lines}
    assert kinds == {"alkalinity", "exchange"}


def test_what_the_fill_checklist_read_is_the_water_let_in() -> None:
    days = read_all(make_site(), salinity=33)
    days.read("HOUSE", -2, salinity="0.4", temperature="22.5")
    line = line_of(days, "fresh water")
    assert line.new_salinity == 0.4
    asked = line_of(read_all(make_site(), salinity=33), "fresh water", new_salinity=0.4,
                    new_temperature=22.5)  # fmt: skip
    assert line.amount == asked.amount
    assert not any("degC first" in caution for caution in line.cautions)
    days.read("HOUSE", -73, chlorine="0.5")
    assert line_of(days, "fresh water").portions
    days.read("HOUSE", -1, chlorine="0.05")
    refused = line_of(days, "fresh water")
    assert not refused.portions
    assert "Chlorine 0.05 mg/L" in refused.refused[0]


def test_a_dose_within_the_band_is_possible_one_below_it_needed_and_one_alkali_is_enough() -> None:
    limits = (Limits("alkalinity", target_low=80, target_high=200, act_low=50, act_high=300),)
    site = with_place(make_site(), "T1", limits=limits)
    first = {alkalinity: sheet_of(read_all(site, alkalinity=alkalinity)) for alkalinity in (92, 60)}
    assert first[92].first == (
        "Alkalinity 92 mg/L CaCO3: in its band. A dose is possible, not needed.",
        "Give one of the alkalis, not both.",
    )
    assert first[60].first[0] == "Alkalinity 60 mg/L CaCO3, below 80: a dose is needed."
    assert first[60].cautions[:2] == first[60].first
    assert sheet_of(read_all(site, alkalinity=150)).first == ()
