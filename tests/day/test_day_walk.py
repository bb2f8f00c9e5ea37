"""A walk: answers of every kind, and what is told while typing."""

from __future__ import annotations

import pytest
from laptops import Laptop, sample, stand, us
from msgspec.structs import replace

from rounds.day.walking import walk
from rounds.reason import lines
from rounds.records.entry import Answer, Reading

# place, step, text, kind, verdict, value kept: without confirming
ANSWERS = [
    # numbers: point or comma, digits as typed
    ("G1", "oxygen", "6.8", "keep", "ok", "6.8"),
    ("G1", "oxygen", "6,80", "keep", "ok", "6.80"),
    ("G1", "oxygen", "4.9", "confirm", "watch", None),
    ("G1", "oxygen", "3.9", "confirm", "act", None),
    ("G1", "oxygen", "68", "refuse", "unknown", None),
    ("G1", "oxygen", "", "refuse", "unknown", None),
    ("G1", "oxygen", "  ", "refuse", "unknown", None),
    ("G1", "oxygen", "6.8.1", "refuse", "unknown", None),
    ("G1", "oxygen", "1e1", "refuse", "unknown", None),
    ("G1", "oxygen", "nan", "refuse", "unknown", None),
    ("G1", "oxygen", "6.8 %", "refuse", "unknown", None),
    ("G1", "ph", "7.60", "keep", "ok", "7.60"),
    ("G1", "ph", "81", "refuse", "unknown", None),
    ("G1", "temperature", "78 degF", "keep", "ok", "78"),
    ("G1", "temperature", "78", "refuse", "unknown", None),
    ("G1", "alkalinity", "6.5 dKH", "keep", "ok", "6.5"),
    ("G1", "alkalinity", "6.5", "confirm", "act", None),
    # choice by digit or word, yes and no
    ("G1", "look", "1", "keep", "ok", "calm and spread"),
    ("G1", "look", "2", "confirm", "watch", None),
    ("G1", "look", "3", "confirm", "act", None),
    ("G1", "look", "7", "refuse", "unknown", None),
    ("G1", "look", "0", "refuse", "unknown", None),
    ("G1", "look", "calm and spread", "keep", "ok", "calm and spread"),
    ("G1", "feed_left", "2", "keep", "ok", "a little"),
]


@pytest.mark.parametrize(("place", "step", "text", "kind", "verdict", "value"), ANSWERS)
def test_answers(
    place: str, step: str, text: str, kind: str, verdict: str, value: str | None
) -> None:
    laptop = Laptop()
    state = stand(laptop, place, step)
    look = walk.look(state, text, laptop.now)
    outcome = walk.answer(state, text, laptop.now)
    assert (outcome.kind, outcome.verdict) == (kind, verdict)
    assert {"yes": "keep", "confirm": "confirm", "no": "refuse"}[look.keeps] == kind
    assert look.verdict == verdict
    if value is None:
        assert outcome.entry is None
        assert outcome.says
    else:
        assert isinstance(outcome.entry, Reading | Answer)
        assert (outcome.entry.value, outcome.entry.verdict) == (value, verdict)
        assert (outcome.entry.place, outcome.entry.step, outcome.entry.by) == (place, step, "ana")
        assert outcome.entry.walk == state.walk


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1", "keep", "yes"), ("y", "keep", "yes"), ("Y", "keep", "yes"), ("yes", "keep", "yes"),
        ("2", "confirm", "no"), ("n", "confirm", "no"), ("N", "confirm", "no"),
        ("3", "refuse", None), ("maybe", "refuse", None),
    ],
)  # fmt: skip
def test_yes_and_no(text: str, kind: str, value: str | None) -> None:
    laptop = Laptop()
    state = stand(laptop, "HOUSE", "blower", "life-support")
    assert walk.answer(state, text, laptop.now).kind == kind
    outcome = walk.answer(state, text, laptop.now, confirmed=True)
    kept = outcome.entry.value if isinstance(outcome.entry, Answer) else None
    assert kept == value
    if value == "no":
        assert outcome.verdict == "act"
        assert outcome.do.startswith("Switch to the standby blower")


def test_an_empty_field_is_told_what_to_do() -> None:
    laptop = Laptop()
    look = walk.look(stand(laptop, "G1", "oxygen"), "", laptop.now)
    assert look.says == "Type a value, then Enter; S skips"
    assert look.aim == "aim 5 or more mg/L"


