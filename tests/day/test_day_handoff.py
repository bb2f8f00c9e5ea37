"""The hand-off: worst first, what changed and who, what is open, what nobody has seen."""

from __future__ import annotations

from datetime import time, timedelta
from decimal import Decimal

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, with_place

from rounds.day.feeding import rations
from rounds.day.fold.farm import fold
from rounds.day.loops import doses
from rounds.day.recording.matters import settle
from rounds.day.telling import handoff
from rounds.day.telling.handoff import Document
from rounds.records import entry as e
from rounds.reports.handoff import render
from rounds.site.model import Checklist, Step


def of(days: Days, by: str = "ana") -> Document:
    return handoff.matters(days.site, days.farm, NOW, by, "aaaaaa")


@pytest.fixture
def days() -> Days:
    """A farm of two tanks in good water, handed on yesterday evening at 20:00."""
    days = Days()
    days.stock("T1")
    days.stock("T2", lot="L2")
    days.good_water("T1")
    days.good_water("T2")
    days.write(e.Handoff, -12, covers=e.stamp(NOW - timedelta(days=1)), text="all well", to="rui")
    return days


def test_the_worst_place_comes_first(days: Days) -> None:
    days.read("T2", -0.5, "act", oxygen="3.9")
    days.read("T1", -0.5, "watch", oxygen="4.7")
    places = of(days).places
    assert [(p.place, p.verdict) for p in places] == [("T2", "act"), ("T1", "watch")]
    assert "3.9" in places[0].says
    assert places[0].do == "Aerate now, stop feeding."


def test_fish_without_oxygen_read_today_stand_before_what_is_ok(days: Days) -> None:
    days.entries = [
        x
        for x in days.entries
        if not (isinstance(x, e.Reading) and x.measure == "oxygen" and x.place == "T2")
    ]
    places = of(days).places
    assert (places[0].place, places[0].verdict) == ("T2", "unknown")
    assert "not read" in places[0].says


def test_it_covers_the_time_since_the_last_hand_off(days: Days) -> None:
    days.write(e.Counted, -13, place="T1", lot="L1", count=299)
    days.write(e.Counted, -11, place="T2", lot="L2", count=298)
    document = of(days)
    assert document.since == NOW - timedelta(hours=12)
    assert document.changed == ("T2: L2 counted, 298 (Ana, 21:00)",)
    first = of(Days())
    assert first.since == NOW.replace(hour=0)


def test_what_changed_is_told_with_numbers_and_who(days: Days) -> None:
    days.by = "rui"
    days.write(e.State, -1, place="T2", state="isolated", volume="3.5")
    days.write(e.Moved, -1, lot="L1", source="T1", target="T2", count=50)
    days.write(e.Weighed, -1, lot="L1", place="T1", count=25, mass="5.35", unit="kg")
    days.write(e.Incident, -1, about="pump", event="began", text="hums", loop="A")
    days.write(e.Note, -1, place="T1", text="fish shy")
    days.write(e.Removed, -1, lot="L1", place="T1", count=10, cause="sold")
    said = "\n".join(of(days).changed)
    for part in (
        "T2: isolated, 3.5 m^3 (Rui, 07:00)",
        "50 of L1 moved from T1 to T2",
        "25 of L1 weighed, mean 214.0 g",  # 5.35 kg / 25
        "loop A: pump began: hums",
        "T1: fish shy",
        "10 of L1 taken out: sold",
    ):
        assert part in said
    assert "loop A: pump not yet in order" in "\n".join(of(days).watch)
    assert "T2 is isolated" in "\n".join(of(days).watch)


def test_a_verdict_that_changed_is_told_from_value_to_value(days: Days) -> None:
    days.by = "rui"
    days.read("T1", -0.5, "watch", oxygen="4.9")
    (said,) = of(days).changed
    assert said == "T1 Oxygen from 6.8 to 4.9 mg/L ! WATCH (Rui, 07:30)"


def test_a_correction_is_told_with_both_values(days: Days) -> None:
    wrong = days.write(
        e.Reading, -1, place="T1", measure="oxygen", value="6.1", unit="mg/L", verdict="ok"
    )
    days.write(e.Correction, -0.5, of=wrong.id, set={"value": "6.4"}, why="misread")
    days.write(e.Correction, -0.4, of=days.entries[0].id, void=True, why="other tank")
    said = of(days).changed
    assert "T1 oxygen corrected: value 6.1 to 6.4: misread (Ana, 07:30)" in said
    assert "T1 stocked taken back: other tank (Ana, 07:36)" in said


def test_corrections_that_do_not_agree_are_told(days: Days) -> None:
    wrong = days.write(e.Reading, -1, place="T1", measure="oxygen", value="6.1", unit="mg/L")
    for value in ("6.4", "6.6"):
        days.write(e.Correction, -0.5, of=wrong.id, set={"value": value})
    assert of(days).conflicts == (
        "T1 oxygen: Ana says 6.4, Ana says 6.6. Look again, then go back to it and correct it.",
    )


