"""Alkali doses: conserved, within every limit, refused where they must be, and told in words."""

from __future__ import annotations

import warnings
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rounds.dosing.alkalinity import alkalinity_dose
from rounds.dosing.alkalis import ALKALIS, dose_g_m3_per_mg_l, dose_mass_g
from rounds.dosing.portions import portions
from rounds.dosing.prediction import after_dose
from rounds.reason import lines
from rounds.water.ammonia import un_ionised
from rounds.water.carbonate import co2
from rounds.water.seawater import density_kg_m3

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import PyCO2SYS as pyco2

ROUND = {
    "volume_m3": 25.0,
    "alkalinity_mg_l": 90.0,
    "target_mg_l": 120.0,
    "ph": 7.5,
    "temperature_c": 24.0,
    "practical_salinity": 32.0,
    "product": "NaHCO3",
    "purity": 0.99,
    "tan_mg_l": 0.8,
}


def dose(**changes):
    return alkalinity_dose(**{**ROUND, **changes})


# --- conserved -----------------------------------------------------------------------------------


MIXED = [(7.0, 12.0), (7.6, 32.0)]
"""pH and salinity of water at 22 °C and 80 mg/L, into which 15 g/m3 of a product are mixed."""


@pytest.fixture(scope="module")
def theirs():
    """Equivalents and carbon added by hand, all cases solved at once by the outside library."""
    cases = [(product, *water) for product in ALKALIS for water in MIXED]
    settings_ = {
        "salinity": [salinity for *_, salinity in cases],
        "temperature": 22.0,
        "opt_pH_scale": 4,
        "opt_k_carbonic": 15,
        "opt_total_borate": 2,
    }
    rhos = [density_kg_m3(22.0, salinity) for *_, salinity in cases]
    umol_kg = [80.0 / 50.043 / rho * 1e6 for rho in rhos]
    before = pyco2.sys(
        par1=umol_kg, par1_type=1, par2=[ph for _, ph, _ in cases], par2_type=3, **settings_
    )
    added = [ALKALIS[product] for product, *_ in cases]
    moles = [15.0 / one.molar_mass / rho * 1e6 for one, rho in zip(added, rhos, strict=True)]
    after = pyco2.sys(
        par1=[a + m * one.equivalents for a, m, one in zip(umol_kg, moles, added, strict=True)],
        par1_type=1,
        par2=[
            float(c) + m * one.carbon for c, m, one in zip(before["dic"], moles, added, strict=True)
        ],
        par2_type=2,
        **settings_,
    )
    found = zip(after["pH"], after["aqueous_CO2"], after["par1"], strict=True)
    return dict(zip(cases, found, strict=True))


@pytest.mark.parametrize("product", list(ALKALIS))
@pytest.mark.parametrize(("ph", "salinity"), MIXED)
def test_a_dose_mixed_in_is_what_pyco2sys_finds(theirs, product, ph, salinity):
    nbs, co2_umol_kg, umol_kg = map(float, theirs[product, ph, salinity])
    mg_l = 1e-6 * density_kg_m3(22.0, salinity)
    found = after_dose(80.0, ph, 22.0, salinity, product, 15.0)
    assert found.ph_nbs == pytest.approx(nbs, abs=1e-6)
    assert found.co2_mg_l == pytest.approx(co2_umol_kg * 44.009 * mg_l, rel=1e-6)
    assert found.alkalinity_mg_l == pytest.approx(umol_kg * 50.043 * mg_l, rel=1e-9)


def test_a_strong_base_always_raises_ph():
    for ph in (6.8, 7.5, 8.2):
        for salinity in (6, 20, 38):
            before = co2(100, ph, 25, salinity)
            after = after_dose(100, ph, 25, salinity, "NaOH", 2)
            assert after.ph_nbs > before.ph_nbs
            assert after.dic_mmol_kg == pytest.approx(before.dic_mmol_kg, rel=1e-9)


