"""The dose from feed: a simulated loop with a known demand, where alkalinity is conserved.

The loop loses `demand` grams of NaHCO3 for each kilogram fed and gains what is poured in; nothing
else moves. 84.006 g NaHCO3 are one equivalent, 50.043 g as CaCO3.
"""

from __future__ import annotations

import random

import msgspec
import pytest
from msgspec.structs import replace
from small_farm import NOW, Days, make_site, with_product

from rounds.day.loops import doses
from rounds.day.loops.doses import DoseLine, DoseSheet
from rounds.reason import lines
from rounds.records import entry as e
from rounds.site.model import Site

VOLUME_M3 = 10.0
GRAMS = 84.006 / 50.043  # NaHCO3 for a gram of alkalinity as CaCO3
FEED_KG = 0.6


def pool(**loop: object) -> Site:
    site = make_site()
    a = replace(site.loops["A"], sump_volume_m3=VOLUME_M3, **loop)  # type: ignore[arg-type]
    places = {c: replace(p, volume_m3=0.0) for c, p in site.places.items() if c != "M1"}
    return with_product(replace(site, loops={"A": a}, places=places), "BIC", purity=1.0)


class Pool(Days):
    """A loop lived through day by day, up to three days before NOW."""

    def __init__(self, demand: float = 180.0, start: float = 100.0, site: Site | None = None):
        super().__init__(site or pool())
        self.demand, self.alkalinity = demand, start

    def live(
        self, days: int, until: float = -72.0, noise: float = 0.0, poured: dict[int, float] | None
        = None, seed: int = 1, every: int = 2, out_m3: float = 0.0,
    ) -> Pool:  # fmt: skip
        """Test every other morning, feed each noon; pour NaHCO3, g, on some days."""
        draw = random.Random(seed)
        for day in range(days + 1):
            hours = until - 24 * (days - day)
            if day % every == 0:
                self.read("T1", hours, alkalinity=f"{self.alkalinity + draw.gauss(0, noise):.1f}")
            if day == days:
                break
            self.give((poured or {}).get(day, 0.0), hours + 2)
            if out_m3:
                self.write(
                    e.Exchanged, hours + 3, loop="A", volume_out=f"{out_m3}",
                    volume_in=f"{out_m3}", unit="m^3", salinity_in="30",
                )  # fmt: skip
                self.alkalinity *= 1 - out_m3 / VOLUME_M3
            self.eat(FEED_KG, hours + 4)
        return self

    def give(self, grams: float, hours: float) -> None:
        if grams:
            self.write(e.Dosed, hours, loop="A", product="BIC", amount=f"{grams}", unit="g")
            self.alkalinity += grams / GRAMS / VOLUME_M3

    def eat(self, kg: float, hours: float) -> None:
        self.feed(f"{1000 * kg:.0f}", hours)
        self.alkalinity -= self.demand * kg / GRAMS / VOLUME_M3

    def today(self, **water: object) -> DoseSheet:
        if not any(getattr(one, "measure", "") == "ph" for one in self.entries):
            self.read("T1", -1, **{"ph": "7.5", "temperature": 24, "salinity": 30, **water})
        (sheet,) = doses.today(self.site, self.farm, NOW, "aaaaaa")
        return sheet


def line_of(sheet: DoseSheet) -> DoseLine:
    (line,) = [line for line in sheet.lines if line.kind == "alkalinity"]
    return line


def learnt(sheet: DoseSheet) -> float:
    (said,) = [text for text in lines(line_of(sheet).reasons) if "learnt from" in text]
    return float(said.split(" g NaHCO3 per kg")[0])


def test_a_known_demand_is_learnt_exactly_from_exact_tests() -> None:
    sheet = Pool(demand=180).live(8).today()
    assert learnt(sheet) == pytest.approx(180, abs=3)
    said = " ".join(lines(line_of(sheet).reasons))
    assert "learnt from 5 tests" in said
    assert "mostly" in said


@pytest.mark.parametrize("seed", range(6))
def test_within_the_noise_of_its_tests(seed: int) -> None:
    days = Pool(demand=180, start=130)
    sheet = days.live(16, noise=3.0, seed=seed, poured={4: 500.0, 10: 500.0}).today()
    # two tests of 3 mg/L: 4.2 x 10 m3 x 1.68 g over the 9.6 kg of 16 days is 7.4 g/kg; twice that
    assert learnt(sheet) == pytest.approx(180, abs=15)


def test_a_dose_that_hid_the_fall_is_accounted_for() -> None:
    """Poured exactly what the feed took, the tests stand still and the demand is still seen."""
    hidden = dict.fromkeys(range(8), 180 * FEED_KG)
    sheet = Pool(demand=180).live(8, poured=hidden).today()
    assert learnt(sheet) == pytest.approx(180, abs=3)
    once = Pool(demand=180).live(8, poured={3: 300.0}).today()
    assert learnt(once) == pytest.approx(180, abs=3)


def test_one_wrong_test_moves_little() -> None:
    wrong = Pool(demand=180, start=140).live(12)
    at = [n for n, x in enumerate(wrong.entries) if isinstance(x, e.Reading)][3]
    wrong.entries[at] = msgspec.structs.replace(wrong.entries[at], value="200")
    assert learnt(wrong.today()) == pytest.approx(180, abs=15)


def test_an_interval_with_an_alkali_of_unknown_strength_or_much_new_water_tells_nothing() -> None:
    for entry in (
        e.Dosed(loop="A", product="NEVER", amount="900", unit="g"),
        e.Exchanged(loop="A", volume_out="3", volume_in="3", unit="m^3", salinity_in="30"),
    ):
        days = Pool(demand=180, start=120).live(4, until=-168)
        days.alkalinity += 40  # what it brought, which nobody knows
        days.write(entry, -150)
        days.live(4, until=-50)
        said = " ".join(lines(line_of(days.today()).reasons))
        assert learnt(days.today()) == pytest.approx(180, abs=4)
        assert "5 tests" in said


