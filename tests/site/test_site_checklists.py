"""Checklists: what ships can be done by a newcomer; a site adds, replaces and switches off."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sites import said, site, write

from rounds.site.checklists import load_checklists
from rounds.site.loading import load
from rounds.site.measures import MEASURES
from rounds.site.model import visited
from rounds.site.rhythm import due_on
from rounds.site.shipped import shipped
from rounds.units import UNITS, convert

SAMPLE = load(shipped("sample_site"))
STEPS = [
    pytest.param(checklist, step, id=f"{checklist.code}-{step.code}")
    for checklist in SAMPLE.checklists.values()
    for step in checklist.steps
]
GOOD = """\
title = "Own"
visits = ["tank"]
due = "daily"
window = "05:30-09:00"

[[step]]
code = "oxygen"
ask = "Oxygen"
answer = "number"
measure = "oxygen"
how = "With the probe."
why = "They breathe it."
"""


def test_what_ships():
    problems = []
    found = load_checklists(shipped("species"), (), problems)
    assert problems == []
    shipping = [
        "evening", "fill", "first-light", "larvae", "life-support", "live-food", "living-filters",
        "meters", "midday", "monthly", "night-look", "pond", "weekly",
    ]  # fmt: skip
    assert sorted(found) == shipping


@pytest.mark.parametrize(("checklist", "step"), STEPS)
def test_a_newcomer_can_do_each_step(checklist, step):
    assert len(step.how) > 20
    assert len(step.why) > 20
    assert step.ask
    if step.act_if or step.watch_if:
        assert step.do
    if step.check:
        low, high = step.check.good
        assert not MEASURES[step.check.measure].derived
        assert low < (100 if step.check.finds == "slope" else 0) < high
        assert step.do
        assert step.check.points
    elif step.answer == "number":
        measure = MEASURES[step.measure]
        assert not measure.derived
        convert(1.0, step.unit, measure.unit)
        assert step.code == step.measure
    assert any(
        visited(place, step.visits or checklist.visits) and visited(place, checklist.visits)
        for place in SAMPLE.places.values()
    )


def test_oxygen_and_temperature_everywhere_come_before_all_but_the_look():
    steps = SAMPLE.checklists["first-light"].steps
    assert [step.code for step in steps if step.stop_pass == 1] == [
        "look",
        "oxygen",
        "temperature",
    ]
    assert {step.stop_pass for step in SAMPLE.checklists["life-support"].steps} == {0, 2}
    assert all(
        step.stop_pass > 1 for step in steps if step.code not in ("look", "oxygen", "temperature")
    )


@pytest.mark.parametrize("code", ["tan", "nitrite", "alkalinity"])
def test_tests_come_two_or_three_times_a_week(code):
    (step,) = (step for step in SAMPLE.checklists["first-light"].steps if step.code == code)
    week = [date(2026, 3, 2) + timedelta(days=n) for n in range(7)]
    assert 2 <= sum(due_on(step.due, day) for day in week) <= 3


def test_where_people_can_be_hurt_a_caution_stands():
    for checklist, code in (
        ("life-support", "power"),
        ("life-support", "leak"),
        ("living-filters", "smell"),
        ("first-light", "tan"),
        ("first-light", "pond_look"),
    ):
        (step,) = (step for step in SAMPLE.checklists[checklist].steps if step.code == code)
        assert step.caution


def test_alkalinity_is_asked_once_a_loop():
    checklist = SAMPLE.checklists["first-light"]
    (step,) = (step for step in checklist.steps if step.code == "alkalinity")
    asked = [place.loop for place in SAMPLE.places.values() if visited(place, step.visits)]
    assert sorted(asked) == ["A", "B", "P"]


def test_a_site_replaces_adds_and_switches_off(tmp_path):
    farm = site(tmp_path, first_light=GOOD, live_food=GOOD, evening="off = true")
    assert farm.checklists["first-light"].title == "Own"
    assert farm.checklists["first-light"].source == "checklists/first-light.toml"
    assert farm.checklists["living-filters"].source == "shipped"
    assert "live-food" in farm.checklists
    assert "evening" not in farm.checklists


def test_a_step_without_a_unit_takes_the_measures(tmp_path):
    (step,) = site(tmp_path, own=GOOD).checklists["own"].steps
    assert (step.unit, step.stop_pass, step.required) == ("mg/L", 1, True)


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ('due = "daily"', 'due = "often"', 'due = "often": must be "daily"'),
        ('due = "daily"', 'due = "weekly Moon"', "must be"),
        ('due = "daily"', "due = 3", "due = 3: "),
        ("05:30-09:00", "5.30-9", 'window = "5.30-9": must be "05:30-09:00"'),
        ("05:30-09:00", "25:00-26:00", "must be"),
        ("05:30-09:00", "sunrise-1 to sunset", "must be"),
        ('["tank"]', '["tnak"]', 'visits = "tnak": did you mean tank?'),
        ('["tank"]', "[]", "visits = []: must name"),
        ('measure = "oxygen"', 'measure = "oxygne"', "did you mean oxygen?"),
        ('measure = "oxygen"', 'measure = "ammonia"', 'measure = "ammonia": allowed: '),
        ('measure = "oxygen"', "", "measure: is missing: one of temperature"),
        ('measure = "oxygen"', 'measure = "oxygen"\nunit = "degC"', 'unit = "degC": allowed: mg/L'),
        ('"number"', '"numbers"', 'answer = "numbers": did you mean number?'),
        ("why = ", "whi = ", "why: is missing"),
        ('how = "With the probe."', 'how = ""', 'how = "": must not be empty'),
        ("[[step]]", "[[step]]\npass = -1", "pass = -1: must be a whole number from 0 to 9"),
        ("[[step]]", '[[step]]\nvisits = ["G9"]', 'visits = "G9": allowed: house, '),
        ("[[step]]", '[[step]]\nchoices = ["a"]', "is for answer = "),
        ("[[step]]", '[[step]]\nact_if = ["a"]\ndo = "x"', 'act_if = "a": allowed: nothing'),
        ("[[step]]", '[[step]]\ndue = "weekly"', 'due = "weekly": must be'),
    ],
)
def test_what_is_wrong_is_told(tmp_path, old, new, part):
    lines = said(write(tmp_path, own=GOOD.replace(old, new, 1)))
    assert any(part in line for line in lines), lines
    assert all(line.startswith("checklists/own.toml") for line in lines)


def test_a_choice_needs_choices_and_what_to_do(tmp_path):
    own = GOOD + '[[step]]\ncode = "x"\nask = "x"\nanswer = "choice"\nhow = "x"\nwhy = "x"\n'
    assert said(write(tmp_path, own=own)) == [
        "checklists/own.toml, [[step]] 2 (x): choices: is missing: a choice needs two or more"
    ]
    own += 'choices = ["good", "bad"]\nact_if = ["bad"]\n'
    assert said(write(tmp_path, own=own)) == [
        "checklists/own.toml, [[step]] 2 (x): do: is missing: "
        "an answer in watch_if or act_if needs what to do"
    ]


def test_a_step_twice(tmp_path):
    own = GOOD + GOOD[GOOD.index("[[step]]") :]
    (line,) = said(write(tmp_path, own=own))
    assert "is there twice" in line


def test_units_of_steps_are_of_the_closed_list():
    for checklist in SAMPLE.checklists.values():
        assert all(step.unit in UNITS for step in checklist.steps if step.unit)
