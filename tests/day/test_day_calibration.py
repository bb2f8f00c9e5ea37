"""Checks of meters: how one is answered, what it makes doubtful, when the next is due."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import msgspec
import pytest
from laptops import MONDAY, Laptop, sample
from msgspec.structs import replace
from small_farm import NOW, Days

from rounds.day.fold.farm import fold
from rounds.day.meters.doubts import doubts_of_meters
from rounds.day.readings.calibration import doubtful, next_due
from rounds.day.readings.derived import derived
from rounds.day.telling.handoff import matters
from rounds.day.verdict import of_place
from rounds.day.walking import walk
from rounds.reason import lines
from rounds.records import entry as e
from rounds.records.decoding import Unreadable, decode, encode
from rounds.reports.handoff import render


def check(days: Days, result: str, hours: float, measure: str = "ph", **keys: str) -> None:
    given = {"slope": "98" if result == "good" else "85", "step": "ph_slope", "due": "2030-01-01"}
    days.write(
        e.Calibrated, hours, measure=measure, result=result, place="HOUSE", points=["7", "10"],
        **{**given, **keys},
    )  # fmt: skip


def told(days: Days, kind: str, hours: float = 0) -> list[str]:
    now = NOW + timedelta(hours=hours)
    return [d.says for d in doubts_of_meters(days.site, days.farm, now) if d.kind == kind]


def marks(days: Days, measure: str = "ph") -> list[bool]:
    farm = days.farm
    return [doubtful(farm, read) is not None for read in farm.reads("G1", measure)]


# -- the answer --------------------------------------------------------------------------------


def test_a_check_is_answered_like_any_step_and_kept_with_its_next_date() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin("meters"), "HOUSE", "ph_slope")
    state, outcome = laptop.type(state, "97,5")
    (found,) = laptop.farm.calibrations("ph")
    assert outcome.verdict == "ok"
    assert (found.slope_percent, found.good, found.step) == (97.5, True, "ph_slope")
    assert found.points == ("7", "10")
    assert found.due == (MONDAY.date() + timedelta(days=7)).isoformat()
    item = next(item for item in state.items if item.step.code == "ph_slope")
    assert (item.status, item.shown) == ("kept", "97.5 %, good")
    assert not laptop.farm.reads("HOUSE", "ph")


def test_a_poor_check_is_asked_twice_and_says_what_to_do() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin("meters"), "HOUSE", "ph_slope")
    _, outcome = laptop.type(state, "88", confirmed=False)
    assert outcome.kind == "confirm"
    assert "good is 92 to 102" in outcome.says
    assert "electrode" in outcome.do
    _, outcome = laptop.type(state, "88")
    assert not laptop.farm.calibrations("ph")[0].good


def test_a_check_corrected_is_judged_anew_and_the_first_stays() -> None:
    laptop = Laptop()
    state = laptop.go(laptop.begin("meters"), "HOUSE", "thermometer")
    state, _ = laptop.type(state, "0.4")
    laptop.wait(minutes=2)
    state, outcome = laptop.type(laptop.go(state, "HOUSE", "thermometer"), "-0.1", why="misread")
    (found,) = laptop.farm.calibrations("temperature")
    assert (found.offset, found.good) == (-0.1, True)
    assert isinstance(outcome.entry, e.Correction)
    first = next(x for x in laptop.farm.entries.values() if isinstance(x, e.Calibrated))
    assert (first.offset, first.result) == ("0.4", "poor")


@pytest.mark.parametrize(
    ("step", "typed", "says"),
    [
        ("ph_slope", "0", "100 % where the meter is right"),
        ("ph_slope", "980", "100 % where the meter is right"),
        ("thermometer", "0.3 degF", "degF does not belong here: type it in degC"),
        ("oxygen_air", "8.2 mg/L", "mg/L does not belong here"),
    ],
)
def test_what_is_no_check_is_refused(step: str, typed: str, says: str) -> None:
    laptop = Laptop()
    outcome = walk.answer(
        laptop.go(laptop.begin("meters"), "HOUSE", step), typed, laptop.now, confirmed=True
    )
    assert outcome.kind == "refuse"
    assert says in outcome.says


def test_the_last_check_stands_beside_the_field() -> None:
    laptop = Laptop()
    laptop.type(laptop.go(laptop.begin("meters"), "HOUSE", "oxygen_air"), "101")
    laptop.wait(days=7)
    state = laptop.go(laptop.begin("meters"), "HOUSE", "oxygen_air")
    assert walk.look(state, "100", laptop.now).last.startswith("last read 101 % of what it should")


@pytest.mark.parametrize(
    ("rhythm", "due"),
    [
        ("weekly Mon", date(2026, 3, 9)), ("daily", date(2026, 3, 3)),
        ("monthly 1", date(2026, 4, 1)), ("after event", None),
    ],
)  # fmt: skip
def test_the_next_date_follows_the_rhythm(rhythm: str, due: date | None) -> None:
    assert next_due(rhythm, date(2026, 3, 2)) == due


# -- the entry ---------------------------------------------------------------------------------


def test_the_entry_goes_through_its_line_and_a_slope_is_a_number() -> None:
    days = Days(sample())
    check(days, "good", 0)
    entry = msgspec.structs.replace(days.entries[-1], id="k7q2md-000001-1")
    assert decode(encode(entry), "") == entry
    with pytest.raises(Unreadable, match="slope is no number"):
        decode(encode(msgspec.structs.replace(entry, slope="much")), "")


def test_one_check_more_is_the_fold_of_all() -> None:
    days = Days(sample())
    days.read("G1", -30, ph="7.60")
    for hours, result in ((-40, "good"), (-20, "poor"), (-10, "good")):
        check(days, result, hours)
    shuffled = [*days.entries]
    Random(4).shuffle(shuffled)
    farm = fold(days.site, ())
    for entry in shuffled:
        farm = farm.add(entry)
    assert farm == fold(days.site, days.entries)


# -- doubtful readings -------------------------------------------------------------------------


def readings() -> Days:
    days = Days(sample())
    for hours in (-90, -70, -50, -30, -10):
        days.read("G1", hours, ph="7.60", temperature="24.0", salinity="32", alkalinity="100")
    return days


def test_readings_since_the_last_good_check_are_doubtful_until_the_next_good_one() -> None:
    days = readings()
    check(days, "good", -80)
    check(days, "poor", -40)
    assert marks(days) == [False, True, True, True, True]
    check(days, "good", -20)
    assert marks(days) == [False, True, True, True, False]
    assert marks(days, "temperature") == [False] * 5
    assert [read.typed for read in days.farm.reads("G1", "ph")] == ["7.60"] * 5


def test_without_a_poor_check_nothing_is_doubtful() -> None:
    days = readings()
    assert marks(days) == [False] * 5
    check(days, "good", -40)
    assert marks(days) == [False] * 5


def test_without_a_good_check_all_before_the_poor_one_is_doubtful() -> None:
    days = readings()
    check(days, "poor", -40)
    assert marks(days) == [True] * 5


def test_another_way_of_checking_stands_for_itself() -> None:
    days = readings()
    check(days, "poor", -40)
    check(days, "good", -35, step="ph_second", slope="", offset="0.02")
    assert marks(days) == [True] * 5


def test_the_why_and_the_hand_off_tell_it_and_figures_worked_out_too() -> None:
    days = readings()
    check(days, "good", -80)
    check(days, "poor", -4)
    place = days.site.places["G1"]
    stands = of_place(days.site, days.farm, place, NOW)
    (ph,) = (j for j in stands.judgements if j.measure == "ph")
    assert any(line.startswith("Doubtful: the meter of pH read 85 %") for line in lines(ph.reasons))
    co2 = next(d for d in derived(days.site, days.farm, place, NOW) if d.measure == "co2")
    assert any(line.startswith("Doubtful") for line in lines(co2.reasons))
    document = matters(days.site, days.farm, NOW, "ana")
    assert any(line.startswith("4 readings of pH since") for line in document.meters)
    assert "METERS AND WATER" in render(document)


# -- poor, drifting, overdue -------------------------------------------------------------------


def test_a_poor_check_stays_told_until_a_good_one() -> None:
    days = readings()
    check(days, "good", -80)
    assert told(days, "check") == []
    check(days, "poor", -4)
    (says,) = told(days, "check")
    assert "read 85 % of what it should" in says
    assert "readings since then are doubtful" in says
    assert told(days, "check", hours=-5) == []
    check(days, "good", -1)
    assert told(days, "check") == []


@pytest.mark.parametrize(
    ("slopes", "drifts"),
    [
        (("99", "96", "93"), True), (("99", "98", "97"), False), (("99", "93", "96"), False),
        (("96", "93"), False),
    ],
)  # fmt: skip
def test_three_checks_that_run_to_the_edge_are_a_drift(
    slopes: tuple[str, ...], drifts: bool
) -> None:
    days = readings()
    for n, slope in enumerate(slopes):
        check(days, "good", -60 + n * 10, slope=slope)
    assert bool(told(days, "drift")) is drifts


def test_a_check_past_its_date_is_told_once_for_all_meters_of_a_round() -> None:
    days = Days(sample())  # NOW is a Tuesday: the Monday's round was not walked
    days.read("G1", -72, ph="7.60", temperature="24.0")
    (says,) = told(days, "due")
    assert says == (
        "Check the meters of pH and temperature: due since Mon 9 Mar, the round Meters."
    )
    assert told(days, "due", hours=-12) == []  # still Monday


def test_a_book_begun_after_the_day_or_a_check_in_time_is_not_overdue() -> None:
    days = Days(sample())
    days.read("G1", -2, ph="7.60")
    assert told(days, "due") == []
    days.read("G1", -72, ph="7.60")
    check(days, "good", -24, due="2026-03-16")
    check(days, "good", -24, step="ph_second", slope="", offset="0", due="2026-03-16")
    assert told(days, "due") == []
    assert len(told(days, "due", hours=24 * 7)) == 1


def test_a_site_without_such_steps_is_never_told_of_dates() -> None:
    days = Days(replace(sample(), checklists={}))
    days.read("G1", -500, ph="7.60")
    assert told(days, "due") == []