def test_rounds_and_readings_still_to_do_come_with_their_time(days: Days) -> None:
    days.read("T2", -0.1, "act", oxygen="3.9")
    todo = {one.text: one.until for one in of(days).not_done}
    assert todo["First light: 0 of 3 done"] == "09:00"
    assert todo["Read T2 oxygen again"] == "08:09"  # a quarter of an hour after 07:54
    late = Days()
    late.read("T2", -12, "act", oxygen="3.9")
    assert handoff.ToDo("Read T2 oxygen again, late", "yesterday 20:15") in of(late).not_done


def test_a_round_ended_with_steps_open_is_not_done_and_one_walked_to_its_end_is(
    days: Days,
) -> None:
    keys = {"checklist": "morning", "walk": "w1"}
    days.write(e.Walk, -0.9, event="begun", **keys)
    for place in ("L1", "T1"):
        days.write(e.Answer, -0.8, step="look", value="calm", verdict="ok", place=place, walk="w1")
    days.write(e.Walk, -0.7, event="done", **keys)
    assert "First light: 2 of 3 done" in [one.text for one in of(days).not_done]
    days.write(e.Skipped, -0.6, step="look", reason="dark", place="T2", walk="w1")
    assert "First light: 1 skipped at T2" in [one.text for one in of(days).not_done]
    days.write(e.Answer, -0.5, step="look", value="calm", verdict="ok", place="T2", walk="w1")
    assert not of(days).not_done


def test_a_skip_is_called_by_what_is_read_and_a_correction_by_what_differs(days: Days) -> None:
    asks = (Step("oxygen", "Dissolved oxygen in the afternoon", "number", measure="oxygen"),)
    night = Checklist("night", "Night look", ("tank",), "daily", "20:00-23:00", asks)
    days.site = replace(days.site, checklists={**days.site.checklists, "night": night})
    days.write(e.Skipped, -0.5, place="T1", step="oxygen", reason="too dark")
    days.read("T2", -0.6, tan="0.4")
    days.write(
        e.Correction, -0.5, of=days.entries[-1].id, set={"value": "0.5", "confirmed": True},
        why="typed wrong", place="T2",
    )  # fmt: skip
    told = render(of(days))
    assert "T1 oxygen: too dark" in told
    assert "value 0.4 to 0.5: typed wrong" in " ".join(told.split())
    assert "confirmed" not in told


def test_a_place_to_act_on_is_not_simply_still_to_feed(days: Days) -> None:
    days.write(e.Died, -1, place="T1", lot="L1", count=9)
    (told,) = (line for line in of(days).feeds if line.startswith("T1"))
    assert told.startswith("T1: not fed; see to ACT NOW first, then at most")
    assert told.endswith("g, meal 1 of 3 next")


def test_feed_is_told_given_against_advised(days: Days) -> None:
    first, second = rations.today(days.site, days.farm, NOW)
    days.by = "rui"
    days.write(rations.fed(first, 1), -0.8)
    days.write(rations.fed(second, 1, Decimal(100), "fish shy", left=Decimal(20)), -0.7)
    advised = second.meals[0].advised_g
    said = "\n".join(of(days).feeds)
    assert f"T1: {first.meals[0].advised_g:g} g in 1 meal, the last (Rui, 07:12)" in said
    assert f"T2 meal 1: 100 g, {advised:g} g advised, 20 g left: fish shy (Rui, 07:18)" in said
    rest = sum(meal.advised_g for meal in first.meals[1:])
    assert f"T1: still to give {rest:g} g, meal 2 of 3 next" in said


def test_feed_left_is_told_even_when_given_as_advised(days: Days) -> None:
    first = rations.today(days.site, days.farm, NOW)[0]
    days.write(rations.fed(first, 1, left=Decimal(30)), -0.8)
    assert any("30 g left" in line for line in of(days).feeds)


def test_a_tank_not_fed_says_why(days: Days) -> None:
    days.read("T2", -0.5, "act", oxygen="3.9")
    assert any("T2: NO FEED, Oxygen 3.9" in line for line in of(days).feeds)


def test_doses_and_water_are_told(days: Days) -> None:
    days.read("T1", -0.9, alkalinity=60)
    (sheet,) = doses.today(days.site, days.farm, NOW)
    line = sheet.lines[0]
    days.write(doses.dosed(line, sheet), -0.5)
    days.write(doses.dosed(line, sheet, 1, Decimal(50), "last of the bag"), -0.4)
    days.write(e.Exchanged, -0.3, loop="A", volume_out="0", volume_in="0.3", unit="m^3")
    said = of(days).doses
    assert said[0] == f"Loop A: {line.portions[0]:g} g Bicarbonate, as advised (Ana, 07:30)"
    assert f"50 g Bicarbonate, {line.portions[0]:g} g advised: last of the bag" in said[1]
    assert said[2] == "Loop A: topped up with 0.30 m^3 (Ana, 07:42)"


