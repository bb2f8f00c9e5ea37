"""`larvae` with columns, cysts and enrichment, and the forms it names: printed, kept, refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


@pytest.fixture
def at(rounds: Run, farm: Path) -> Run:
    return lambda *words: rounds("--site", farm, "--by", "ana", *words)


def test_a_number_by_columns_is_shown_and_kept_when_asked(at: Run) -> None:
    words = ("larvae", "L1", "--columns", "12 9 14 11 13", "--column-volume", "1 L")
    (row,) = at(*words, "--json").json["rows"]
    # 59 larvae in 5 of 500 L
    assert row["number"]["fish"] == pytest.approx(5900)
    assert row["number"]["low"] < 5900 < row["number"]["high"]
    assert (row["kept"], row["number"]["more_columns"]) == (False, 28)
    assert "by columns 5900 (4491 to 7611, 95 %); not kept: --keep" in at(*words).out
    kept = at(*words, "--keep")
    assert (kept.code, kept.err) == (0, "")
    assert "about 5900 larvae" in kept.out
    assert "survival 98 % (75 to 100 %)" in kept.out
    assert "about 5900 larvae" in at("larvae", "L1").out


def test_counts_of_a_culture_are_used_and_kept_when_asked(at: Run) -> None:
    words = ("larvae", "R1", "--counts", "15 18 13 16", "--dilution", "10")
    before = at("larvae", "R1").out
    assert "Count R1 today before the harvest" in before
    shown = at(*words)
    # 62 in 4 mL, thinned ten times
    assert "R1  rotifers 155 per mL" in shown.out
    assert shown.out.endswith("R1: 155 per mL counted; not kept: --keep.\n")
    assert "Count R1 today" not in shown.out
    assert at("larvae", "R1").out == before
    assert "R1 holds rotifers, no nauplii" in at(*words, "--food", "nauplii").err
    assert "larvae are counted in one" in at("larvae", "R1", "--columns", "4 5").err
    assert "--keep keeps" in at("larvae", "R1", "--keep").err
    kept = at(*words, "--keep")
    assert kept.out.endswith("R1: 155 per mL counted, kept.\n")
    (row,) = at("larvae", "R1", "--json").json["rows"]
    assert row["per_ml"] == 155


def test_a_hatch_date_ages_the_larvae(at: Run) -> None:
    (before,) = at("larvae", "L1", "--json").json["rows"]
    lot = "RD-27"
    kept = at("record", "hatched", f"lot={lot}", "hatched=2020-01-01", "--confirm")
    assert (kept.code, kept.out) == (0, f"Kept: {lot}: hatched 2020-01-01.\n")
    (after,) = at("larvae", "L1", "--json").json["rows"]
    assert after["days_after_hatch"] > before["days_after_hatch"]


def test_cysts_are_planned_with_their_own_yield(at: Run) -> None:
    plan = ("larvae", "--wanted", "08:00", "--nauplii", "1000000")
    refused = at(*plan)
    assert (refused.code, refused.err.count("\n")) == (2, 1)
    assert "--nauplii-per-g" in refused.err
    kept = at("record", "cysts", "place=B1", "cysts=T7", "grams=12", "density=46.12")
    assert kept.out == "Kept: B1: 12 g of cysts T7 gave 2767200 nauplii.\n"
    shown = at(*plan, "--enrich", "12")
    assert "Cysts T7: 230600 nauplii a gram (1 hatch)" in shown.out
    assert "Hatch 4.34 g of cysts" in shown.out  # published: a million from 4.34 g
    assert "held cold by" in shown.out
    rows = at(*plan, "--cysts", "t7", "--json").json["rows"]
    assert rows[-1]["cysts_g"] == pytest.approx(4.33651, abs=1e-5)
    assert at(*plan, "--cysts", "T8").code == 2
    for million in ("1e6", "1 million"):
        many = ("larvae", "--wanted", "08:00", "--nauplii", million, "--json")
        assert at(*many).json["rows"][-1]["cysts_g"] == pytest.approx(4.33651, abs=1e-5)
    for tin in ("T8", "T7"):  # what is typed goes before what is on record
        other = at(*plan, "--cysts", tin, "--nauplii-per-g", "250000", "--json").json["rows"]
        assert other[-1]["cysts_g"] == pytest.approx(4)


def test_enriched_food_is_told_until_when(at: Run) -> None:
    kept = at("record", "enriched", "place=B1", "food=nauplii", "hours=12", "cold=yes")
    assert kept.out == "Kept: B1: nauplii enriched for 12 h, taken out, held cold.\n"
    assert "feed it by" in at("larvae").out
    plan = at("larvae", "--wanted", "08:00", "--enrich", "6", "--json").json["rows"][-1]
    assert (plan["food"], plan["use_by_warm"] < plan["use_by_cold"]) == ("rotifers", True)


@pytest.mark.parametrize(
    "words",
    [
        ("larvae", "L1", "--keep"),
        ("larvae", "R1", "--counts", "4 5", "--food", "nauplii"),
        ("larvae", "B1", "--columns", "4 5"),
        ("larvae", "--columns", "4 5"),
        ("larvae", "L1", "--columns", "many"),
        ("larvae", "L1", "--columns", "4 5", "--column-volume", "600"),
        ("larvae", "L1", "--columns", "4 5", "--precision", "0"),
        ("larvae", "--nauplii", "1000000"),
        ("larvae", "--wanted", "08:00", "--nauplii", "many"),
        ("larvae", "G1"),
        ("larvae", "--wanted", "08:00"),
        ("larvae", "--wanted", "08:00", "--enrich", "60"),
        ("record", "cysts", "place=B1", "cysts=T7", "grams=0", "density=46"),
        ("record", "cysts", "place=L1", "cysts=T7", "grams=10", "density=46"),
        ("record", "hatched", "lot=NONE", "hatched=2026-01-01"),
        ("record", "stocked", "place=L1", "lot=N1", "count=5", "weight=1", "origin=x",
         "hatched=2026-13-01"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_sentence(at: Run, words: tuple[str, ...]) -> None:
    ran = at(*words)
    assert ran.code == 2
    assert ran.err.count("\n") == 1
