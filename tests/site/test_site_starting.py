"""`rounds start` writes a site that passes check, and never touches one that is there."""

from __future__ import annotations

import tomllib

import pytest
from sites import GOOD, write

from rounds.site.loading import load
from rounds.site.starting import start


def test_what_start_writes_loads(tmp_path):
    path = start(tmp_path / "new" / "farm")
    site = load(path.parent)
    assert list(site.places) == ["HOUSE", "T1", "F1"]
    assert site.people
    assert site.species_of(site.places["T1"]).code == "generic-warm-marine"


def test_it_says_that_it_is_not_filled_in_yet(tmp_path):
    assert load(start(tmp_path / "farm").parent).notice == (
        "Not filled in yet: measure the volumes, name the people, then delete this line"
    )


def test_each_site_has_its_own_id(tmp_path):
    first, second = (load(start(tmp_path / name).parent).id for name in "ab")
    assert first != second
    assert len(first) == 8


def test_a_site_that_is_there_stays(tmp_path):
    write(tmp_path)
    with pytest.raises(FileExistsError):
        start(tmp_path)
    assert (tmp_path / "site.toml").read_text("utf-8") == GOOD


def test_what_is_commented_out_is_right_too(tmp_path):
    path = start(tmp_path)
    opened = [
        line.removeprefix("# ") if line.startswith("# ") and _is_toml(line[2:]) else line
        for line in path.read_text("utf-8").splitlines()
    ]
    path.write_text("\n".join(opened), "utf-8")
    site = load(tmp_path)
    assert [valve.code for valve in site.valves] == ["O2-1"]
    assert site.species["generic-warm-marine"].fcr == 1.4
    assert list(site.places) == ["HOUSE", "R1", "B1", "L1", "T1", "Q1", "F1", "P1"]
    assert [site.places[code].holds for code in ("R1", "B1")] == ["rotifers", "nauplii"]
    assert site.places_of("Q") == (site.places["Q1"],)
    assert {product.kind for product in site.products.values()} >= {"live feed", "forage"}


def _is_toml(line: str) -> bool:
    try:
        return bool(tomllib.loads(line))
    except tomllib.TOMLDecodeError:
        return False