def test_what_left_with_water_let_out_is_not_put_on_the_feed() -> None:
    sheet = Pool(demand=180, start=130).live(8, out_m3=0.2).today()
    assert learnt(sheet) == pytest.approx(180, abs=8)


def test_it_gives_back_what_feed_took_since_the_test_and_lifts_nothing() -> None:
    days = Pool(demand=180, site=pool(alkalinity_target_mg_l=130.0)).live(8)
    tested = days.alkalinity
    days.eat(0.6, -60)
    days.eat(0.6, -36)
    line = line_of(days.today())
    assert line.product == "BIC"
    assert line.amount == pytest.approx(1.2 * 180, rel=0.02)
    assert days.alkalinity + line.amount / GRAMS / VOLUME_M3 <= tested + 0.5
    assert "Replaces what 1.2 kg of feed took" in line.expected[0]
    assert "lifts nothing" in line.expected[0]
    assert any("alkalinity" in text.lower() and "again" in text for text in days.today().missing)


def test_what_was_given_since_counts_and_no_portion_is_left() -> None:
    days = Pool(demand=180).live(8)
    days.eat(1.5, -36)
    whole = line_of(days.today()).amount
    days.give(200.0, -20)
    assert line_of(days.today()).amount == pytest.approx(whole - 200, abs=8)
    days.give(whole, -19)
    line = line_of(days.today())
    assert not line.portions
    assert "covers" in line.expected[0]


def test_water_above_its_target_is_let_fall_first() -> None:
    days = Pool(demand=180, start=190, site=pool()).live(8)
    days.eat(2.0, -36)
    assert days.alkalinity > 100
    assert not line_of(days.today()).portions


def test_never_above_the_daily_rise() -> None:
    days = Pool(demand=180, site=pool(alkalinity_daily_rise_mg_l=5.0)).live(8)
    for hours in (-70, -50, -30):
        days.eat(FEED_KG, hours)
    line = line_of(days.today())
    assert 0 < line.amount <= 5 * VOLUME_M3 * GRAMS
    days.write(doses.dosed(line, days.today()), -0.5)
    rest = line_of(days.today()).amount
    assert line.portions[0] + rest <= 5 * VOLUME_M3 * GRAMS


def test_never_above_what_the_protein_can_take() -> None:
    """12 kg of 48 % protein take 6415.659 g at 99 %; here half a kilogram of 45 %."""
    days = Pool(demand=900, start=340).live(8)
    assert days.alkalinity < 100
    days.eat(0.5, -36)
    line = line_of(days.today())
    assert line.amount == pytest.approx(6415.659 * 0.99 / 12 / 48 * 45 / 2, rel=0.02)
    assert any("at most" in text and "protein" in text for text in lines(line.reasons))


def test_a_fresh_test_corrects_it() -> None:
    days = Pool(demand=180).live(8)
    days.eat(2.0, -36)
    assert "Replaces" in line_of(days.today()).expected[0]
    days.read("T1", -0.5, alkalinity="88")
    line = next(one for one in days.today().lines if one.product == "BIC")
    # back to lifting: from 88 to 100 in 10 m3, V x rise x 1.678676 (dose_mass_g)
    assert line.amount == pytest.approx(VOLUME_M3 * 12 * 1.678676, rel=0.02)


@pytest.mark.parametrize("lived", [0, 2])
def test_with_less_than_two_intervals_it_says_so_in_words(lived: int) -> None:
    sheet = Pool().live(lived).today()
    assert not any(line.kind == "alkalinity" for line in sheet.lines)
    assert any("not learnt yet" in text for text in sheet.missing)


def test_tests_that_disagree_give_words_not_grams() -> None:
    days = Pool()
    for hours, value in ((-240, 90), (-192, 100), (-144, 90), (-96, 102)):
        days.read("T1", hours, alkalinity=value)
        days.feed("600", hours + 4)
    sheet = days.today()
    assert not any(line.kind == "alkalinity" for line in sheet.lines)
    assert any("disagree" in text for text in sheet.missing)


def test_an_unknown_alkali_changed_water_or_a_test_of_last_week_stops_it() -> None:
    strange = Pool().live(8)
    strange.write(e.Dosed, -20, loop="A", product="NEVER", amount="90", unit="g")
    assert any("NEVER" in text for text in strange.today().missing)
    changed = Pool().live(8)
    changed.write(
        e.Exchanged, -20, loop="A", volume_out="2", volume_in="2", unit="m^3", salinity_in="30"
    )
    assert any("water was changed" in text for text in changed.today().missing)
    drained = Pool().live(8)
    drained.write(e.State, -100, place="T2", state="drained")
    old = Pool().live(8, until=-24 * 7.5)
    for days in (strange, changed, drained, old):
        assert not any(line.kind == "alkalinity" for line in days.today().lines)


@pytest.mark.parametrize("lacking", ["ph", "temperature", "salinity"])
def test_it_still_needs_the_water_of_today(lacking: str) -> None:
    days = Pool().live(8)
    days.eat(2.0, -36)
    assert line_of(days.today()).portions
    days.entries = [x for x in days.entries if getattr(x, "measure", "") != lacking]
    (sheet,) = doses.today(days.site, days.farm, NOW)
    assert not any(line.kind == "alkalinity" for line in sheet.lines)
    assert any(lacking in text.lower() for text in sheet.missing)
