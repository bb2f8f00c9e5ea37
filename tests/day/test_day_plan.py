"""What is due, in which order, how far it is, and what is to be read again."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from laptops import MONDAY, Laptop, sample
from msgspec.structs import replace

from rounds.day.telling.board import board
from rounds.day.walking.plan import Round, at_need, items, rereads, rounds_on
from rounds.records.entry import Answer, Incident, Reading, Walk
from rounds.site.model import Checklist, Step


def due(laptop: Laptop, code: str) -> Round:
    found = rounds_on(laptop.site, laptop.farm, laptop.now)
    return next(one for one in found if one.checklist.code == code)


def test_a_pass_goes_over_all_places_before_the_next_begins() -> None:
    asked = items(sample(), sample().checklists["first-light"], MONDAY.date())
    passes = [step.stop_pass for _, step in asked]
    assert passes == sorted(passes)
    order = list(sample().places)
    for number in (1, 2, 3):
        places = [place.code for place, step in asked if step.stop_pass == number]
        assert places == sorted(places, key=order.index), "clean to dirty within a pass"


def test_steps_are_asked_where_and_when_they_belong() -> None:
    first_light = sample().checklists["first-light"]
    monday = {(p.code, s.code) for p, s in items(sample(), first_light, date(2026, 3, 2))}
    tuesday = {(p.code, s.code) for p, s in items(sample(), first_light, date(2026, 3, 3))}
    assert ("G1", "tan") in monday
    assert ("G1", "tan") not in tuesday, "tests are Monday, Wednesday, Friday"
    assert ("G2", "alkalinity") not in monday, "only the loop's test point is tested"
    assert ("L1", "dead") not in monday, "larvae are not counted one by one"
    assert ("G1", "oxygen") in tuesday


def test_a_round_comes_is_due_and_is_late() -> None:
    laptop = Laptop()
    window = due(laptop, "first-light")
    for at, state in (
        (window.start - timedelta(minutes=1), "coming"), (window.start, "due"),
        (window.end, "due"), (window.end + timedelta(minutes=1), "late"),
    ):  # fmt: skip
        laptop.now = at
        assert due(laptop, "first-light").state == state
    starts = [one.start for one in rounds_on(laptop.site, laptop.farm, laptop.now)]
    assert starts == sorted(starts)


def test_a_round_that_was_begun_is_late_all_the_same() -> None:
    laptop = Laptop()
    window = due(laptop, "first-light")
    laptop.now = window.start
    laptop.begin()
    assert (due(laptop, "first-light").state, due(laptop, "first-light").overdue) == ("open", False)
    laptop.now = window.end + timedelta(minutes=1)
    assert (due(laptop, "first-light").state, due(laptop, "first-light").overdue) == ("open", True)
    assert "2 rounds late" in " ".join(board(laptop.site, laptop.farm, laptop.now).facts)


def test_a_round_counts_what_was_kept_on_any_laptop() -> None:
    here, other = Laptop(), Laptop(writer="p4z8aa", by="rui")
    state = other.begin()
    before = due(here, "first-light")
    assert (before.state, before.done, before.walk) == ("due", 0, None)
    for text in ("28", "27"):
        state, _ = other.type(state, text)
    here.hear(other)
    after = due(here, "first-light")
    assert (after.state, after.done, after.walk) == ("open", 2, state.walk)
    assert after.places["R1"] == (1, 2)
    assert after.total == before.total


def test_a_round_is_done_when_every_step_is_or_somebody_says_so() -> None:
    laptop = Laptop()
    state = laptop.begin("life-support")
    laptop.keep(Walk(event="done", checklist="life-support", walk=state.walk))
    assert due(laptop, "life-support").state == "done"
    laptop.wait(minutes=1)
    again = laptop.begin("life-support")
    assert due(laptop, "life-support").state == "open"
    for place, step in items(laptop.site, again.checklist, again.day):
        laptop.keep(Answer(place=place.code, step=step.code, value="yes", walk=again.walk))
    found = due(laptop, "life-support")
    assert (found.state, found.done) == ("done", found.total)


def test_yesterdays_walk_is_not_todays() -> None:
    laptop = Laptop()
    state = laptop.begin()
    laptop.type(state, "28")
    laptop.wait(days=1)
    found = due(laptop, "first-light")
    assert (found.done, found.walk) == (0, None)


def test_a_list_for_an_event_comes_with_the_incident() -> None:
    step = Step("ok", "Power back?", "yes-no", visits=("house",))
    event = Checklist(
        "power", "After a power cut", ("house",), "after event", "00:00-23:59", (step,)
    )
    laptop = Laptop(replace(sample(), checklists={"power": event}))
    assert rounds_on(laptop.site, laptop.farm, laptop.now) == ()
    laptop.keep(Incident(about="power", event="began"))
    assert [one.checklist.code for one in rounds_on(laptop.site, laptop.farm, laptop.now)] == [
        "power"
    ]


def test_a_list_for_one_event_is_there_at_need_and_due_with_its_incident_alone() -> None:
    step = Step("ok", "Power back?", "yes-no", visits=("house",))
    event = Checklist(
        "power", "After a power cut", ("house",), "after power", "00:00-23:59", (step,)
    )
    laptop = Laptop(replace(sample(), checklists={"power": event}))
    (found,) = at_need(laptop.site, laptop.farm, laptop.now)
    assert (found.checklist.code, found.state, found.walk) == ("power", "coming", None)
    laptop.keep(Incident(about="leak", event="began"))
    assert rounds_on(laptop.site, laptop.farm, laptop.now) == ()
    laptop.keep(Incident(about="power", event="began"))
    assert due(laptop, "power").state == "due"
    assert at_need(laptop.site, laptop.farm, laptop.now) == ()


def test_the_next_fill_of_a_day_begins_with_every_step_open() -> None:
    laptop = Laptop()
    assert "fill" in [one.checklist.code for one in at_need(laptop.site, laptop.farm, laptop.now)]
    state = laptop.begin("fill")
    assert due(laptop, "fill").state == "open"
    for value in ("0", "24.5", "0.2"):
        state, _ = laptop.type(state, value)
    laptop.keep(Walk(event="done", checklist="fill", walk=state.walk))
    assert (due(laptop, "fill").state, due(laptop, "fill").done) == ("done", 3)
    laptop.wait(hours=2)
    again = laptop.begin("fill")
    assert again.open == len(again.items) == 3
    assert (due(laptop, "fill").state, due(laptop, "fill").done) == ("open", 0)


# -- read again ----------------------------------------------------------------------------------


def test_a_value_is_read_again_until_a_newer_one_is_ok() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "4.4", "mg/L", "watch")
    laptop.wait(minutes=5)
    (found,) = rereads(laptop.site, laptop.farm, laptop.now)
    assert (found.place, found.measure) == ("G1", "oxygen")
    assert found.due == MONDAY + timedelta(minutes=30)
    assert found.says == "read G1 oxygen again by 07:30 (4.4 ! WATCH)"
    laptop.wait(minutes=20)
    laptop.read("G1", "oxygen", "3.8", "mg/L", "act")
    (found,) = rereads(laptop.site, laptop.farm, laptop.now)
    assert found.due == laptop.now + timedelta(minutes=15), "the newer one counts"
    laptop.wait(minutes=40)
    (found,) = rereads(laptop.site, laptop.farm, laptop.now)
    assert "late" in found.says
    laptop.read("G1", "oxygen", "6.1", "mg/L", "ok")
    assert rereads(laptop.site, laptop.farm, laptop.now) == ()


def test_another_tanks_value_settles_nothing() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "4.4", "mg/L", "watch")
    laptop.wait(minutes=5)
    laptop.read("G2", "oxygen", "6.4", "mg/L", "ok")
    laptop.read("G1", "temperature", "25.0", "degC", "ok")
    assert [one.place for one in rereads(laptop.site, laptop.farm, laptop.now)] == ["G1"]


def test_the_overdue_come_first_and_a_day_ends_it() -> None:
    laptop = Laptop()
    laptop.read("G2", "oxygen", "4.4", "mg/L", "watch")
    laptop.read("G1", "ph", "8.90", "pH", "act")
    assert [one.place for one in rereads(laptop.site, laptop.farm, laptop.now)] == ["G1", "G2"]
    laptop.wait(hours=24, minutes=1)
    assert rereads(laptop.site, laptop.farm, laptop.now) == ()


def test_a_reading_from_the_future_is_not_yet_to_be_read_again() -> None:
    laptop = Laptop()
    at = datetime(2026, 3, 2, 12, tzinfo=UTC)
    laptop.now = at
    laptop.keep(Reading(place="G1", measure="oxygen", value="3.1", unit="mg/L", verdict="act"))
    assert rereads(laptop.site, laptop.farm, MONDAY) == ()
