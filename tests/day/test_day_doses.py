"""Today's doses: the water as it is, what lacks, what disagrees, whose laptop is silent."""

from __future__ import annotations

import pytest
from dose_farm import line_of, read_all, sheet_of
from msgspec.structs import replace
from small_farm import NOW, Days, make_site, with_place, with_product

from rounds.day.laptops.unheard import unheard
from rounds.day.loops import doses
from rounds.day.readings.derived import derived
from rounds.records import entry as e

# -- the water as it is today ----------------------------------------------------------------------


def test_an_isolated_tank_does_not_count() -> None:
    days = read_all(make_site())
    full = line_of(days, "alkalinity", "BIC").amount
    volume = sheet_of(days).water.volume_m3
    days.write(e.State, -2, place="T2", state="isolated")
    less = line_of(days, "alkalinity", "BIC").amount
    assert volume == pytest.approx(12.5)
    assert less / full == pytest.approx(8.5 / 12.5, rel=0.01)


def test_a_missing_volume_is_named_and_nothing_is_dosed() -> None:
    days = read_all(with_place(make_site(), "T2", volume_m3=None))
    sheet = sheet_of(days)
    assert not sheet.lines
    assert any("volume of T2" in line for line in sheet.missing)


@pytest.mark.parametrize("lacking", ["alkalinity", "ph", "temperature", "salinity"])
def test_what_is_not_read_is_named_and_nothing_stands_in(lacking: str) -> None:
    days = read_all(make_site())
    days.entries = [x for x in days.entries if getattr(x, "measure", "") != lacking]
    sheet = sheet_of(days)
    assert not any(line.kind == "alkalinity" for line in sheet.lines)
    assert any(lacking in line.lower() for line in sheet.missing)


def test_a_stale_test_is_named() -> None:
    days = read_all(make_site())
    days.entries = [x for x in days.entries if getattr(x, "measure", "") != "alkalinity"]
    days.read("T1", -49, alkalinity=60)
    sheet = sheet_of(days)
    assert not any(line.kind == "alkalinity" for line in sheet.lines)
    assert any("alkalinity" in line and "again" in line for line in sheet.missing)


def test_a_label_without_purity_is_named_and_not_dosed() -> None:
    days = read_all(with_product(make_site(), "BIC", purity=None))
    sheet = sheet_of(days)
    assert "BIC" not in {line.product for line in sheet.lines}
    assert any("purity of Bicarbonate" in line for line in sheet.missing)
    salt = read_all(with_product(make_site(), "SALT", dissolved_fraction=None), salinity=25)
    assert not any(line.kind == "salt" for line in sheet_of(salt).lines)
    assert any("Sea salt" in line for line in sheet_of(salt).missing)


def test_soda_ash_waits_for_tan_bicarbonate_does_not() -> None:
    days = read_all(make_site())
    days.stock()
    assert line_of(days, "alkalinity", "ASH").portions
    days.entries = [x for x in days.entries if getattr(x, "measure", "") != "tan"]
    assert line_of(days, "alkalinity", "ASH").refused
    assert line_of(days, "alkalinity", "BIC").portions


def test_the_loops_own_product_comes_first() -> None:
    site = make_site()
    site = replace(site, loops={"A": replace(site.loops["A"], alkali="ASH")})
    products = [line.product for line in sheet_of(read_all(site)).lines if line.product]
    assert products == ["ASH", "BIC"]


def test_ammonia_at_the_sites_limit_refuses() -> None:
    days = read_all(make_site(), tan="6", ph="7.9")
    days.stock()
    line = line_of(days, "alkalinity", "BIC")
    assert line.refused
    assert not line.portions


def test_odd_farms_do_not_raise() -> None:
    assert sheet_of(Days()).missing
    days = Days()
    days.read("T1", 5, alkalinity=60)
    days.read("T1", -1, alkalinity=5000, ph=2, temperature=99, salinity=90)
    days.write(e.Dosed, -1, loop="A", product="?", amount="x", unit="g")
    days.write(e.Dosed, -1, loop="B", product="BIC", amount="5", unit="g")
    days.write(e.Exchanged, -0.5, loop="A", volume_out="0", volume_in="1", unit="m^3")
    for code in ("L1", "T1", "T2", "M1"):
        days.write(e.State, -1, place=code, state="drained")
    assert sheet_of(days).loop == "A"
    empty = make_site(loops={})
    assert doses.today(empty, Days(empty).farm, NOW) == ()


def test_uninhabited_loops_have_no_sheet() -> None:
    site = make_site()
    site = replace(site, loops={"A": replace(site.loops["A"], inhabited=False)})
    assert doses.today(site, Days(site).farm, NOW) == ()


