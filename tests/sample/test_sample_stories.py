"""Planted stories are told in time with their evidence; the same farms without them are quiet.

Each history is of another seed, which also chooses the places. What is looked at is the text of the
hand-offs as they were written then. `python -m tests.sample.quiet` does the same at length.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import pytest
from planting import ENDING, TOLD, Told, lived, planted, told

DAYS: Final = 6
SEEDS: Final = (1, 2, 3)
STORY: Final = (
    planted("off feed", -4, cause="oxygen", later=2)
    + planted("broken fast", -3, later=1)
    + planted("missing fish", -2, later=0)
    + planted("few eggs", -5)
)


@pytest.fixture(scope="module", params=SEEDS)
def stories(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Told:
    folder = tmp_path_factory.mktemp("stories")
    return told(*lived(folder, DAYS, request.param, STORY))


def first(found: Told, what: str) -> tuple[datetime, str]:
    """Return when something was first told, by the farm's clock, and the line."""
    lines = [(at, line) for at, line in found.lines if TOLD[what].search(line)]
    assert lines, f"{what} was never told"
    return lines[0]


def day(number: int) -> str:
    return (ENDING + timedelta(days=number)).isoformat()


def test_fish_off_their_feed_are_told_by_the_second_evening(stories: Told) -> None:
    """A twentieth left on the first day, more than a tenth on the second."""
    at, line = first(stories, "off feed")
    assert day(-4) <= at.date().isoformat() <= day(-3)
    assert re.search(r"% left, \d+ % before; \d+ of \d+ g at the last meal \((Abe|Zoe), ", line)


def test_the_cause_found_later_stands_beside_it_on_its_day(stories: Told) -> None:
    lines = [(at, line) for at, line in stories.lines if TOLD["off feed"].search(line)]
    with_cause = [(at, line) for at, line in lines if "oxygen" in line.split("Look at")[0]]
    assert with_cause[0][0].date().isoformat() == day(-2)
    assert re.search(r"; oxygen 4\.\d mg/L \(today \d\d:\d\d\)", with_cause[0][1])
    assert "Mend the water first" in with_cause[0][1]


def test_a_broken_fast_is_told_in_the_next_hand_off(stories: Told) -> None:
    at, line = first(stories, "broken fast")
    assert at.isoformat()[:16] == f"{day(-2)}T14:10"
    assert re.search(r"\d+ g fed today 11:2\d by Abe", line)
    assert "Call Abe, who withheld it: for sale alive" in line


def test_missing_fish_are_told_in_the_next_hand_off_and_after_a_second_count(
    stories: Told,
) -> None:
    at, line = first(stories, "missing fish")
    assert at.isoformat()[:16] == f"{day(-2)}T14:10"
    counted = re.search(r"(\d+) of LOT-\d missing: (\d+) counted \(Abe, [^)]+\), (\d+) on", line)
    assert counted
    missing, found, on_record = map(int, counted.groups())
    assert missing == on_record - found
    last = [at for at, line in stories.lines if TOLD["missing fish"].search(line)][-1]
    assert last.date() == ENDING  # all tanks are counted again the day before


def test_a_culture_with_few_eggs_is_told_in_the_hand_off_after_its_count(stories: Told) -> None:
    at, _ = first(stories, "few eggs")
    low = next(read for read in stories.eggs if read[1] < 25)
    assert timedelta(0) < at - low[0] < timedelta(hours=7)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_farm_without_stories_says_none_of_it(tmp_path: Path, seed: int) -> None:
    found = told(*lived(tmp_path, DAYS, seed))
    assert len(found.lines) >= 2 * DAYS
    said = [line for what in TOLD for _, line in found.lines if TOLD[what].search(line)]
    assert said == []
