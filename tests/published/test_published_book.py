"""The published worked examples end to end: entries in a book on disk, the command's own figures.

Expected values are those of `data/husbandry_checks.csv`, the source named at each.
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from published_book import NOW, Begun, Written, begun

from rounds.day.fold.farm import fold
from rounds.day.lots.series import warmth
from rounds.fish.growth import step_days
from rounds.fish.seabream import seabream_gain_g_day
from rounds.records.entry import Counted, Died, Entry, Fed, Hatch, Stocked, Weighed

__all__ = ["begun"]


def stocked(count: int, mean_g: float, place: str = "T1", **more: object) -> Entry:
    mean = f"{mean_g:.6f}"
    return Stocked(lot="X", place=place, count=count, mean_weight=mean, unit="g", **more)  # type: ignore[arg-type]


def weighed(mean_g: float, place: str = "T1", count: int = 50) -> Entry:
    return Weighed(lot="X", place=place, count=count, mass=f"{mean_g * count:.6f}", unit="g")


def warm(book: Written, days: int, daily_c: float, *ends: tuple[int, Entry]) -> None:
    """Read the water of T1 each day, and write what happened on its day, so many days ago."""
    for ago in range(days, -1, -1):
        book.write(ago, *(entry for day, entry in ends if day == ago))
        book.read(ago, "T1", temperature=daily_c)


def test_the_red_drum_cage_run(begun: Begun) -> None:
    """Near-shore cage feeding demonstration (public report): 312.5 fish/m3 in 6.4 m3, 14 to 232 g
    in 103 days, feed per gain 1.54, 73 % alive."""
    book = begun(volume="6.4 m^3")
    book.write(103, stocked(2000, 14))
    for day in range(100):  # 478.5 kg of feed, and 540 dead by fifty-fours
        meal = Fed(place="T1", product="PEL", amount="4785.088", unit="g", advised="4785.088")
        dead = (Died(lot="X", place="T1", count=54),) if day % 10 == 5 else ()
        book.write(102 - day, *dead, meal)
    book.write(0, weighed(232))
    (row,) = book.rows("growth", "T1")
    assert row["count"] == 1460
    assert row["biomass_kg"] == pytest.approx(338.72, abs=0.05)
    assert row["density_kg_m3"] == pytest.approx(52.925, abs=0.01)
    assert row["gain_kg"] == pytest.approx(310.72, abs=0.05)
    assert row["feed_given_kg"] == pytest.approx(478.509, abs=0.05)
    assert row["fcr_economic"] == pytest.approx(1.54, abs=0.001)
    assert row["sgr_percent_day"] == pytest.approx(2.7259, abs=0.001)
    assert row["survival"] == pytest.approx(0.73, abs=1e-9)
    assert row["mortality_z_per_day"] == pytest.approx(0.00305544, abs=1e-6)
    assert any("28.00 kg" in line and "338.72 kg" in line for line in row["reasons"])


@pytest.mark.parametrize(
    ("start_g", "end_g", "daily_c", "days", "x1000"),
    [
        # public calculation note on TGC: printed as 0.222 on the x100 scale
        (10, 350, 11, 200, 2.22),
        # Person-Le Ruyet et al. 2004
        (80, 116.75, 13, 84, 0.529857),
        (80, 236.42, 25, 84, 0.8927),
    ],
)
def test_the_printed_thermal_coefficients(
    begun: Begun, start_g: float, end_g: float, daily_c: float, days: int, x1000: float
) -> None:
    book = begun()
    warm(book, days, daily_c, (days, stocked(300, start_g)), (0, weighed(end_g)))
    (row,) = book.rows("growth", "T1")
    spans = row["spans"]
    assert spans[0]["tgc"]["value"] == pytest.approx(x1000, abs=0.01)
    assert spans[0]["tgc"]["scale"] == 1000
    assert spans[0]["unread_days"] == 0


def test_a_coefficient_of_the_other_side_of_the_optimum_is_not_printed(begun: Begun) -> None:
    """Person-Le Ruyet et al. 2004: 80 to 221 g at 29 degC, where sea bass grow worse than at 25."""
    book = begun(species="european-sea-bass")
    warm(book, 84, 29, (84, stocked(300, 80)), (0, weighed(221.06)))
    (row,) = book.rows("growth", "T1")
    assert row["tgc"] is None
    assert "above the optimum" in row["tgc_says"]


def test_the_projection_day_by_day_meets_the_closed_form(begun: Begun) -> None:
    """Rows of weight by TGC, (W^(1/3) + TGC T t)^3, and days_to_density_limit: 57.58 days."""
    book = begun(volume="5.678 m^3", more="density = 30")
    start_g = (300 ** (1 / 3) - 0.0006 * 24 * 60) ** 3
    warm(book, 60, 24, (60, stocked(400, start_g)), (0, weighed(300)))
    (row,) = book.rows("growth", "T1")
    assert row["tgc"]["value"] == pytest.approx(0.6, abs=1e-4)
    assert len(row["projection"]["ahead"]) == 5
    for ahead in row["projection"]["ahead"]:
        closed_g = (300 ** (1 / 3) + 0.0006 * 24 * ahead["days"]) ** 3
        assert ahead["weight_g"] == pytest.approx(closed_g, rel=0.002)
        assert ahead["biomass_kg"] == pytest.approx(closed_g * 0.4, rel=0.002)
    day = (NOW + timedelta(days=58)).date().isoformat()
    assert row["projection"]["density_limit"]["day"] == day


@pytest.mark.parametrize(
    ("start_g", "daily_c", "days"),
    [(1, 24, 353.255), (100, 26, 162.416)],
)
def test_gilthead_grown_by_the_equation_meets_its_closed_form(
    begun: Begun, start_g: float, daily_c: float, days: float
) -> None:
    """Lupatsch, Kissil & Sklan 2003: 400 g after so many days; stepped by the book's own water."""
    book = begun(species="gilthead-seabream")
    warm(book, int(days) + 1, daily_c, (int(days) + 1, stocked(100, start_g)))
    farm = fold(book.site, book.entries())
    (stock,) = farm.stocks["T1"]
    read = warmth(farm, ("T1",), stock.stocked_at, NOW)
    assert read is not None
    weights = [stock.weight_g, *step_days(stock.weight_g, read.daily_c, seabream_gain_g_day)]
    grown = weights[int(days)] + (weights[int(days) + 1] - weights[int(days)]) * (days % 1)
    assert grown == pytest.approx(400, rel=0.002)


