"""Feed withheld by a decision with a name: it stops feeding, ends, and a broken fast is told."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from ration_farm import fed_on, good
from small_farm import NOW, Days

from rounds.day.feeding import rations
from rounds.day.feeding.fasting import fast_of, fasts, feed_again, withhold
from rounds.day.slips import Unsure
from rounds.day.telling.board import board
from rounds.day.telling.handoff import matters
from rounds.day.verdict import of_place
from rounds.reason import lines
from rounds.reports.day import sheet
from rounds.reports.handoff import render


def fasting(until: str = "24 h", hours: float = -1.0, owner: str = "") -> Days:
    """A fast decided so many hours ago, by Rui."""
    days = good()
    days.by = "rui"
    decided = NOW + timedelta(hours=hours)
    days.write(withhold(days.farm, "T1", until, "before transport", decided, owner), hours)
    days.by = "ana"
    return days


def told(days: Days) -> str:
    return render(matters(days.site, days.farm, NOW, "ana"))


def test_a_fast_stops_feeding_by_name_until_its_end() -> None:
    days = fasting()
    ration = fed_on(days)
    assert ration.no_feed
    assert ration.next_meal_g == 0
    says = "feed withheld until Wed 11 Mar 07:00 by Rui: before transport"
    assert says in ration.held_back
    assert any(says in line for line in lines(ration.reasons))
    shown = board(days.site, days.farm, NOW)
    assert f"T1: {says}" in shown.fasts
    assert next(line for line in shown.lines if line.place == "T1").feed == "NO FEED"
    assert "T1: no feed: before transport" in told(days)
    assert f"T1: NO FEED, {says}" in told(days).replace("\n    ", " ")
    assert says in sheet(days.site, days.farm, NOW).replace("\n    ", " ")
    assert not any("feed again" in one for one in fed_on(days).cautions)


def test_what_else_stops_feeding_does_not_hide_the_decision() -> None:
    days = fasting()
    days.read("T1", -0.5, verdict="act", oxygen="3.0")
    held = fed_on(days).held_back
    assert held.startswith("feed withheld until Wed 11 Mar 07:00 by Rui: before transport; ")
    assert "3.0" in held or "Oxygen" in held


def test_who_decided_is_named_where_another_writes_it_down() -> None:
    assert "by Ana" in fed_on(fasting(owner="ana")).held_back


def test_feeding_in_a_fast_takes_a_second_step_and_a_reason() -> None:
    ration = fed_on(fasting())
    with pytest.raises(Unsure, match="NO FEED"):
        rations.fed(ration, 1, Decimal(100), "hungry")
    draft = rations.fed(ration, 1, Decimal(100), "hungry", confirmed=True)
    assert (draft.amount, draft.why) == ("100", "hungry")


def test_a_broken_fast_is_told_at_once_with_its_evidence() -> None:
    days = fasting(hours=-5)
    assert not any(j.measure == "fast" for j in of_place(
        days.site, days.farm, days.site.places["T1"], NOW).judgements)  # fmt: skip
    days.feed("120", -0.5, why="did not know")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    (found,) = [j for j in stands.judgements if j.measure == "fast"]
    assert stands.verdict == "watch"
    assert found.says == "Fast broken: 120 g fed today 07:30 by Ana: did not know"
    # any feed starts the fast anew: 24 h from 07:30
    assert "Call Rui" in found.do
    assert "ends Wed 11 Mar 07:30" in found.do
    assert any("Fast broken: 120 g" in line.says for line in board(days.site, days.farm, NOW).worst)
    assert "Fast broken: 120 g" in told(days)


def test_what_was_fed_before_a_fast_and_a_meal_withheld_break_nothing() -> None:
    days = fasting(hours=-2)
    days.feed("120", -3)
    days.feed("0", -1, why="fast")
    days.feed("120", -1, place="T2")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert not any(j.measure == "fast" for j in stands.judgements)


def test_a_fast_that_is_over_is_told_until_fish_are_fed_again() -> None:
    days = fasting("12 h", hours=-14)
    ration = fed_on(days)
    assert not ration.no_feed
    assert any("Fast over, feed again" in line for line in ration.cautions)
    assert "fast over, feed again" in told(days)
    days.feed("50", -1)
    assert fasts(days.farm, NOW) == ()
    assert "no feed: before transport" not in told(days)
    assert not any(m.about for m in board(days.site, days.farm, NOW).matters)
    assert not any("Fast over" in line for line in fed_on(days).cautions)


def test_a_fast_ends_early_by_a_word_with_its_reason() -> None:
    days = fasting()
    with pytest.raises(ValueError, match="why"):
        feed_again(days.farm, "T1", " ", NOW)
    days.write(feed_again(days.farm, "T1", "the lorry did not come", NOW), -0.2)
    assert not fed_on(days).no_feed
    assert "the lorry did not come" in told(days)
    with pytest.raises(ValueError, match="No feed is withheld"):
        feed_again(days.farm, "T1", "again", NOW)


@pytest.mark.parametrize(
    ("said", "until"),
    [
        ("24 h", "2026-03-11 08:00"), ("36h", "2026-03-11 20:00"), ("18:00", "2026-03-10 18:00"),
        ("6:30", "2026-03-11 06:30"), ("2026-03-12 07:15", "2026-03-12 07:15"),
    ],
)  # fmt: skip
def test_until_is_said_in_hours_by_the_clock_or_by_the_day(said: str, until: str) -> None:
    assert withhold(good().farm, "T1", said, "harvest", NOW).until == until


@pytest.mark.parametrize("said", ["", "soon", "0 h", "400 h", "2026-03-09 08:00", "25:00"])
def test_an_end_that_is_none_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match=r"not a time|not within"):
        withhold(good().farm, "T1", said, "harvest", NOW)


def test_a_second_fast_is_not_laid_over_the_first_and_needs_a_reason() -> None:
    with pytest.raises(ValueError, match="Feed again first"):
        withhold(fasting().farm, "T1", "48 h", "harvest", NOW)
    with pytest.raises(ValueError, match="Say why"):
        withhold(good().farm, "T1", "24 h", "", NOW)


def test_an_end_that_cannot_be_read_stands_until_it_is_settled() -> None:
    days = good()
    draft = withhold(days.farm, "T1", "24 h", "harvest", NOW)
    days.write(type(draft)(place="T1", text="harvest", about="no feed", until="lunch"), -40)
    fast = fast_of(days.farm, "T1", NOW)
    assert fast is not None
    assert fast.until is None
    assert "until it is settled" in fed_on(days).held_back


def test_a_meal_withheld_is_told_as_withheld() -> None:
    days = good()
    days.write(rations.fed(fed_on(days), 1, Decimal(0), "oxygen probe is being changed"), -0.2)
    assert "T1 meal 1 withheld" in told(days)
    assert "oxygen probe is being changed" in told(days).replace("\n    ", " ")
