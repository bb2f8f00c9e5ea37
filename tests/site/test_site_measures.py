"""The closed list of measures: units that exist, limits in order, slips that propose sense."""

from __future__ import annotations

import pytest

from rounds.site.measures import MEASURES
from rounds.units import UNITS

ALL = [pytest.param(measure, id=code) for code, measure in MEASURES.items()]


def test_the_names_that_entries_use_are_there():
    names = (
        "temperature salinity oxygen oxygen_percent ph tan nitrite nitrate alkalinity co2 pressure"
        " chlorine flow level bed_height ammonia rotifer_density"
    )
    assert set(names.split()) <= set(MEASURES)


@pytest.mark.parametrize("measure", ALL)
def test_in_order(measure):
    assert measure.unit in UNITS
    assert measure.stale_h > 0
    soft = [measure.suspicious_low, measure.suspicious_high]
    bounds = [measure.impossible_low, *soft, measure.impossible_high]
    given = [bound for bound in bounds if bound is not None]
    assert given == sorted(given)
    assert measure.accuracy or measure.accuracy_percent


@pytest.mark.parametrize("measure", ALL)
def test_what_a_slip_proposes_is_usual(measure):
    low = measure.impossible_low if measure.suspicious_low is None else measure.suspicious_low
    high = measure.impossible_high if measure.suspicious_high is None else measure.suspicious_high
    for slip in measure.slips:
        assert slip.low < slip.high
        middle = slip.meant((slip.low + slip.high) / 2)
        assert middle is None or measure.impossible_low <= middle <= measure.impossible_high
        odd = slip.low < low or slip.high > high
        assert odd, "a slip must lie outside what is usual"


@pytest.mark.parametrize(
    ("code", "typed", "meant"),
    [
        ("specific_gravity", 1024, 1.024),
        ("specific_gravity", 24, 1.024),
        ("temperature", 77, 25.0),
        ("temperature", 245, 24.5),
        ("ph", 78, 7.8),
        ("oxygen", 62, 6.2),
        ("conductivity", 50000, 50.0),
        ("pressure", 1, 1013.25),
        ("alkalinity", 2, 100.086),
    ],
)
def test_known_slips(code, typed, meant):
    slip = next(slip for slip in MEASURES[code].slips if slip.low <= typed <= slip.high)
    assert slip.meant(typed) == pytest.approx(meant)


def test_a_specific_gravity_typed_as_salinity_is_named_and_not_worked_out():
    for typed in (1.024, 1024):
        slip = next(slip for slip in MEASURES["salinity"].slips if slip.low <= typed <= slip.high)
        assert "specific gravity" in slip.says
        assert slip.meant(typed) is None


def test_accuracy_is_the_greater_of_the_two():
    assert MEASURES["oxygen"].accuracy_at(2.0) == 0.1
    assert MEASURES["oxygen"].accuracy_at(10.0) == pytest.approx(0.2)
