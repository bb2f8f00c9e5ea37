"""What holds for every water, whatever the numbers."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rounds.water import ammonia, carbonate, conductivity, forms, oxygen, seawater
from rounds.water.equilibrium import ImpossiblePair
from rounds.water.ph_scale import nbs_from_total, total_from_nbs
from rounds.water.sulphide import hydrogen_sulphide_fraction

temperatures = st.floats(0, 38)
salinities = st.floats(5, 38)
phs = st.floats(6, 8.8)
alkalinities = st.floats(20, 300)
buffers = st.sampled_from(["nbs", "total"])
quick = settings(max_examples=60, deadline=None)


@quick
@given(temperatures, st.floats(0, 38), st.floats(700, 1050))
def test_oxygen_saturation_falls_with_heat_and_salt_and_rises_with_pressure(t, s, p):
    here = oxygen.saturation_mg_l(t, s, p)
    assert oxygen.saturation_mg_l(t + 1, s, p) < here
    assert oxygen.saturation_mg_l(t, s + 1, p) < here
    assert oxygen.saturation_mg_l(t, s, p + 10) > here
    assert abs(oxygen.percent(here, t, s, p) - 100) < 1e-9
    assert abs(oxygen.from_percent_mg_l(100, t, s, p) - here) < 1e-9


@quick
@given(temperatures, st.floats(0, 38))
def test_the_two_oxygen_equations_agree(t, s):
    second = oxygen.garcia_gordon(t, s, "mL/L") * 1.42905
    assert abs(oxygen.saturation_mg_l(t, s) / second - 1) < 5e-4


@quick
@given(temperatures, st.floats(0, 41), st.floats(10, 30))
def test_density_rises_with_salt_and_every_inverse_comes_back(t, s, reference_c):
    assert seawater.density_kg_m3(t, s + 0.5) > seawater.density_kg_m3(t, s)
    assert abs(seawater.g_kg_from_g_l(seawater.g_l_from_g_kg(s, t), t) - s) < 1e-6
    gravity = seawater.specific_gravity(t, s, reference_c)
    assert abs(seawater.salinity_from_specific_gravity(gravity, t, reference_c) - s) < 1e-6
    float_reading = gravity / (1 - 2.5e-5 * (t - reference_c))
    assert abs(seawater.salinity_from_hydrometer(float_reading, t, reference_c) - s) < 1e-6


@quick
@given(st.floats(0, 35), st.floats(2.01, 41))
def test_practical_salinity_comes_back_from_conductivity(t, s):
    shown = conductivity.conductivity_ms_cm(t, s)
    assert abs(conductivity.salinity_from_conductivity(shown, t) - s) < 1e-6


@quick
@given(st.floats(2.01, 38), st.floats(0.018, 0.022))
def test_a_meter_makes_no_compensation_error_at_25_degrees(s, coefficient):
    assert abs(conductivity.compensation_error(25, s, coefficient)) < 1e-6


@quick
@given(temperatures, salinities, phs)
def test_ph_scales_invert(t, s, ph):
    assert abs(nbs_from_total(total_from_nbs(ph, t, s), t, s) - ph) < 1e-12


@quick
@given(st.floats(0.01, 20), temperatures, st.floats(0, 38), phs, buffers)
def test_un_ionised_ammonia_is_a_part_of_tan_and_rises_with_heat_and_ph(tan, t, s, ph, scale):
    here = ammonia.un_ionised(tan, t, s, ph, scale)
    assert 0 < here.fraction < 1
    assert here.value_mg_l <= here.cautious_mg_l < tan
    warmer = ammonia.un_ionised(tan, t + 1, s, ph, scale)
    higher = ammonia.un_ionised(tan, t, s, ph + 0.1, scale)
    assert here.value_mg_l < min(warmer.value_mg_l, higher.value_mg_l)
    assert here.cautious_mg_l < min(warmer.cautious_mg_l, higher.cautious_mg_l)


@quick
@given(st.floats(0.1, 5), temperatures, phs, buffers)
def test_at_most_is_indeed_above_the_sea_water_value(tan, t, ph, scale):
    below = ammonia.un_ionised(tan, t, 4.99, ph, scale)
    above = ammonia.un_ionised(tan, t, 5, ph, scale)
    assert below.at_most
    assert not above.at_most
    assert below.value_mg_l > above.value_mg_l


@quick
@given(alkalinities, phs, temperatures, salinities, buffers, st.floats(0, 5))
def test_carbonate_round_trips_and_co2_falls_as_ph_rises(a, ph, t, s, scale, p):
    try:
        here = carbonate.co2(a, ph, t, s, scale, p)
        higher = carbonate.co2(a, ph + 0.05, t, s, scale, p)
    except ImpossiblePair:
        assume(False)
    assert 0 < here.low_mg_l < here.co2_mg_l < here.high_mg_l
    assert higher.co2_mg_l < here.co2_mg_l
    assert here.ph(scale) == ph or abs(here.ph(scale) - ph) < 1e-12
    assume(here.dic_mmol_kg < 50 and 1e-3 < here.co2_mg_l < 1000)
    for back in (
        carbonate.from_dic(a, here.dic_mmol_kg, t, s, p),
        carbonate.from_co2(a, here.co2_mg_l, t, s, p),
    ):
        assert abs(back.ph(scale) - ph) < 1e-6
        assert abs(back.dic_mmol_kg - here.dic_mmol_kg) < 1e-6 * here.dic_mmol_kg


@quick
@given(st.floats(0, 40), st.floats(0, 42), st.floats(6, 9))
def test_hydrogen_sulphide_is_a_part_that_falls_with_ph(t, s, ph):
    here = hydrogen_sulphide_fraction(t, s, ph)
    assert 0 < hydrogen_sulphide_fraction(t, s, ph + 0.1) < here < 1


@quick
@given(
    st.floats(0, 1000), st.sampled_from(list(forms.NITROGEN)), st.sampled_from(list(forms.NITROGEN))
)
def test_nitrogen_forms_invert(value, form, to):
    back = forms.nitrogen(forms.nitrogen(value, form, to), to, form)
    assert back == pytest.approx(value, rel=1e-12)


@quick
@given(
    st.floats(0, 600),
    st.sampled_from(list(forms.ALKALINITY)),
    st.sampled_from(list(forms.ALKALINITY)),
)
def test_alkalinity_forms_invert(value, form, to):
    back = forms.alkalinity(forms.alkalinity(value, form, to), to, form)
    assert back == pytest.approx(value, rel=1e-12)


@quick
@given(st.floats(10, 30), st.floats(0, 38), st.floats(0.5, 10))
def test_heating_makes_supersaturation(t, s, by):
    assert oxygen.percent_after_heating(100, t, t + by, s) > 100
