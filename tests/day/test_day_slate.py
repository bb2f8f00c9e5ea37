"""A round on paper: the blank sheet, and values judged and dated as of when they were read."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from msgspec.structs import replace
from small_farm import NOW, make_site

from rounds.day.fold.farm import Farm, fold
from rounds.day.walking import slate, walk
from rounds.records.entry import Reading, stamp
from rounds.site.model import Checklist, Site, Step

ROUND = Checklist(
    "dawn", "Dawn", ("tank",), "daily", "06:00-09:00",
    (
        Step("oxygen", "Dissolved oxygen", "number", 1, measure="oxygen", unit="mg/L"),
        Step("ph", "pH", "number", 2, measure="ph", unit="pH", visits=("T1",)),
        Step("look", "How are they?", "choice", 2, choices=("calm", "odd"), visits=("T1", "T2")),
    ),
)  # fmt: skip


@pytest.fixture
def site() -> Site:
    return make_site(checklists={"dawn": ROUND})


def reading(value: str, hours_ago: float, n: int) -> Reading:
    at = stamp(NOW - timedelta(hours=hours_ago))
    return Reading(
        id=f"aaaaaa-bbbbbb-{n}", t=at, day=at[:10], measure="oxygen", value=value, unit="mg/L",
        place="T1", by="ana",
    )  # fmt: skip


def test_the_blank_has_a_box_for_each_value_and_none_where_nothing_is_asked(site: Site) -> None:
    farm = fold(site, [reading("6.8", 12, 1), reading("5.1", 60, 2)])
    found = slate.blank(site, farm, "dawn", date(2026, 3, 10), NOW)
    first, second = found.parts
    assert [place.code for place, _ in first.rows] == ["L1", "T1", "T2"]
    assert [step.code for step in second.steps] == ["ph", "look"]
    boxes = {place.code: cells for place, cells in second.rows}
    assert boxes["T2"][0] is None
    assert boxes["T1"][0] == slate.Blank("", "7.5 to 8.2")
    assert dict(first.rows)[site.places["T1"]][0] == slate.Blank("6.8", "5 or more")


def test_an_old_last_value_says_its_day(site: Site) -> None:
    found = slate.blank(site, fold(site, [reading("6.8", 60, 1)]), "dawn", date(2026, 3, 10), NOW)
    (cell,) = dict(found.parts[0].rows)[site.places["T1"]]
    assert cell is not None
    assert cell.last == "6.8 7 Mar"


@pytest.mark.parametrize(("text", "hour"), [("07:10", 7), ("7.10", 7), ("0710", 7), ("0:05", 0)])
def test_a_time_is_read_as_it_is_written(site: Site, text: str, hour: int) -> None:
    at = slate.time_read(text, date(2026, 3, 10), NOW, site, site.checklists["dawn"])
    assert at.astimezone(site.timezone).hour == hour
    assert at.astimezone(site.timezone).date() == date(2026, 3, 10)


@pytest.mark.parametrize("text", ["", "25:00", "7", "soon", "07:60", "23:59"])
def test_no_time_and_one_to_come_are_refused(site: Site, text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a time|has not come yet"):
        slate.time_read(text, date(2026, 3, 10), NOW, site, site.checklists["dawn"])


def test_a_night_round_ends_after_midnight_and_a_time_far_from_its_window_is_asked_about(
    site: Site,
) -> None:
    day, night = date(2026, 3, 9), replace(site.checklists["dawn"], window="20:00-23:00")

    def read(text: str) -> tuple[datetime, str]:
        at = slate.time_read(text, day, NOW, site, night)
        return at.astimezone(site.timezone), slate.far_off(at, night, day, site)

    assert [read(text)[0].day for text in ("21:10", "00:40", "03:20")] == [9, 10, 9]
    assert [bool(read(text)[1]) for text in ("18:00", "01:59", "03:20")] == [False, False, True]
    assert "03:20 on 9 Mar 2026 is far from" in read("03:20")[1]
    fill = replace(night, due="after fill")
    assert not slate.far_off(read("03:20")[0], fill, day, site)


def test_a_value_is_judged_by_what_was_known_when_it_was_read(site: Site) -> None:
    """A reading made since is no last value, and the draft is dated, a correction is not."""
    before, since = reading("6.8", 2, 1), reading("3.1", 0.5, 2)
    farm = fold(site, [before, since])
    state, _ = walk.begin(site, farm, "dawn", date(2026, 3, 10), "ana", NOW)
    state, _ = walk.jump(state, "T1")
    read_at = NOW - timedelta(hours=1)
    outcome = walk.answer(state, "6.7", read_at)
    assert (outcome.kind, outcome.verdict) == ("keep", "ok")
    assert isinstance(outcome.entry, Reading)
    assert slate.dated(outcome.entry, read_at).read_at == stamp(read_at)
    assert walk.look(state, "", read_at).last.startswith("last 6.8")


def test_what_is_typed_in_does_not_become_the_latest(site: Site) -> None:
    farm = fold(site, [reading("6.8", 0.5, 1)])
    late = slate.dated(reading("4.0", 0.0, 2), NOW - timedelta(hours=3))
    grown: Farm = farm.add(late)
    latest = grown.latest("T1", "oxygen", NOW)
    assert latest is not None
    assert latest.typed == "6.8"
