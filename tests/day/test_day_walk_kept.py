"""What a walk keeps: odd values confirmed, deaths, corrections, skips and notes."""

from __future__ import annotations

import pytest
from laptops import MONDAY, Laptop, stand

from rounds.day.walking import walk
from rounds.records.entry import Answer, Correction, Died, Reading, Skipped

# -- confirming ------------------------------------------------------------------------------------


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


# -- deaths ----------------------------------------------------------------------------------------


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


# -- correcting ------------------------------------------------------------------------------------


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
    known = list(laptop.farm.corrections_of(original or ""))
    assert len(known) == 2
    assert again.entry.after == known[:1]
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


# -- skipping and notes ----------------------------------------------------------------------------


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
