"""Who may walk which round alone, and who may say so."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site

from rounds.day.recording.forms import FORMS, draft
from rounds.day.recording.signing import beside, in_lines, new_here, standing, who_may
from rounds.day.recording.words import words
from rounds.day.telling import handoff
from rounds.records import entry as e
from rounds.records.decoding import decode, encode
from rounds.site.model import Person

INES = Person("ines", "Ines", "Student")


@pytest.fixture
def days() -> Days:
    site = make_site()
    return Days(replace(site, people={**site.people, "ines": INES}))


def sign(
    days: Days, level: str, hours: float = -1.0, *, by: str = "ana", person: str = "ines"
) -> e.Entry:
    answers = {"person": person, "task": "morning", "level": level}
    entry = draft(FORMS["signed"], answers, days.farm, NOW, by=by)
    days.by = by
    return days.write(entry, hours)


def told(days: Days) -> str:
    return beside(days.farm, "ines", days.site.checklists["morning"], NOW)


def test_a_learner_is_told_to_have_somebody_beside_until_signed_done_alone(days: Days) -> None:
    assert "somebody beside you: not seen yet" in told(days)
    sign(days, "seen", -3)
    sign(days, "done with", -2)
    assert "somebody beside you: done with Ana, 10 Mar 2026" in told(days)
    sign(days, "done alone", -1)
    assert told(days) == ""


def test_others_are_told_nothing(days: Days) -> None:
    checklist = days.site.checklists["morning"]
    assert not any(beside(days.farm, by, checklist, NOW) for by in ("ana", "rui", "somebody"))


def test_what_is_signed_in_the_future_or_taken_back_does_not_count(days: Days) -> None:
    sign(days, "done alone", 1)
    assert told(days)
    wrong = sign(days, "done alone", -1)
    assert told(days) == ""
    days.write(e.Correction, 0, of=wrong.id, void=True, why="wrong person")
    assert told(days)


def test_supervisors_sign_and_those_who_have_taught_it(days: Days) -> None:
    with pytest.raises(ValueError, match="a supervisor signs"):
        sign(days, "seen", by="rui")
    sign(days, "taught", person="rui")
    assert words(sign(days, "seen", by="rui")) == "ines: morning, seen"
    with pytest.raises(ValueError, match="nobody signs for themselves"):
        sign(days, "done alone", by="ines")
    with pytest.raises(ValueError, match="Ines has that already"):
        sign(days, "seen")


def test_a_level_of_a_newer_version_makes_nobody_able(days: Days) -> None:
    days.write(e.Signed(person="ines", task="morning", level="examined"), -1)  # type: ignore[arg-type]
    assert "not seen yet" in told(days)


def test_a_sign_off_is_read_as_it_was_written_and_a_newer_level_is_counted() -> None:
    entry = e.Signed(
        id="k7q2md-m7j4sy-1", t="2026-03-10T07:00:00.000Z", off="+00:00", day="2026-03-10",
        by="ana", person="ines", task="morning", level="done alone",
    )  # fmt: skip
    assert decode(encode(entry), "") == entry
    newer = encode(entry).replace(b"done alone", b"examined")
    assert isinstance(decode(newer, ""), e.Unknown)


def test_the_list_says_who_may_do_what(days: Days) -> None:
    assert in_lines(who_may(days.farm, NOW)) == ["Ines, Student", "  not seen yet: First light"]
    sign(days, "taught", person="rui")
    sign(days, "done with")
    assert in_lines(who_may(days.farm, NOW)) == [
        "Rui, tech", "  taught: First light (Ana, 10 Mar 2026)",
        "Ines, Student", "  done with: First light (Ana, 10 Mar 2026)",
    ]  # fmt: skip
    assert standing(days.farm, "rui", "morning", NOW) == "taught, signed by Ana, 10 Mar 2026"


def test_the_hand_off_tells_who_is_new_where_people_are_signed_off(days: Days) -> None:
    assert new_here(days.farm, NOW) == ()
    sign(days, "seen", -2)
    document = handoff.matters(days.site, days.farm, NOW, "ana")
    assert document.learning == ("Ines, Student, not alone yet: First light (seen)",)
    assert "Ines signed off for First light: seen (Ana, 06:00)" in document.changed
    sign(days, "done alone", -1)
    assert new_here(days.farm, NOW) == ()
