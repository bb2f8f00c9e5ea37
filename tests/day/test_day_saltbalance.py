"""Evaporation, leak, unlogged water: each from the law that salt is conserved."""

from __future__ import annotations

from datetime import timedelta

import pytest
from small_farm import NOW, Days

from rounds.day.loops import doses
from rounds.day.loops.saltbalance import SaltBalance, balances
from rounds.day.telling.board import board
from rounds.records import entry as e

VOLUME = 12.5
"""Of loop A of the small farm: sump 2.0, tanks 0.5, 5.0, 4.0, mats 1.0 m^3."""
PLACES = ("L1", "T1", "T2", "M1")


def loop(before: float, after: float, days: int = 3, level: tuple[str, str] = ("", "")) -> Days:
    """Return a loop read then and now, with what was said of the level."""
    written = Days()
    for hours, salinity, said in ((-24 * days - 1, before, level[0]), (-1, after, level[1])):
        for place in PLACES:
            written.read(place, hours, salinity=f"{salinity:.1f}")
        if said:
            written.write(e.Answer, hours, place="HOUSE", step="level", value=said)
    return written


def found(days: Days) -> tuple[SaltBalance, ...]:
    return balances(days.site, days.farm, NOW)


def exchange(days: Days, hours: float, out: str, into: str, salinity: str = "0") -> None:
    days.write(
        e.Exchanged, hours, loop="A", volume_out=out, volume_in=into, unit="m^3",
        salinity_in=salinity,
    )  # fmt: skip


# -- fell without a logged addition ----------------------------------------------------------------


def test_salinity_that_fell_without_a_logged_addition_is_told_with_its_water() -> None:
    (one,) = found(loop(30.0, 29.0))
    assert one.kind == "diluted"
    assert one.volume_m3 == pytest.approx(VOLUME * (30 / 29 - 1))  # S V is conserved
    assert "fell without a logged addition, 30.0 to 29.0" in one.says
    assert "about 0.43 m^3 of fresh water" in one.says
    assert "1 % of the water a day is told after about 1 day" in one.delay


@pytest.mark.parametrize("after", [30.0, 29.7, 29.6])
def test_a_change_within_the_accuracy_of_four_readings_is_none(after: float) -> None:
    assert found(loop(30.0, after)) == ()


def test_a_logged_top_up_or_exchange_explains_it() -> None:
    topped = loop(30.0, 29.0)
    exchange(topped, -20, "0", "0.43")
    assert found(topped) == ()
    changed = loop(30.0, 29.0)
    exchange(changed, -20, "0.42", "0.42")  # 30 (1 - 0.42 / 12.5) = 29.0
    assert found(changed) == ()
    before = loop(30.0, 29.0)
    exchange(before, -90, "0", "0.43")
    assert [one.kind for one in found(before)] == ["diluted"]


def test_salt_that_was_given_must_show() -> None:
    # 12.4 kg of 95 % in 12.5 m^3 of 1.02 kg/L water: 0.92 g/kg
    given = loop(30.0, 30.1)
    given.write(e.Dosed, -40, loop="A", product="SALT", amount="12400", unit="g")
    assert [one.kind for one in found(given)] == ["diluted"]
    late = loop(30.0, 30.1)
    late.write(e.Dosed, -6, loop="A", product="SALT", amount="12400", unit="g")
    assert found(late) == ()  # it may still lie on the bottom
    shown = loop(30.0, 30.9)
    shown.write(e.Dosed, -40, loop="A", product="SALT", amount="12400", unit="g")
    assert found(shown) == ()


def test_one_reading_tells_less_than_four() -> None:
    days = Days()
    for hours, salinity in ((-73, "30.0"), (-1, "29.3")):
        days.read("T1", hours, salinity=salinity)
    assert found(days) == ()
    days = Days()
    for hours, salinity in ((-73, "30.0"), (-1, "29.0")):
        days.read("T1", hours, salinity=salinity)
    assert [one.kind for one in found(days)] == ["diluted"]


# -- level and salinity together -------------------------------------------------------------------

FELL = ("at the mark", "low")
KEPT = ("at the mark", "at the mark")


def test_level_down_and_salinity_up_is_evaporation() -> None:
    (one,) = found(loop(30.0, 31.0, level=FELL))
    assert one.kind == "evaporated"
    assert one.volume_m3 == pytest.approx(VOLUME * (1 - 30 / 31))
    assert "top up with fresh water" in one.says


def test_level_down_and_salinity_as_it_was_is_a_leak() -> None:
    (one,) = found(loop(30.0, 30.0, level=FELL))
    assert one.kind == "leak"
    assert "Open the card Leak" in one.says
    assert "if it is more than 0.18 m^3" in one.says  # what 0.42 of salinity could hide


def test_level_at_the_mark_and_salinity_as_it_was_is_quiet() -> None:
    assert found(loop(30.0, 30.0, level=KEPT)) == ()
    assert found(loop(30.0, 31.0, level=KEPT)) == ()


def test_a_leak_topped_up_with_logged_fresh_water_loses_salt() -> None:
    """0.2 m^3 leak and are replaced six times: salinity falls by the law of washing out."""
    left = 30.0
    days = loop(30.0, 30.0 * (VOLUME / (VOLUME + 0.2)) ** 6, days=7, level=KEPT)
    for n in range(6):
        left *= VOLUME / (VOLUME + 0.2)
        exchange(days, -24 * (6 - n) - 4, "0", "0.2")
    (one,) = found(days)
    assert one.kind == "lost"
    assert 0.7 < (one.volume_m3 or 0) < 1.2  # the first may replace what went before
    assert "Walk along the pipes" in one.says


def test_top_ups_that_replace_evaporation_keep_salinity() -> None:
    days = loop(30.0, 30.0, days=7, level=KEPT)
    for n in range(6):
        exchange(days, -24 * (6 - n) - 4, "0", "0.2")
    assert found(days) == ()


def test_the_first_top_up_may_replace_what_went_before() -> None:
    days = loop(30.5, 30.5 * VOLUME / (VOLUME + 0.23), days=1, level=KEPT)
    exchange(days, -10, "0", "0.23")
    assert found(days) == ()


@pytest.mark.parametrize(
    ("cm", "after", "kind"), [("55", 30.0, "leak"), ("55", 31.0, "evaporated"), ("99", 30.0, "")]
)
def test_a_level_in_cm_counts_before_words(cm: str, after: float, kind: str) -> None:
    days = loop(30.0, after, level=KEPT)
    days.read("T1", -73, level="100")
    days.read("T1", -1, level=cm)
    assert [one.kind for one in found(days)] == [kind] * bool(kind)


# -- where it is told ------------------------------------------------------------------------------


def test_it_stands_on_the_board_and_on_the_dose_sheet() -> None:
    days = loop(30.0, 29.0)
    days.read("T1", -1, temperature="24", ph="7.6", alkalinity="100", tan="0.3")
    (one,) = found(days)
    assert one.says in board(days.site, days.farm, NOW).meters
    (sheet,) = doses.today(days.site, days.farm, NOW)
    assert one.says in sheet.cautions


def test_old_readings_and_the_future_tell_nothing() -> None:
    days = loop(30.0, 29.0)
    assert balances(days.site, days.farm, NOW - timedelta(hours=2)) == ()
    assert balances(days.site, days.farm, NOW + timedelta(hours=80)) == ()
