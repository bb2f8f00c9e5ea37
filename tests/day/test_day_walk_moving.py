"""Moving through a walk, going on with it, sharing it with another laptop, reading again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from laptops import MONDAY, Laptop, stand
from msgspec.structs import replace

from rounds.day.walking import walk
from rounds.records.entry import Correction, Reading

# -- moving ----------------------------------------------------------------------------------------


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


def test_what_was_kept_today_and_yesterday_is_found_and_corrected_outside_its_walk() -> None:
    laptop = Laptop()
    at = laptop.go(laptop.begin(), "G1", "oxygen")
    state, _ = laptop.type(at, "6.8")
    (found,) = walk.answered(laptop.site, laptop.farm, "ines", laptop.now)
    assert found.item is not None
    assert (found.walk, found.item.where, found.item.typed) == ("", ("G1", "oxygen"), "6.8")
    there = walk.same_step(state, found)
    assert there is not None
    assert there.item is not None
    assert there.item.where == ("G1", "oxygen")
    assert walk.same_step(found, found) is None
    entry = walk.answer(found, "6.6", laptop.now, confirmed=True, why="typed wrong").entry
    assert isinstance(entry, Correction)
    assert entry.set["value"] == "6.6"
    laptop.keep(entry)
    days = [
        len(walk.answered(laptop.site, laptop.farm, "ana", laptop.now + timedelta(days=n)))
        for n in (0, 1, 2)
    ]
    assert days == [1, 1, 0]


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


# -- going on --------------------------------------------------------------------------------------


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


# -- reading again ---------------------------------------------------------------------------------


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


def test_after_a_jump_the_rest_of_the_pass_comes_before_the_next_pass() -> None:
    laptop = Laptop()
    state, _ = walk.jump(laptop.begin(), "Q1")
    seen: list[tuple[int, str]] = []
    while state.item is not None:
        seen.append((state.item.step.stop_pass, state.item.place.code))
        outcome = walk.skip(state, "no time", laptop.now)
        assert outcome.entry is not None
        state = walk.kept(state, laptop.farm, laptop.keep(outcome.entry))
    passes = [number for number, _ in seen]
    assert passes == sorted(passes)
    first = list(dict.fromkeys(code for number, code in seen if number == 1))
    assert first[:3] == ["Q1", "P1", "R1"]


def test_two_people_in_one_walk_see_who_kept_what_and_each_goes_on_after_their_own() -> None:
    laptop = Laptop()
    ana = laptop.begin()
    ana, _ = laptop.type(ana, "26")
    rui = replace(walk.jump(ana, "G1")[0], by="rui")
    outcome = walk.answer(rui, "1", laptop.now)
    assert outcome.entry is not None
    laptop.keep(outcome.entry)
    seen = walk.renewed(ana, laptop.farm)
    kept = next(item for item in seen.items if item.place.code == "G1" and item.step.code == "look")
    assert (kept.status, kept.who) == ("kept", "by Rui 07:00")
    assert {item.who for item in seen.items if item.place.code == "R1"} == {""}
    for by, place in (("ana", "B1"), ("rui", "G1"), ("ines", "G1")):
        on = walk.resume(laptop.site, laptop.farm, ana.walk, by, laptop.now).item
        assert on is not None
        assert on.place.code == place
