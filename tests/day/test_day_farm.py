"""The fold: conservation of fish, carried weight, corrections, and freedom from order.

Expected figures are worked by hand from conservation (count in = count out; gain = feed / FCR), or
are rows of the husbandry checks named beside them.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from small_farm import FISH, NOW, Days, make_site

from rounds.day.fold.farm import Farm, fold
from rounds.reason import lines
from rounds.records import entry as e
from rounds.site.model import Place, Site

START = NOW
Writer = Callable[..., e.Entry]


@pytest.fixture
def w() -> Writer:
    return Days().write


def stocked(w: Writer, **keys: object) -> e.Entry:
    default = {"lot": "L1", "place": "T1", "count": 500, "mean_weight": "100", "unit": "g"}
    return w(e.Stocked, **{**default, **keys})


def only(farm: Farm, place: str = "T1"):
    (stock,) = farm.stocks[place]
    return stock


def everyway(site: Site, entries: list[e.Entry]) -> Farm:
    """Fold shuffled, doubled and one by one; all must agree. Returns the farm."""
    farm = fold(site, entries)
    rng = random.Random(7)
    for _ in range(4):
        mixed = [*entries, *rng.sample(entries, len(entries) // 2)]
        rng.shuffle(mixed)
        assert fold(site, mixed) == farm
        grown = fold(site, [])
        for entry in mixed:
            grown = grown.add(entry)
        assert grown == farm
    return farm


def test_feed_carries_the_mean_weight(w: Writer) -> None:
    # husbandry_checks.csv, carry_forward_weight_g: N=500, 100 g, 10 days of 0.7 kg, FCR 1.3
    entries = [stocked(w)]
    for day in range(10):
        entries.append(w(e.Fed, 24 * day + 2, place="T1", product="P", amount="700", unit="g"))
    stock = only(everyway(make_site(), entries))
    assert stock.weight_g == pytest.approx(110.769, abs=0.01)
    assert stock.biomass_kg == pytest.approx(50 + 7 / 1.3)


def test_deaths_count_before_the_feed_of_their_day(w: Writer) -> None:
    # husbandry_checks.csv, carry_forward_biomass_kg: N=150, 700 g, 5 d of 0.9 kg, FCR 1.5, 2 dead

    site = make_site(species={"fish": replace(FISH, fcr=1.5)})
    entries = [stocked(w, count=150, mean_weight="700")]
    entries.append(w(e.Fed, 2, place="T1", product="P", amount="0.9", unit="kg"))
    entries.append(w(e.Died, 9, lot="L1", place="T1", count=2))
    for day in range(1, 5):
        entries.append(w(e.Fed, 24 * day + 2, place="T1", product="P", amount="0.9", unit="kg"))
    stock = only(everyway(site, entries))
    assert stock.count == 148
    assert stock.biomass_kg == pytest.approx(106.6, abs=1e-6)


def test_feed_left_and_live_food_are_not_gain_and_forage_counts_dry(w: Writer) -> None:
    entries = [
        stocked(w, count=100),
        w(e.Fed, 1, place="T1", product="P", amount="130", unit="g", left="65"),
        w(e.Fed, 2, place="T1", product="KILLI", amount="260", unit="g"),
        w(e.Fed, 3, place="T1", product="unheard-of", amount="999", unit="g"),
    ]
    stock = only(everyway(make_site(), entries))
    # 65 g pellets eaten, and 260 g at 23 % dry matter = 65 g at 92 %: 130 g / 1.3 / 100 fish
    assert stock.weight_g == pytest.approx(101.0)


def test_moves_conserve_fish_and_mass(w: Writer) -> None:
    entries = [
        stocked(w),
        w(e.Moved, 1, lot="L1", source="T1", target="T2", count=200, mass="24", unit="kg"),
        w(e.Removed, 2, lot="L1", place="T2", count=50, cause="sold"),
        w(e.Counted, 3, lot="L1", place="T2", count=148),
    ]
    farm = everyway(make_site(), entries)
    assert only(farm, "T1").count == 300
    assert only(farm, "T1").biomass_kg == pytest.approx(26)  # 50 kg less 24 kg moved
    assert only(farm, "T2").count == 148
    assert only(farm, "T2").weight_g == pytest.approx(120)


def test_a_mass_that_would_leave_a_wild_mean_leaves_the_mean_and_asks_to_weigh(w: Writer) -> None:
    entries = [
        stocked(w),
        w(e.Moved, 1, lot="L1", source="T1", target="T2", count=490, mass="49.9", unit="kg"),
    ]
    rest = only(everyway(make_site(), entries), "T1")
    assert (rest.count, rest.weight_g) == (10, 100)
    assert any("weigh the rest" in line for line in lines(rest.reasons))


def test_a_sample_near_the_carried_weight_is_combined(w: Writer) -> None:
    weights = ["96", "104", "100", "108", "92"]
    entries = [stocked(w), w(e.Weighed, 48, lot="L1", place="T1", count=5, mass="500", unit="g",
                             weights=weights)]  # fmt: skip
    stock = only(everyway(make_site(), entries))
    assert stock.sampled is not None
    assert stock.sampled.mean_weight_g == pytest.approx(100)
    assert not stock.recount
    assert stock.weight_g == pytest.approx(100)
    assert any("inverse-variance" in line for line in lines(stock.reasons))


def test_a_sample_that_disagrees_asks_for_a_recount_and_the_smaller_stands(w: Writer) -> None:
    entries = [stocked(w), w(e.Weighed, 48, lot="L1", place="T1", count=4, mass="800", unit="g",
                             weights=["199", "200", "201", "200"])]  # fmt: skip
    stock = only(everyway(make_site(), entries))
    assert stock.recount
    assert stock.weight_g == pytest.approx(100)
    assert stock.sampled is not None
    assert stock.sampled.mean_weight_g == pytest.approx(200)


def test_more_dead_than_fish_never_goes_negative(w: Writer) -> None:
    entries = [stocked(w, count=3), w(e.Died, 1, lot="L1", place="T1", count=5)]
    farm = everyway(make_site(), entries)
    assert "T1" not in farm.stocks
    assert sum(dead.count for dead in farm.dead("T1")) == 5


def reading(w: Writer, hours: float, value: str, **keys: object) -> e.Entry:
    default = {"place": "T1", "measure": "oxygen", "value": value, "unit": "mg/L", "step": "oxygen"}
    return w(e.Reading, hours, **{**default, **keys})


def test_latest_goes_by_the_time_read_and_never_into_the_future(w: Writer) -> None:
    early = e.stamp(START - timedelta(hours=5))
    entries = [
        reading(w, 0, "6.8"),
        reading(w, 1, "5.0", read_at=early),  # written later, read earlier: from the paper sheet
        reading(w, 30, "9.9"),
    ]
    farm = everyway(make_site(), entries)
    now = START + timedelta(hours=2)
    latest = farm.latest("T1", "oxygen", now)
    assert latest is not None
    assert latest.typed == "6.8"
    assert [read.typed for read in farm.reads("T1", "oxygen")] == ["5.0", "6.8", "9.9"]
    assert farm.latest("T1", "oxygen", START - timedelta(days=1)) is None


def test_readings_are_kept_in_the_unit_of_the_measure(w: Writer) -> None:
    entries = [reading(w, 0, "77", measure="temperature", unit="degF", step="temperature")]
    (read,) = everyway(make_site(), entries).reads("T1", "temperature")
    assert read.value == pytest.approx(25.0)
    assert (read.typed, read.unit) == ("77", "degF")


@pytest.mark.parametrize("value", ["nan", "inf", "1e999", "six", ""])
def test_a_value_that_is_no_number_is_no_reading(w: Writer, value: str) -> None:
    assert everyway(make_site(), [reading(w, 0, value)]).reads("T1", "oxygen") == ()


def test_a_correction_replaces_and_a_void_removes(w: Writer) -> None:
    first, second = reading(w, 0, "0.68"), reading(w, 1, "7.0")
    fix = w(e.Correction, 3, of=first.id, set={"value": "6.8"})
    gone = w(e.Correction, 4, of=second.id, void=True, why="wrong tank")
    farm = everyway(make_site(), [first, second, fix, gone])
    assert [read.typed for read in farm.reads("T1", "oxygen")] == ["6.8"]
    assert farm.entry(second.id) is None
    assert farm.corrections_of(first.id) == (fix.id,)


def test_a_correction_may_arrive_before_its_target(w: Writer) -> None:
    first = reading(w, 0, "0.68")
    fix = w(e.Correction, 3, of=first.id, set={"value": "6.8"})
    held = fold(make_site(), [fix])
    assert held.reads("T1", "oxygen") == ()
    assert [read.typed for read in held.add(first).reads("T1", "oxygen")] == ["6.8"]


def test_corrections_that_have_not_seen_each_other_are_a_conflict(w: Writer) -> None:
    first = reading(w, 0, "0.68")
    one = w(e.Correction, 3, of=first.id, set={"value": "6.8"})
    two = w(e.Correction, 9, of=first.id, set={"value": "6.7"})
    farm = everyway(make_site(), [first, one, two])
    (conflict,) = farm.conflicts
    assert set(conflict.corrections) == {one.id, two.id}
    assert [read.typed for read in farm.reads("T1", "oxygen")] == ["0.68"]
    third = w(e.Correction, 10, of=first.id, after=[one.id, two.id], set={"value": "6.75"})
    settled = everyway(make_site(), [first, one, two, third])
    assert settled.conflicts == []
    assert [read.typed for read in settled.reads("T1", "oxygen")] == ["6.75"]


def test_a_correction_cannot_change_who_wrote_what_when(w: Writer) -> None:
    first = reading(w, 0, "6.8")
    fix = w(e.Correction, 3, of=first.id, set={"by": "eve", "t": "1970-01-01T00:00:00Z",
                                               "read_at": "yesterday"})  # fmt: skip
    farm = everyway(make_site(), [first, fix])
    assert farm.entry(first.id) == first


def test_corrections_in_a_ring_do_not_hang(w: Writer) -> None:
    first = reading(w, 0, "6.8")
    one = w(e.Correction, 1, of="aaaaaa-run001-0003", set={"value": "1"})
    two = w(e.Correction, 2, of="aaaaaa-run001-0002", set={"value": "2"}, after=[one.id])
    assert everyway(make_site(), [first, one, two]).reads("T1", "oxygen")[0].typed == "6.8"


def test_a_voided_death_gives_the_fish_back(w: Writer) -> None:
    died = w(e.Died, 1, lot="L1", place="T1", count=30)
    entries = [stocked(w), died, w(e.Correction, 2, of=died.id, void=True)]
    assert only(everyway(make_site(), entries)).count == 500


def test_the_water_is_as_it_is_today(w: Writer) -> None:
    site = make_site()
    assert fold(site, []).loop_water("A").volume_m3 == pytest.approx(2 + 0.5 + 5 + 4 + 1)
    entries = [
        w(e.State, 1, place="T2", state="isolated"),
        w(e.State, 1, place="T1", state="in service", volume="4500", unit="L"),
        w(e.State, 0, place="M1", state="drained"),
    ]
    water = everyway(site, entries).loop_water("A")
    assert water.volume_m3 == pytest.approx(2 + 0.5 + 4.5)
    back = w(e.State, 5, place="T2", state="in service")
    assert everyway(site, [*entries, back]).loop_water("A").volume_m3 == pytest.approx(11)


def test_a_missing_volume_is_named_and_no_total_is_given() -> None:
    place = Place("T9", "Tank 9", "tank", 1, "A")
    water = fold(make_site(places={"T9": place}), []).loop_water("A")
    assert water.volume_m3 is None
    assert "T9" in water.missing[0]


def test_an_isolated_tank_does_not_speak_for_the_loop(w: Writer) -> None:
    keys = {"measure": "ph", "unit": "pH", "step": "ph"}
    entries = [
        reading(w, 0, "7.6", **keys),
        reading(w, 1, "8.2", place="T2", **keys),
        w(e.State, 2, place="T2", state="isolated"),
    ]
    latest = everyway(make_site(), entries).latest_in_loop("A", "ph", START + timedelta(hours=3))
    assert latest is not None
    assert latest.typed == "7.6"


def test_pressure_comes_from_the_barometer_while_it_is_fresh_else_from_the_elevation(
    w: Writer,
) -> None:
    site = make_site()
    pressure, reason = fold(site, []).pressure_hpa(START)
    # standard atmosphere, 6 m: 1012.53 hPa (ICAO 1976)
    assert pressure == pytest.approx(1012.53, abs=0.02)
    assert "elevation" in reason.says
    read = reading(w, 0, "1001", place="HOUSE", measure="pressure", unit="hPa", step="pressure")
    farm = everyway(site, [read])
    assert farm.pressure_hpa(START + timedelta(hours=1))[0] == 1001
    assert farm.pressure_hpa(START + timedelta(days=9))[0] != 1001


def test_matters_stay_open_until_settled_and_incidents_until_ended(w: Writer) -> None:
    matter = w(e.Matter, 0, text="Pump 2 hums", owner="rui", until="2026-03-03")
    began = w(e.Incident, 0, about="pump", event="began", place="M1")
    farm = everyway(make_site(), [matter, began])
    assert [m.text for m in farm.matters] == ["Pump 2 hums"]
    assert len(farm.incidents) == 1
    done = [
        w(e.Matter, 5, text="bearing changed", of=matter.id),
        w(e.Incident, 6, about="pump", event="ended", place="M1"),
    ]
    farm = everyway(make_site(), [matter, began, *done])
    assert farm.matters == []
    assert farm.incidents == []


def test_a_handoff_is_taken_by_name(w: Writer) -> None:
    handoff = w(e.Handoff, 0, covers=e.stamp(START), text="all calm", to="rui")
    taken = w(e.Takeover, 1, by="rui", of=handoff.id, seen=["m1"])
    (found,) = everyway(make_site(), [handoff, taken]).handoffs
    assert (found.taken_by, found.seen) == ("rui", ("m1",))


def test_walks_and_their_steps_are_found_again(w: Writer) -> None:
    walk = {"walk": "w1", "checklist": "first-light"}
    entries = [
        w(e.Walk, 0, event="begun", **walk),
        reading(w, 0.1, "6.8", walk="w1"),
        w(e.Skipped, 0.2, place="T2", step="oxygen", reason="probe out of order", walk="w1"),
        w(e.Died, 0.3, lot="L1", place="T1", count=0, walk="w1"),
        w(e.Walk, 1, event="left", **walk),
    ]
    farm = everyway(make_site(), entries)
    assert farm.walks["w1"].left_at is not None
    assert farm.walks["w1"].done_at is None
    assert isinstance(farm.at_step("w1", "T1", "oxygen"), e.Reading)
    assert isinstance(farm.at_step("w1", "T2", "oxygen"), e.Skipped)
    assert isinstance(farm.at_step("w1", "T1", "dead"), e.Died)
    assert farm.at_step("w1", "T2", "dead") is None


def test_laptops_are_heard(w: Writer) -> None:
    other = Days(writer="bbbbbb").write
    farm = everyway(make_site(), [reading(w, 0, "6.8"), reading(other, 4, "6.7", by="rui")])
    assert farm.heard["bbbbbb"].at == START + timedelta(hours=4)
    assert farm.heard["bbbbbb"].by == "rui"


def test_a_site_edited_half_way_refolds_with_the_new_site(w: Writer) -> None:
    entries = [stocked(w), w(e.Fed, 2, place="T1", product="P", amount="130", unit="g")]
    old = everyway(make_site(), entries)
    place = Place("T1", "Tank 1", "tank", 1, "A", "grow-out", None, 5.0)
    new = everyway(make_site(places={"T1": place}), entries)
    assert only(old).weight_g > 100
    assert only(new).weight_g == 100  # no species, no feed conversion ratio, no gain
    assert only(new).count == only(old).count


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 60), st.integers(0, 9)), max_size=14))
def test_any_history_folds_the_same_in_any_order(steps: list[tuple[int, int, int]]) -> None:
    w = Days().write
    entries: list[e.Entry] = [stocked(w)]
    for kind, hours, n in steps:
        match kind:
            case 0:
                entries.append(w(e.Died, hours, lot="L1", place="T1", count=n))
            case 1:
                entries.append(
                    w(e.Fed, hours, place="T1", product="P", amount=str(n * 100), unit="g")
                )
            case 2:
                entries.append(w(e.Moved, hours, lot="L1", source="T1", target="T2", count=n * 10))
            case 3:
                entries.append(reading(w, hours, str(n)))
            case 4:
                entries.append(
                    w(e.Correction, hours, of=entries[n % len(entries)].id, void=n % 2 == 0)
                )
            case _:
                entries.append(
                    w(e.Weighed, hours, lot="L1", place="T1", count=n + 1,
                      mass=str(100 * n + 50), unit="g")
                )  # fmt: skip
    farm = everyway(make_site(), entries)
    assert all(stock.count > 0 for group in farm.stocks.values() for stock in group)
