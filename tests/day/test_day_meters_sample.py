"""A whole invented farm with noisy meters: it stays quiet, and planted faults are found in time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import msgspec
import pytest

from rounds.day.fold.farm import Farm, fold
from rounds.day.loops.saltbalance import balances
from rounds.day.meters.doubts import MeterDoubt, doubts_of_meters
from rounds.records.book import Book
from rounds.records.entry import Entry, Exchanged, Reading
from rounds.site.loading import load
from rounds.site.model import Site

ENDING, DAYS = date(2026, 11, 23), 21
MOST_DOUBTS = 1
"""Of three quiet weeks, besides checks the invented people skipped."""


@pytest.fixture(scope="module")
def lived(made_once: Callable[[date, int], Path]) -> tuple[Site, list[Entry]]:
    folder = made_once(ENDING, DAYS)
    site = load(folder)
    with Book.open(folder, site.id, site.digest, tz=site.timezone, read_only=True) as book:
        return site, list(book.entries())


def moments(first: int = 0) -> list[datetime]:
    """Return four moments of each day, from the day so many before the last."""
    return [
        datetime.combine(ENDING - timedelta(days=n), time(hour), UTC)
        for n in range(first, -1, -1)
        for hour in (8, 11, 14, 21)
    ]


def found(site: Site, farm: Farm, first: int) -> list[tuple[datetime, MeterDoubt]]:
    return [
        (now, doubt)
        for now in moments(first)
        for doubt in doubts_of_meters(site, farm, now)
        if doubt.kind != "due"
    ]


def test_three_quiet_weeks_are_quiet(lived: tuple[Site, list[Entry]]) -> None:
    site, entries = lived
    farm = fold(site, entries)
    told = {
        (doubt.kind, doubt.measure, doubt.places, doubt.since)
        for _, doubt in found(site, farm, DAYS - 1)
    }
    assert len(told) <= MOST_DOUBTS
    assert [one.says for now in moments(DAYS - 1) for one in balances(site, farm, now)] == []


def changed(
    lived: tuple[Site, list[Entry]], since: datetime, change: Callable[[Reading, float], str]
) -> Farm:
    """Return the farm with readings changed from an instant on; `change` gets days since then."""
    site, entries = lived

    def one(entry: Entry) -> Entry:
        if isinstance(entry, Reading) and entry.at >= since:
            value = change(entry, (entry.at - since) / timedelta(days=1))
            return msgspec.structs.replace(entry, value=value)
        return entry

    return fold(site, [one(entry) for entry in entries])


def start(days: int, hour: int = 4) -> datetime:
    return datetime.combine(ENDING - timedelta(days=days), time(hour), UTC)


def first_told(site: Site, farm: Farm, days: int, kind: str, measure: str) -> float:
    """Return after how many days of a fault it is told."""
    at = next(
        now
        for now, doubt in found(site, farm, days)
        if (doubt.kind, doubt.measure) == (kind, measure)
    )
    return (at - start(days)) / timedelta(days=1)


def test_a_meter_set_to_salinity_0_is_told_the_day_it_begins(
    lived: tuple[Site, list[Entry]],
) -> None:
    def fresh(read: Reading, _: float) -> str:
        # 24.5 degC, S 31: printed tables of 1.5 by interpolation give fresh water 1.195 times
        return f"{float(read.value) * 1.195:.1f}" if read.measure == "oxygen" else read.value

    site = lived[0]
    farm = changed(lived, start(2), fresh)
    assert first_told(site, farm, 2, "all together", "oxygen") < 1
    says = next(d.says for _, d in found(site, farm, 2) if d.kind == "all together")
    assert "salinity 0 in the meter" in says


def test_a_ph_meter_that_stands_still_is_told_within_a_day(
    lived: tuple[Site, list[Entry]],
) -> None:
    site = lived[0]
    farm = changed(lived, start(2), lambda r, _: "7.71" if r.measure == "ph" else r.value)
    assert first_told(site, farm, 2, "frozen", "ph") < 1.2


@pytest.mark.parametrize(("a_day", "within"), [(0.02, 9), (0.04, 5)])
def test_an_oxygen_meter_that_creeps_is_told_within_the_days_it_takes_to_pass_8_percent(
    lived: tuple[Site, list[Entry]], a_day: float, within: float
) -> None:
    def less(read: Reading, days: float) -> str:
        factor = max(0.1, 1 - a_day * days)
        return f"{float(read.value) * factor:.1f}" if read.measure == "oxygen" else read.value

    site = lived[0]
    farm = changed(lived, start(12), less)
    assert 1 < first_told(site, farm, 12, "all together", "oxygen") <= within


def test_two_tanks_typed_crosswise_are_told_in_that_round(
    lived: tuple[Site, list[Entry]],
) -> None:
    site, entries = lived
    salts = [r for r in entries if isinstance(r, Reading) and r.measure == "salinity"]
    days = [{r.place: r for r in salts if start(n) <= r.at < start(n - 1)} for n in range(DAYS)]
    back, at = next((n, at) for n, at in enumerate(days) if {"G1", "G3"} <= set(at))
    morning = start(back)
    other = {"G1": at["G3"].value, "G3": at["G1"].value}

    def swap(read: Reading, _: float) -> str:
        crossed = read.measure == "salinity" and read.place in other
        return other[read.place or ""] if crossed else read.value

    farm = changed(lived, morning, swap)
    told = found(site, farm, back)
    (doubt,) = {d.places: d for now, d in told if now < start(back - 1)}.values()
    assert (doubt.kind, set(doubt.places)) == ("crosswise", {"G1", "G3"})


def test_top_ups_nobody_wrote_down_are_told(lived: tuple[Site, list[Entry]]) -> None:
    """Every logged top-up stays away from the book: the water is as it was, the book is not."""
    site, entries = lived
    kept = [entry for entry in entries if not isinstance(entry, Exchanged)]

    def less(entry: Entry) -> Entry:  # a hose left on for a night: 4 % of loop A
        late = isinstance(entry, Reading) and entry.at >= start(0)
        mine = late and entry.place in {p.code for p in site.places_of("A")}
        if mine and isinstance(entry, Reading) and entry.measure == "salinity":
            return msgspec.structs.replace(entry, value=f"{float(entry.value) * 0.96:.1f}")
        return entry

    told = balances(site, fold(site, [less(entry) for entry in kept]), moments()[0])
    assert [(one.loop, one.kind) for one in told] == [("A", "diluted")]
    volume = fold(site, entries).loop_water("A").volume_m3
    assert volume is not None
    assert told[0].volume_m3 == pytest.approx(volume * 0.04, rel=0.5)
