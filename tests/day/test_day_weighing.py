"""A sample weighed: what it says, what was mistyped, and the weight used from then on."""

from __future__ import annotations

from decimal import Decimal

import pytest
from small_farm import NOW, Days

from rounds.day.lots import weighing
from rounds.day.lots.growth import growths
from rounds.day.lots.weighing import Netted, Weighing
from rounds.records import entry as e

GRAMS = "238 262 251 244 270 233 259 247 255 241 249 260"


def lot(count: int = 300, weight: str = "250") -> Days:
    days = Days()
    days.stock("T1", count=count, weight=weight)
    return days


def say(days: Days, netted: Netted, **keys) -> Weighing:
    farm = days.farm
    return weighing.weighed(days.site, farm, farm.stocks["T1"][0], netted, NOW, **keys)


def test_nets_are_all_kilograms_over_all_fish() -> None:
    """Husbandry example: 25/5.35, 22/4.62, 27/5.94 kg: 215.0 g, not the mean of the nets."""
    netted = weighing.nets("25/5.35 22/4.62 27/5.94")
    assert netted.mean_g == pytest.approx(215.0, abs=0.05)
    assert (netted.count, netted.mass, netted.unit) == (74, Decimal("15.91"), "kg")
    tared = weighing.nets("25/5,55; 22/4.82; 27/6.14", Decimal("0.2"))
    assert tared.mass == Decimal("15.91")
    found = say(lot(), netted)
    assert (found.cv_percent, found.above_market) == (None, {})
    assert "Nets tell the mean, not the spread" in found.cautions[0]


def test_nets_written_one_by_one_are_one_sample_in_the_stock_and_in_growth() -> None:
    """Husbandry example: 25/5.35, 22/4.62, 27/5.94 kg: 215.0 g, whichever net came last."""
    days = lot()
    for n, (count, kg) in enumerate(((25, "5.35"), (22, "4.62"), (27, "5.94"))):
        days.write(e.Weighed, -1 + n / 20, place="T1", lot="L1", count=count, mass=kg, unit="kg")
    [stock] = days.farm.stocks["T1"]
    assert stock.weight_g == pytest.approx(215.0, abs=0.05)
    assert stock.sampled is not None
    assert (stock.sampled.count, stock.carried_weight_g) == (74, 250)
    assert growths(days.site, days.farm, NOW)[0].points[-1].weight_g == stock.weight_g
    days.write(e.Weighed, 24, place="T1", lot="L1", count=10, mass="2.3", unit="kg")
    assert days.farm.stocks["T1"][0].weight_g == 230  # another day, another sample


def test_weights_keep_what_was_typed_and_take_a_unit() -> None:
    netted = weighing.weights("0.238 0,262 0.2510 kg")
    assert netted.weights_g == pytest.approx((238, 262, 251))
    entry = weighing.draft(lot().farm.stocks["T1"][0], netted)
    assert entry.weights == ["0.238", "0.262", "0.2510"]
    assert (entry.mass, entry.unit, entry.count) == ("0.7510", "kg", 3)


@pytest.mark.parametrize("text", ["", "a", "-3", "0", "12 cm", "1.2.3", "nan", "5/3"])
def test_what_is_not_a_weight_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        weighing.weights(text)


@pytest.mark.parametrize("text", ["", "25", "0/3", "25/0", "25/-1", "25/0.1", "x/y", "1/2/3"])
def test_what_is_not_a_net_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        weighing.nets(text, Decimal("0.2"))


def test_how_many_to_weigh_as_worked_out() -> None:
    """Published anchors: CV 20 %, 5 %, tank of 300: 54 fish; tank of 60: 32."""
    farm = lot().farm
    assert weighing.wanted(farm.stocks["T1"][0], None, 5.0) == 54
    assert weighing.wanted(lot(60).farm.stocks["T1"][0], 20.0, 5.0) == 32
    assert weighing.wanted(lot(3).farm.stocks["T1"][0], 200.0, 1.0) == 3


def test_kept_and_previewed_weight_are_the_same() -> None:
    days = lot()
    netted = weighing.weights(GRAMS)
    found = say(days, netted)
    assert days.farm.stocks["T1"][0].weight_g == 250
    days.write(weighing.draft(days.farm.stocks["T1"][0], netted))
    assert days.farm.stocks["T1"][0].weight_g == found.adopted_g
    low, high = sorted((found.carried_g, found.mean_g))
    assert low <= found.adopted_g <= high
    assert not found.recount


def test_a_sample_far_from_the_carried_weight_asks_for_a_second_one() -> None:
    found = say(lot(), weighing.weights("338 362 351 344 370 333 359 347 355 341"))
    assert found.recount
    assert found.adopted_g == 250  # the smaller one until then
    assert found.odd == ()


@pytest.mark.parametrize(
    ("netted", "asks"),
    [
        (weighing.weights("0.238 0.262 0.251"), "were these kg"),
        (weighing.nets("25/6250"), "were these g"),
        (weighing.weights("2380 2620 2510"), "decimal mark"),
        (weighing.weights("238 2620 251"), "2620 is far from the middle"),
    ],
)
def test_likely_slips_are_named(netted: Netted, asks: str) -> None:
    assert any(asks in one for one in say(lot(), netted).odd)


def test_market_size_three_ways_as_worked_out() -> None:
    """Normal and log-normal at mean 800 g, CV 20 %, 900 g: 26.6 and 24.4 %."""
    sd = 160.0
    half = sd * (3 / 4) ** 0.5  # four fish with that standard deviation
    netted = weighing.weights(" ".join(f"{800 + s * half:.6f}" for s in (-1, -1, 1, 1)))
    found = say(lot(weight="800"), netted).above_market
    assert found["sample"] == 0.5
    assert found["normal"] == pytest.approx(0.266, abs=5e-4)
    assert found["log_normal"] == pytest.approx(0.244, abs=5e-4)


def test_condition_catches_millimetres_typed_as_centimetres() -> None:
    netted = weighing.weights("240 260")
    found = say(lot(), netted, lengths_cm=(28.0, 29.0))
    assert found.condition == pytest.approx((240 / 28**3 + 260 / 29**3) * 50)
    with pytest.raises(ValueError, match="is the length in cm"):
        say(lot(), netted, lengths_cm=(280.0 / 2, 290.0 / 2))
    with pytest.raises(ValueError, match="1 lengths for 2"):
        say(lot(), netted, lengths_cm=(28.0,))


def test_change_since_the_last_sample_has_its_own_interval() -> None:
    days = lot()
    days.write(weighing.draft(days.farm.stocks["T1"][0], weighing.weights(GRAMS)), hours=-240)
    again = say(days, weighing.weights(" ".join(f"{int(g) + 10}" for g in GRAMS.split())))
    assert again.since_last.startswith("+10 g since 28 Feb 2026 (between ")
    days.feed("100", -1)
    assert "Fed today" in " ".join(say(days, weighing.weights(GRAMS)).cautions)


def test_no_more_fish_than_there_are() -> None:
    with pytest.raises(ValueError, match="only 300 of L1 are here"):
        say(lot(), weighing.nets("301/75"))
