"""Today's doses: outside rows end to end, conservation, what was given, what disagrees, what lacks.

Grams and litres are expected from named rows of the water checks or from conservation.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from msgspec import structs
from small_farm import NOW, Days, make_site, with_place, with_product

from rounds.day import doses
from rounds.day.doses import DoseLine, DoseSheet
from rounds.day.slips import Unsure
from rounds.day.unheard import unheard
from rounds.reason import lines
from rounds.records import entry as e
from rounds.site.model import Limits, Product, Site

ROWS = list(
    csv.DictReader(
        (Path(__file__).parents[1] / "published/data/water_checks.csv").open(encoding="utf-8")
    )
)


def rows(quantity: str, **only: str) -> list[Any]:
    found = []
    for row in ROWS:
        if row["quantity"] == quantity:
            inputs = dict(pair.split("=", 1) for pair in row["inputs"].split(";"))
            if all(inputs.get(key) == value for key, value in only.items()):
                found.append(pytest.param(inputs, float(row["expected"]), id=row["inputs"]))
    return found


def pool(volume_m3: float, **loop: Any) -> Site:
    """A site whose loop A is one body of water without filter; its fish places hold no water."""
    site = make_site()
    a = replace(site.loops["A"], sump_volume_m3=volume_m3, **loop)
    places = {c: replace(p, volume_m3=0.0) for c, p in site.places.items() if c != "M1"}
    return replace(site, loops={"A": a}, places=places)


def read_all(site: Site, **values: object) -> Days:
    days = Days(site)
    water = {"alkalinity": 60, "ph": "7.4", "temperature": 24, "salinity": 30, "tan": "0.3"}
    days.read("T1", -1, **{**water, **values})
    return days


def sheet_of(days: Days, **targets: float) -> DoseSheet:
    (sheet,) = doses.today(days.site, days.farm, NOW, "aaaaaa", targets)
    return sheet


def replace_entry(entry: e.Entry, hours: float) -> e.Entry:
    """Return an entry as if written so many hours from NOW."""
    return structs.replace(entry, t=e.stamp(NOW + timedelta(hours=hours)))


def line_of(days: Days, kind: str, product: str | None = None, **targets: float) -> DoseLine:
    found = [
        line
        for line in sheet_of(days, **targets).lines
        if line.kind == kind and product in (None, line.product)
    ]
    assert len(found) == 1, found
    return found[0]


# -- outside rows ------------------------------------------------------------------------------


@pytest.mark.parametrize(("inputs", "expected"), rows("dose_mass_g"))
def test_alkali_is_weighed_as_the_row_says(inputs: dict[str, str], expected: float) -> None:
    site = with_product(
        pool(float(inputs["V_m3"]), alkalinity_daily_rise_mg_l=100), "BIC",
        formula=inputs["chemical"], purity=float(inputs["purity"]),
    )  # fmt: skip
    days = read_all(site, alkalinity=200, ph="7.6")
    line = line_of(days, "alkalinity", "BIC", alkalinity=200 + float(inputs["dTA_mgL_CaCO3"]))
    step = 1 if expected < 1000 else 10 if expected < 20_000 else 100
    assert not line.refused
    assert expected * 0.999 - step < line.amount <= expected * 1.001  # rounded down to the scale
    assert sum(line.portions) == line.amount


@pytest.mark.parametrize(
    ("inputs", "expected"), rows("pH_NBS_after_dose", chemical="NaHCO3", purity="1")
)
def test_predicted_ph_is_that_of_the_row(inputs: dict[str, str], expected: float) -> None:
    site = with_product(pool(1000, alkalinity_daily_rise_mg_l=100), "BIC", purity=1.0)
    days = read_all(
        site, alkalinity=inputs["TA_mgL_CaCO3"], ph=inputs["pH_NBS"], temperature=inputs["t_C"],
        salinity=inputs["S"], tan="0.01",
    )  # fmt: skip
    rise = float(inputs["dose_g_m3"]) / 1.678676  # dose_g_per_m3_per_mgL_CaCO3, NaHCO3
    line = line_of(days, "alkalinity", "BIC", alkalinity=float(inputs["TA_mgL_CaCO3"]) + rise)
    said = " ".join(line.expected)
    moved = abs(expected - float(inputs["pH_NBS"])) >= 0.05
    found = re.search(r"pH will (?:rise|fall) to ([\d.]+) now", said)
    assert bool(found) == moved, said
    if found:
        assert float(found.group(1)) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("inputs", "expected"), rows("salt_to_add_kg"))
def test_salt_is_weighed_as_the_row_says(inputs: dict[str, str], expected: float) -> None:
    site = with_product(
        pool(float(inputs["V_m3"]), salinity_target=float(inputs["S2_gkg"])), "SALT",
        dissolved_fraction=float(inputs["salt_fraction"]),
    )  # fmt: skip
    days = read_all(site, salinity=inputs["S1_gkg"], temperature=inputs["t_C"])
    found = [line for line in sheet_of(days).lines if line.kind == "salt"]
    if expected == 0:
        assert not found
        return
    (line,) = found
    step = 1 if expected < 1 else 10 if expected < 20 else 100
    assert expected * 998 - step < line.amount <= expected * 1002
    assert sum(line.portions) == line.amount


@pytest.mark.parametrize(("inputs", "expected"), rows("replace_fraction_to_lower"))
def test_fresh_water_is_measured_as_the_row_says(inputs: dict[str, str], expected: float) -> None:
    site = pool(10, salinity_target=float(inputs["S2_gkg"]))
    days = read_all(site, salinity=inputs["S1_gkg"])
    line = line_of(days, "fresh water", new_salinity=float(inputs["S_fresh_gkg"]))
    # the row is by mass, the water meter by volume: fresh water is at most 3 % lighter
    assert line.amount / 10_000 == pytest.approx(expected, rel=0.03)


# -- the water as it is today ------------------------------------------------------------------


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


# -- what was given ----------------------------------------------------------------------------


def test_the_day_gives_no_more_than_the_daily_rise() -> None:
    days = read_all(make_site(), alkalinity=40)
    first = line_of(days, "alkalinity", "BIC")
    while (line := line_of(days, "alkalinity", "BIC")).portions:
        days.write(doses.dosed(line, sheet_of(days), confirmed=True), -0.5)
        assert len(days.entries) < 20
    given = sum(float(x.amount) for x in days.entries if isinstance(x, e.Dosed))
    assert given == pytest.approx(first.amount, rel=0.02)
    assert given <= first.amount


def test_a_portion_given_leaves_the_others_as_they_were() -> None:
    days = read_all(make_site(), alkalinity=40)
    first = line_of(days, "alkalinity", "BIC")
    assert len(first.portions) == 2
    days.write(doses.dosed(first, sheet_of(days)), -0.5)
    second = line_of(days, "alkalinity", "BIC")
    assert len(second.portions) == 1
    assert second.amount == pytest.approx(first.portions[1], rel=0.02)
    assert len(second.given) == 1
    assert second.next_at == NOW + timedelta(hours=second.hours_between - 0.5)
    said = f"A portion was given today 07:30: next not before {second.next_at:%H:%M}."
    assert said == second.too_soon == second.cautions[0]
    with pytest.raises(Unsure, match="next not before"):
        doses.dosed(second, sheet_of(days))
    assert doses.dosed(second, sheet_of(days), confirmed=True).portion == 2  # type: ignore[union-attr]


def test_a_new_reading_or_the_other_alkali_does_not_shorten_the_wait() -> None:
    days = read_all(make_site(), alkalinity=40)
    first = line_of(days, "alkalinity", "BIC")
    days.write(doses.dosed(first, sheet_of(days)), -0.5)
    days.read("T1", -0.2, alkalinity=45)
    for product in ("BIC", "ASH"):
        line = line_of(days, "alkalinity", product)
        assert line.portions
        assert line.next_at == NOW + timedelta(hours=line.hours_between - 0.5)
        with pytest.raises(Unsure, match="next not before"):
            doses.dosed(line, sheet_of(days))


def test_the_wait_ends_and_salt_waits_too() -> None:
    days = read_all(make_site(), salinity=25)
    days.stock()
    first = line_of(days, "salt")
    days.write(doses.dosed(first, sheet_of(days)), -0.5)
    second = line_of(days, "salt")
    assert second.next_at == NOW + timedelta(hours=second.hours_between - 0.5)
    with pytest.raises(Unsure, match="next not before"):
        doses.dosed(second, sheet_of(days))
    days.entries[-1] = replace_entry(days.entries[-1], -second.hours_between)
    assert line_of(days, "salt").next_at is None


def test_a_dose_since_the_test_is_added_and_a_new_test_asked_for() -> None:
    days = read_all(make_site(), alkalinity=90)
    assert line_of(days, "alkalinity", "BIC").amount > 0
    # dose_mass_g: V x dTA x 1.678676 / purity, here for 15 mg/L in 12.5 m3
    days.write(
        e.Dosed, -0.5, loop="A", product="BIC", unit="g",
        amount=f"{12.5 * 15 * 1.678676 / 0.99:.0f}",
    )  # fmt: skip
    sheet = sheet_of(days)
    assert not any(line.portions for line in sheet.lines if line.kind == "alkalinity")
    assert any("about 105" in line and "measure it again" in line for line in sheet.cautions)


def test_soda_ash_given_counts_for_bicarbonate_too() -> None:
    days = read_all(make_site(), alkalinity=90)
    before = line_of(days, "alkalinity", "BIC").amount
    # 5 of the 10 mg/L wanted, as soda ash: V x dTA x 1.058969 / purity
    days.write(
        e.Dosed, -0.5, loop="A", product="ASH", unit="g",
        amount=f"{12.5 * 5 * 1.058969 / 0.99:.1f}",
    )  # fmt: skip
    assert line_of(days, "alkalinity", "BIC").amount == pytest.approx(before / 2, rel=0.02)


def test_a_dose_of_yesterday_before_the_test_does_not_count() -> None:
    days = read_all(make_site(), alkalinity=60)
    before = line_of(days, "alkalinity", "BIC").amount
    days.write(e.Dosed, -20, loop="A", product="BIC", amount="500", unit="g")
    assert line_of(days, "alkalinity", "BIC").amount == before


@pytest.mark.parametrize("product", ["LYE", "DUST", "NEVER"])
def test_any_alkali_given_since_the_test_counts_or_stops_the_dose(product: str) -> None:
    """A hydroxide nobody offers counts; one without a label, or not on the site's list, stops."""
    site = make_site()
    lye = Product("LYE", "Caustic soda", "alkali", "NaOH", 0.98)
    dust = Product("DUST", "Unlabelled", "alkali", "NaHCO3", None)
    site = make_site(products={**site.products, "LYE": lye, "DUST": dust})
    days = read_all(site, alkalinity=90, ph=7.6, temperature=24, salinity=30, tan=0.3)
    before = sheet_of(days).lines[0].amount
    days.write(
        e.Dosed, -0.5, loop="A", product=product, amount="90", unit="g", portion=1, advised=""
    )
    after = sheet_of(days)
    dosed = [line.amount for line in after.lines if line.kind == "alkalinity"]
    assert before > 0
    assert all(amount < before for amount in dosed)
    assert bool(dosed) == (product == "LYE")
    assert any("not known" in line for line in after.missing) == (product != "LYE")


