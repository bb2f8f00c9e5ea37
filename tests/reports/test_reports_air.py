"""Minutes of air in words: the shorter supply first, the others under it, an old reading marked."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from rounds.day.loops.air import AirLine, Case
from rounds.reports.air import air, shortest

NOW = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
ZONE = ZoneInfo("UTC")


def line(place: str, air_min: float | None, since: datetime | None = None) -> AirLine:
    cases = (
        Case("air", air_min, 61.4, since, ()), Case("flow", None, None, None, ()),
        Case("both", 20.0, 30.0, None, ()),
    )  # fmt: skip
    return AirLine(place, "place", "~38 min", cases, ("volume of G4",), (), ())


def test_the_shorter_supply_is_told_first_and_what_is_off_says_since_when() -> None:
    told = air(line("G4", 38.9), NOW, ZONE)
    assert told.title == "G4  air off: act by ~38 min, losses from ~61 min"
    assert told.says == (
        "G4  flow off: it lasts",
        "G4  air and flow off: act by ~20 min, losses from ~30 min",
        "measure: volume of G4",
    )
    off = air(line("G4", 38.9, NOW - timedelta(hours=1)), NOW, ZONE)
    assert off.title.startswith("G4  air off since today 07:00: act by")


def test_a_card_names_tanks_and_none_that_cannot_be_worked_out() -> None:
    unknown = AirLine("G5", "place", "-", (), ("oxygen",), (), ())
    loop = AirLine("loop A", "loop", "9 min", line("A", 9).cases, (), (), ())
    assert shortest((loop, line("G4", 38.9), unknown), NOW, ZONE) == (
        "G4  air off: act by ~38 min, losses from ~61 min",
    )
    assert air(unknown, NOW, ZONE).title == "G5  cannot be worked out"