# -- two readings ----------------------------------------------------------------------------------


@pytest.mark.parametrize("order", [(85, 93), (93, 85)])
def test_of_two_readings_that_disagree_the_smaller_dose_governs(order: tuple[int, int]) -> None:
    days = read_all(make_site(), alkalinity=order[0])
    days.read("T2", -0.5, alkalinity=order[1])
    small = line_of(read_all(make_site(), alkalinity=93), "alkalinity", "BIC")
    assert line_of(days, "alkalinity", "BIC").amount == small.amount
    (told,) = [c for c in sheet_of(days).cautions if "disagree" in c]
    assert "85 in T" in told
    assert "93 in T" in told


def test_readings_within_the_instrument_or_hours_apart_do_not_disagree() -> None:
    near = read_all(make_site(), alkalinity=85)
    near.read("T2", -0.5, alkalinity=89)
    newest = line_of(read_all(make_site(), alkalinity=89), "alkalinity", "BIC").amount
    assert line_of(near, "alkalinity", "BIC").amount == newest
    old = read_all(make_site(), alkalinity=89)
    old.read("T2", -3.5, alkalinity=95)
    assert line_of(old, "alkalinity", "BIC").amount == newest
    for days in (near, old):
        assert not any("disagree" in caution for caution in sheet_of(days).cautions)


def test_a_test_before_and_one_after_a_dose_do_not_disagree() -> None:
    days = Days(make_site())
    days.read("T1", -1.5, alkalinity=70, ph="7.4", temperature=24, salinity=30, tan="0.3")
    grams = 12.5 * 15 * 1.678676 / 0.99
    days.write(e.Dosed, -1, loop="A", product="BIC", unit="g", amount=f"{grams:.0f}")
    days.read("T1", -0.2, alkalinity=84)
    assert not any("disagree" in caution for caution in sheet_of(days).cautions)


# -- giving it, and whose laptop is silent ---------------------------------------------------------


def test_a_silent_laptop_is_named_and_since_when() -> None:
    days = read_all(make_site())
    other = Days(writer="bbbbbb")
    other.by = "rui"
    other.write(e.Note, -12, text="good night")
    days.entries += other.entries
    (said,) = sheet_of(days).unheard
    assert "laptop bbbbbb (Rui) not heard since yesterday 20:00" in said
    assert said.startswith("Ask before giving: laptop ")


def test_laptops_heard_now_or_long_retired_are_not_named() -> None:
    days = Days()
    for writer, hours in (("bbbbbb", -0.5), ("cccccc", -24 * 20), ("aaaaaa", -30)):
        other = Days(writer=writer)
        other.write(e.Note, hours, text="x")
        days.entries += other.entries
    assert unheard(days.farm, NOW, "aaaaaa") == ()
    ahead = Days(writer="dddddd")
    ahead.write(e.Note, 3, text="x")
    assert "ahead of this clock" in unheard(ahead.farm, NOW, "aaaaaa")[0]
    (own,) = unheard(ahead.farm, NOW, "dddddd")
    assert own.startswith("Set the clock, if it is wrong: this laptop wrote on ")


def test_an_exchange_against_ammonia_says_how_much_it_takes() -> None:
    """C = C0 (1 - x) of a mixed tank: what is left of 10 %, and the x that leaves the limit."""
    days = read_all(make_site(), tan="5.0", ph="8.2", salinity="30")
    days.stock()
    line = line_of(days, "exchange")
    figure = next(
        d for d in derived(days.site, days.farm, days.site.places["T1"], NOW)
        if d.measure == "ammonia"
    )  # fmt: skip
    value = figure.cautious or figure.value or 0.0
    told = line.cautions[0]
    assert f"NH3-N {value:.3f} mg/L in T1, act above 0.050" in told
    assert f"10 % leaves {0.9 * value:.3f}" in told
    assert f"about {100 * (1 - 0.05 / value):.0f} % in all" in told
    days.read("T1", -0.5, tan="0.3")
    days.read("T1", -0.4, tan="0.3")
    assert "NH3-N" not in " ".join(line_of(days, "exchange").cautions)


def test_new_water_of_an_exchange_is_made_up_to_where_the_loop_is_to_go() -> None:
    days = read_all(make_site(), salinity="33.4")
    line = line_of(days, "exchange", salinity=32.0)
    assert line.new_salinity == 32.0
    assert "salinity 32.0 first, where the loop is to go" in " ".join(line.cautions)
    near = line_of(days, "exchange", salinity=33.2)
    assert near.new_salinity == 33.4
