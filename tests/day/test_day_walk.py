"""A walk: answers of every kind, confirming, correcting, skipping, moving, going on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from laptops import MONDAY, Laptop, sample, us

from rounds.day import walk
from rounds.reason import lines
from rounds.records.entry import Answer, Correction, Died, Reading, Skipped


def stand(laptop: Laptop, place: str, step: str, checklist: str = "first-light") -> walk.WalkState:
    return laptop.go(laptop.begin(checklist), place, step)


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
    assert look.says == "Type a value, or S to skip"
    assert look.aim == "aim 5 or more mg/L"


def test_text_is_cleaned_and_kept() -> None:
    step = replace(sample().checklists["first-light"].steps[0], answer="text", choices=())
    listed = replace(sample().checklists["first-light"], steps=(step,))
    laptop = Laptop(replace(sample(), checklists={"first-light": listed}))
    state = stand(laptop, "G1", "look")
    outcome = walk.answer(state, "calm\x1b[31m", laptop.now)
    assert isinstance(outcome.entry, Answer)
    assert outcome.entry.value == "calm\N{REPLACEMENT CHARACTER}[31m"


# -- what is told while typing -------------------------------------------------------------------


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


# -- confirming ----------------------------------------------------------------------------------


def test_a_second_enter_keeps_what_is_to_watch_and_says_when_to_read_again() -> None:
    laptop = Laptop()
    state = stand(laptop, "G1", "oxygen")
    asked = walk.answer(state, "4.4", laptop.now)
    assert (asked.kind, asked.do[:10]) == ("confirm", "Read again")
    kept = walk.answer(state, "4.4", laptop.now, confirmed=True)
    assert isinstance(kept.entry, Reading)
    assert (kept.entry.verdict, kept.entry.confirmed) == ("watch", False)
    assert kept.reread_at is not None
    assert (kept.reread_at - MONDAY).total_seconds() == 1800


def test_an_odd_value_is_kept_as_confirmed() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "6.8", "mg/L")
    laptop.wait(hours=1)
    state = stand(laptop, "G1", "oxygen")
    asked = walk.answer(state, "13.1", laptop.now)
    assert (asked.kind, asked.verdict) == ("confirm", "ok")
    assert "high for here" in asked.says
    kept = walk.answer(state, "13.1", laptop.now, confirmed=True)
    assert isinstance(kept.entry, Reading)
    assert kept.entry.confirmed


def test_a_tenfold_slip_is_caught_and_an_impossible_value_never_kept() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "6.8", "mg/L")
    state = stand(laptop, "G1", "oxygen")
    refused = walk.answer(state, "68", laptop.now, confirmed=True)
    assert refused.kind == "refuse"
    assert "decimal point? 6.8" in refused.says
    assert "0 to 40 mg/L" in refused.says
    assert walk.answer(state, "0.68", laptop.now).kind == "confirm"


# -- deaths --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "verdict"),
    [
        ("0", "keep", "ok"), ("1", "keep", "ok"), ("4", "confirm", "act"),
        ("1.5", "refuse", "unknown"), ("-1", "refuse", "unknown"), ("x", "refuse", "unknown"),
        ("300", "confirm", "act"),
    ],
)  # fmt: skip
def test_dead_fish_are_counted_to_their_lot(text: str, kind: str, verdict: str) -> None:
    laptop = Laptop()
    laptop.stock("G1", "RD7", 250)
    state = stand(laptop, "G1", "dead")
    outcome = walk.answer(state, text, laptop.now)
    assert (outcome.kind, outcome.verdict) == (kind, verdict)
    if kind == "keep":
        assert isinstance(outcome.entry, Died)
        assert (outcome.entry.lot, outcome.entry.count) == ("RD7", int(text))
        laptop.keep(outcome.entry)
        assert laptop.farm.stocks["G1"][0].count == 250 - int(text)


def test_of_two_lots_the_largest_takes_the_dead_and_is_named() -> None:
    laptop = Laptop()
    laptop.stock("G1", "RD1", 90)
    laptop.stock("G1", "RD2", 160)
    outcome = walk.answer(stand(laptop, "G1", "dead"), "1", laptop.now)
    assert isinstance(outcome.entry, Died)
    assert outcome.entry.lot == "RD2"
    assert "2 lots here: counted to the largest, RD2" in outcome.says


def test_dead_fish_where_none_are_on_record_are_told_not_lost() -> None:
    laptop = Laptop()
    state = stand(laptop, "G1", "dead")
    none = walk.answer(state, "0", laptop.now)
    assert (none.kind, none.verdict) == ("keep", "ok")
    some = walk.answer(state, "2", laptop.now, confirmed=True)
    assert isinstance(some.entry, Answer)
    assert some.verdict == "watch"
    assert "no fish on record" in some.says


def test_a_miscounted_death_is_corrected_not_counted_twice() -> None:
    laptop = Laptop()
    laptop.stock("G1", "RD1", 250)
    state = stand(laptop, "G1", "dead")
    state, _ = laptop.type(state, "1")
    state, outcome = laptop.type(laptop.go(state, "G1", "dead"), "2")
    assert isinstance(outcome.entry, Correction)
    assert outcome.entry.set == {"count": 2}
    assert laptop.farm.stocks["G1"][0].count == 248


# -- correcting ----------------------------------------------------------------------------------


def test_a_kept_value_is_corrected_and_the_old_line_stays() -> None:
    laptop = Laptop()
    state = stand(laptop, "G1", "oxygen")
    state, _ = laptop.type(state, "6.8")
    original = state.items[laptop.go(state, "G1", "oxygen").position].entry_id
    state, outcome = laptop.type(laptop.go(state, "G1", "oxygen"), "6.3")
    assert isinstance(outcome.entry, Correction)
    assert outcome.entry.of == original
    assert (outcome.entry.after, outcome.entry.set) == ([], {"value": "6.3"})
    state, again = laptop.type(laptop.go(state, "G1", "oxygen"), "6.4")
    assert isinstance(again.entry, Correction)
    assert again.entry.after == list(laptop.farm.corrections_of(original or ""))[:1]
    assert laptop.farm.conflicts == []
    read = laptop.farm.latest("G1", "oxygen", laptop.now)
    assert read is not None
    assert read.value == 6.4
    assert laptop.go(state, "G1", "oxygen").item.shown == "6.4 mg/L"


def test_a_correction_that_changes_the_verdict_asks_why() -> None:
    laptop = Laptop()
    state, _ = laptop.type(stand(laptop, "G1", "oxygen"), "5.9")
    state = laptop.go(state, "G1", "oxygen")
    asked = walk.answer(state, "4.9", laptop.now)
    assert (asked.kind, asked.ask_why) == ("confirm", True)
    assert asked.says.startswith("was 5.9 mg/L OK, now Oxygen 4.9 mg/L")
    kept = walk.answer(state, "4.9", laptop.now, confirmed=True, why="misread")
    assert isinstance(kept.entry, Correction)
    assert kept.entry.set == {"value": "4.9", "verdict": "watch"}
    assert kept.entry.why == "misread"


def test_the_same_value_again_corrects_nothing() -> None:
    laptop = Laptop()
    state, _ = laptop.type(stand(laptop, "G1", "oxygen"), "6.8")
    at = laptop.go(state, "G1", "oxygen")
    outcome = walk.answer(at, "6.8", laptop.now)
    assert (outcome.kind, outcome.entry) == ("keep", None)
    assert walk.kept(at, laptop.farm, None).position > at.position


def test_a_corrected_slip_is_not_held_against_the_right_value() -> None:
    laptop = Laptop()
    laptop.read("G1", "oxygen", "6.7", "mg/L")
    laptop.wait(hours=1)
    state, _ = laptop.type(stand(laptop, "G1", "oxygen"), "0.68")
    look = walk.look(laptop.go(state, "G1", "oxygen"), "6.8", laptop.now)
    assert look.doubts == ()
    assert look.last == "last 6.7 mg/L today 07:00"


# -- skipping and notes --------------------------------------------------------------------------


def test_a_skip_needs_a_reason_and_stays_in_sight() -> None:
    laptop = Laptop()
    state = stand(laptop, "G1", "oxygen")
    assert walk.skip(state, " ", laptop.now).kind == "refuse"
    outcome = walk.skip(state, "instrument broken", laptop.now)
    assert isinstance(outcome.entry, Skipped)
    at = state.position
    state = walk.kept(state, laptop.farm, laptop.keep(outcome.entry))
    item = state.items[at]
    assert (item.status, item.shown) == ("skipped", "instrument broken")
    assert state.position > at


def test_a_skipped_step_gets_its_value_and_a_kept_one_is_not_skipped() -> None:
    laptop = Laptop()
    state = stand(laptop, "G1", "oxygen")
    outcome = walk.skip(state, "no time", laptop.now)
    assert outcome.entry is not None
    state = walk.kept(state, laptop.farm, laptop.keep(outcome.entry))
    laptop.wait(minutes=1)
    state, answered = laptop.type(laptop.go(state, "G1", "oxygen"), "6.8")
    assert isinstance(answered.entry, Reading)
    at = laptop.go(state, "G1", "oxygen")
    assert at.item is not None
    assert (at.item.status, at.item.shown) == ("kept", "6.8 mg/L")
    assert walk.skip(at, "no time", laptop.now).kind == "refuse"


def test_a_note_knows_its_place_and_step() -> None:
    laptop = Laptop()
    draft = walk.note(stand(laptop, "G1", "oxygen"), "stone half blocked\nsee valve 3")
    assert (draft.place, draft.about) == ("G1", "oxygen")
    assert draft.text == "stone half blocked\nsee valve 3"
    with pytest.raises(ValueError, match="no words"):
        walk.note(stand(laptop, "G1", "oxygen"), "  ")


# -- moving --------------------------------------------------------------------------------------


def test_the_walk_goes_to_the_next_open_step_and_round_once_to_the_end() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin("life-support"), "HOUSE", "pressure")
    seen = []
    for _ in range(len(state.items)):
        assert state.item is not None
        seen.append(state.item.step.code)
        outcome = walk.skip(state, "no time", laptop.now)
        assert outcome.entry is not None
        state = walk.kept(state, laptop.farm, laptop.keep(outcome.entry))
    assert state.item is None
    assert state.open == 0
    assert seen[0] == "pressure"
    assert sorted(seen) == sorted(item.step.code for item in state.items)
    assert walk.finish(state).event == "done"


def test_back_and_forward_stay_in_the_walk_and_pass_no_open_step() -> None:
    laptop = Laptop()
    state = laptop.begin()
    assert walk.back(state).position == 0
    assert walk.forward(state).position == 0, "an open step is not passed over"
    state, _ = laptop.type(state, "28")
    back = walk.back(state)
    assert back.item is not None
    assert back.item.typed == "28"
    assert walk.forward(back).position == state.position


def test_going_back_to_a_cleaner_zone_shows_wash_and_dip() -> None:
    laptop = Laptop()
    state = stand(laptop, "Q1", "oxygen")
    moved, caution = walk.jump(state, "L1")
    assert moved.item is not None
    assert moved.item.place.code == "L1"
    assert "wash" in caution
    _, none = walk.jump(stand(laptop, "L1", "oxygen"), "Q1")
    assert none == ""
    nowhere, says = walk.jump(state, "STORE")
    assert nowhere.position == state.position
    assert "does not stop at STORE" in says


def test_a_new_pass_from_dirty_to_clean_is_cautioned_too() -> None:
    laptop = Laptop()
    state = laptop.begin()
    last = max(i for i, item in enumerate(state.items) if item.step.stop_pass == 1)
    state = replace(state, position=last)
    assert state.item is not None
    assert state.item.place.code == "P1"
    outcome = walk.skip(state, "no time", laptop.now)
    assert outcome.entry is not None
    state = walk.kept(state, laptop.farm, laptop.keep(outcome.entry))
    assert "wash" in state.caution


# -- going on ------------------------------------------------------------------------------------


def test_a_restart_goes_on_at_the_very_step() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin(), "N1", "look")
    state, _ = laptop.type(state, "1")
    laptop.wait(minutes=1)
    state, _ = laptop.type(state, "6.9")
    laptop.keep(walk.leave(state))
    (open_walk,) = walk.unfinished(laptop.farm, laptop.now)
    again = walk.resume(laptop.site, laptop.farm, open_walk.id, "ana", laptop.now)
    assert again.item == state.item
    assert again.item is not None
    assert (again.item.place.code, again.item.step.code) == ("N1", "temperature")
    assert again.items == state.items
    assert again.half_typed == ""


def test_a_done_or_old_walk_is_not_offered() -> None:
    laptop = Laptop()
    state = laptop.begin()
    laptop.wait(hours=11)
    assert [w.id for w in walk.unfinished(laptop.farm, laptop.now)] == [state.walk]
    laptop.wait(days=1)
    assert walk.unfinished(laptop.farm, laptop.now) == ()
    other = Laptop()
    state = other.begin()
    other.keep(walk.finish(state))
    assert walk.unfinished(other.farm, other.now) == ()


def test_a_walk_past_midnight_can_be_gone_on_with() -> None:
    laptop = Laptop(now=MONDAY.replace(hour=23, minute=50))
    state = laptop.begin("evening")
    laptop.wait(minutes=30)
    assert [w.id for w in walk.unfinished(laptop.farm, laptop.now)] == [state.walk]
    again = walk.resume(laptop.site, laptop.farm, state.walk, "ana", laptop.now)
    assert again.day == MONDAY.date()


def test_what_another_laptop_did_of_the_round_counts_as_done() -> None:
    here, there = Laptop(), Laptop(writer="p4z8aa", by="rui")
    mine = here.begin()
    there.wait(minutes=3)
    theirs = there.begin()
    for text in ("28", "27", "1", "6.9"):
        theirs, _ = there.type(theirs, text)
    here.hear(there)
    mine = walk.renewed(mine, here.farm)
    assert mine.items[0].status == "kept"
    assert mine.items[0].by == "done by Rui 07:03 on laptop p4z8aa"
    assert mine.position == 0, "renewing does not move"
    state, _ = here.type(here.go(mine, "G1", "oxygen"), "6.8")
    assert state.item is not None
    assert state.item.status == "open"
    fresh, _ = walk.begin(here.site, here.farm, "first-light", mine.day, "ines", here.now)
    assert fresh.position == 4


def test_a_value_another_walk_read_is_read_anew_but_its_dead_are_corrected() -> None:
    here, there = Laptop(), Laptop(writer="p4z8aa", by="rui")
    there.stock("G1", "RD1", 250)
    theirs = there.begin()
    theirs, _ = there.type(there.go(theirs, "G1", "oxygen"), "6.9")
    theirs, _ = there.type(there.go(theirs, "G1", "dead"), "1")
    here.hear(there)
    mine = walk.renewed(here.begin(), here.farm)
    outcome = walk.answer(here.go(mine, "G1", "oxygen"), "6.7", here.now)
    assert isinstance(outcome.entry, Reading)
    outcome = walk.answer(here.go(mine, "G1", "dead"), "0", here.now)
    assert isinstance(outcome.entry, Correction)


def test_two_walks_begun_at_one_instant_by_two_people_are_two() -> None:
    here, there = Laptop(), Laptop(writer="p4z8aa", by="rui")
    assert here.begin().walk != there.begin().walk


# -- reading again -------------------------------------------------------------------------------


def test_a_value_is_read_again_outside_any_walk() -> None:
    laptop = Laptop()
    state = stand(laptop, "G1", "oxygen")
    laptop.type(state, "4.4")
    laptop.wait(minutes=30)
    again = walk.reread(laptop.site, laptop.farm, "G1", "oxygen", "ana", MONDAY.date())
    again, outcome = laptop.type(again, "6.1")
    assert isinstance(outcome.entry, Reading)
    assert outcome.entry.walk is None
    assert again.item is None
    assert [read.value for read in laptop.farm.reads("G1", "oxygen")] == [4.4, 6.1]
    with pytest.raises(KeyError):
        walk.reread(laptop.site, laptop.farm, "HOUSE", "oxygen", "ana", MONDAY.date())
