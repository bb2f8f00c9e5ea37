"""Rations and doses by command: reasons asked for, slips confirmed, taken back, what to measure."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rounds.records import entry as e
from rounds.records.book import Book
from rounds.site.loading import load

Run = Callable[..., Any]


# -- ration ----------------------------------------------------------------------------------------


def test_unfed_before_oxygen_is_read(rounds: Run, farm: Path) -> None:
    ran = rounds("--site", farm, "--by", "ana", "ration", "G1", "--give")
    assert ran.code == 2
    assert "G1: read oxygen first" in ran.err
    assert "nothing to give as advised" in ran.err
    chosen = rounds(
        "--site", farm, "--by", "ana", "ration", "G1", "--choose", "table", "--why", "x"
    )
    assert (chosen.code, "there is nothing to choose" in chosen.err) == (2, True)


def test_changed_meal_needs_a_reason(rounds: Run, farm: Path) -> None:
    ran = rounds("--site", farm, "--by", "ana", "ration", "g1", "--give", "120")
    assert ran.code == 2
    assert "G1" in ran.err
    told = rounds(
        "--site", farm, "--by", "ana", "ration", "G1", "--give", "0.12 kg", "--confirm", "--why",
        "read by hand", "--json",
    )  # fmt: skip
    assert told.code == 0
    row = rounds("--site", farm, "ration", "G1", "--json").json["rows"][0]
    assert row["given_g"] == 120
    assert row["meals"][0]["given"]["why"] == "read by hand"


def test_an_amount_that_is_no_number_is_told_in_one_sentence(rounds: Run, farm: Path) -> None:
    for words in (("--give", "abc"), ("--give", "100", "--left", "few", "--why", "x")):
        ran = rounds("--site", farm, "--by", "ana", "ration", "G5", *words)
        assert ran.code == 2
        assert ran.err.startswith(f"rounds: {words[-2] if words[-1] == 'abc' else '--left'}: ")
        assert "is not a number" in ran.err
        assert "fault of the program" not in ran.err


def test_a_meal_of_ten_times_is_kept_only_when_confirmed_and_can_be_taken_back(
    rounds: Run, farm: Path
) -> None:
    def row() -> dict[str, Any]:
        found: dict[str, Any] = rounds("--site", farm, "ration", "G1", "--json").json["rows"][0]
        return found

    before = row()
    grams = f"{before['meals'][0]['advised_g'] * 10:g}"
    give = ("--site", farm, "--by", "ana", "ration", "G1", "--give", grams, "--why", "typed")
    asked = rounds(*give)
    assert asked.code == 2
    assert "is 10 times the meal of" in asked.err
    assert row()["given_g"] == 0
    assert rounds(*give, "--confirm").code == 0
    assert row()["given_g"] == float(grams)
    back = ("--site", farm, "--by", "rui", "ration", "G1", "--take-back")
    assert "Say why" in rounds(*back).err
    done = rounds(*back, "--why", "a nought too many")
    assert done.out.startswith(f"Taken back: G1, meal 1, {grams} g, ana ")
    after = row()
    assert {**after, "reasons": 0} == {**before, "reasons": 0}
    assert "nothing was fed in G1 today" in rounds(*back, "--why", "again").err
    assert "taken back: a nought too many" in rounds("--site", farm, "handoff", "--look").out


def test_a_dose_can_be_taken_back_with_a_reason(rounds: Run, farm: Path) -> None:
    site = load(farm)
    with Book.open(farm, site.id, site.digest, tz=site.timezone) as book:
        book.append(e.Dosed(loop="A", product="BICARB", amount="3500", unit="g", by="ana"))
        book.append(e.Exchanged(loop="A", volume_out="2", volume_in="2", unit="m^3", by="ana"))
    for kind, what in (("alkalinity", "3500 g Sodium"), ("exchange", "2.00 m^3 of water")):
        back = ("--site", farm, "--by", "rui", "dose", kind, "a", "--take-back")
        assert "Say why" in rounds(*back).err
        assert f"Taken back: loop A, {what}" in rounds(*back, "--why", "typed wrong").out
        assert "nothing of this kind" in rounds(*back, "--why", "again").err
        assert "say which loop" in rounds("dose", kind, "--take-back").err
    assert (
        "nothing of this kind"
        in rounds(
            "--site", farm, "--by", "rui", "dose", "salt", "A", "--take-back", "--why", "x"
        ).err
    )


def test_place_without_fish_is_said(rounds: Run, farm: Path) -> None:
    assert "no fish" in rounds("--site", farm, "ration", "M1").err
    assert "there is no place Z9" in rounds("--site", farm, "ration", "Z9").err


# -- dose ------------------------------------------------------------------------------------------


def test_water_and_readings_are_told_once_under_all_products(rounds: Run, farm: Path) -> None:
    ran = rounds("--site", farm, "dose", "alkalinity", "B")
    assert ran.out.count("Loop B holds") == 1
    assert ran.out.count("Water and readings:") == 1
    (first, *_) = rounds("--site", farm, "dose", "alkalinity", "B", "--json").json["rows"]
    assert {"product", "mass_g", "portions", "after", "refused"} <= set(first)
    assert any("Loop B holds" in reason for reason in first["reasons"])


def test_a_loop_without_a_reading_says_what_to_measure_in_its_row(rounds: Run, farm: Path) -> None:
    shutil.rmtree(farm / "records")
    (row,) = rounds("--site", farm, "dose", "salt", "B", "--json").json["rows"]
    assert (row["mass_g"], row["portions"]) == (0, [])
    assert any("Measure:" in text and "alinity" in text for text in row["refused"])
