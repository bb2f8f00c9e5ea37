"""The sheet of a lot: every figure on it is the sum of what the book says, nothing is left out."""

from __future__ import annotations

from datetime import timedelta

import pytest
from small_farm import NOW, Days
from test_day_recording import make

from rounds.day.slips import Unsure
from rounds.day.telling.lot_sheet import lot_sheet
from rounds.records import entry as e
from rounds.reports.lot import render


@pytest.fixture
def days() -> Days:
    """300 fish come into T1, 100 go on to T2, some die, one meal each, ten are sold."""
    days = Days()
    days.stock("T1", hours=-24 * 20, origin="hatchery of an invented coast")
    days.write(e.Died, -24 * 19, place="T1", lot="L1", count=4, cause="handling")
    days.feed("900", -24 * 18)
    days.write(e.Moved, -24 * 10, lot="L1", source="T1", target="T2", count=100)
    days.feed("300", -24 * 9, place="T2")
    days.feed("600", -24 * 9)
    days.read("T2", -24 * 8, verdict="act", oxygen="3.6")
    days.read("T2", -24 * 8 + 1, verdict="act", oxygen="3.9")
    days.write(e.Removed, -24, place="T2", lot="L1", count=10, cause="sold", to="a buyer", by="bo")
    return days


def test_it_tells_the_life_of_a_lot_from_its_first_entry_to_now(days: Days) -> None:
    sheet = lot_sheet(days.site, days.farm, "L1", NOW)
    assert [line.partition(",")[0] for line in sheet.now] == ["T1: 196 fish", "T2: 90 fish"]
    assert [home.partition(":")[0] for home in sheet.homes] == ["T1 Tank 1", "T2 Tank 2"]
    assert sheet.homes[0].endswith("18 Feb 2026 to now")
    assert [line.split()[5] for line in sheet.fish if "came in" in line] == ["300"]
    assert any("sold to a buyer, 192 h after the last meal [bo]" in line for line in sheet.fish)
    assert sheet.dead == ("February 2026: 4 dead (handling)",)
    assert [line.partition(" of ")[0] for line in sheet.feed[:2]] == ["T1: 1.5 kg", "T2: 0.3 kg"]
    assert sheet.water == ("2 Mar 2026 T2: Oxygen 3.6 mg/L, worst of 2",)


def test_feed_and_water_of_other_times_are_not_its_own(days: Days) -> None:
    days.write(e.Moved, -24 * 5, lot="L1", source="T1", target="T2", count=196)
    days.stock("T1", hours=-24 * 4, lot="L9")
    days.feed("5000", -24 * 3)
    days.read("T1", -24 * 3, verdict="act", oxygen="3.0")
    sheet = lot_sheet(days.site, days.farm, "L1", NOW)
    assert sheet.feed[0].startswith("T1: 1.5 kg")
    assert len(sheet.water) == 1
    assert sheet.mixed == ()
    other = lot_sheet(days.site, days.farm, "L9", NOW)
    assert other.feed[0].startswith("T1: 5 kg")


def test_who_swam_with_it_and_what_was_corrected_is_told(days: Days) -> None:
    days.stock("T2", hours=-24 * 6, lot="L2", count=20)
    wrong = days.write(e.Died, -24 * 2, place="T2", lot="L1", count=40)
    days.write(e.Correction, -24 * 2 + 1, of=wrong.id, void=True, why="typed in the wrong tank")
    sheet = lot_sheet(days.site, days.farm, "L1", NOW)
    assert sheet.mixed == ("L2 in T2, 4 Mar 2026 to 10 Mar 2026",)
    assert len(sheet.corrected) == 1
    assert "taken back: typed in the wrong tank" in sheet.corrected[0]
    assert sheet.dead == ("February 2026: 4 dead (handling)",)


