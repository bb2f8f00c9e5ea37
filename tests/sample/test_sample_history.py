"""The invented history: whole, plausible, and what its story hides is there to be found."""

from __future__ import annotations

import hashlib
import shutil
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from statistics import linear_regression, mean

import pytest

from rounds.day.fold.farm import Farm, fold
from rounds.records.book import Book
from rounds.records.entry import Entry, Fed, Handoff, Skipped, Takeover
from rounds.records.verifying import verify
from rounds.sample.make import make
from rounds.site.loading import load
from rounds.site.model import Site
from rounds.site.shipped import shipped

ENDING = date(2026, 11, 24)


def _tree(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            digest.update(path.relative_to(folder).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()


@pytest.fixture(scope="module")
def folder(made_once: Callable[[date, int], Path]) -> Path:
    return made_once(ENDING, 21)


@pytest.fixture(scope="module")
def site(folder: Path) -> Site:
    return load(folder)


@pytest.fixture(scope="module")
def entries(folder: Path, site: Site) -> list[Entry]:
    with Book.open(folder, site.id, site.digest, tz=site.timezone, read_only=True) as book:
        found = list(book.entries())
        assert not book.problems()
    return found


@pytest.fixture(scope="module")
def farm(site: Site, entries: list[Entry]) -> Farm:
    return fold(site, entries)


def test_records_verify_and_two_laptops_wrote_every_day(
    folder: Path, site: Site, entries: list[Entry]
) -> None:
    report = verify(folder, site.id)
    assert report.findings == ()
    assert len(report.heads) == 2
    days = Counter(entry.day for entry in entries)
    assert sorted(days) == [(ENDING - timedelta(days=n)).isoformat() for n in range(20, -1, -1)]
    last = max(entry.at for entry in entries).astimezone(site.timezone)
    assert last.date() == ENDING
    assert last.hour >= 18


def test_same_seed_makes_the_same_bytes_and_another_seed_another_farm(tmp_path: Path) -> None:
    one, two, other = (
        make(tmp_path / name, ending=ENDING, days=2, seed=seed)
        for name, seed in (("a", 5), ("b", 5), ("c", 6))
    )
    assert _tree(one) == _tree(two) != _tree(other)
    assert load(one).id == load(two).id != load(other).id


def test_existing_folder_is_left_alone(tmp_path: Path) -> None:
    kept = tmp_path / "farm" / "mine.txt"
    kept.parent.mkdir()
    kept.write_text("mine")
    with pytest.raises(FileExistsError):
        make(kept.parent, ending=ENDING, days=2)
    assert [path.name for path in tmp_path.iterdir()] == ["farm"]
    assert kept.read_text() == "mine"


@pytest.mark.parametrize("days", [1, 61])
def test_days_out_of_range_are_refused(tmp_path: Path, days: int) -> None:
    with pytest.raises(ValueError, match=f"days {days} is outside 2 to 60"):
        make(tmp_path / "farm", ending=ENDING, days=days)


def test_history_across_a_change_of_the_clocks_keeps_the_evening(tmp_path: Path) -> None:
    folder = make(tmp_path / "farm", ending=date(2026, 10, 26), days=3)
    site = load(folder)
    with Book.open(folder, site.id, site.digest, tz=site.timezone, read_only=True) as book:
        offsets = {entry.day: entry.off for entry in book.entries()}
    assert offsets == {
        "2026-10-24": "+01:00",
        "2026-10-25": "+00:00",
        "2026-10-26": "+00:00",
    }


def test_long_days_of_summer_fit_the_shifts(tmp_path: Path) -> None:
    folder = make(tmp_path / "farm", ending=date(2026, 6, 22), days=2)
    assert verify(folder, load(folder).id).findings == ()


def test_a_meal_that_asks_for_the_supervisor_ends_no_history(folder: Path) -> None:
    lines = (folder / "records" / "sealed").rglob("*.jsonl")
    assert any('"why":"supervisor said so"' in path.read_text("utf-8") for path in lines)


def test_alkalinity_of_loop_b_falls_two_a_day_and_a_dose_hides_it(farm: Farm) -> None:
    reads = farm.reads("G3", "alkalinity")
    dosed = farm.dosed("B")
    assert dosed
    before = [(r.at.timestamp() / 86400, r.value) for r in reads if r.at < dosed[0].at]
    after = [(r.at.timestamp() / 86400, r.value) for r in reads if r.at > dosed[-1].at]
    for part in (before, after):
        slope = linear_regression(*zip(*part, strict=True)).slope
        assert -3.5 < slope < -0.8
    assert after[0][1] > before[-1][1] + 5
    steady = farm.reads("G1", "alkalinity")
    other = linear_regression(
        [r.at.timestamp() / 86400 for r in steady], [r.value for r in steady]
    ).slope
    assert abs(other) < 0.8


def test_a_dose_waits_for_a_test_and_a_matter_older_than_the_book_is_passed_over(
    tmp_path: Path,
) -> None:
    source = Path(shutil.copytree(shipped("sample_site"), tmp_path / "site"))
    told = (source / "story.toml").read_text("utf-8")
    for when, sooner in (
        ('day = -11\nat = "10:20"', 'day = -1\nat = "05:35"'),  # before the book's first test
        ('day = -15\nat = "11:40"', 'day = 0\nat = "11:40"'),  # what was opened on day -17
    ):
        assert told.count(when) == 1
        told = told.replace(when, sooner)
    (source / "story.toml").write_text(told, "utf-8")
    folder = make(tmp_path / "farm", ending=ENDING, days=2, site=source)
    site = load(folder)
    with Book.open(folder, site.id, site.digest, tz=site.timezone, read_only=True) as book:
        farm = fold(site, book.entries())
    assert {dose.day for dose in farm.dosed("B")} == {ENDING.isoformat()}


def test_tank_g4_leaves_feed_three_days_before_its_deaths_rise(farm: Farm) -> None:
    def left(days_before: range) -> float:
        days = {(ENDING - timedelta(days=n)).isoformat() for n in days_before}
        fed = [f for f in farm.fed("G4") if f.day in days]
        return sum(f.left_g or 0.0 for f in fed) / sum(f.amount_g for f in fed)

    def dead(days_before: range) -> int:
        days = {(ENDING - timedelta(days=n)).isoformat() for n in days_before}
        return sum(d.count for d in farm.dead("G4") if d.day in days)

    assert left(range(8, 15)) < 0.03 < left(range(4, 7)) < left(range(3))
    assert dead(range(4, 20)) <= 3
    assert dead(range(3)) >= 7


def test_meals_are_as_advised_after_the_first_day_and_keep_their_reasons(
    entries: list[Entry],
) -> None:
    meals = [entry for entry in entries if isinstance(entry, Fed)]
    assert len(meals) > 300
    assert all(meal.reasons for meal in meals)
    changed = [meal for meal in meals if meal.amount != meal.advised]
    assert {meal.day for meal in changed} <= {(ENDING - timedelta(days=20)).isoformat()}
    assert all(meal.why for meal in changed)


def test_tests_come_two_or_three_times_a_week(farm: Farm) -> None:
    days = {read.at.date() for read in farm.reads("G3", "tan")}
    assert 7 <= len(days) <= 11


def test_steps_are_skipped_with_a_reason_of_the_site(site: Site, entries: list[Entry]) -> None:
    skipped = [entry for entry in entries if isinstance(entry, Skipped)]
    assert 20 <= len(skipped) <= 200
    assert all(entry.reason in site.skip_reasons for entry in skipped)


def test_two_hand_offs_a_day_and_some_matters_left_unseen(farm: Farm, entries: list[Entry]) -> None:
    handoffs = [entry for entry in entries if isinstance(entry, Handoff)]
    assert Counter(Counter(h.day for h in handoffs).values()) == {2: 21}
    assert all(len(h.text) > 40 for h in handoffs)
    taken = [entry for entry in entries if isinstance(entry, Takeover)]
    last = max(taken, key=lambda entry: entry.at)
    assert {matter.id for matter in farm.matters} - set(last.seen)


@pytest.mark.parametrize(
    ("place", "measure", "low", "high"),
    [
        ("G3", "oxygen", 4.5, 7.5),
        ("G3", "temperature", 23.5, 28.0),
        ("G3", "ph", 7.3, 7.9),
        ("G1", "salinity", 30.5, 34.5),
        ("G1", "tan", 0.05, 1.6),
        ("P1", "oxygen", 4.0, 11.0),
        ("HOUSE", "pressure", 995.0, 1035.0),
    ],
)
def test_values_stay_where_a_farm_of_this_kind_has_them(
    farm: Farm, place: str, measure: str, low: float, high: float
) -> None:
    values = [read.value for read in farm.reads(place, measure)]
    assert len(values) >= 6
    assert low < min(values)
    assert max(values) < high


def test_pond_breathes_at_night(farm: Farm, site: Site) -> None:
    by_half = {True: [], False: []}
    for read in farm.reads("P1", "oxygen"):
        by_half[read.at.astimezone(site.timezone).hour < 12].append(read.value)
    assert mean(by_half[False]) > mean(by_half[True]) + 2


def test_stop_of_the_sand_bed_raises_ammonia_for_a_while(farm: Farm) -> None:
    stop = ENDING - timedelta(days=13)
    after = [r.value for r in farm.reads("G1", "tan") if stop <= r.at.date() <= stop + timedelta(2)]
    calm = [r.value for r in farm.reads("G1", "tan") if r.at.date() > stop + timedelta(6)]
    assert max(after) > mean(calm)


def test_a_hand_off_never_says_that_its_own_laptop_was_not_heard(entries: list[Entry]) -> None:
    handed = [entry for entry in entries if isinstance(entry, Handoff)]
    assert handed
    assert all(f"laptop {entry.id.partition('-')[0]} (" not in entry.text for entry in handed)
