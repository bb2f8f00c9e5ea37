"""The day, not the minute: mats and ponds swing with the sun, so like hour meets like hour."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from laptops import MONDAY, Laptop
from msgspec.structs import replace
from small_farm import NOW, Days, make_site

from rounds.day.loops import doses
from rounds.day.readings.like_hour import like_hour, under_the_sun, usual
from rounds.day.walking.plausible import doubts
from rounds.site.model import Site


def told(laptop: Laptop, measure: str, typed: str, unit: str, place: str = "G1") -> list[str]:
    at = laptop.site.places[place]
    found = doubts(laptop.site, laptop.farm, at, measure, Decimal(typed), unit, laptop.now)
    return [doubt.says for doubt in found]


def swinging(place: str, *values: tuple[float, str]) -> Laptop:
    """Return a laptop with pH read in a place so many hours ago; it is 16:00."""
    laptop = Laptop(now=MONDAY.replace(hour=16))
    now = laptop.now
    for hours, value in values:
        laptop.now = now - timedelta(hours=hours)
        laptop.read(place, "ph", value, "pH")
    laptop.now = now
    return laptop


# -- jumps -----------------------------------------------------------------------------------------


def test_the_days_swing_near_mats_is_no_jump_where_the_same_hour_knows_it() -> None:
    assert told(swinging("G1", (24, "8.22"), (9, "7.80")), "ph", "8.20", "pH") == []
    (says,) = told(swinging("G1", (9, "7.80")), "ph", "8.20", "pH")
    assert says == "last 7.8, now 8.20: a jump; read again"


def test_a_change_against_the_same_hour_is_a_jump_though_the_last_reading_is_near() -> None:
    (says,) = told(swinging("G1", (24, "8.22"), (9, "7.80")), "ph", "7.85", "pH")
    assert says == "8.22 at this hour (yesterday 16:00), now 7.85: a jump; read again"


def test_another_hour_of_yesterday_is_not_compared() -> None:
    assert told(swinging("G1", (29, "8.22"), (9, "7.80")), "ph", "7.85", "pH") == []


def test_away_from_the_sun_the_last_reading_counts() -> None:
    laptop = swinging("G3", (24, "8.22"), (9, "7.80"))
    places = {code: p for code, p in laptop.site.places.items() if p.kind != "tray"}
    laptop.site = replace(laptop.site, places=places)
    assert told(laptop, "ph", "8.20", "pH", place="G3")[0].startswith("last 7.8, now 8.20")


def test_a_sudden_change_of_temperature_is_a_jump_unless_the_hour_knows_it() -> None:
    laptop = swinging("P1", (0.5, "8.00"))
    now = laptop.now
    for hours, value in ((24, "21.0"), (0.5, "18.0")):
        laptop.now = now - timedelta(hours=hours)
        laptop.read("P1", "temperature", value, "degC")
    laptop.now = now
    assert told(laptop, "temperature", "20.9", "degC", place="P1") == []
    assert "a jump" in told(laptop, "temperature", "25.0", "degC", place="P1")[0]


# -- what is alike ---------------------------------------------------------------------------------


def test_like_hours_are_of_earlier_days_within_two_hours() -> None:
    laptop = swinging(
        "G1", (168, "7.1"), (98, "7.2"), (49, "7.3"), (26.5, "7.4"), (23, "7.5"), (2, "7.6")
    )
    found = like_hour(laptop.farm, "G1", "ph", laptop.now)
    assert [read.typed for read in found] == ["7.1", "7.2", "7.3", "7.5"]
    assert usual(laptop.farm, "G1", "ph", laptop.now) == pytest.approx(7.25)
    assert usual(laptop.farm, "G1", "ph", laptop.now, days=2) is None


def test_like_hours_go_by_the_sites_clock_across_its_change() -> None:
    """In Lisbon 07:00 is 07:00 UTC on 28 March 2026 and 06:00 UTC a day later."""
    laptop = Laptop(now=datetime(2026, 3, 28, 9, 0, tzinfo=ZoneInfo("Europe/Lisbon")))
    laptop.read("G1", "ph", "7.60", "pH")
    laptop.now = datetime(2026, 3, 29, 11, 0, tzinfo=ZoneInfo("Europe/Lisbon"))
    assert len(like_hour(laptop.farm, "G1", "ph", laptop.now)) == 1
    laptop.now = datetime(2026, 3, 29, 11, 30, tzinfo=ZoneInfo("Europe/Lisbon"))
    assert like_hour(laptop.farm, "G1", "ph", laptop.now) == ()


def test_mats_in_the_loop_and_the_pond_are_under_the_sun() -> None:
    site = make_site()
    assert under_the_sun(site, site.places["T1"])
    assert under_the_sun(site, site.places["P1"])
    assert not under_the_sun(site, site.places["HOUSE"])


# -- never a stronger base -------------------------------------------------------------------------


def products(hours: float, ph: str, site: Site | None = None) -> tuple[list[str], str]:
    """Return what is offered for low alkalinity in the order offered, and all cautions."""
    site = site or make_site()
    loops = {"A": replace(site.loops["A"], alkali="ASH")}
    days = Days(replace(site, loops=loops))
    days.read("T1", hours, alkalinity=60, ph=ph, temperature=24, salinity=30, tan="0.1")
    now = NOW + timedelta(hours=hours + 0.5)
    (sheet,) = doses.today(days.site, days.farm, now)
    lines = [line.product or "" for line in sheet.lines if line.kind == "alkalinity"]
    return lines, " ".join(sheet.cautions)


def test_a_ph_lifted_by_the_afternoon_gets_bicarbonate_alone() -> None:
    lines, cautions = products(7, "8.05")  # 15:00
    assert lines == ["BIC"]
    assert "pH 8.05 in T1 was read at 15:00" in cautions
    assert "read pH at first light" in cautions


@pytest.mark.parametrize(("hours", "ph"), [(-1, "8.05"), (7, "7.60")])
def test_a_ph_of_the_morning_or_a_low_one_leaves_the_choice(hours: float, ph: str) -> None:
    lines, cautions = products(hours, ph)
    assert lines[0] == "ASH"
    assert "bicarbonate only" not in cautions


def test_without_mats_the_hour_does_not_matter() -> None:
    site = make_site()
    dark = replace(site, places={c: p for c, p in site.places.items() if p.kind != "tray"})
    assert products(7, "8.05", dark)[0][0] == "ASH"