def test_deaths_and_skipped_steps_are_told(days: Days) -> None:
    days.write(e.Died, -1, place="T1", lot="L1", count=2, cause="injury")
    days.write(e.Died, -0.9, place="T2", lot="L2", count=0)
    days.write(e.Skipped, -0.5, place="T1", step="look", reason="too dark")
    assert of(days).deaths == ("T1: 2 dead of L1, injury (Ana, 07:00)",)
    assert of(days).skipped == ("T1 Fish look: too dark (Ana, 07:30)",)


def test_open_matters_stay_with_owner_and_time_until_settled(days: Days) -> None:
    draft = e.Matter(
        text="order bicarbonate", place="T1", owner="rui", until="Friday",
        again_if="less than a bag",
    )  # fmt: skip
    opened = days.write(draft, -1)
    (matter,) = of(days).matters
    assert (matter.id, matter.text) == (
        opened.id, "T1: order bicarbonate (again if less than a bag)",
    )  # fmt: skip
    assert (matter.owner, matter.until) == ("Rui", "Friday")
    (known,) = days.farm.matters
    days.write(settle(known, "came today"), -0.5)
    assert not of(days).matters
    assert any("Settled: order bicarbonate: came today" in line for line in of(days).changed)


def test_what_the_last_taker_had_not_seen_stays_unseen(days: Days) -> None:
    days = Days()
    ids = [days.write(e.Matter(text=text), -20).id for text in ("pump", "net", "bag")]
    assert not of(days).unseen
    days.write(e.Handoff, -12, covers=e.stamp(NOW), text="x")
    assert {one.id for one in of(days).unseen} == set(ids)
    assert "not taken over" in of(days).untaken
    (last,) = days.farm.handoffs
    days.write(handoff.takeover(last, "rui", [ids[0]]), -11)
    assert {one.id for one in of(days).unseen} == set(ids[1:])
    assert not of(days).untaken
    days.write(e.Handoff, -6, covers=e.stamp(NOW), text="y")  # taken by nobody yet
    assert {one.id for one in of(days).unseen} == set(ids[1:])
    days.write(handoff.takeover(days.farm.handoffs[-1], "ines", ids[1:]), -5)
    assert not of(days).unseen
    assert {one.id for one in of(days).matters} == set(ids)  # seen is not settled
    later = days.write(e.Matter(text="new"), -1).id
    assert later not in {one.id for one in of(days).unseen}


def test_a_hand_off_is_taken_over_once_and_by_name(days: Days) -> None:
    (last,) = days.farm.handoffs
    with pytest.raises(ValueError, match="who takes over"):
        handoff.takeover(last, " ")
    with pytest.raises(ValueError, match="your own"):
        handoff.takeover(last, last.by)
    draft = handoff.takeover(last, "rui", ["a", "b", "a"])
    assert (draft.of, draft.by, draft.seen) == (last.id, "rui", ["a", "b"])
    days.by = "rui"
    days.write(draft, -1)
    with pytest.raises(ValueError, match="already, by rui"):
        handoff.takeover(days.farm.handoffs[-1], "ana")


def test_the_entry_keeps_what_it_covers_and_its_text_clean(days: Days) -> None:
    draft = handoff.handoff(of(days), "line one\nline \x1b[2Jtwo", "rui")
    assert draft.covers == e.stamp(NOW - timedelta(hours=12))
    assert draft.to == "rui"
    assert draft.text.count("\n") == 1
    assert "\x1b" not in draft.text


def test_laptops_not_heard_and_unknown_entries_are_told(days: Days) -> None:
    other = Days(writer="bbbbbb")
    other.write(e.Note, -10, text="x")
    days.entries += other.entries
    farm = fold(days.site, days.entries, unknown=1)
    document = handoff.matters(days.site, farm, NOW, "ana", "aaaaaa")
    assert len(document.unheard) == 1
    assert document.unknown == 1


def test_odd_farms_do_not_raise() -> None:
    assert of(Days(), "").places == ()
    odd = Days()
    odd.write(e.Correction, -1, of="nobody", set={"value": "1"})
    odd.write(e.Moved, -1, lot="L1", source="X", target="Y", count=5)
    odd.write(e.Weighed, -1, lot="L1", place="X", count=0, mass="x", unit="kg")
    odd.write(e.Matter, -1, text="", of="nobody")
    odd.write(e.Fed, 5, place="T1", product="P", amount="100", unit="g")
    odd.write(e.Handoff, 5, covers="x", text="from the future")
    odd.write(e.Dosed, -1, loop="Z", product="?", amount="5", unit="g")
    document = of(odd)
    assert document.since == NOW.replace(hour=0)
    assert document.feeds == ()
    assert document.doses == ()


