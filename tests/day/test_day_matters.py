"""A value to watch that somebody has in hand: quiet, still worded, back when worse or late."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site

from rounds.day.recording.forms import FORMS, draft
from rounds.day.recording.matters import again_picks, findings
from rounds.day.recording.words import words
from rounds.day.telling.board import KNOWN, BoardLine, board
from rounds.day.telling.handoff import places
from rounds.day.walking.plan import rereads
from rounds.records import entry as e

MATTER = {
    "text": "valve ordered", "where": "T1", "about": "ph", "owner": "rui", "until": "24 h",
    "again": "above 8.4",
}  # fmt: skip


@pytest.fixture
def days() -> Days:
    """Two tanks in good water, but for a pH to watch in T1 (aim to 8.2, act above 8.5)."""
    found = Days()
    for code in ("T1", "T2"):
        found.stock(code, lot=f"L-{code}")
        found.good_water(code)
        found.read(code, -0.9, tan="0.02")
    ph(found, "8.3", -0.8)
    return found


def ph(days: Days, value: str, hours: float, verdict: str = "watch") -> None:
    days.read("T1", hours, verdict, ph=value)


def opened(days: Days, **changed: str) -> e.Matter:
    kept = draft(FORMS["matter"], {**MATTER, **changed}, days.farm, NOW, by="ana")
    assert isinstance(kept, e.Matter)
    days.write(kept, -0.1)
    return kept


def line(days: Days, hours: float = 0.0) -> BoardLine:
    found = board(days.site, days.farm, NOW + timedelta(hours=hours))
    return next(one for one in found.lines if one.place == "T1")


def test_a_covered_value_is_quiet_and_still_worded(days: Days) -> None:
    assert (line(days).verdict, line(days).sign) == ("watch", "! WATCH")
    assert [one.measure for one in rereads(days.site, days.farm, NOW)] == ["ph"]
    opened(days)
    found = board(days.site, days.farm, NOW)
    quiet = line(days)
    assert (quiet.verdict, quiet.sign) == ("ok", KNOWN)
    assert quiet.known == (
        "T1: pH 8.30, above 8.20. Known: Rui has it until Wed 11 Mar 08:00, again if above 8.4: "
        "valve ordered",
    )
    assert not found.worst
    (told,) = (one for one in places(days.site, days.farm, NOW) if one.place == "T1")
    assert (told.verdict, told.says) == ("watch", "pH 8.30, above 8.20")
    assert told.do.startswith("known, Rui has it until Wed 11 Mar 08:00, again if above 8.4")
    assert not rereads(days.site, days.farm, NOW)


@pytest.mark.parametrize(
    ("again", "value", "sign"),
    [
        ("above 8.4", "8.4", KNOWN),
        ("above 8.3", "8.34", KNOWN),  # the last digit that was said holds it
        ("above 8.3", "8.36", "! WATCH"),
        ("above 8.4", "8.46", "! WATCH"),
        ("X ACT NOW", "8.49", KNOWN),
        ("X ACT NOW", "8.6", "X ACT NOW"),
    ],
)
def test_it_comes_back_when_it_is_worse_than_said(
    days: Days, again: str, value: str, sign: str
) -> None:
    opened(days, again=again)
    ph(days, value, -0.05, "act" if value == "8.6" else "watch")
    assert line(days).sign == sign


def test_it_comes_back_when_its_time_is_over(days: Days) -> None:
    opened(days, until="1 h")
    assert line(days, 0.9).sign == KNOWN
    assert line(days, 1.1).sign == "! WATCH"


def test_it_comes_back_when_it_is_settled(days: Days) -> None:
    opened(days)
    (matter,) = days.farm.matters
    days.write(draft(FORMS["settled"], {"matter": "T1 pH: valve ordered"}, days.farm, NOW))
    assert not days.farm.matters
    assert matter.owner == "rui"
    assert line(days).sign == "! WATCH"


def test_a_value_to_act_on_is_never_covered(days: Days) -> None:
    opened(days, about="oxygen", again="X ACT NOW")
    days.read("T1", -0.05, "act", oxygen="3.5")
    assert line(days).verdict == "act"


def test_another_place_and_another_measure_stay_as_they_are(days: Days) -> None:
    opened(days, where="T2")
    assert line(days).sign == "! WATCH"
    opened(days, about="temperature", again="above 27")
    assert line(days).sign == "! WATCH"


def test_a_matter_without_an_end_or_a_limit_that_can_be_read_covers_nothing(days: Days) -> None:
    days.write(e.Matter(text="x", place="T1", about="ph"), -0.1)
    days.write(e.Matter(text="x", place="T1", about="ph", until="Friday"), -0.1)
    days.write(
        e.Matter(text="x", place="T1", about="ph", until="2026-03-12 08:00", again_if="odd"), -0.1
    )
    assert line(days).sign == "! WATCH"


def test_what_could_be_picked_is_worse_half_way_or_at_act(days: Days) -> None:
    (finding,) = (one for one in findings(days.site, days.farm, NOW) if one.measure == "ph")
    assert again_picks(days.site, finding) == ("above 8.30", "above 8.40", "X ACT NOW")
    opened(days)
    assert not [one for one in findings(days.site, days.farm, NOW) if one.measure == "ph"]


def test_a_limit_in_the_units_of_the_site_is_read_back(days: Days) -> None:
    days.read("T1", -0.05, "watch", oxygen="4.5")
    days.site = replace(make_site(), display_units="us")
    (finding,) = (one for one in findings(days.site, days.farm, NOW) if one.measure == "oxygen")
    picks = again_picks(days.site, finding)
    assert picks[0].startswith("below 4.5")
    opened(days, about="oxygen", again=picks[0])
    assert not [one for one in findings(days.site, days.farm, NOW) if one.measure == "oxygen"]


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"text": ""}, "text is missing"),
        ({"until": ""}, "say until when"),
        ({"until": "400 h"}, "within the next 14 days"),
        ({"until": "soon"}, "is not a time"),
        ({"again": "a bit worse"}, "cannot be read: such as above 8.5"),
        ({"where": ""}, "say where"),
        ({"about": "no feed"}, "ration sheet"),
        ({"owner": "bob"}, "no person bob"),
    ],
)
def test_what_cannot_be_kept(days: Days, changed: dict[str, str], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        draft(FORMS["matter"], {**MATTER, **changed}, days.farm, NOW)


def test_a_matter_in_words(days: Days) -> None:
    assert words(opened(days)) == (
        "open: T1 ph: valve ordered, rui until 2026-03-11 08:00, again if above 8.4"
    )
