"""What the water room says: methods by salinity, bands, and refusals in words."""

from __future__ import annotations

import math
import re
import sys
from subprocess import run

import pytest

from rounds.reason import lines
from rounds.units import UNITS
from rounds.water import ammonia, carbonate, conductivity, forms, oxygen, seawater
from rounds.water.constants import constants
from rounds.water.equilibrium import ImpossiblePair
from rounds.water.ph_scale import nbs_from_total, total_from_nbs
from rounds.water.sulphide import hydrogen_sulphide_fraction


@pytest.mark.parametrize(
    ("salinity", "method", "at_most"),
    [
        (0, "Emerson et al. 1975", False),
        (0.49, "Emerson et al. 1975", False),
        (0.5, "Emerson et al. 1975", True),
        (4.9, "Emerson et al. 1975", True),
        (5, "Clegg & Whitfield 1995", False),
        (35, "Clegg & Whitfield 1995", False),
    ],
)
def test_the_ammonia_equation_follows_the_salinity(salinity, method, at_most):
    found = ammonia.un_ionised(1.0, 25, salinity, 8.0)
    assert (found.method, found.at_most) == (method, at_most)
    assert any("at most" in line for line in lines(found.reasons)) == at_most
    assert method.split(" ")[0] in " ".join(lines(found.reasons))


def test_a_meter_set_with_sea_water_buffers_gives_the_same_verdict_on_the_same_water():
    nbs = ammonia.un_ionised(1.0, 25, 33, 8.0)
    total = ammonia.un_ionised(1.0, 25, 33, total_from_nbs(8.0, 25, 33), "total")
    assert total.value_mg_l == pytest.approx(nbs.value_mg_l, rel=1e-12)
    assert total.cautious_mg_l == pytest.approx(nbs.cautious_mg_l, rel=1e-12)
    in_fresh = ammonia.un_ionised(1.0, 25, 0.2, 8.0, "total")
    assert in_fresh.at_most
    assert in_fresh.value_mg_l > ammonia.un_ionised(1.0, 25, 0.2, 8.0).value_mg_l


def test_the_cautious_value_is_bells_within_two_percent_of_the_published_table():
    """Bower & Bidwell 1978, S = 34, pH 8.0, 20 degC: 2.98 %."""
    found = ammonia.un_ionised(1.0, 20, 34, 8.0)
    assert 100 * found.cautious_mg_l == pytest.approx(2.98, rel=0.02)
    assert found.value_mg_l < found.cautious_mg_l


def test_co2_says_how_sure_it_is_and_what_it_assumed():
    found = carbonate.co2(100, 7.6, 20, 30)
    assert (found.low_mg_l, found.high_mg_l) == (
        pytest.approx(0.75 * found.co2_mg_l),
        pytest.approx(1.25 * found.co2_mg_l),
    )
    told = " ".join(lines(found.reasons))
    assert "Phosphate not known" in told
    assert "7.60" in told
    assert f"{found.co2_mg_l:.2g}" in told
    known = carbonate.co2(100, 7.6, 20, 30, phosphate_mg_l=5)
    assert known.co2_mg_l < found.co2_mg_l
    assert "Phosphate not known" not in " ".join(lines(known.reasons))


def test_sea_water_buffers_in_fresh_water_give_an_upper_bound_of_co2():
    assert carbonate.co2(100, 7.2, 20, 0, "total").at_most
    assert not carbonate.co2(100, 7.2, 20, 0, "nbs").at_most


@pytest.mark.parametrize(("salinity", "at_most"), [(0, False), (0.5, True), (4.9, True)])
def test_below_salinity_five_co2_is_fresh_water_co2(salinity, at_most):
    found = carbonate.co2(50, 6.8, 25, salinity)
    assert found.co2_mg_l == pytest.approx(15.65, rel=0.01)  # Tucker 1984, 50 x 0.313
    assert found.at_most is at_most
    assert found.ph_total is None
    assert found.ph("total") == found.ph_nbs == 6.8
    assert found.low_mg_l == (0 if at_most else pytest.approx(0.75 * found.co2_mg_l))
    assert found.co2_mg_l > carbonate.co2(50, 6.8, 25, 5).co2_mg_l


def test_an_impossible_pair_gives_no_number():
    with pytest.raises(ImpossiblePair, match="pH too high for this alkalinity"):
        carbonate.co2(15, 9.5, 25, 33)


def test_too_much_co2_points_to_the_meter():
    found = carbonate.co2(250, 6.2, 25, 30)
    assert found.doubtful
    assert "check the pH meter" in lines(found.reasons)[-1]
    assert not carbonate.co2(100, 7.4, 25, 30).doubtful


def test_the_alkalinity_units_are_those_of_the_closed_list():
    for form, unit in (("meq/L", "meq/L"), ("dKH", "dKH"), ("mg/L CaCO3", "mg/L CaCO3")):
        assert forms.alkalinity(1, form) == pytest.approx(UNITS[unit].factor, rel=1e-9)


def test_a_meter_left_at_salinity_zero_reads_high():
    """Reference: 22.9 % too high at 20 degC and salinity 35."""
    ratio = oxygen.saturation_mg_l(20, 0) / oxygen.saturation_mg_l(20, 35)
    assert ratio == pytest.approx(1.229, abs=0.0005)


