"""A laptop that is retired is awaited no more, until it writes again; one with a slow clock."""

from __future__ import annotations

from datetime import timedelta

import pytest
from laptops import Laptop

from rounds.day.laptops.retiring import CannotRetire, enrolled, retirable, retired
from rounds.day.laptops.unheard import unheard
from rounds.records.entry import Note
from rounds.reports import day


@pytest.fixture
def two() -> tuple[Laptop, Laptop]:
    a, b = Laptop(), Laptop(writer="p3x9tf", by="rui")
    a.keep(Note(text="x"))
    b.wait(minutes=-90)
    b.keep(Note(text="y"))
    a.hear(b)
    return a, b


def _awaited(a: Laptop) -> bool:
    return any("p3x9tf" in says for says in unheard(a.farm, a.now, a.writer))


def test_a_retired_laptop_is_awaited_no_more_until_it_writes_again(two) -> None:
    a, b = two
    assert (_awaited(a), retirable(a.farm, a.writer)) == (True, ("p3x9tf",))
    a.keep(retired(a.farm, "p3x9tf", a.writer))
    assert (_awaited(a), retirable(a.farm, a.writer)) == (False, ())
    b.wait(seconds=30)  # still before it was said: it had not come
    b.keep(Note(text="late"))
    a.hear(b)
    assert _awaited(a)


def test_one_whose_clock_is_ahead_can_be_retired(two) -> None:
    a, b = two
    b.wait(hours=9)
    b.keep(Note(text="ahead"))
    a.hear(b)
    assert _awaited(a)
    a.keep(retired(a.farm, "p3x9tf", a.writer))
    assert not _awaited(a)


def test_who_takes_it_in_again_has_it_back(two) -> None:
    a, _ = two
    a.keep(retired(a.farm, "p3x9tf", a.writer))
    a.wait(minutes=1)
    a.keep(enrolled(a.farm, "p3x9tf"))
    assert _awaited(a)


@pytest.mark.parametrize(
    ("writer", "why"), [("k7q2md", "is this laptop"), ("zzzzzz", "has written here: p3x9tf")]
)
def test_neither_itself_nor_a_stranger_is_retired(two, writer: str, why: str) -> None:
    a, _ = two
    with pytest.raises(CannotRetire, match=why):
        retired(a.farm, writer, a.writer)


def test_a_clock_behind_what_this_laptop_and_another_wrote_is_told_first_and_nobody_accused(
    two,
) -> None:
    a, _ = two
    behind = a.now - timedelta(days=3)
    assert unheard(a.farm, behind, a.writer) == (
        "Set the clock before you write: it says Fri 27 Feb, records go to Mon 2 Mar.",
    )
    (says,) = unheard(a.farm, a.now - timedelta(hours=2), a.writer)
    assert "it says 05:00, records go to 07:00." in says
    sheet = day.sheet(a.site, a.farm, behind, a.writer)
    assert sheet.splitlines()[1].startswith("Set the clock before you write")
    assert "ahead of this clock" not in sheet


def test_one_laptop_alone_that_is_ahead_speaks_for_no_clock(two) -> None:
    a, b = two
    b.wait(hours=9)
    b.keep(Note(text="ahead"))
    a.hear(b)
    (says,) = unheard(a.farm, a.now, a.writer)
    assert "p3x9tf (Rui) writes times ahead of this clock" in says
    a.keep(retired(a.farm, "p3x9tf", a.writer))
    (says,) = unheard(a.farm, a.now - timedelta(hours=1), a.writer)
    assert says.startswith("Set the clock, if it is wrong")
