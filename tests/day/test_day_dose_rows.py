"""Doses end to end against named rows of the water checks: grams, litres, the pH to come."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import pytest
from dose_farm import line_of, read_all, sheet_of
from msgspec.structs import replace
from small_farm import make_site, with_product

from rounds.site.model import Site

ROWS = list(
    csv.DictReader(
        (Path(__file__).parents[1] / "published/data/water_checks.csv")
        .read_text("utf-8")
        .splitlines(keepends=True)
    )
)


def rows(quantity: str, **only: str) -> list[Any]:
    found = []
    for row in ROWS:
        if row["quantity"] == quantity:
            inputs = dict(pair.split("=", 1) for pair in row["inputs"].split(";"))
            if all(inputs.get(key) == value for key, value in only.items()):
                found.append(pytest.param(inputs, float(row["expected"]), id=row["inputs"]))
    return found


def pool(volume_m3: float, **loop: Any) -> Site:
    """A site whose loop A is one body of water without filter; its fish places hold no water."""
    site = make_site()
    a = replace(site.loops["A"], sump_volume_m3=volume_m3, **loop)
    places = {c: replace(p, volume_m3=0.0) for c, p in site.places.items() if c != "M1"}
    return replace(site, loops={"A": a}, places=places)


@pytest.mark.parametrize(("inputs", "expected"), rows("dose_mass_g"))
def test_alkali_is_weighed_as_the_row_says(inputs: dict[str, str], expected: float) -> None:
    site = with_product(
        pool(float(inputs["V_m3"]), alkalinity_daily_rise_mg_l=100), "BIC",
        formula=inputs["chemical"], purity=float(inputs["purity"]),
    )  # fmt: skip
    days = read_all(site, alkalinity=200, ph="7.6")
    line = line_of(days, "alkalinity", "BIC", alkalinity=200 + float(inputs["dTA_mgL_CaCO3"]))
    step = 1 if expected < 1000 else 10 if expected < 20_000 else 100
    assert not line.refused
    assert expected * 0.999 - step < line.amount <= expected * 1.001  # rounded down to the scale
    assert sum(line.portions) == line.amount


@pytest.mark.parametrize(
    ("inputs", "expected"), rows("pH_NBS_after_dose", chemical="NaHCO3", purity="1")
)
def test_predicted_ph_is_that_of_the_row(inputs: dict[str, str], expected: float) -> None:
    site = with_product(pool(1000, alkalinity_daily_rise_mg_l=100), "BIC", purity=1.0)
    days = read_all(
        site, alkalinity=inputs["TA_mgL_CaCO3"], ph=inputs["pH_NBS"], temperature=inputs["t_C"],
        salinity=inputs["S"], tan="0.01",
    )  # fmt: skip
    rise = float(inputs["dose_g_m3"]) / 1.678676  # dose_g_per_m3_per_mgL_CaCO3, NaHCO3
    line = line_of(days, "alkalinity", "BIC", alkalinity=float(inputs["TA_mgL_CaCO3"]) + rise)
    said = " ".join(line.expected)
    moved = abs(expected - float(inputs["pH_NBS"])) >= 0.05
    found = re.search(r"pH will (?:rise|fall) to ([\d.]+) now", said)
    assert bool(found) == moved, said
    if found:
        assert float(found.group(1)) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("inputs", "expected"), rows("salt_to_add_kg"))
def test_salt_is_weighed_as_the_row_says(inputs: dict[str, str], expected: float) -> None:
    site = with_product(
        pool(float(inputs["V_m3"]), salinity_target=float(inputs["S2_gkg"])), "SALT",
        dissolved_fraction=float(inputs["salt_fraction"]),
    )  # fmt: skip
    days = read_all(site, salinity=inputs["S1_gkg"], temperature=inputs["t_C"])
    found = [line for line in sheet_of(days).lines if line.kind == "salt"]
    if expected == 0:
        assert not found
        return
    (line,) = found
    step = 1 if expected < 1 else 10 if expected < 20 else 100
    assert expected * 998 - step < line.amount <= expected * 1002
    assert sum(line.portions) == line.amount


@pytest.mark.parametrize(("inputs", "expected"), rows("replace_fraction_to_lower"))
def test_fresh_water_is_measured_as_the_row_says(inputs: dict[str, str], expected: float) -> None:
    site = pool(10, salinity_target=float(inputs["S2_gkg"]))
    days = read_all(site, salinity=inputs["S1_gkg"])
    line = line_of(days, "fresh water", new_salinity=float(inputs["S_fresh_gkg"]))
    # the row is by mass, the water meter by volume: fresh water is at most 3 % lighter
    assert line.amount / 10_000 == pytest.approx(expected, rel=0.03)