NAN = math.nan
REFUSED = [
    (seawater.density_kg_m3, (41, 30), "temperature 41 degC is outside -2 to 40 degC"),
    (seawater.density_kg_m3, (20, 43), "salinity 43 is outside 0 to 42"),
    (seawater.density_kg_m3, (NAN, 30), "temperature nan"),
    (seawater.g_kg_from_g_l, (60, 20), "salt 60 g/L is outside"),
    (seawater.salinity_from_specific_gravity, (1024, 20), "specific gravity 1024 is outside"),
    (seawater.salinity_from_specific_gravity, (24, 20), "specific gravity 24 is outside"),
    (seawater.salinity_from_hydrometer, (1.024, 20, 50), "reference temperature 50 degC"),
    (seawater.heat_capacity_j_kg_k, (-1, 30), "temperature -1 degC"),
    (seawater.reference_salinity_g_kg, (-1,), "salinity -1"),
    (seawater.hardness_mg_kg_caco3, (50,), "salinity 50"),
    (conductivity.salinity_from_conductivity, (53000, 25), "conductivity 53000 mS/cm"),
    (conductivity.salinity_from_conductivity, (70, 15), "outside 0 to 42"),
    (conductivity.salinity_from_conductivity, (40, 36), "temperature 36 degC"),
    (conductivity.conductivity_ms_cm, (20, 43), "salinity 43"),
    (conductivity.compensation_error, (20, 30, 2.0), "compensation 2 per degC"),
    (oxygen.saturation_mg_l, (45, 30), "temperature 45 degC is outside 0 to 40 degC"),
    (oxygen.saturation_mg_l, (20, 41), "salinity 41"),
    (oxygen.saturation_mg_l, (20, 30, 1.0), "pressure 1 hPa is outside 600 to 1085 hPa"),
    (oxygen.percent, (-1, 20, 30), "oxygen -1 mg/L"),
    (oxygen.percent, (65, 20, 30), "oxygen 65 mg/L is outside 0 to 40 mg/L"),
    (oxygen.from_percent_mg_l, (500, 20, 30), "oxygen 500 %"),
    (oxygen.partial_pressure_mmhg, (500, 20, 30), "oxygen 500 %"),
    (oxygen.pressure_at_elevation_hpa, (9000,), "elevation 9000 m"),
    (oxygen.garcia_gordon, (20, 30, "mg/L"), "not umol/kg or mL/L"),
    (ammonia.un_ionised, (101, 20, 30, 8), "TAN 101 mg N/L"),
    (ammonia.un_ionised, (1, 20, 41, 8), "salinity 41"),
    (ammonia.un_ionised, (1, 20, 30, 12), "pH 12 is outside 4 to 11"),
    (ammonia.un_ionised, (1, 20, NAN, 8), "salinity nan"),
    (ammonia.epa_total_limit_mg_l, (-1, 20, 30, 8), "ammonia limit -1 mg/L"),
    (carbonate.co2, (700, 8, 20, 30), "alkalinity 700 mg/L CaCO3 is outside 0 to 600"),
    (carbonate.co2, (100, 3, 20, 30), "pH 3 is outside 4 to 11"),
    (carbonate.co2, (100, 8, 20, 43), "salinity 43"),
    (carbonate.co2, (100, 8, 20, -1), "salinity -1"),
    (carbonate.co2, (100, 8, 50, 0), "temperature 50 degC"),
    (carbonate.co2, (100, 8, 20, 30, "nbs", 200), "phosphate 200 mg P/L"),
    (carbonate.from_dic, (100, 2, 20, 4), "salinity 4 is outside 5 to 42"),
    (carbonate.from_co2, (100, 0, 20, 30), "CO2 0 mg/L"),
    (constants, (20, 15, "lueker"), "salinity 15 is outside 19 to 43"),
    (total_from_nbs, (8, 20, 4.9), "salinity 4.9 is outside 5 to 45"),
    (nbs_from_total, (12, 20, 30), "pH 12"),
    (hydrogen_sulphide_fraction, (20, 30, 2), "pH 2"),
    (forms.nitrogen, (-1, "N", "NH3"), "value -1"),
    (forms.nitrogen, (1, "ammonia"), "'ammonia' is not one of"),
    (forms.alkalinity, (1, "dH"), "'dH' is not one of"),
    (forms.alkalinity_umol_kg, (2000, 20, 30), "alkalinity 2000 mg/L CaCO3"),
]


@pytest.mark.parametrize(
    ("function", "arguments", "words"),
    REFUSED,
    ids=[f"{f.__name__}-{n}" for n, (f, *_) in enumerate(REFUSED)],
)
def test_out_of_range_is_refused_with_the_range_in_words(function, arguments, words):
    with pytest.raises(ValueError, match=re.escape(words)):
        function(*arguments)


def test_water_and_dosing_load_neither_numpy_nor_pint():
    code = (
        "import sys, rounds.water.carbonate, rounds.water.oxygen, rounds.dosing.alkalinity, "
        "rounds.dosing.salinity, rounds.dosing.chlorine\n"
        "assert not {'numpy', 'pint'} & sys.modules.keys()"
    )
    assert run([sys.executable, "-c", code], check=False).returncode == 0
