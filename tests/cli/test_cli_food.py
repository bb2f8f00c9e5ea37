"""`ration --choose`, `larvae` and `forage` on a farm: what they print, keep and refuse."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]


@pytest.fixture
def at(rounds: Run, farm: Path) -> Run:
    return lambda *words: rounds("--site", farm, "--by", "ana", *words)


def test_rations_carry_their_opinions(at: Run) -> None:
    rows = at("ration", "--json").json["rows"]
    fed = [row for row in rows if row["opinions"]]
    assert fed
    for row in fed:
        names = [one["name"] for one in row["opinions"]]
        assert names == ["table", "growth", "last accepted"]
        assert row["governs"] in names
        assert row["choose"] in (True, False)
        assert row["dry_matter_g"] <= row["total_g"]
        assert "unverified" in row["unverified"]
    place = fed[0]["place"]
    shown = at("ration", place)
    assert "> by" in shown.out
    assert "Feed table unverified" in shown.out


def test_a_choice_needs_a_reason_and_opinions_that_differ(at: Run) -> None:
    place = next(row["place"] for row in at("ration", "--json").json["rows"] if row["opinions"])
    assert at("ration", place, "--choose", "table").code == 2  # no reason
    assert at("ration", "--choose", "table", "--why", "x").code == 2
    assert at("ration", place, "--choose", "growth", "--why", "x").code == 2  # not known here
    alone = at("ration", place, "--choose", "table", "--why", "hungry")
    assert (alone.code, "there is nothing to choose" in alone.err) == (2, True)


def test_larvae_print_what_to_add_for_a_count(at: Run) -> None:
    ran = at("larvae", "l1", "--counts", "4 6 5", "--culture", "300", "--target", "10", "--json")
    (row,) = ran.json["rows"]
    assert (row["place"], row["per_ml"]) == ("L1", 5)
    # 500 L from 5 to 10 per mL with 300 per mL: conservation of animals, with and without water
    assert row["add_rinsed_l"] * 300 == pytest.approx(500 * 5)
    assert row["add_culture_l"] * 300 + 500 * 5 == pytest.approx((500 + row["add_culture_l"]) * 10)
    assert row["reasons"]
    assert isinstance(row["cautions"], list)
    text = at("larvae", "L1", "--counts", "4 6 5", "--culture", "300", "--target", "10").out
    assert "pour in 8.6 L of culture, or 8.3 L rinsed" in text


def test_larvae_without_a_count_name_what_to_count(at: Run) -> None:
    text = at("larvae").out
    assert "L1" in text
    assert "Count the culture of" in text


@pytest.mark.parametrize(
    "words",
    [
        ("larvae", "--counts", "4 6"),
        ("larvae", "L1", "--counts", "four"),
        ("larvae", "L1", "--counts", "-1"),
        ("larvae", "G1"),
        ("larvae", "--wanted", "08:00"),
        ("larvae", "--wanted", "soon", "--nauplii", "1000", "--nauplii-per-g", "200000"),
        ("larvae", "L1", "--target", "nan"),
        ("forage", "--give", "100"),
        ("forage", "--marked", "100"),
        ("forage", "--pond", "G1"),
        ("forage", "HOUSE"),
        ("forage", "G1", "--give", "x", "--why", "x"),
        ("forage", "--marked", "10", "--caught", "5", "--recaptured", "9"),
    ],
)
def test_what_cannot_be_is_one_sentence(at: Run, words: tuple[str, ...]) -> None:
    ran = at(*words)
    assert ran.code == 2
    assert ran.err.count("\n") == 1


def test_forage_needs_stand_against_the_pond(at: Run) -> None:
    before = at("forage", "--json").json["rows"]
    pond, *needs = before
    assert pond["fish"] is None
    assert pond["allowed_kg_day"] is None
    assert (pond["need_kg_day"], pond["line"].partition(",")[0]) == (0, "No tank is fed forage")
    share, *_ = at("forage", "--share", "1", "--json").json["rows"]
    assert share["need_kg_day"] == pytest.approx(sum(n["wet_kg_day"] for n in needs))
    assert "Needed" in share["line"]
    kept = at("forage", "--marked", "200", "--caught", "150", "--recaptured", "30")
    assert kept.code == 0
    assert kept.out.startswith("Kept: P1, about 978 fish, mark-recapture: 200 marked")
    again = at("forage", "--prey", "2", "--yield", "0.09", "--r", "1.2", "--k", "4", "--json")
    pond = again.json["rows"][0]
    assert (pond["fish"], pond["stock_kg"]) == (978, pytest.approx(1.956))
    assert pond["low_fish"] < 978 < pond["high_fish"]
    assert pond["made_kg_day"] == pytest.approx(0.09 * 60 / 1000)


def test_forage_of_one_tank_shows_the_prey_that_fits(at: Run) -> None:
    text = at("forage", "G1", "--length", "250", "--prey", "2").out
    assert "prey of 30 to 50 mm" in text
    assert "Permit" in text


def test_a_crop_without_a_reason_is_refused_for_the_exemption(at: Run) -> None:
    at("ration", "G1")
    refused = at("forage", "G1", "--give", "100")
    assert refused.code == 2
    assert "not to be fed" in refused.err or "food authority decides" in refused.err


def test_a_crop_goes_from_the_seine_into_its_hold_and_into_no_fish_before_that(at: Run) -> None:
    at("record", "stocked", "place=P1", "lot=KF", "count=800", "weight=2", "estimated=yes",
       "origin=own pond")  # fmt: skip
    assert "fish, seine hauls: 500 250 125" in at("forage", "--hauls", "500 250 125").out
    crop = ("record", "cropped", "from=P1", "to=Q1", "lot=KF-1", "mass=400 g", "weight=2")
    refused = at(*crop, "permit=no")
    assert (refused.code, "names this species" in refused.err) == (2, True)
    asked = at(*crop, "permit=yes")
    assert (asked.code, "a crop is held apart" in asked.err) == (2, True)
    kept = at(*crop, "permit=yes", "--confirm")
    assert kept.out.startswith("Kept: KF-1: about 200 fish of 2 g into Q1, crop of P1")
    pond = at("forage", "--json").json["rows"][0]
    assert pond["low_fish"] < pond["fish"] == pytest.approx(1000, rel=0.01)  # half, and half again
    assert (pond["crops_this_year"], pond["taken_this_year_kg"]) == (1, pytest.approx(0.4))
    assert pond["most_a_year_kg"] == pytest.approx(1.2 * 6 / 4)  # of the site: r K / 4
    (held,) = pond["crops"]
    assert (held["lot"], held["days_left"], held["ready"]) == ("KF-1", 21, False)
    assert "crop KF-1 in Q1, 200 fish, 0.40 kg: hold 21 days more" in at("forage").out
    assert "KF-1 in Q1" in at("handoff", "--look").out
    assert at("record", "removed", "place=P1", "lot=KF", "count=5", "cause=sold").code == 2


@pytest.mark.parametrize("hauls", ["", "100", "90 100", "100 120 90", "10 x", "9" * 40 + " 1"])
def test_hauls_that_tell_nothing_are_one_sentence(at: Run, hauls: str) -> None:
    ran = at("forage", "--hauls", hauls)
    assert (ran.code, ran.err.count("\n")) == (2, 1)
