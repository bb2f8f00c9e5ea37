"""Every row of water_checks.csv against the function of `rounds` that answers its quantity.

The folder is named by CHECKS_DIR, else the data beside this file. A row counts only because its
expected value comes from outside the code; its source stands in the failure message.
"""

from __future__ import annotations

import csv
import math
import os
from pathlib import Path

import pytest
from dosing_quantities import DOSING
from water_quantities import WATER

FOLDER = Path(os.environ.get("CHECKS_DIR") or Path(__file__).parent / "data")
QUANTITIES = WATER | DOSING
TO_COME: frozenset[str] = frozenset()  # quantities without a function yet; it only shrinks


def rows() -> list[dict[str, str]]:
    with (FOLDER / "water_checks.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def agrees(found: float, expected: str, tolerance: str) -> bool:
    rule, _, size = tolerance.partition("|")[0].partition(":")
    wanted = math.inf if expected == "never" else float(expected)
    if rule == "exact" or math.isinf(wanted):
        return found == wanted
    assert rule in ("abs", "rel"), tolerance
    return abs(found - wanted) <= float(size) * (abs(wanted) if rule == "rel" else 1)


@pytest.mark.parametrize(
    "row", [pytest.param(r, id=f"{n}-{r['quantity']}") for n, r in enumerate(rows(), 1)]
)
def test_row(row: dict[str, str]) -> None:
    quantity = row["quantity"]
    if quantity in TO_COME:
        pytest.skip("to come")
    assert quantity in QUANTITIES, f"unknown quantity {quantity}"
    pairs = (part.partition("=") for part in row["inputs"].split(";") if part.strip())
    found = QUANTITIES[quantity]({key.strip(): value.strip() for key, _, value in pairs})
    assert agrees(found, row["expected"], row["tolerance"]), (
        f"{quantity}({row['inputs']}) is {found}, expected {row['expected']} {row['unit']} "
        f"within {row['tolerance']}: {row['source']} ({row['provenance']})"
    )


def test_nothing_that_has_a_function_is_still_to_come() -> None:
    assert TO_COME.isdisjoint(QUANTITIES)