def test_salt_given_today_counts() -> None:
    days = read_all(make_site(), salinity=25)
    days.stock()
    first = line_of(days, "salt")
    days.write(doses.dosed(first, sheet_of(days)), -0.5)
    second = line_of(days, "salt")
    assert second.amount == pytest.approx(first.amount - first.portions[0], rel=0.02)


def test_salt_since_the_reading_is_added_to_it() -> None:
    days = read_all(make_site(), salinity="29.4")
    line, sheet = line_of(days, "salt"), sheet_of(days)
    for portion in range(1, len(line.portions) + 1):
        days.write(doses.dosed(line, sheet, portion), -0.5)
    assert not any(line.kind == "salt" for line in sheet_of(days).lines)


def test_water_changed_since_the_reading_asks_for_a_new_one() -> None:
    days = read_all(make_site())
    days.write(
        e.Exchanged, -0.5, loop="A", volume_out="1", volume_in="1", unit="m^3", salinity_in="30"
    )
    sheet = sheet_of(days)
    assert not any(line.portions for line in sheet.lines)
    assert any("alkalinity: water was changed" in line for line in sheet.missing)
    assert any("salinity: water was let in" in line for line in sheet.missing)


# -- two readings ------------------------------------------------------------------------------


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


# -- level and exchange ------------------------------------------------------------------------