@pytest.mark.parametrize(
    ("weight_g", "daily_c", "percent", "fcr"),
    [(50, 24, 1.5991, None), (250, 24, 1.01924, None), (400, 20, 0.711754, 1.64273)],
)
def test_the_gilthead_energy_budget_stands_beside_the_ration(
    begun: Begun, weight_g: float, daily_c: float, percent: float, fcr: float | None
) -> None:
    """Lupatsch, Kissil & Sklan 2003, factorial model, feed of 18 kJ/g, end to end."""
    book = begun(species="gilthead-seabream", energy="18 kJ/g")
    warm(book, 3, daily_c, (3, stocked(1000, weight_g)))
    (row,) = book.rows("ration", "T1")
    (budget,) = [one for one in row["opinions"] if one["name"] == "energy budget"]
    assert budget["g_day"] == pytest.approx(percent * weight_g * 1000 / 100, abs=0.05 * weight_g)
    assert budget["decides"] is False
    if fcr is not None:
        gain_g = 0.024 * weight_g**0.514 * 2.718281828 ** (0.060 * daily_c)
        assert budget["g_day"] / 1000 / gain_g == pytest.approx(fcr, abs=0.002)


def test_the_rotifers_of_the_printed_top_up(begun: Begun) -> None:
    """1000 L, 10 per mL from 3, a culture of 300: 24.14 L poured, 23.3 L rinsed; a larva eats up
    to 1,900 a day (public extension text on live feeds)."""
    book = begun()
    book.write(12, stocked(7800, 0.004, "L1"))
    book.read(0.1, "R1", rotifer_density=300)
    book.read(0.05, "L1", rotifer_density=3)
    (row,) = book.rows("larvae", "L1", "--food", "rotifers", "--target", 10, "--hours", 24)
    assert row["add_culture_l"] == pytest.approx(24.1379, abs=0.01)
    assert row["add_rinsed_l"] == pytest.approx(1000 * 7 / 300, abs=0.01)
    assert row["larvae"] == 7800
    assert row["eaten_until_next"] == pytest.approx(14_820_000)


@pytest.mark.parametrize(
    ("counted", "ml", "figures"),
    [(47, 10, (4.7, 3.453, 6.25)), (100, 5, (20, 16.273, 24.325))],
)
def test_a_printed_count_has_its_exact_interval(
    begun: Begun, counted: int, ml: float, figures: tuple[float, float, float]
) -> None:
    """Exact (Garwood) Poisson 95 % interval."""
    book = begun()
    book.write(12, stocked(7800, 0.004, "L1"))
    typed = "--food", "rotifers", "--counts", counted, "--volume-ml", ml, "--target", 30
    (row,) = book.rows("larvae", "L1", *typed)
    found = row["per_ml"], row["low_per_ml"], row["high_per_ml"]
    assert found == pytest.approx(figures, abs=0.002)


def test_the_printed_harvest_of_a_steady_culture(begun: Begun) -> None:
    """Live-feed practice note: 40 % a day is made good by 66.7 % a day."""
    book = begun()
    book.read(1, "R1", rotifer_density=300)
    book.read(0, "R1", rotifer_density=300)
    (row,) = book.rows("larvae", "R1", "--left", 180)
    assert row["harvest_fraction"] == pytest.approx(0.4, abs=1e-4)
    assert row["harvest_l"] == pytest.approx(40, abs=0.01)


def test_the_printed_brine_shrimp_hatch(begun: Begun) -> None:
    """Strain hatching study: 230,600 nauplii a gram; a million are 4.33651 g of cysts."""
    book = begun()
    for ago in (2, 1):
        book.write(ago, Hatch(place="R1", cysts="tin", amount="2.00", unit="g", nauplii=461_200))
    typed = "--wanted", "2026-03-12T08:00", "--nauplii", 1_000_000, "--cysts", "tin"
    row = book.rows("larvae", *typed)[-1]
    assert row["nauplii_per_g"] == pytest.approx(230_600)
    assert row["cysts_g"] == pytest.approx(4.33651, abs=0.001)


def test_the_printed_killifish_pond(begun: Begun) -> None:
    """Gulf killifish in ponds: 26,500 a hectare, 0.47 to 7.88 g in 112 days, 54.3 % alive: net
    0.901 kg a hectare and day."""
    book = begun()
    book.write(112, stocked(26_500, 0.47, "P1"))
    book.write(0.01, weighed(7.88, "P1", 100), Counted(lot="X", place="P1", count=14_390))
    book.read(0, "P1", temperature=25)
    rows = book.rows("forage", "--pond", "P1")
    (pond,) = [row for row in rows if "made_kg_day" in row]
    assert pond["made_kg_day"] == pytest.approx(0.901199, abs=0.005)
