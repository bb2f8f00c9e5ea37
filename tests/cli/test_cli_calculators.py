"""Bare calculators: units are read, nothing is assumed, JSON and text tell the same figures."""

from __future__ import annotations

from collections.abc import Callable
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
    assert dose["total_g"] == pytest.approx(wanted, rel=0.02)
    assert sum(dose["portions_g"]) == pytest.approx(dose["total_g"])


@pytest.mark.parametrize("asked", [ALKALI, SALT, EXCHANGE, TOPUP, CHLORINE])
def test_every_calculator_gives_text_and_json(rounds: Run, asked: tuple[str, ...]) -> None:
    ran = rounds(*asked, "--json")
    assert (ran.code, ran.err) == (0, "")
    assert (ran.json["format"], ran.json["site"], ran.json["command"]) == (1, "", "dose")
    for key in ("reasons", "cautions", "refused"):
        values = ran.json["rows"][0][key]
        assert isinstance(values, list)
        assert all(isinstance(value, str) for value in values)
    told = rounds(*asked)
    assert told.code == 0
    assert "Why:" in told.out
    assert all(len(line) <= 80 for line in told.out.splitlines())


def test_salt_is_conserved(rounds: Run) -> None:
    dose = rounds(*SALT, "--json").json["rows"][0]
    water_kg = 5.7 * 1018.4  # sea water of salinity 28 at 24 degC, within 1 kg/m3
    after = (water_kg * 28 + 950 * dose["total_g"] / 1000) / (water_kg + dose["total_g"] / 1000)
    assert after == pytest.approx(30, abs=0.05)


def test_top_up_fills_what_is_missing(rounds: Run) -> None:
    assert rounds(*TOPUP, "--json").json["rows"][0]["volume_in_l"] == pytest.approx(200)


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
    assert ran.out.startswith("REFUSED: ")


def test_water_gives_every_derived_figure(rounds: Run) -> None:
    ran = rounds(*WATER, "--json")
    rows = {row["measure"]: row for row in ran.json["rows"]}
    assert set(rows) == {"density", "saturation", "oxygen_percent", "ammonia", "co2"}
    assert rows["ammonia"]["cautious"] >= rows["ammonia"]["value"] > 0
    assert rows["oxygen_percent"]["value"] == pytest.approx(100 * 6.1 / rows["saturation"]["value"])
    assert all(row["reasons"] for row in rows.values())


def test_water_says_what_it_lacks(rounds: Run) -> None:
    ran = rounds("water", "--temperature", "24", "--salinity", "30")
    assert ran.code == 0
    assert "Not worked out: ammonia, for want of tan, ph." in ran.out


def test_units_of_one_quantity_agree(rounds: Run) -> None:
    one = rounds("water", "--temperature", "25", "--salinity", "30", "--json").json["rows"]
    two = rounds("water", "--temperature", "77 degF", "--salinity", "30 ppt", "--json")
    assert two.json["rows"][0]["value"] == pytest.approx(one[0]["value"])


def test_unit_that_only_the_library_knows_is_read(rounds: Run) -> None:
    ran = rounds(*TOPUP[:3], "5700 liter", *TOPUP[4:], "--json")
    assert ran.json["rows"][0]["volume_in_l"] == pytest.approx(200)


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
