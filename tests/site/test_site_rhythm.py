"""When rounds are due and their windows open, across the sun and the changes of the clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from rounds.site.loading import load
from rounds.site.rhythm import due_on, window
from rounds.site.shipped import shipped
from rounds.site.sun import sun

SITE = load(shipped("sample_site"))
MONDAY = date(2026, 3, 2)


def due_days(due: str, start: date = MONDAY, days: int = 7) -> list[int]:
    return [n for n in range(days) if due_on(due, start + timedelta(days=n))]


@pytest.mark.parametrize(
    ("due", "days"),
    [
        ("daily", [0, 1, 2, 3, 4, 5, 6]),
        ("weekly Mon", [0]),
        ("weekly Sun", [6]),
        ("Mon Wed Fri", [0, 2, 4]),
        ("Sat", [5]),
        ("after event", []),
        ("after fill", []),
    ],
)
def test_days_of_the_week(due, days):
    assert due_days(due) == days


def test_every_n_days_is_evenly_spaced_across_years():
    found = due_days("every 3 days", date(2027, 12, 20), 30)
    assert len(found) == 10
    assert {b - a for a, b in pairwise(found)} == {3}


def test_monthly_comes_once_each_month_and_on_the_last_day_where_it_is_short():
    year = [date(2027, 1, 1) + timedelta(days=n) for n in range(365)]
    found = [day for day in year if due_on("monthly 31", day)]
    assert len(found) == 12
    assert date(2027, 2, 28) in found
    assert [day.day for day in year if due_on("monthly 1", day)] == [1] * 12


@pytest.mark.parametrize(
    "due", ["", "sometimes", "weekly", "weekly mon", "every 0 days", "every x days", "monthly 32"]
)
def test_other_rhythms_are_refused(due):
    with pytest.raises(ValueError, match="must be"):
        due_on(due, MONDAY)


def local(moment: datetime, site=SITE) -> str:
    return moment.astimezone(site.timezone).strftime("%d %H:%M %z")


def test_wall_times_keep_their_hour_when_the_clocks_change():
    for day in (date(2026, 3, 28), date(2026, 3, 29), date(2026, 10, 25)):
        start, end = window("05:30-09:00", day, SITE)
        assert local(start)[3:8] == "05:30"
        assert local(end)[3:8] == "09:00"


def test_the_length_of_a_window_is_in_real_hours():
    def hours(day: date) -> float:
        start, end = window("00:30-05:30", day, SITE)
        return (end - start) / timedelta(hours=1)

    assert hours(date(2026, 3, 28)) == 5
    assert hours(date(2026, 3, 29)) == 4  # 01:00 becomes 02:00
    assert hours(date(2026, 10, 25)) == 6  # 02:00 becomes 01:00


def test_a_skipped_wall_time_is_the_moment_the_clocks_change():
    change = datetime(2026, 3, 29, 1, 0, tzinfo=UTC)  # 01:00 becomes 02:00
    assert window("01:30-02:30", date(2026, 3, 29), SITE) == (
        change,
        change + timedelta(minutes=30),
    )
    assert window("00:45-01:30", date(2026, 3, 29), SITE)[1] == change


def test_a_window_over_midnight_ends_on_the_next_day():
    start, end = window("22:00-02:00", date(2026, 6, 1), SITE)
    assert (local(start), local(end)) == ("01 22:00 +0100", "02 02:00 +0100")


def test_sunrise_windows_follow_the_sun():
    day = date(2026, 6, 21)
    rise, down = sun(day, SITE.latitude, SITE.longitude)
    start, end = window("sunrise-0:30 to sunset+1:30", day, SITE)
    assert abs(start - (rise - timedelta(minutes=30))) < timedelta(seconds=1)
    assert abs(end - (down + timedelta(minutes=90))) < timedelta(seconds=1)
    mixed = window("05:30 to sunrise+1:00", day, SITE)
    assert local(mixed[0])[3:8] == "05:30"


def test_where_the_sun_stays_up_sunrise_is_six():
    north = replace(SITE, latitude=75.0, timezone=ZoneInfo("UTC"))
    start, end = window("sunrise-0:30 to sunset", date(2026, 6, 21), north)
    assert (local(start, north)[3:8], local(end, north)[3:8]) == ("05:30", "18:00")


def test_far_east_and_west_the_window_lies_on_its_own_day():
    for name, longitude in (("Pacific/Auckland", 174.8), ("Pacific/Honolulu", -157.9)):
        site = replace(SITE, timezone=ZoneInfo(name), longitude=longitude, latitude=0.0)
        start, _ = window("sunrise to sunset", date(2026, 9, 23), site)
        assert start.astimezone(site.timezone).date() == date(2026, 9, 23)


@pytest.mark.parametrize("text", ["", "05:30", "5:3-9:00", "sunrise", "noon to sunset", "a-b-c"])
def test_other_windows_are_refused(text):
    with pytest.raises(ValueError, match="must be"):
        window(text, MONDAY, SITE)


# Longitude 0, latitude 60 N: US Naval Observatory, rise and set of the sun for one year, 2019.
# Cities: Finnish Meteorological Institute, 22 December 2015, local clock time (as tabulated in
# the article on the December solstice); city centres to a tenth of a degree.
ALMANAC = [
    (date(2019, 12, 9), 60.0, 0.0, "08:49", "14:55", 0),
    (date(2019, 12, 21), 60.0, 0.0, "09:02", "14:54", 0),
    (date(2019, 12, 31), 60.0, 0.0, "09:03", "15:03", 0),
    (date(2015, 12, 22), 51.51, -0.13, "08:04", "15:53", 0),  # London
    (date(2015, 12, 22), 38.72, -9.14, "07:51", "17:18", 0),  # Lisbon
    (date(2015, 12, 22), 40.42, -3.70, "08:34", "17:51", 1),  # Madrid
    (date(2015, 12, 22), 41.90, 12.50, "07:34", "16:42", 1),  # Rome
    (date(2015, 12, 22), 30.04, 31.24, "06:47", "16:59", 2),  # Cairo
    (date(2015, 12, 22), 14.69, -17.45, "07:30", "18:46", 0),  # Dakar
]


@pytest.mark.parametrize(("day", "latitude", "longitude", "rise", "down", "zone"), ALMANAC)
def test_almanac(day, latitude, longitude, rise, down, zone):
    for found, clock in zip(sun(day, latitude, longitude), (rise, down), strict=True):
        hour, minute = map(int, clock.split(":"))
        expected = datetime(day.year, day.month, day.day, hour, minute, tzinfo=UTC)
        assert abs(found - (expected - timedelta(hours=zone))) <= timedelta(minutes=2)


def test_laws_of_the_sun():
    day = date(2026, 3, 20)
    for latitude in (-50.0, 0.0, 50.0):
        rise, down = sun(day, latitude, 0.0)
        assert abs((down - rise) - timedelta(hours=12, minutes=10)) < timedelta(minutes=8)
    east, west = sun(day, 40.0, 15.0), sun(day, 40.0, 0.0)
    assert abs((west.rise - east.rise) - timedelta(hours=1)) < timedelta(minutes=1)
    north = sun(date(2026, 6, 21), 45.0, 0.0)
    south = sun(date(2026, 12, 21), -45.0, 0.0)
    assert abs((north.set - north.rise) - (south.set - south.rise)) < timedelta(minutes=2)


def test_positions_outside_the_globe():
    with pytest.raises(ValueError, match="latitude 91"):
        sun(MONDAY, 91, 0)
    with pytest.raises(ValueError, match="longitude -181"):
        sun(MONDAY, 0, -181)
