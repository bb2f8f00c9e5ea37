"""Doses given: what was given counts, portions wait, and giving another amount needs a reason."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from dose_farm import line_of, read_all, sheet_of
from msgspec import structs
from msgspec.structs import replace
from small_farm import NOW, make_site

from rounds.day.loops import doses
from rounds.day.slips import Unsure
from rounds.day.walking.plan import rereads
from rounds.reason import lines
from rounds.records import entry as e
from rounds.site.model import Product


def replace_entry(entry: e.Entry, hours: float) -> e.Entry:
    """Return an entry as if written so many hours from NOW."""
    return structs.replace(entry, t=e.stamp(NOW + timedelta(hours=hours)))


# -- what was given --------------------------------------------------------------------------------


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


def test_the_ph_after_a_portion_is_to_be_read_again_until_it_was() -> None:
    days = read_all(make_site(), alkalinity=40)
    line = line_of(days, "alkalinity", "BIC")
    days.write(doses.dosed(line, sheet_of(days)), -0.6)
    (again,) = rereads(days.site, days.farm, NOW)
    assert (again.place, again.measure) == ("T1", "ph")
    assert again.due == NOW - timedelta(minutes=6)
    asked = f"read T1 pH again by {again.due:%H:%M} late"
    assert again.says == f"{asked} (after the dose: it was 7.4, 7.50 at most)"
    days.read("T1", -0.7, ph="8.45")
    (again,) = rereads(days.site, days.farm, NOW)
    assert "it was 8.45, 8.50 at most" in again.says
    assert any("pH 30 minutes after each portion" in says for says in line.measure_after)
    days.read("T1", -0.5, ph="7.45")  # six minutes after it: too early to tell
    assert rereads(days.site, days.farm, NOW)
    days.read("T1", -0.1, ph="7.45")
    assert not rereads(days.site, days.farm, NOW)


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


# -- giving it, and whose laptop is silent ---------------------------------------------------------


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
