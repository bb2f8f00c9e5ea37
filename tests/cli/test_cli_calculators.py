"""Bare calculators: units are read, nothing is assumed, JSON and text tell the same figures."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

ALKALI = (
    "dose", "alkalinity", "--volume", "900 gal", "--alkalinity", "62", "--target", "90",
    "--ph", "7.6", "--temperature", "78 degF", "--salinity", "30", "--tan", "0.8",
    "--product", "NaHCO3", "--purity", "0.99",
)  # fmt: skip
SALT = ("dose", "salt", "--volume", "5.7", "--salinity", "28", "--target", "30",
        "--temperature", "24", "--purity", "95 %")  # fmt: skip
EXCHANGE = ("dose", "exchange", "--volume", "5.7", "--salinity", "35", "--target", "32",
            "--temperature", "24", "--salinity-in", "0", "--temperature-in", "22")  # fmt: skip
TOPUP = ("dose", "topup", "--volume", "5.7", "--volume-now", "5.5", "--salinity", "31",
         "--temperature", "24", "--salinity-in", "0", "--temperature-in", "22")  # fmt: skip
CHLORINE = ("dose", "chlorine", "--volume", "200 L", "--chlorine", "0.5",
            "--product", "Na2S2O3.5H2O")  # fmt: skip
WATER = ("water", "--temperature", "78 degF", "--salinity", "30", "--ph", "7,6", "--tan", "0.8",
         "--alkalinity", "2.4 meq/L", "--oxygen", "6.1", "--elevation", "200 ft")  # fmt: skip


def test_alkalinity_dose_is_what_the_salt_weighs(rounds: Run) -> None:
    ran = rounds(*ALKALI, "--json")
    assert ran.code == 0
    dose = ran.json["rows"][0]
    # 20 mg/L a day at most; 84.007 g NaHCO3 for each equivalent of 50.043 g CaCO3, 99 % pure.
    wanted = 900 * 3.785411784e-3 * 20 * 84.007 / 50.043 / 0.99
    assert dose["product"] == "NaHCO3"
    assert dose["mass_g"] == pytest.approx(wanted, rel=0.02)
    assert sum(dose["portions"]) == pytest.approx(dose["mass_g"])
    assert dose["after"]["alkalinity_mg_l"] == pytest.approx(82, abs=0.5)
    assert dose["after"]["ph_settled"] > dose["after"]["ph"]


@pytest.mark.parametrize("asked", [ALKALI, SALT, EXCHANGE, TOPUP, CHLORINE])
def test_every_calculator_gives_text_and_json(rounds: Run, asked: tuple[str, ...]) -> None:
    ran = rounds(*asked, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert (ran.json["format"], ran.json["site"], ran.json["command"]) == (1, "", "dose")
    row = ran.json["rows"][0]
    assert {"product", "portions", "after"} <= set(row)
    assert ("mass_g" in row) != ("volume_l" in row)
    assert row["after"]
    for key in ("reasons", "cautions", "refused"):
        values = row[key]
        assert isinstance(values, list)
        assert all(isinstance(value, str) for value in values)
    told = rounds(*asked)
    assert told.code == 0
    first, *rest = told.out.splitlines()
    assert re.search(r"\d (g|kg|L)\b", first)  # what and how much comes first
    assert rest[0].startswith("  1. ") or rest[1].startswith("  1. ")
    assert "the supervisor" in " ".join(told.out.split())
    assert "Why:" in told.out
    assert all(len(line) <= 80 for line in told.out.splitlines())


def test_salt_is_conserved(rounds: Run) -> None:
    dose = rounds(*SALT, "--json").json["rows"][0]
    water_kg = 5.7 * 1018.4  # sea water of salinity 28 at 24 degC, within 1 kg/m3
    kg = dose["mass_g"] / 1000
    after = (water_kg * 28 + 950 * kg) / (water_kg + kg)
    assert dose["after"]["practical_salinity"] == pytest.approx(after, abs=0.05)
    assert after == pytest.approx(30, abs=0.05)


def test_top_up_fills_what_is_missing(rounds: Run) -> None:
    assert rounds(*TOPUP, "--json").json["rows"][0]["volume_l"] == pytest.approx(200)


@pytest.mark.parametrize("asked", [ALKALI, SALT, EXCHANGE, TOPUP, CHLORINE])
def test_no_default_stands_in_for_a_measurement(rounds: Run, asked: tuple[str, ...]) -> None:
    for at in range(2, len(asked), 2):
        if asked[at] == "--tan":
            continue
        ran = rounds(*asked[:at], *asked[at + 2 :])
        assert ran.code == 2
        assert asked[at] in ran.err
        assert ran.err.count("\n") == 1


def test_refused_dose_is_told_and_ends_with_0(rounds: Run) -> None:
    fresh = [*ALKALI]
    fresh[fresh.index("--salinity") + 1] = "3"
    ran = rounds(*fresh)
    assert ran.code == 0
    assert ran.out.startswith(
        "Sodium bicarbonate: REFUSED, give nothing\n  Because: Below salinity 5"
    )
    row = rounds(*fresh, "--json").json["rows"][0]
    assert (row["mass_g"], row["portions"], row["after"], len(row["refused"])) == (0, [], {}, 1)


KEYS = {
    "temperature_c", "practical_salinity", "density_kg_m3", "specific_gravity_20_20",
    "conductivity_25_ms_cm", "oxygen_saturation_mg_l", "oxygen_percent",
    "oxygen_partial_pressure_mmhg", "ph_nbs", "ph_total", "unionised_ammonia_fraction",
    "unionised_ammonia_n_mg_l", "unionised_ammonia_n_cautious_mg_l", "co2_mg_l", "dic_mmol_kg",
    "pco2_uatm", "hydrogen_sulphide_fraction",
}  # fmt: skip
OPTIONS = {
    "t_C": "--temperature", "S": "--salinity", "TA_mgL_CaCO3": "--alkalinity", "pH_NBS": "--ph",
    "pH_total": "--ph", "TAN_mgN_L": "--tan", "do_mgL": "--oxygen", "PO4P_mgL": "--phosphate",
    "C_mScm": "--conductivity", "SC25_mScm": "--conductivity-25", "sg": "--specific-gravity",
    "reading": "--specific-gravity", "ref_t_C": "--reference-temperature", "P_atm": "--pressure",
}  # fmt: skip
QUANTITIES = {
    "co2_mgL": "co2_mg_l", "co2_mgL_total_scale_input": "co2_mg_l",
    "co2_mgL_with_phosphate": "co2_mg_l", "dic_mmol_per_kg": "dic_mmol_kg",
    "pco2_uatm": "pco2_uatm", "pH_NBS_to_total": "ph_total", "uia_mgL_NH3N":
    "unionised_ammonia_n_mg_l", "uia_fraction_recommended_NBS_input": "unionised_ammonia_fraction",
    "uia_fraction_recommended_total_input": "unionised_ammonia_fraction",
    "do_percent_saturation": "oxygen_percent", "do_saturation_mgL_pressure":
    "oxygen_saturation_mg_l", "h2s_fraction_of_total_sulfide": "hydrogen_sulphide_fraction",
    "conductivity25_mScm": "conductivity_25_ms_cm",
    "practical_salinity_from_conductivity25": "practical_salinity",
    "practical_salinity_from_conductivity_insitu": "practical_salinity",
    "salinity_from_true_specific_gravity": "practical_salinity",
    "salinity_from_hydrometer_reading": "practical_salinity",
    "e2e_round_co2_mgL": "co2_mg_l", "e2e_round_density": "density_kg_m3",
    "e2e_round_do_percent": "oxygen_percent", "e2e_round_nh3n_mgL": "unionised_ammonia_n_mg_l",
    "e2e_round_pH_total": "ph_total",
}  # fmt: skip
ROWS = [
    row
    for row in csv.DictReader(
        (Path(__file__).parents[1] / "published/data/water_checks.csv")
        .read_text("utf-8")
        .splitlines()
    )
    if row["quantity"] in QUANTITIES and "t68_C" not in row["inputs"]
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['quantity']}:{row['inputs']}")
def test_water_prints_the_published_rows(rounds: Run, row: dict[str, str]) -> None:
    inputs = dict(pair.split("=", 1) for pair in row["inputs"].split(";"))
    asked = ["--buffers", "total"] if "pH_total" in inputs else []
    asked += ["--glass"] if "reading" in inputs else []
    for name, value in inputs.items():
        if name in OPTIONS:
            asked += [OPTIONS[name], f"{value} atm" if name == "P_atm" else value]
    ran = rounds("water", *asked, "--json")
    assert ran.code == 0, ran.err
    (found,) = ran.json["rows"]
    assert set(found) == KEYS | {"reasons", "cautions", "refused"}
    how, size = row["tolerance"].split("|")[0].split(":")
    tolerance = {"rel" if how == "rel" else "abs": float(size)}
    value = found[QUANTITIES[row["quantity"]]]
    assert value == pytest.approx(float(row["expected"]), **tolerance)


def test_water_gives_every_derived_figure(rounds: Run) -> None:
    (found,) = rounds(*WATER, "--json").json["rows"]
    assert all(isinstance(found[key], float) for key in KEYS)
    assert found["unionised_ammonia_n_cautious_mg_l"] >= found["unionised_ammonia_n_mg_l"] > 0
    share = 100 * 6.1 / found["oxygen_saturation_mg_l"]
    assert found["oxygen_percent"] == pytest.approx(share)
    assert found["reasons"]
    told = rounds(*WATER).out
    assert "cautious" in told
    assert " to " in next(line for line in told.splitlines() if "Carbon dioxide" in line)


def test_water_says_what_it_lacks(rounds: Run) -> None:
    ran = rounds("water", "--temperature", "24", "--salinity", "30")
    assert ran.code == 0
    assert "Not worked out: ammonia, for want of tan, ph." in ran.out


def test_a_figure_beyond_its_equation_is_left_out_and_said(rounds: Run) -> None:
    asked = ("water", "--temperature", "25", "--salinity", "41", "--ph", "10.8",
             "--alkalinity", "20")  # fmt: skip
    (found,) = rounds(*asked, "--json").json["rows"]
    assert found["density_kg_m3"] > 1000
    assert found["oxygen_saturation_mg_l"] is None
    assert found["co2_mg_l"] is None
    assert any("oxygen: salinity 41 is outside 0 to 40" in text for text in found["refused"])
    assert any("check the pH meter" in text for text in found["refused"])


@pytest.mark.parametrize(
    "asked",
    [
        ("--salinity", "30", "--conductivity", "45", "--temperature", "25"),
        ("--conductivity", "45"),
        ("--specific-gravity", "1.024"),
        ("--specific-gravity", "24", "--temperature", "25"),
        ("--conductivity", "45000", "--temperature", "25"),
        ("--temperature", "25", "--salinity", "30", "--ph", "76"),
    ],
)
def test_salinity_has_one_source_that_can_be(rounds: Run, asked: tuple[str, ...]) -> None:
    ran = rounds("water", *asked)
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)


def test_units_of_one_quantity_agree(rounds: Run) -> None:
    one = rounds("water", "--temperature", "25", "--salinity", "30", "--json").json["rows"]
    two = rounds("water", "--temperature", "77 degF", "--salinity", "30 ppt", "--json")
    assert two.json["rows"][0]["density_kg_m3"] == pytest.approx(one[0]["density_kg_m3"])


def test_unit_that_only_the_library_knows_is_read(rounds: Run) -> None:
    ran = rounds(*TOPUP[:3], "5700 liter", *TOPUP[4:], "--json")
    assert ran.json["rows"][0]["volume_l"] == pytest.approx(200)


@pytest.mark.parametrize(
    "asked",
    [
        ("water", "--temperature", "warm", "--salinity", "30"),
        ("water", "--temperature", "24 mg/L", "--salinity", "30"),
        ("water", "--temperature", "1.024,5", "--salinity", "30"),
        ("water", "--temperature", "240", "--salinity", "30"),
        ("water",),
        ("dose",),
        ("dose", "sugar"),
        ("dose", "chlorine", "--volume", "1", "--chlorine", "0.5", "--product", "salt"),
        ("nonsense",),
        ("water", "--nonsense"),
    ],
)
def test_bad_input_is_one_sentence_and_2(rounds: Run, asked: tuple[str, ...]) -> None:
    ran = rounds(*asked)
    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.startswith("rounds")
    assert ran.err.count("\n") == 1
    assert "Traceback" not in ran.err


def test_large_doses_are_told_in_kilograms_and_many_portions_as_a_range(rounds: Run) -> None:
    told = rounds(*SALT).out.splitlines()[0]
    assert re.fullmatch(
        r"Salt: 12\.6\d kg, today in 2 portions 1 h apart: 6\.\d+ kg \+ 6\.\d+ kg", told
    )
    cold = [*EXCHANGE]
    cold[cold.index("--target") + 1] = "30"
    first = " ".join(rounds(*cold).out.splitlines()[:2])
    assert re.search(r"today in \d+ portions 1 h apart: \d+ L to \d+ L each", first)