def test_feed_is_told_by_the_batch_that_was_open_at_the_meal(days: Days) -> None:
    days.write(make(days, "batch", product="p", batch="7731"), -24 * 12)
    days.write(make(days, "batch", product="P", batch="7802/b"), -24 * 5)
    days.feed("100", -24 * 2)
    feed = lot_sheet(days.site, days.farm, "L1", NOW).feed
    assert [line.partition(" of Pellet 4 mm (P), ")[::2] for line in feed[:-1]] == [
        ("T1: 0.9 kg", "batch not recorded, in 1 meal, 20 Feb 2026 to 20 Feb 2026"),
        ("T1: 0.6 kg", "batch 7731, in 1 meal, 1 Mar 2026 to 1 Mar 2026"),
        ("T1: 0.1 kg", "batch 7802/b, in 1 meal, 8 Mar 2026 to 8 Mar 2026"),
        ("T2: 0.3 kg", "batch 7731, in 1 meal, 1 Mar 2026 to 1 Mar 2026"),
    ]


def test_the_nets_of_a_day_are_one_weighing(days: Days) -> None:
    for hours, count, mass in ((-48, 25, "5.35"), (-47.9, 22, "4.62"), (-47.8, 27, "5.94")):
        days.write(e.Weighed, hours, lot="L1", place="T1", count=count, mass=mass, unit="kg")
    days.write(e.Weighed, -47.7, lot="L1", place="T2", count=10, mass="2.5", unit="kg")
    days.write(e.Weighed, -2, lot="L1", place="T1", count=10, mass="2.2", unit="kg")
    fish = lot_sheet(days.site, days.farm, "L1", NOW).fish
    assert [line.partition(": ")[2] for line in fish if "weighed" in line] == [
        "74 of L1 weighed, mean 215.0 g [ana]",  # all kilograms over all fish
        "10 of L1 weighed, mean 250.0 g [ana]",
        "10 of L1 weighed, mean 220.0 g [ana]",
    ]


def test_a_sale_tells_how_long_the_fish_had_not_been_fed(days: Days) -> None:
    days.feed("100", -24 - 30, place="T2")
    (sale,) = (one for one in lot_sheet(days.site, days.farm, "L1", NOW).fish if "sold" in one)
    assert "sold to a buyer, 30 h after the last meal" in sale


def test_what_speaks_of_a_treatment_stands_under_medicines_and_is_asked_about(days: Days) -> None:
    none = lot_sheet(days.site, days.farm, "L1", NOW).medicines
    assert len(none) == 2
    assert none[1].endswith("nothing was found.")
    days.write(e.Note, -24 * 30, place="T1", text="Treated with something, before it came")
    days.write(e.Note, -24 * 6, place="T2", text="The vet treated two fish")
    days.write(e.Matter, -24 * 6, place="T2", text="treatment until Friday")
    found = lot_sheet(days.site, days.farm, "L1", NOW).medicines
    assert found[1].endswith("read these.")
    assert ["The vet treated" in found[2], "treatment until Friday" in found[3]] == [True, True]
    assert len(found) == 4
    days.feed("100", -50, place="T2")
    with pytest.raises(Unsure, match="open matter: treatment until Friday: ask the veterinarian"):
        make(days, "removed", place="T2", lot="L1", count="1", cause="sold")


def test_the_lots_that_came_of_it_and_its_own_parents_and_hatch_are_named(days: Days) -> None:
    days.stock("T1", hours=-24 * 3, lot="L7", parents=["L1"], hatched="2026-03-01")
    assert [
        "L7 came in" in one for one in lot_sheet(days.site, days.farm, "L1", NOW).came_of_it
    ] == [True]
    assert "parents L1, hatched 2026-03-01" in lot_sheet(days.site, days.farm, "L7", NOW).fish[0]


def test_it_is_printed_in_80_columns_and_as_markdown_that_nobody_steers(days: Days) -> None:
    days.write(e.Note, -24 * 7, place="T2", text="[x](http://evil) \x1b[31m # head")
    sheet = lot_sheet(days.site, days.farm, "L1", NOW)
    told = render(sheet, ("aaaaaa 1:ff",), "text")
    assert all(len(line) <= 80 for line in told.splitlines())
    assert "aaaaaa 1:ff" in told
    assert "\x1b" not in told
    assert "[x](http" not in render(sheet, (), "markdown")


def test_a_lot_nobody_named_is_refused_with_those_there_are(days: Days) -> None:
    with pytest.raises(ValueError, match="no entry names a lot X: lots L1"):
        lot_sheet(days.site, days.farm, "X", NOW)
    with pytest.raises(ValueError, match="no entry names"):
        lot_sheet(days.site, days.farm, "L1", NOW - timedelta(days=100))