# -- what came and went ------------------------------------------------------------------------


def test_an_act_that_came_and_went_within_the_shift_is_told_first(days: Days) -> None:
    days.by = "rui"
    days.read("T1", -3, "act", ph="6.9")
    days.read("T1", -2.9, ph="7.6")
    days.read("T2", -6.2, "act", oxygen="3.4")
    days.read("T2", -6.1, "act", oxygen="2.9")
    days.read("T2", -6.05, "watch", oxygen="4.4")
    days.read("T2", -6.0, oxygen="6.1")
    days.write(e.Counted, -4, place="T1", lot="L1", count=299)
    changed = of(days).changed
    assert changed[0] == "T1 pH 6.9 05:00 X ACT NOW, 7.6 at 05:06 (Rui)"
    assert changed[1] == "T2 oxygen 2.9 mg/L 01:54 X ACT NOW, 6.1 at 02:00 (Rui)"
    assert changed[2].startswith("T1: L1 counted")


def test_a_watch_is_told_where_it_lasted_and_after_every_act(days: Days) -> None:
    days.read("T1", -6, "watch", oxygen="4.8")
    days.read("T1", -5.5, "watch", oxygen="4.6")
    days.read("T1", -5, oxygen="6.0")
    days.read("T2", -6, "watch", oxygen="4.8")
    days.read("T2", -5.5, oxygen="6.0")
    days.read("T2", -5, "act", oxygen="3.8")
    days.read("T2", -4, oxygen="6.0")
    assert of(days).changed[:2] == (
        "T2 oxygen 3.8 mg/L 03:00 X ACT NOW, 6.0 at 04:00 (Ana)",
        "T1 oxygen 4.6 mg/L 02:30 ! WATCH, 6.0 at 03:00 (Ana)",
    )


def test_what_was_shown_as_act_is_told_though_it_is_none_by_the_limits_of_now(days: Days) -> None:
    days.read("T1", -6, "act", oxygen="6.4")
    days.read("T1", -5, oxygen="6.5")
    assert of(days).changed == ("T1 oxygen 6.4 mg/L 02:00 X ACT NOW, 6.5 at 03:00 (Ana)",)


def test_an_act_that_still_stands_is_told_once_with_what_it_was_before(days: Days) -> None:
    days.read("T2", -0.5, "act", oxygen="3.9")
    assert [line for line in of(days).changed if "oxygen" in line.lower()] == [
        "T2 Oxygen from 6.8 to 3.9 mg/L X ACT NOW (Ana, 07:30)"
    ]
    since = Days()
    since.stock("T1")
    since.read("T1", -13, "act", oxygen="3.0")
    since.write(e.Handoff, -12, covers="", text="act", to="rui")
    since.read("T1", -11, "act", oxygen="2.8")
    since.read("T1", -10, "act", oxygen="3.5")
    assert of(since).changed == (
        "T1 oxygen 2.8 mg/L yesterday 21:00 X ACT NOW, 3.5 at yesterday 22:00 X ACT NOW (Ana)",
    )


def test_a_correction_taken_back_tells_what_it_was_just_before(days: Days) -> None:
    wrong = days.write(e.Reading, -2, place="T1", measure="alkalinity", value="212", unit="mg/L")
    first = days.write(e.Correction, -1.5, of=wrong.id, set={"value": "221"})
    days.write(e.Correction, -1, of=wrong.id, set={"value": "212"}, after=[first.id])
    said = [line for line in of(days).changed if "corrected" in line]
    assert [line.partition(": ")[2].partition(" (")[0] for line in said] == [
        "value 212 to 221", "value 221 to 212",
    ]  # fmt: skip


def test_a_correction_that_changed_nothing_is_not_told(days: Days) -> None:
    wrong = days.write(e.Reading, -2, place="T1", measure="alkalinity", value="212", unit="mg/L")
    days.write(e.Correction, -1.5, of=wrong.id, set={"value": "212", "unit": "mg/L"}, why="same")
    assert not any("corrected" in line for line in of(days).changed)


def test_a_verdict_that_turned_on_the_same_value_is_not_told_as_a_move(days: Days) -> None:
    from rounds.site.model import Limits

    day = Limits("salinity", 31, None, 20, None, hours=(time(6), time(19)))
    night = Limits("salinity", 25, None, 20, None)
    days.site = with_place(days.site, "T1", limits=(day, night))
    days.read("T1", -12.5, salinity="30")
    days.read("T1", -1, salinity="30")
    said = [line for line in of(days).changed if "alinity" in line]
    assert said == ["T1 Salinity 30 g/kg, now ! WATCH (Ana, 07:00)"]