@given(st.floats(0, 5e5), st.integers(1, 30))
@settings(max_examples=100, deadline=None)
def test_portions_add_up_exactly_and_never_over(amount, count):
    parts = portions(amount, count)
    step = 1 if amount < 1000 else 10 if amount < 20_000 else 100
    assert sum(parts) <= amount + 1e-6 * step
    assert amount - sum(parts) < step
    assert all(part % step == 0 and part > 0 for part in parts)
    assert len(parts) <= count
    if parts:
        assert max(parts) - min(parts) <= step


# --- within the limits ---------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["NaHCO3", "KHCO3", "Na2CO3", "Na2CO3.10H2O"]),
    st.floats(0.2, 200),
    st.floats(15, 200),
    st.floats(20, 250),
    st.floats(6.6, 8.4),
    st.floats(12, 34),
    st.floats(6, 38),
    st.floats(0, 4),
    st.sampled_from(["nbs", "total"]),
)
def test_no_advised_dose_breaks_a_limit(product, v, alkalinity, target, ph, t, s, tan, buffers):
    found = dose(
        product=product,
        volume_m3=v,
        alkalinity_mg_l=alkalinity,
        target_mg_l=target,
        ph=ph,
        temperature_c=t,
        practical_salinity=s,
        tan_mg_l=tan,
        ph_buffers=buffers,
    )
    assert found.total_g == sum(found.portions_g)
    if not found.portions_g:
        assert found.refused or found.expect
        return
    assert not found.refused
    rise = found.total_g / v / dose_g_m3_per_mg_l(product, 0.99)
    assert rise <= min(20, target - alkalinity) + 1e-9
    assert found.left_mg_l == pytest.approx(target - alkalinity - rise, abs=1e-6)
    assert found.whole.alkalinity_mg_l == pytest.approx(alkalinity + rise, abs=1e-6)
    given_g, levels = 0.0, [ph]
    for part in found.portions_g:
        given_g += part
        after = after_dose(alkalinity, ph, t, s, product, given_g / v, 0.99, buffers)
        levels.append(after.ph(buffers))
    assert max(b - a for a, b in pairwise(levels)) <= 0.1 + 1e-6
    assert levels[-1] - ph <= 0.5 + 1e-6
    for state in (found.whole, found.settled):
        assert state.ph <= 8.5 + 1e-6
        cautious = un_ionised(tan, t, s, state.ph, buffers).cautious_mg_l
        assert cautious == pytest.approx(state.ammonia_cautious_mg_l, rel=1e-9)
        assert cautious <= 0.05 + 1e-6


def test_the_daily_rise_caps_the_dose_and_the_rest_is_for_another_day():
    found = dose(target_mg_l=150)
    assert found.whole.alkalinity_mg_l == pytest.approx(110, abs=0.1)
    assert found.left_mg_l == pytest.approx(40, abs=0.1)
    assert any("20 of 60 mg/L today" in c for c in found.cautions)
    later = dose(target_mg_l=150, risen_today_mg_l=15)
    assert later.whole.alkalinity_mg_l == pytest.approx(95, abs=0.1)
    full = dose(target_mg_l=150, risen_today_mg_l=20)
    assert full.total_g == 0
    assert "No more today" in full.expect


def test_soda_ash_is_cut_down_where_ammonia_would_pass_the_limit():
    safe = dose(product="Na2CO3", tan_mg_l=0.1)
    cut = dose(product="Na2CO3", tan_mg_l=1.5)
    assert 0 < cut.total_g < safe.total_g
    assert any("un-ionised ammonia" in c and "Less than wanted" in c for c in cut.cautions)
    assert len(safe.portions_g) > 4
    gentle = dose(product="NaHCO3", tan_mg_l=1.5)
    assert gentle.whole.ph < cut.whole.ph


def test_more_than_a_days_need_is_cautioned_not_refused():
    found = dose(daily_need_g=100)
    assert found.total_g > 100
    assert any("100 g" in c for c in found.cautions)
    assert not found.refused
    assert not any("feed of a day" in c for c in dose(daily_need_g=5000).cautions)


