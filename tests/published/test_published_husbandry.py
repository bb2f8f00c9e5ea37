"""Every published husbandry figure against the function that gives it.

`CHECKS_DIR` names another folder with a `husbandry_checks.csv`; the default is `data/` here.
"""

from __future__ import annotations

import csv
import math
import os
from collections.abc import Mapping
from pathlib import Path

import pytest
from feeding_quantities import FEEDING
from growth_quantities import GROWTH
from husbandry_inputs import Inputs, Result
from room_quantities import ROOM

FOLDER = Path(os.environ.get("CHECKS_DIR") or Path(__file__).parent / "data")
TO_COME: frozenset[str] = frozenset()

FUNCTIONS = {**GROWTH, **FEEDING, **ROOM}


def _rows() -> list[dict[str, str]]:
    with (FOLDER / "husbandry_checks.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


ROWS = _rows()


def _result(row: Mapping[str, str]) -> Result:
    try:
        return FUNCTIONS[row["quantity"]](Inputs(row["inputs"]))
    except ValueError as error:
        return f"refused ({error})"


def _agrees(found: Result, expected: str, tolerance: str) -> bool:
    kind, _, size = tolerance.partition("|")[0].partition(":")
    if isinstance(found, str):
        return found.partition(" (")[0] == expected
    values = found if isinstance(found, tuple) else (found,)
    try:
        wanted = [float(word) for word in expected.split("|")]
    except ValueError:
        return False
    if kind == "exact":
        return len(values) == len(wanted) and all(
            math.isclose(a, b, rel_tol=1e-12) for a, b in zip(values, wanted, strict=True)
        )
    allowed = float(size) * (abs(wanted[0]) if kind == "rel" else 1)
    return len(values) == len(wanted) == 1 and abs(values[0] - wanted[0]) <= allowed


def test_the_file_holds_rows():
    assert ROWS


@pytest.mark.parametrize(
    "row", ROWS, ids=[f"{line}-{row['quantity']}" for line, row in enumerate(ROWS, start=2)]
)
def test_a_published_figure_is_met(row):
    if row["quantity"] in TO_COME:
        pytest.skip("still to come")
    assert row["quantity"] in FUNCTIONS, f"no function gives {row['quantity']}"
    found = _result(row)
    assert _agrees(found, row["expected"], row["tolerance"]), (
        f"{row['quantity']} of {row['inputs']}: found {found}, expected {row['expected']} "
        f"{row['unit']} within {row['tolerance']}. Source: {row['source']}"
    )


def test_what_is_still_to_come_is_not_there_yet():
    assert not TO_COME & FUNCTIONS.keys()


@pytest.mark.parametrize(
    ("found", "expected", "tolerance", "agrees"),
    [
        (1.01, "1", "abs:0.02|", True),
        (1.01, "1", "abs:0.001|", False),
        (101.0, "100", "rel:0.02|", True),
        (103.0, "100", "rel:0.02|", False),
        ((2.0, 1.0), "2|1", "exact|", True),
        ((2.0, 2.0), "2|1", "exact|", False),
        ("refused (days 0)", "refused", "exact|", True),
        (0.0, "refused", "exact|", False),
        ("refused (days 0)", "0", "abs:1|", False),
        (math.nan, "1", "abs:5|", False),
    ],
)
def test_the_comparison_itself(found, expected, tolerance, agrees):
    assert _agrees(found, expected, tolerance) is agrees
