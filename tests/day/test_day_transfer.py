"""A transfer: what comes first, an account that balances or is named, and entries true each."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_farm import NOW, Days, make_site, with_place

from rounds.day.lots.deaths import short
from rounds.day.lots.growth import of_stock
from rounds.day.lots.handling import Check, checks
from rounds.day.recording.forms import FORMS, draft
from rounds.day.recording.transfer import Sheet, account, entries, sheet, transfer
from rounds.day.slips import Unsure
from rounds.records import entry as e

CROWDED = {"density_kg_m3": 30.0}


def ready(count: int = 300) -> Days:
    """Fish that fasted, in two tanks of good water, with room in the second."""
    site = make_site(causes=("unknown", "handling"))
    days = Days(with_place(with_place(site, "T1", **CROWDED), "T2", **CROWDED))
    days.stock("T1", count=count, weight="250")
    days.feed("500", -30)
    for place in ("T1", "T2"):
        days.good_water(place)
        days.read(place, -0.5, oxygen="7.4")
    return days


def looked(days: Days, count: int = 100) -> dict[str, Check]:
    stock = days.farm.stocks["T1"][0]
    found = checks(days.site, days.farm, stock, days.site.places["T2"], count, NOW)
    return {f"{one.what} {one.place}": one for one in found}


def made(days: Days, into: str = "100/25", **asked: str) -> Sheet:
    wanted = transfer(days.farm, "T1", [("T2", into)], **asked)
    return sheet(days.site, days.farm, wanted, NOW)


def keep(days: Days, one: Sheet, **how: Any) -> list[e.Entry]:
    found = entries(days.farm, one, NOW, **{"confirmed": True, **how})
    return [days.write(draft) for draft in found]


def numbers(days: Days) -> dict[str, int]:
    return {code: sum(s.count for s in stocks) for code, stocks in days.farm.stocks.items()}


# -- what comes first ------------------------------------------------------------------------------


def test_fish_that_fasted_in_waters_alike_may_go() -> None:
    found = looked(ready())
    assert {one.verdict for key, one in found.items() if key != "room T2"} == {"ok"}
    assert found["fast T1"].says.endswith("fasted 30 h")
    assert found["mixing T2"].says == "Waters are alike"
    # space is known; what flows through was never read, so it is at most
    assert found["room T2"].verdict == "unknown"
    # 4 m3 at 30 kg/m3, and 500 g of feed at a conversion of 1.3 in 300 fish
    assert (
        f"at most {int(120_000 / (250 + 500 / 1.3 / 300))} fish of 251.3 g (space)"
        in found["room T2"].says
    )


def test_a_fast_too_short_says_until_when() -> None:
    days = ready()
    days.feed("300", -5)
    check = looked(days)["fast T1"]
    assert check.verdict == "act"
    assert check.line == "T1 fed today 03:00: no feed until Wed 11 Mar 03:00 (24 h), then move"
    days.entries = [one for one in days.entries if not isinstance(one, e.Fed)]
    assert looked(days)["fast T1"].verdict == "unknown"


@pytest.mark.parametrize(
    ("measure", "value", "verdict", "says"),
    [
        ("temperature", "26", "ok", "Mix water of T2 in over 25 min"),
        ("temperature", "21.5", "act", "2.5 degC apart, 2 allowed: bring the two waters nearer"),
        ("salinity", "33", "act", "3.0 g/kg apart, 2 allowed: bring it nearer by at most 2 a day"),
        ("ph", "8.2", "act", "0.60 apart, 0.5 allowed"),
        ("oxygen", "5.0", "watch", "in T2, 90 wanted: aerate first"),
        ("oxygen", "5.0", "act", "% apart: at most 25: aerate the lower one first"),
    ],
)
def test_water_that_does_not_match_is_named(
    measure: str, value: str, verdict: str, says: str
) -> None:
    days = ready()
    days.write(e.State, -2, place="T2", state="isolated")
    days.read("T2", -0.2, **{measure: value})
    found = looked(days)
    assert any(one.verdict == verdict and says in one.line for one in found.values())
    assert ("mixing T2" in found) is (verdict == "ok")


def test_readings_that_are_missing_are_named_and_no_default_stands_in() -> None:
    days = Days(with_place(make_site(), "T2", loop=None))
    days.stock("T1", hours=-1)
    found = looked(days)
    assert found["temperature T2"].says == "T2: Temperature not read here: measure it"
    assert found["oxygen T1"].verdict == "unknown"
    assert "mixing T2" not in found


def test_warm_water_and_fish_handled_yesterday_are_a_caution() -> None:
    days = ready()
    for place in ("T1", "T2"):
        days.read(place, -0.2, temperature="27")
    days.write(e.Removed, -20, lot="L1", place="T1", count=5, cause="sold")
    found = looked(days)
    assert "27.0 degC is above 26" in found["heat T1"].line
    assert "let them rest until Wed 11 Mar 12:00" in found["rest T1"].line
    assert found["heat T1"].verdict == found["rest T1"].verdict == "watch"


def test_too_many_for_the_room_other_lots_and_fish_once_fed_live() -> None:
    days = ready()
    assert looked(days, 481)["room T2"].verdict == "act"
    days.stock("T2", count=50, weight="250", lot="L2")
    assert looked(days)["lots T2"].verdict == "watch"
    days.feed("100", -90, place="T2", product="KILLI")
    found = looked(days)["live food T2"]
    assert found.verdict == "act"
    assert "L2 once had live or raw fish" in found.says
    days.site = with_place(days.site, "T2", species=None)
    assert looked(days)["species T2"].verdict == "watch"


def test_the_record_of_a_move_asks_first_about_what_must_not_be() -> None:
    days = ready()
    answers = {"lot": "L1", "from": "T1", "to": "T2", "count": "100"}
    assert draft(FORMS["moved"], answers, days.farm, NOW)
    days.feed("300", -5)
    with pytest.raises(Unsure, match="no feed until Wed 11 Mar 03:00"):
        draft(FORMS["moved"], answers, days.farm, NOW)
    assert draft(FORMS["moved"], answers, days.farm, NOW, confirmed=True)


# -- the account -----------------------------------------------------------------------------------


def test_an_account_that_balances_is_kept_in_the_order_of_what_is_true() -> None:
    days = ready()
    one = made(days, "100/25", out="104/26", dead="3/0.75", sampled="1/0.25")
    assert (one.balances, one.off_fish, one.off_kg, one.left) == (True, 0, 0.0, 196)
    assert account(one)[-1] == "Balances: number and mass out are in and lost"
    kept = keep(days, one, cause="handling")
    assert [type(entry).__name__ for entry in kept] == ["Died", "Removed", "Moved", "Note"]
    assert kept[0].cause == "handling"  # type: ignore[attr-defined]
    assert numbers(days) == {"T1": 196, "T2": 100}


def test_a_difference_is_said_in_fish_and_kg_and_kept_only_when_named() -> None:
    days = ready()
    one = made(days, "100/25", out="104/26.5", dead="1/0.25")
    assert (one.off_fish, one.off_kg) == (3, pytest.approx(1.25))
    says = "3 fish fewer came than left and 1.25 kg less came than left"
    assert says in account(one)[-1]
    with pytest.raises(ValueError, match=re.escape(says)):
        entries(days.farm, one, NOW, confirmed=True)
    kept = keep(days, one, named="jumped into the drain")
    assert [type(entry).__name__ for entry in kept] == ["Died", "Removed", "Moved", "Note"]
    assert "jumped into the drain" in kept[-1].text  # type: ignore[attr-defined]
    assert numbers(days) == {"T1": 196, "T2": 100}
    # lost, and named: alive no longer, and nobody is asked to look for them
    assert short(days.farm, days.site.places["T1"], NOW) == []
    grown = of_stock(days.site, days.farm, days.site.places["T1"], days.farm.stocks["T1"][0], NOW)
    assert grown.survival == pytest.approx(299 / 300 * 296 / 299)


def test_more_that_came_than_left_is_off_too_and_no_fish_are_invented() -> None:
    days = ready()
    one = made(days, "100", out="98")
    assert one.off_fish == -2
    assert "2 fish more came than left" in account(one)[-1]
    kept = keep(days, one, named="miscounted at the net")
    assert [type(entry).__name__ for entry in kept] == ["Moved", "Note"]
    assert sum(numbers(days).values()) == 300


def test_what_was_not_weighed_or_not_counted_out_is_said() -> None:
    days = ready()
    unweighed = made(days, "100", out="100/25")
    assert (unweighed.balances, unweighed.off_kg) == (True, None)
    assert "not all was weighed" in account(unweighed)[-1]
    assert "Not counted on the way out" in account(made(days))[-1]


@pytest.mark.parametrize(
    ("into", "asked", "says"),
    [
        ([("T2", "301")], {}, "T1 holds 300 of L1, 301 cannot leave"),
        ([("T2", "200"), ("M1", "90")], {"dead": "11"}, "301 cannot leave"),
        ([("T2", "100")], {"out": "301"}, "301 cannot leave"),
        ([("T1", "10")], {}, "T1 is where they are"),
        ([("T2", "10"), ("T2", "10")], {}, "T2 is named twice"),
        ([("T2", "0")], {}, "nothing to move"),
        ([("T2", "10.5")], {}, "is not a count"),
        ([("T2", "10/5 L")], {}, "L is not a unit of mass"),
        ([], {}, "say where they go"),
        ([("T2", "10")], {"lot": "L9"}, "T1 holds L1: say which"),
    ],
)
def test_what_cannot_be_is_refused(
    into: list[tuple[str, str]], asked: dict[str, str], says: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(says)):
        transfer(ready().farm, "T1", into, **asked)
    with pytest.raises(ValueError, match="T2 has no fish"):
        transfer(ready().farm, "T2", into)


def test_a_wrong_cause_or_target_keeps_nothing() -> None:
    days = ready()
    with pytest.raises(ValueError, match="there is no cause fright: unknown, handling"):
        entries(days.farm, made(days, dead="1"), NOW, cause="fright", confirmed=True)
    days.write(e.State, -1, place="T2", state="drained")
    with pytest.raises(ValueError, match="T2 is drained"):
        entries(days.farm, made(days), NOW, confirmed=True)


def test_an_interruption_after_any_entry_leaves_no_fish_in_two_places() -> None:
    """All fish are on record once, and what is kept already is told when asked again."""
    days = ready()
    wanted = transfer(
        days.farm, "T1", [("T2", "100/25"), ("P1", "50/12.5")], out="151/37.75", dead="1/0.25"
    )
    one = sheet(days.site, days.farm, wanted, NOW)
    whole = entries(days.farm, one, NOW, confirmed=True)
    for reached in range(1, len(whole) + 1):
        cut = ready()
        kept = [cut.write(draft) for draft in whole[:reached]]
        dead = sum(entry.count for entry in kept if isinstance(entry, e.Died))
        assert sum(numbers(cut).values()) + dead == 300
        again = sheet(cut.site, cut.farm, wanted, NOW)
        with pytest.raises(Unsure, match="the same was kept at 08:00: once more"):
            entries(cut.farm, again, NOW)


@settings(max_examples=25, deadline=None)
@given(
    parts=st.lists(st.tuples(st.integers(1, 60), st.booleans(), st.floats(0.8, 1.2)), min_size=1,
                   max_size=2),
    dead=st.integers(0, 9),
)  # fmt: skip
def test_number_and_biomass_are_conserved_in_moves(
    parts: list[tuple[int, bool, float]], dead: int
) -> None:
    days = ready()
    into = [
        (code, f"{count}/{count * 0.25 * each:.3f}" if weighed else str(count))
        for code, (count, weighed, each) in zip(("T2", "P1"), parts, strict=False)
    ]
    before = math.fsum(s.biomass_kg for ss in days.farm.stocks.values() for s in ss)
    wanted = transfer(days.farm, "T1", into, dead=str(dead) if dead else "")
    keep(days, sheet(days.site, days.farm, wanted, NOW))
    farm = days.farm
    assert sum(numbers(days).values()) == 300 - dead
    after = math.fsum(s.biomass_kg for ss in farm.stocks.values() for s in ss)
    mean_g = before / 300
    assert after == pytest.approx(before - dead * mean_g, rel=1e-9)


@pytest.mark.parametrize(("mass", "balances"), [("26.4", True), ("26.6", False)])
def test_water_on_the_nets_is_no_difference_of_mass(mass: str, *, balances: bool) -> None:
    """Two in a hundred of 26.x kg stay open; of fish none does."""
    one = made(ready(), "103/26", out=f"103/{mass}")
    assert one.balances is balances
    assert ("0.4 kg less came than left, within 2%" in account(one)[-1]) is balances
    assert not made(ready(), "102/26", out="103/26").balances


# -- who is asked ----------------------------------------------------------------------------------

MOVE = {"lot": "L1", "from": "T1", "to": "T2", "count": "100"}


@pytest.mark.parametrize("place", ["T1", "T2"])
def test_sick_fish_neither_leave_nor_are_joined_without_leave(place: str) -> None:
    days = ready()
    days.stock("T2", lot="L1", count=100)
    days.write(e.Died, -50, lot="L1", place=place, count=2, cause="Disease suspected")
    assert looked(days)[f"sick fish {place}"].verdict == "act"
    with pytest.raises(ValueError, match=f"{place}: 2 dead of L1, Disease suspected.*permit"):
        draft(FORMS["moved"], MOVE, days.farm, NOW, confirmed=True)
    moved = draft(FORMS["moved"], {**MOVE, "permit": "the vet"}, days.farm, NOW)
    assert moved.permit == "the vet"  # type: ignore[attr-defined]
    with pytest.raises(ValueError, match="Who permits it"):
        entries(days.farm, made(days), NOW, confirmed=True)
    assert entries(days.farm, made(days), NOW, permit="the vet")


def test_fish_killed_by_handling_hold_no_others_back() -> None:
    days = ready()
    days.write(e.Died, -5, lot="L1", place="T1", count=20, cause="handling")
    assert "sick fish T1" not in looked(days)


def test_quarantine_ends_when_somebody_says_so() -> None:
    days = ready()
    days.site = with_place(days.site, "T1", stage="quarantine")
    assert looked(days)["quarantine T1"].says == "T1: 10 of 28 days of quarantine"
    with pytest.raises(ValueError, match="T1: in quarantine for 10 days of 28"):
        draft(FORMS["moved"], MOVE, days.farm, NOW, confirmed=True)


def test_sick_fish_are_sold_only_with_leave_and_culled_freely() -> None:
    days = ready()
    days.write(e.Died, -50, lot="L1", place="T1", count=2, cause="disease suspected")
    out = {"place": "T1", "lot": "L1", "count": "9", "cause": "sold"}
    with pytest.raises(ValueError, match="Who permits it"):
        draft(FORMS["removed"], out, days.farm, NOW, confirmed=True)
    assert draft(FORMS["removed"], {**out, "permit": "Ana"}, days.farm, NOW)
    assert draft(FORMS["removed"], {**out, "cause": "culled"}, days.farm, NOW)


def test_fish_that_could_eat_the_others_are_kept_apart() -> None:
    """60 % of the length is 0.216 of the weight, in fish of one shape."""
    for weight, eats in (("53", True), ("56", False)):
        days = ready()
        days.stock("T2", count=50, weight=weight, lot="L2")
        assert ("size T2" in looked(days)) is eats


def test_what_was_never_read_is_asked_about() -> None:
    days = ready()
    days.entries = [one for one in days.entries if getattr(one, "measure", "") != "salinity"]
    with pytest.raises(Unsure, match="Not known: salinity of T1 and T2, oxygen of T1 and T2"):
        draft(FORMS["moved"], MOVE, days.farm, NOW)
