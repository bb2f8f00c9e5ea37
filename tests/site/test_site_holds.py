"""What a culture holds: it is asked what fits it, and judged where its site says nothing."""

from __future__ import annotations

from datetime import time

import pytest
from sites import GOOD, write

from rounds.site.loading import load
from rounds.site.model import visited
from rounds.site.reading import SiteErrors

CULTURES = """
[[place]]
code = "R1"
kind = "culture"
holds = "rotifers"

[[place]]
code = "B1"
kind = "culture"
holds = "nauplii"

[[place]]
code = "A1"
kind = "culture"
holds = "algae"

[[place]]
code = "X1"
kind = "culture"
"""
WITH = GOOD + CULTURES


def asked(site, place, checklist):
    return {
        step.code
        for step in site.checklists[checklist].steps
        if visited(site.places[place], site.checklists[checklist].visits)
        and visited(site.places[place], step.visits or site.checklists[checklist].visits)
    }


def test_each_culture_is_asked_only_what_fits_it(tmp_path):
    site = load(write(tmp_path, WITH))
    animals = {"rotifer_density", "egg_ratio", "nauplii_density", "harvest"}
    live = {code: asked(site, code, "live-food") & animals for code in ("R1", "B1", "A1", "X1")}
    assert live == {
        "R1": animals - {"nauplii_density"}, "B1": {"nauplii_density"}, "A1": set(), "X1": animals,
    }  # fmt: skip
    assert asked(site, "R1", "larvae") == {"backup_culture", "ciliates"}
    assert asked(site, "B1", "larvae") == set()
    assert "fed_cleaned" in asked(site, "B1", "live-food")


@pytest.mark.parametrize(
    ("place", "measure", "act_low"),
    [("R1", "rotifer_density", 30), ("R1", "temperature", 18), ("B1", "temperature", 20),
     ("P1", "oxygen", 3), ("X1", "egg_ratio", 15), ("A1", "egg_ratio", None),
     ("X1", "temperature", None)],
)  # fmt: skip
def test_a_first_farm_has_limits_for_its_live_food_and_pond(tmp_path, place, measure, act_low):
    site = load(write(tmp_path, WITH))
    found = site.limits_for(measure, site.places[place], time(9))
    assert (found.act_low if found else None) == act_low


def test_the_limits_a_site_says_go_before_the_usual_ones(tmp_path):
    own = '\n[[limits]]\nmeasure = "rotifer_density"\nact_low = 70\n'
    site = load(write(tmp_path, WITH + own))
    assert site.limits_for("rotifer_density", site.places["R1"], time(9)).act_low == 70


def test_only_a_culture_holds_and_only_what_is_known(tmp_path):
    with pytest.raises(SiteErrors) as error:
        load(write(tmp_path, WITH.replace('kind = "pond"', 'kind = "pond"\nholds = "rotifers"')))
    assert "is for a culture" in str(error.value)
    with pytest.raises(SiteErrors):
        load(write(tmp_path, WITH.replace('holds = "algae"', 'holds = "sharks"')))
