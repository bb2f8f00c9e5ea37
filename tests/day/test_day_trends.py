"""A trend: what was seen, who saw it, where the limits lie and when, what happened beside it."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site, with_place

from rounds.day.telling.trend_limits import edges
from rounds.day.telling.trends import Seen, Trend, measures_of, thinned, trend
from rounds.records import entry as e
from rounds.site.model import Limits


def week(days: Days, *places: str, measure: str = "oxygen", back: int = 7) -> Trend:
    return trend(days.site, days.farm, places or ("T1",), measure, NOW - timedelta(days=back), NOW)


def test_a_limit_crossed_is_seen_with_its_hour_and_its_weight():
    days = Days()
    for hours, value in ((-50, "6.0"), (-40, "4.8"), (-30, "3.9"), (-20, "6.1")):
        days.read("T1", hours, oxygen=value)
    (curve,) = week(days).curves
    assert [one.verdict for one in curve.points] == ["ok", "watch", "act", "ok"]
    assert [one.at for one in curve.out] == [NOW - timedelta(hours=h) for h in (40, 30)]
    assert (curve.lowest.value, curve.highest.value, curve.last.value) == (3.9, 6.1, 6.1)


def test_each_laptop_and_person_is_told_apart():
    days = Days()
    days.read("T1", -3, oxygen="6.0")
    days.writer, days.by = "bbbbbb", "rui"
    days.read("T1", -2, oxygen="6.1")
    found = week(days).curves[0].points
    assert [(one.laptop, one.by) for one in found] == [("aaaaaa", "ana"), ("bbbbbb", "rui")]


def test_a_reading_taken_back_is_not_drawn():
    days = Days()
    wrong = days.write(e.Reading, -5, place="T1", measure="oxygen", value="1", unit="mg/L")
    days.read("T1", -4, oxygen="6.0")
    days.write(e.Correction, -3, of=wrong.id, void=True, why="typed wrong")
    assert [one.value for one in week(days).curves[0].points] == [6.0]


def test_nothing_in_the_span_tells_what_was_before_it():
    days = Days()
    days.read("T1", -24 * 9, oxygen="5.7")
    (curve,) = week(days).curves
    assert (curve.points, curve.last, curve.lowest) == ((), None, None)
    assert curve.before.value == 5.7


def test_worked_out_figures_are_those_of_readings_that_count_together():
    days = Days()
    days.read("T1", -49, tan="0.4", ph="7.6", temperature="24", salinity="30")
    days.read("T1", -25, ph="8.0", temperature="24", salinity="30")
    (curve,) = week(days, measure="ammonia").curves
    first, second = (one.value for one in curve.points)
    assert second > 2 * first  # 0.4 pH more: about ten to the 0.4 times
    (share,) = week(days, measure="oxygen_percent").curves
    assert share.points == ()
    days.read("T1", -24.9, oxygen="6.0")
    (share,) = week(days, measure="oxygen_percent").curves
    assert [one.value for one in share.points] == [pytest.approx(84.6, abs=0.5)]


def test_a_test_of_the_loop_stands_for_a_tank_but_oxygen_never():
    days = Days()
    days.read("T1", -5, nitrite="0.4", oxygen="6")
    assert week(days, "T2", measure="nitrite").curves[0].points[0].where == "T1"
    assert week(days, "T2").curves[0].points == ()
    assert measures_of(days.farm, days.site.places["T2"]) == ("nitrite",)


def test_a_test_of_a_tank_that_was_isolated_is_of_other_water():
    days = Days()
    days.write(e.State, -30, place="T2", state="isolated")
    days.read("T2", -3, tan="2.0")
    days.read("M1", -5, tan="0.3")
    assert [one.value for one in week(days, measure="tan").curves[0].points] == [0.3]


def test_a_reading_between_a_good_and_a_poor_check_is_doubtful():
    days = Days()
    check = {"measure": "oxygen", "step": "o2", "instrument": "meter 1", "points": []}
    days.write(e.Calibrated, -100, result="good", slope="99", **check)
    days.read("T1", -80, oxygen="6.0")
    days.write(e.Calibrated, -50, result="poor", slope="80", **check)
    days.write(e.Calibrated, -49, result="good", slope="99", **check)
    days.read("T1", -40, oxygen="6.0")
    found = week(days)
    assert [bool(one.doubt) for one in found.curves[0].points] == [True, False]
    assert "checked" in found.curves[0].points[0].doubt
    assert [event.kind for event in found.events] == ["meter"] * 3


# -- limits ----------------------------------------------------------------------------------------


def test_limits_are_those_of_the_place_the_outer_ones_last():
    days = Days()
    found = edges(days.site, days.site.places["T1"], "ph", NOW - timedelta(days=1), NOW)
    assert [(one.word, one.side, one.value, one.spans) for one in found] == [
        ("watch", "below", 7.5, ()), ("watch", "above", 8.2, ()),
        ("act", "below", 7.0, ()), ("act", "above", 8.5, ()),
    ]  # fmt: skip


def test_limits_with_hours_hold_in_their_hours_on_a_day_that_has_23_of_them():
    zone = ZoneInfo("Europe/Lisbon")
    site = replace(with_place(make_site(), "P1", limits=(
        Limits("oxygen", target_low=6.0, hours=(time(9), time(19))),
        Limits("oxygen", target_low=4.0),
    )), timezone=zone)  # fmt: skip
    since, until = (datetime(2026, 3, day, tzinfo=zone).astimezone(UTC) for day in (29, 31))
    assert until - since == timedelta(hours=47)
    low, high = sorted(
        edges(site, site.places["P1"], "oxygen", since, until), key=lambda edge: edge.value
    )
    assert high.spans == (
        (datetime(2026, 3, 29, 8, tzinfo=UTC), datetime(2026, 3, 29, 18, tzinfo=UTC)),
        (datetime(2026, 3, 30, 8, tzinfo=UTC), datetime(2026, 3, 30, 18, tzinfo=UTC)),
    )
    assert (high.hours, low.hours) == ("09:00 to 19:00", "19:00 to 09:00")
    assert sum((b - a for a, b in low.spans), timedelta(0)) == timedelta(hours=27)


def test_places_with_other_limits_are_named():
    days = Days(with_place(make_site(), "T2", limits=(Limits("oxygen", target_low=7.0),)))
    for place in ("T1", "T2"):
        days.read(place, -2, oxygen="6.0")
    found = week(days, "T1", "T2")
    assert found.other_limits == ("T2",)
    assert [curve.last.verdict for curve in found.curves] == ["ok", "watch"]


# -- what happened ---------------------------------------------------------------------------------


def test_what_happened_to_a_place_and_to_its_water_is_on_the_axis():
    days = Days()
    days.stock(hours=-100)
    days.feed("120", -90)
    days.feed("99", -90, place="T2")
    days.write(e.Dosed, -80, loop="A", product="BIC", amount="500", unit="g", portion=1)
    days.write(
        e.Exchanged, -70, loop="A", volume_out="0", volume_in="0.2", unit="m^3", salinity_in="0"
    )
    days.write(e.Moved, -60, lot="L1", source="T1", target="T2", count=20)
    days.write(e.Died, -50, lot="L1", place="T1", count=0)
    days.write(e.Died, -40, lot="L1", place="T1", count=2, cause="jumped")
    days.write(e.Incident, -30, about="pump", event="began", loop="A", text="hums")
    days.write(e.Incident, -29, about="air", event="began", place="T2")
    days.write(e.Incident, -28, about="pump", event="ended", loop="A")
    told = [(event.kind, event.says) for event in week(days).events]
    assert told == [
        ("fish", "300 fish of L1 stocked"), ("fed", "fed 120 g P"),
        ("dosed", "loop A dosed 500 g BIC"),
        ("water", "loop A topped up with 0.2 m^3"), ("fish", "20 fish moved to T2"),
        ("dead", "2 dead, jumped"), ("fault", "pump fault began: hums"),
        ("fault", "pump fault ended"),
    ]  # fmt: skip
    assert [event.says for event in week(days, back=1).events] == []


def life(days: Days, place: str, measure: str = "oxygen") -> Trend:
    return trend(days.site, days.farm, (place,), measure, None, NOW)


def test_a_life_is_followed_through_the_tanks_the_fish_lived_in():
    days = Days(with_place(make_site(), "T2", limits=(Limits("oxygen", target_low=7.0),)))
    for hours in (-350, -250, -150, -50):  # before they came, there, there, and after the move
        days.read("T2", hours, oxygen=f"{-hours / 100:.1f}")
        days.read("T1", hours, oxygen="6.5")
    days.stock("T2", hours=-300)
    days.feed("10", -250, place="T2")
    days.feed("20", -250, place="T1")
    days.write(e.Moved, -100, lot="L1", source="T2", target="T1", count=300)
    days.feed("30", -50, place="T1")
    found = life(days, "T1")
    assert found.since == NOW - timedelta(hours=300)
    points = [(one.where, one.value, one.verdict) for one in found.curves[0].points]
    assert points == [("T2", 2.5, "watch"), ("T2", 1.5, "watch"), ("T1", 6.5, "ok")]
    assert [event.says for event in found.events if event.kind == "fed"] == [
        "fed 10 g P",
        "fed 30 g P",
    ]
    assert found.other_limits == ("T2",)


def test_a_place_without_fish_lives_since_its_first_reading():
    days = Days()
    days.read("T2", -500, oxygen="6")
    assert life(days, "T2").since == NOW - timedelta(hours=500)
    assert life(days, "M1").since == NOW - timedelta(days=1)


# -- where it goes ---------------------------------------------------------------------------------


def test_a_steady_fall_is_told_with_the_day_it_meets_the_limit():
    days = Days()
    for day in range(-10, 1):
        days.read("T1", 24 * day - 1, ph=f"{7.9 - 0.03 * (day + 10):.2f}")
    (curve,) = week(days, measure="ph", back=12).curves
    assert curve.pace == pytest.approx(-0.03)
    limit, at = curve.crosses
    assert limit == 7.5
    assert (at - NOW) / timedelta(days=1) == pytest.approx((7.6 - 7.5) / 0.03, abs=0.1)


@pytest.mark.parametrize("values", [(7.9, 7.7) * 6, (7.9,) * 12, (7.9, 7.6, 7.9)])
def test_what_goes_nowhere_has_no_pace(values):
    days = Days()
    for day, value in enumerate(reversed(values)):
        days.read("T1", -24 * day - 1, ph=str(value))
    (curve,) = week(days, measure="ph", back=14).curves
    assert (curve.pace, curve.crosses) == (None, None)


# -- many points -----------------------------------------------------------------------------------


def seen(n: int, value: float, doubt: str = "") -> Seen:
    return Seen(NOW + timedelta(minutes=n), value, "ana", "aaaaaa", "T1", "ok", doubt)


def test_of_thousands_of_points_the_extremes_the_ends_and_the_doubtful_stay():
    points = [seen(n, 6 + (n * 37 % 101) / 100) for n in range(9000)]
    points[4321], points[7001] = seen(4321, 1.2), seen(7001, 14.0)
    points[5000] = seen(5000, 6.5, "poor meter")
    kept = thinned(points, NOW, NOW + timedelta(minutes=9000), 60)
    assert len(kept) <= 60 * 5
    assert {points[n] for n in (0, 4321, 7001, 8999, 5000)} <= set(kept)
    assert list(kept) == sorted(kept, key=lambda one: one.at)
    for start in range(0, 9000, 150):  # in every column the lowest and the highest are there
        column = points[start : start + 150]
        drawn = [one.value for one in kept if column[0].at <= one.at <= column[-1].at]
        assert {min(drawn), max(drawn)} == {f(o.value for o in column) for f in (min, max)}


def test_few_points_all_stay():
    points = [seen(n, 6.0) for n in (0, 10, 500)]
    assert thinned(points, NOW, NOW + timedelta(days=1), 60) == tuple(points)
    assert thinned([], NOW, NOW + timedelta(days=1), 60) == ()


def test_an_unknown_measure_and_a_span_that_ends_before_it_begins_are_refused():
    days = Days()
    with pytest.raises(ValueError, match="measure moonlight is unknown"):
        week(days, measure="moonlight")
    with pytest.raises(ValueError, match="ends after it begins"):
        week(days, back=0)