def test_a_top_up_restores_the_salinity_it_was_worked_out_from() -> None:
    days = read_all(make_site(), salinity=32)
    line = line_of(days, "top-up", new_salinity=0)
    # salt stays: what is left of the water at 32 held 30 before
    assert line.amount / 1000 == pytest.approx(12.5 * (1 - 30 / 32), rel=0.01)
    assert any("only if the level is down" in caution for caution in line.cautions)
    draft = doses.dosed(line, sheet_of(days))
    assert isinstance(draft, e.Exchanged)
    assert (draft.volume_out, draft.salinity_in) == ("0", "0")


def test_a_level_that_was_written_down_governs_the_top_up() -> None:
    days = read_all(make_site())
    days.write(e.State, -1, place="T1", state="in service", volume="4.5")
    line = line_of(days, "top-up", new_salinity=0)
    assert line.amount == pytest.approx(500)


def test_a_level_below_its_mark_is_topped_up_by_its_area() -> None:
    site = make_site()
    mark = Limits("level", "cm", target_low=100)
    site = with_place(site, "T1", area_m2=4.0, limits=(mark,))
    days = read_all(site, level=95)
    assert line_of(days, "top-up", new_salinity=0).amount == pytest.approx(0.05 * 4 * 1000)
    assert not any(
        line.kind == "top-up" for line in sheet_of(read_all(site, level=101), new_salinity=0).lines
    )


