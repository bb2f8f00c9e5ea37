"""Moving fish: waters that mixing bridges, how long it takes, and an account that adds up."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rounds.fish.transfer import bridged, mixing_min, off_balance

FISH = st.integers(0, 10_000)


@pytest.mark.parametrize(
    ("measure", "source", "target", "fits"),
    [
        ("temperature", 24.0, 26.0, True),
        ("temperature", 24.0, 21.9, False),
        ("salinity", 30.0, 32.1, False),
        ("ph", 7.5, 8.0, True),
        ("ph", 8.1, 7.5, False),
        ("oxygen_percent", 100, 70, False),
    ],
)
def test_two_waters_fit_up_to_what_is_allowed(measure, source, target, fits):
    assert bridged(measure, source, target) is fits
    assert bridged(measure, target, source) is fits


def test_the_slowest_change_says_how_long_water_is_mixed():
    assert mixing_min({}) == 0
    assert mixing_min({"temperature": 2.0}) == 25  # 5 degC an hour: 24 min
    assert mixing_min({"temperature": -2.0, "ph": 0.5}) == 30
    assert mixing_min({"salinity": 2.0, "temperature": 0.5}) == 30
    with pytest.raises(ValueError, match="difference of ph 60"):
        mixing_min({"ph": 60})
    with pytest.raises(ValueError, match="allowed is temperature"):
        bridged("tan", 1, 1)


@settings(max_examples=40)
@given(into=st.lists(FISH, max_size=4), lost=st.lists(FISH, max_size=2), off=st.integers(-50, 50))
def test_what_is_off_is_what_left_less_all_that_is_accounted_for(into, lost, off):
    out = sum(into) + sum(lost) + off
    if out < 0:
        return
    assert off_balance(out, into, lost) == off


def test_tenths_of_a_gram_that_a_computer_rounds_are_not_off():
    assert off_balance(0.3, [0.1, 0.2], []) == 0.0
    assert off_balance(0.302, [0.1, 0.2], []) == pytest.approx(0.002)