def test_a_site_can_be_stricter():
    ash = {"product": "Na2CO3", "tan_mg_l": 0.1}
    gentle = dose(**ash, ph_rise_per_portion=0.05)
    assert len(gentle.portions_g) > len(dose(**ash).portions_g)
    assert dose(daily_rise_limit_mg_l=10).total_g < dose().total_g


# --- refused -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"product": "NaOH"}, "No sodium hydroxide into a loop with fish"),
        ({"product": "Ca(OH)2"}, "No hydrated lime into a loop with fish"),
        ({"product": "CaO"}, "No quicklime into a loop with fish"),
        ({"product": "Mg(OH)2"}, "No magnesium hydroxide into a loop with fish"),
        ({"product": "Na2CO3", "tan_mg_l": None}, "TAN is not known"),
        ({"tan_mg_l": 9.0}, "un-ionised ammonia"),
        ({"ph": 8.6}, "pH 8.60, over 8.5 before any dose"),
        ({"practical_salinity": 3.0}, "Below salinity 5"),
        ({"alkalinity_mg_l": 8.0, "ph": 9.6}, "pH too high for this alkalinity"),
        ({"alkalinity_mg_l": 200.0, "target_mg_l": 220.0, "ph": 6.0}, "CO2 works out above 60"),
    ],
)
def test_refused(changes, words):
    found = dose(**changes)
    assert words in " ".join(found.refused)
    assert found.total_g == 0
    assert found.portions_g == ()
    assert found.how == ()


def test_hydroxide_is_for_an_empty_loop_only():
    found = dose(product="NaOH", stocked=False)
    assert found.total_g > 0
    assert any("Face shield" in line for line in found.how)


@pytest.mark.parametrize("lack", [0.001, 0.01, 0.05])
def test_a_target_reached_within_what_a_scale_shows_needs_no_dose(lack):
    found = dose(volume_m3=5.0, alkalinity_mg_l=100 - lack, target_mg_l=100)
    assert found.expect == "No dose needed: it is less than a scale shows."
    assert not found.refused
    assert not found.portions_g


def test_no_dose_is_needed_at_or_above_the_target():
    for target in (90, 40):
        found = dose(target_mg_l=target)
        assert found.total_g == 0
        assert found.expect.startswith("No dose needed")
        assert not found.refused


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"purity": 0.0}, "purity 0"),
        ({"purity": 99}, "purity 99"),
        ({"volume_m3": 0}, "volume 0 m3"),
        ({"target_mg_l": -5}, "target -5"),
        ({"product": "salt"}, "'salt' is not one of"),
        ({"temperature_c": 60}, "temperature 60 degC"),
        ({"ph": 2}, "pH 2"),
        ({"risen_today_mg_l": -1}, "risen today -1"),
    ],
)
def test_nonsense_is_refused_in_words(changes, words):
    with pytest.raises(ValueError, match=words):
        dose(**changes)


def test_mass_out_of_range_is_refused():
    with pytest.raises(ValueError, match="alkalinity rise -1"):
        dose_mass_g("NaHCO3", 10, -1)


# --- told ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ph", "words"),
    [
        (7.6, "pH will hardly move now; it rises to about"),
        (6.8, "pH will rise to"),
        (8.2, "pH will fall to"),
    ],
)
def test_bicarbonate_does_not_promise_a_higher_ph(ph, words):
    found = dose(ph=ph, alkalinity_mg_l=60.0, tan_mg_l=0.1)
    assert found.expect.startswith(words)
    assert found.settled.ph > found.now.ph


def test_the_sheet_says_what_how_and_what_to_look_at():
    found = dose()
    told = " ".join((*found.how, *found.cautions, *found.measure_after, *lines(found.reasons)))
    for word in ("Goggles", "Dissolve", "never onto mats", "bleach", "30 minutes", "Stop at once"):
        assert word in told
    assert f"{found.total_g:.0f}" in told
    assert 1 <= found.hours_between <= 5


def test_ammonia_is_unknown_without_tan_and_said_so():
    found = dose(tan_mg_l=None)
    assert found.total_g > 0
    assert found.whole.ammonia_cautious_mg_l is None
    assert any("TAN is not known" in c for c in found.cautions)