def test_new_water_is_not_taken_for_fresh() -> None:
    days = read_all(make_site(), salinity=33)
    sheet = sheet_of(days)
    assert {line.kind for line in sheet.lines} == {"alkalinity", "exchange"}
    assert any("salinity of the fresh water" in line for line in sheet.missing)
    days.write(
        e.Exchanged, -30, loop="A", volume_out="0", volume_in="0.2", unit="m^3", salinity_in="0.4"
    )
    lowered = line_of(days, "fresh water")
    assert lowered.new_salinity == 0.4


def test_an_exchange_says_what_it_leaves() -> None:
    days = read_all(make_site(), tan="1.00", nitrate="60")
    line = line_of(days, "exchange", exchange=0.1)
    assert line.amount == 1250
    said = " ".join(line.expected)
    assert "TAN from 1.00 (today 07:00) to 0.90" in said
    assert "Nitrate from 60 (today 07:00) to 54" in said
    assert any("salinity 30.0 first" in caution for caution in line.cautions)
    assert any("24.0 degC first" in caution for caution in line.cautions)
    draft = doses.dosed(line, sheet_of(days))
    assert isinstance(draft, e.Exchanged)
    assert draft.volume_out == draft.volume_in == "1250"


def test_salinity_on_target_moves_nothing() -> None:
    kinds = {line.kind for line in sheet_of(read_all(make_site(), salinity="30.2")).lines}
    assert kinds == {"alkalinity", "exchange"}


def test_what_the_fill_checklist_read_is_the_water_let_in() -> None:
    days = read_all(make_site(), salinity=33)
    days.read("HOUSE", -2, salinity="0.4", temperature="22.5")
    line = line_of(days, "fresh water")
    assert line.new_salinity == 0.4
    asked = line_of(read_all(make_site(), salinity=33), "fresh water", new_salinity=0.4,
                    new_temperature=22.5)  # fmt: skip
    assert line.amount == asked.amount
    assert not any("degC first" in caution for caution in line.cautions)
    days.read("HOUSE", -73, chlorine="0.5")
    assert line_of(days, "fresh water").portions
    days.read("HOUSE", -1, chlorine="0.05")
    refused = line_of(days, "fresh water")
    assert not refused.portions
    assert "Chlorine 0.05 mg/L" in refused.refused[0]


# -- giving it, and whose laptop is silent -----------------------------------------------------


def test_a_portion_as_advised_keeps_advice_and_reasons() -> None:
    days = read_all(make_site())
    line, sheet = line_of(days, "alkalinity", "BIC"), sheet_of(days)
    draft = doses.dosed(line, sheet, 2)
    assert isinstance(draft, e.Dosed)
    assert float(draft.amount) == float(draft.advised) == line.portions[1]
    assert (draft.loop, draft.product, draft.unit, draft.portion) == ("A", "BIC", "g", 2)
    assert draft.reasons == lines(line.reasons)
    said = " ".join(draft.reasons)
    assert "Loop A holds 12.50 m^3" in said
    assert "Alkalinity 60 mg/L CaCO3, T1, today 07:00" in said


def test_another_amount_or_a_refused_dose_needs_a_reason() -> None:
    days = read_all(make_site())
    line, sheet = line_of(days, "alkalinity", "BIC"), sheet_of(days)
    with pytest.raises(ValueError, match="say why"):
        doses.dosed(line, sheet, 1, Decimal("10"))
    few = Decimal(f"{line.portions[0] // 2:g}")
    assert doses.dosed(line, sheet, 1, few, "last of the bag").why == "last of the bag"
    for grams, told in ((line.portions[0] * 10, "is 10 times the portion of"), (5, "a decimal")):
        with pytest.raises(Unsure, match=told):
            doses.dosed(line, sheet, 1, Decimal(f"{grams:g}"), "typed")
    ten = Decimal(f"{line.portions[0] * 10:g}")
    assert doses.dosed(line, sheet, 1, ten, "typed", confirmed=True).why == "typed"
    assert doses.dosed(line, sheet, 1, Decimal(f"{line.amount:g}"), "one visit").why == "one visit"
    refused = replace(line, portions=(), refused=("Not now.",))
    with pytest.raises(Unsure, match="nothing is left of the day's dose"):
        doses.dosed(refused, sheet, 1, Decimal(5), "the supervisor says so")
    with pytest.raises(ValueError, match="Nothing to give: Not now"):
        doses.dosed(refused, sheet)
    with pytest.raises(ValueError, match="say why"):
        doses.dosed(refused, sheet, 1, Decimal(5))
    with pytest.raises(ValueError, match="numbered from 1"):
        doses.dosed(line, sheet, 0)


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
