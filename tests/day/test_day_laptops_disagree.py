"""Two laptops that correct one reading apart, and one whose clock is ahead: nothing is hidden."""

from __future__ import annotations

import pytest
from ration_farm import fed_on, good
from small_farm import NOW, Days

from rounds.day.telling.board import board
from rounds.day.verdict import of_place
from rounds.records import entry as e


def quarrel(*sides: tuple[str, str]) -> Days:
    days = good()
    [read] = [days.write(e.Reading, -0.5, place="T1", measure="oxygen", value="6.6", unit="mg/L")]
    for value, verdict in sides:
        days.write(
            e.Correction, -0.3, of=read.id, set={"value": value, "verdict": verdict}, why="misread",
        )  # fmt: skip
    return days


@pytest.mark.parametrize("sides", [
    (("2.9", "act"), ("6.8", "ok")), (("6.8", "ok"), ("2.9", "act")),
])  # fmt: skip
def test_the_worse_side_counts_until_the_quarrel_is_settled(sides: tuple) -> None:
    days = quarrel(*sides)
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.verdict == "act"
    assert fed_on(days).no_feed
    told = board(days.site, days.farm, NOW).meters[0]
    assert "T1 oxygen: " in told
    assert "says 2.9" in told
    assert "says 6.8" in told
    both = [one.id for one in days.entries if isinstance(one, e.Correction)]
    of = next(one.of for one in days.entries if isinstance(one, e.Correction))
    days.write(e.Correction, -0.1, of=of, after=both, set={"value": "6.8", "verdict": "ok"})
    assert not fed_on(days).no_feed
    assert not any("says 2.9" in one for one in board(days.site, days.farm, NOW).meters)


def test_two_good_sides_leave_what_both_had_seen() -> None:
    days = quarrel(("6.7", "ok"), ("6.8", "ok"))
    read = days.farm.latest("T1", "oxygen", NOW)
    assert read is not None
    assert read.typed == "6.6"


def test_a_reading_to_act_on_from_a_clock_ahead_is_told_now() -> None:
    days = good()
    days.read("T1", 5, verdict="act", oxygen="2.2")
    stands = of_place(days.site, days.farm, days.site.places["T1"], NOW)
    assert stands.verdict == "act"
    assert "2.2 mg/L" in stands.judgements[0].says
    assert "whose clock is ahead" in stands.judgements[0].says
    assert "by a clock that is ahead: read it again" in fed_on(days).held_back
    [bad] = [one.id for one in days.entries if getattr(one, "value", "") == "2.2"]
    days.write(e.Correction, -0.1, of=bad, void=True, why="read again")
    assert not fed_on(days).no_feed
