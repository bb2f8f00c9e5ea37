"""The main job against the outside: the rows `e2e_round_*` typed into a walk, step by step.

Expected values: water_checks.csv, chain of the recommended equations computed with PyCO2SYS
1.8.3.4; verdicts follow from the limits decided for the farm.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import pytest
from laptops import Laptop

from rounds.day.readings.derived import Derived, derived
from rounds.day.verdict import Judgement, of_place
from rounds.day.walking.walk import Outcome

_DATA = Path(__file__).parents[1] / "published" / "data"
CHECKS = Path(os.environ.get("CHECKS_DIR", _DATA)) / "water_checks.csv"
with CHECKS.open(encoding="utf-8", newline="") as file:
    ROWS = [row for row in csv.DictReader(file) if row["quantity"].startswith("e2e_round_")]
STEPS = (
    ("S", "salinity"), ("t_C", "temperature"), ("do_mgL", "oxygen"), ("pH_NBS", "ph"),
    ("TAN_mgN_L", "tan"), ("TA_mgL_CaCO3", "alkalinity"),
)  # fmt: skip
FIGURES = {
    "e2e_round_do_percent": "oxygen_percent",
    "e2e_round_nh3n_mgL": "ammonia",
    "e2e_round_co2_mgL": "co2",
    "e2e_round_density": "density",
}


def typed_round(inputs: dict[str, str]) -> tuple[Laptop, dict[str, Outcome]]:
    """Walk the house and tank G1 of the sample farm, typing what the row gives."""
    laptop = Laptop()
    laptop.stock("G1")
    house = laptop.go(laptop.begin("life-support"), "HOUSE", "pressure")
    outcomes = {}
    pressure = f"{float(inputs['P_atm']) * 1013.25:.3f}"
    _, outcomes["pressure"] = laptop.type(house, pressure)
    state = laptop.begin("first-light")
    for key, step in STEPS:
        laptop.wait(seconds=30)
        state, outcomes[step] = laptop.type(laptop.go(state, "G1", step), inputs[key])
    assert {outcome.kind for outcome in outcomes.values()} == {"keep"}
    return laptop, outcomes


def parsed(row: dict[str, str]) -> dict[str, str]:
    return dict(pair.split("=", 1) for pair in row["inputs"].split(";"))


def figures(laptop: Laptop) -> dict[str, Derived]:
    found = derived(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    return {one.measure: one for one in found}


@pytest.mark.parametrize("row", ROWS, ids=[f"{r['quantity']}-{i}" for i, r in enumerate(ROWS)])
def test_a_typed_round_gives_the_outside_figure(row: dict[str, str]) -> None:
    laptop, _ = typed_round(parsed(row))
    found = figures(laptop)
    if row["quantity"] == "e2e_round_pH_total":
        scale = next(r for r in found["ammonia"].reasons if "total scale" in r.says)
        value = float(str(scale.values["ph"]))
    else:
        figure = found[FIGURES[row["quantity"]]].value
        assert figure is not None
        value = figure
    kind, _, size = row["tolerance"].split("|")[0].partition(":")
    expected = float(row["expected"])
    allowed = float(size) * (abs(expected) if kind == "rel" else 1)
    assert abs(value - expected) <= allowed, f"{row['source']}, {row['provenance']}"


def worst_of(laptop: Laptop) -> Judgement:
    stands = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert stands.worst is not None
    return stands.worst


def test_the_first_round_ends_with_ammonia_to_watch() -> None:
    """81.7 % and 5.4 mg/L are ok, NH3-N 0.0233 mg/L and its cautious value are above 0.02."""
    laptop, outcomes = typed_round(parsed(ROWS[0]))
    assert outcomes["oxygen"].verdict == "ok"
    assert outcomes["tan"].verdict == "watch"
    assert any("NH3-N 0.023 mg/L" in line for line in outcomes["tan"].derived)
    assert any("Oxygen, percent 82 %" in line or "Oxygen 82 %" in line
               for line in outcomes["oxygen"].derived)  # fmt: skip
    stands = of_place(laptop.site, laptop.farm, laptop.site.places["G1"], laptop.now)
    assert stands.verdict == "watch"
    assert "ammonia" in {j.measure for j in stands.judgements if j.verdict == "watch"}


def test_the_second_round_is_too_cold_and_its_water_well() -> None:
    """14.2 degC lies below the act limit of the species; 95 % and NH3-N 0.009 are ok."""
    laptop, outcomes = typed_round(parsed(ROWS[-1]))
    assert outcomes["temperature"].verdict == "act"
    assert outcomes["oxygen"].verdict == "ok"
    assert outcomes["tan"].verdict == "ok"
    assert worst_of(laptop).measure == "temperature"