def test_text_is_cleaned_and_kept() -> None:
    step = replace(sample().checklists["first-light"].steps[0], answer="text", choices=())
    listed = replace(sample().checklists["first-light"], steps=(step,))
    laptop = Laptop(replace(sample(), checklists={"first-light": listed}))
    state = stand(laptop, "G1", "look")
    outcome = walk.answer(state, "calm\x1b[31m", laptop.now)
    assert isinstance(outcome.entry, Answer)
    assert outcome.entry.value == "calm\N{REPLACEMENT CHARACTER}[31m"


def test_the_last_value_and_the_aim_are_told() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "6.8", "mg/L")
    laptop.wait(hours=1)
    look = walk.look(stand(laptop, "G1", "oxygen"), "6.2", laptop.now)
    assert look.last == "last 6.8 mg/L today 07:00"
    assert look.verdict == "ok"
    assert any("Oxygen 6.2 mg/L in G1: OK" in line for line in lines(look.reasons))


def test_figures_worked_out_follow_every_key() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "26.5", "degC")
    laptop.read("G1", "salinity", "32.0", "g/kg")
    laptop.read("G1", "tan", "1.8", "mg/L")
    state = stand(laptop, "G1", "ph")
    looks = {text: walk.look(state, text, laptop.now) for text in ("7.1", "7.45", "7.9")}
    assert looks["7.1"].derived[0].endswith("OK")
    assert looks["7.45"].derived[0].startswith("NH3-N 0.023 mg/L (cautious 0.0")
    assert looks["7.45"].derived[0].endswith("! WATCH")
    assert looks["7.45"].verdict == "watch", "a pH whose ammonia is to watch is to watch"
    assert looks["7.9"].verdict == "act"
    assert "NH3-N" in looks["7.9"].says
    assert looks["7.9"].do.startswith("Stop feeding")
    assert "measure it" in looks["7.45"].derived[1], "CO2 needs alkalinity"


def test_a_figure_that_lacks_more_than_the_test_at_hand_is_not_told() -> None:
    laptop = Laptop()
    assert walk.look(stand(laptop, "G1", "ph"), "7.4", laptop.now).derived == ()
    laptop.read("G1", "temperature", "26.5", "degC")
    assert walk.look(stand(laptop, "G1", "temperature"), "26.4", laptop.now).derived == ()


def test_oxygen_is_judged_by_the_worst_of_percent_and_mg_l() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "24.5", "degC")
    laptop.read("G1", "salinity", "20.0", "g/kg")
    look = walk.look(stand(laptop, "G1", "oxygen"), "5.2", laptop.now)
    assert look.verdict == "watch"
    assert look.says.startswith("Oxygen 7")
    assert "below 75" in look.says


def test_a_temperature_is_blamed_only_for_what_it_makes_worse() -> None:
    laptop = Laptop()
    laptop.read("G1", "temperature", "25.0", "degC")
    laptop.read("G1", "salinity", "32.0", "g/kg")
    laptop.read("G1", "tan", "1.8", "mg/L")
    laptop.read("G1", "ph", "7.50", "pH")
    laptop.wait(hours=2)
    state = stand(laptop, "G1", "temperature")
    look = walk.look(state, "25.1", laptop.now)
    assert any("! WATCH" in line for line in look.derived)
    assert look.verdict == "ok", "ammonia was to watch before"
    cooler = Laptop(writer="p4z8aa")
    cooler.hear(laptop)
    cooler.wait(hours=2)
    cooler.read("G1", "ph", "7.38", "pH")
    state = stand(cooler, "G1", "temperature")
    assert walk.look(state, "24.9", cooler.now).verdict == "ok"
    assert walk.look(state, "27.9", cooler.now).verdict == "watch"


def test_us_units_are_asked_and_kept_as_typed() -> None:
    laptop = Laptop(us())
    state = stand(laptop, "G1", "temperature")
    look = walk.look(state, "77.4", laptop.now)
    assert look.aim == "aim 75.2 to 82.4 degF"
    outcome = walk.answer(state, "77.4", laptop.now)
    assert isinstance(outcome.entry, Reading)
    assert (outcome.entry.value, outcome.entry.unit) == ("77.4", "degF")
    laptop.keep(outcome.entry)
    read = laptop.farm.latest("G1", "temperature", laptop.now)
    assert read is not None
    assert read.value == pytest.approx(25.22, abs=0.01)


def test_a_typed_unit_of_the_list_is_kept() -> None:
    laptop = Laptop()
    outcome = walk.answer(stand(laptop, "G1", "alkalinity"), "6,5 dKH", laptop.now)
    assert isinstance(outcome.entry, Reading)
    assert (outcome.entry.value, outcome.entry.unit) == ("6.5", "dKH")
