"""Sea water against gsw (TEOS-10) and PyCO2SYS on 5,000 seeded points over the stated ranges.

Largest deviations are printed: python -m pytest tests/published/test_published_grid.py -n 0 -s
"""

from __future__ import annotations

import random
import warnings
from collections.abc import Iterable

import gsw
import numpy as np
import pytest

from rounds.water import ammonia, carbonate, conductivity, equilibrium, seawater, sulphide
from rounds.water.constants import constants
from rounds.water.ph_scale import nbs_from_total

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import PyCO2SYS as pyco2

POINTS = 5000


def grid(*ranges: tuple[float, float]) -> list[tuple[float, ...]]:
    seed = random.Random(20)
    return [tuple(seed.uniform(*ends) for ends in ranges) for _ in range(POINTS)]


CASES = grid((0, 40), (5, 42), (6.2, 8.6), (20, 250))
SETTINGS = {
    "opt_k_carbonic": 15,  # Waters, Millero & Woosley
    "opt_total_borate": 2,  # Lee et al. 2010
    "opt_k_bisulfate": 1,  # Dickson 1990
    "opt_k_fluoride": 1,  # Dickson & Riley 1979
}


def worst(what: str, differences: Iterable[float]) -> float:
    most = max(abs(d) for d in differences)
    print(f"largest deviation, {what}: {most:.2g}")
    return most


@pytest.fixture(scope="module")
def theirs():
    temperature, salinity, ph, _ = zip(*CASES, strict=True)
    umol_kg = [a / 50.043 / seawater.density_kg_m3(t, s) * 1e6 for t, s, _, a in CASES]
    phosphate = [n % 3 * 40.0 for n in range(POINTS)]
    out = pyco2.sys(
        par1=umol_kg,
        par1_type=1,
        par2=list(ph),
        par2_type=3,
        temperature=list(temperature),
        salinity=list(salinity),
        total_phosphate=phosphate,
        opt_pH_scale=4,
        **SETTINGS,
    )
    return {**out, "phosphate": phosphate}


@pytest.fixture(scope="module")
def ours(theirs):
    return [
        carbonate.co2(a, ph, t, s, phosphate_mg_l=p * 1e-6 * 30.974 * seawater.density_kg_m3(t, s))
        for (t, s, ph, a), p in zip(CASES, theirs["phosphate"], strict=True)
    ]


def test_density_is_within_a_hundredth_of_teos_10():
    cases = grid((0, 40), (0, 42))
    t, s = np.array(cases).T
    theirs = gsw.rho_t_exact(gsw.SR_from_SP(s), t, 0)
    found = (seawater.density_kg_m3(*case) - d for case, d in zip(cases, theirs, strict=True))
    assert worst("density, kg/m3", found) < 0.01


def test_practical_salinity_is_that_of_gsw():
    cases = grid((-2, 35), (2, 42))
    t, s = np.array(cases).T
    theirs = gsw.C_from_SP(s, t, 0)
    both = list(zip(cases, theirs, strict=True))
    there = (conductivity.conductivity_ms_cm(*case) - c for case, c in both[::5])
    assert worst("conductivity, mS/cm", there) < 1e-6
    back = (conductivity.salinity_from_conductivity(c, t) - s for (t, s), c in both)
    assert worst("salinity", back) < 1e-6
    brackish = grid((-2, 35), (0.1, 3.5))
    t, c = np.array(brackish).T
    low = (
        conductivity.salinity_from_conductivity(c, t) - s
        for (t, c), s in zip(brackish, gsw.SP_from_C(c, t, 0), strict=True)
    )
    assert worst("salinity below 2", low) < 1e-3


@pytest.mark.parametrize(
    ("what", "key", "scale"),
    [
        ("dic_mmol_kg", "dic", 1e3),
        ("bicarbonate_mmol_kg", "bicarbonate", 1e3),
        ("carbonate_mmol_kg", "carbonate", 1e3),
        ("pco2_uatm", "pCO2", 1.0),
    ],
)
def test_the_carbonate_system_is_that_of_pyco2sys(theirs, ours, what, key, scale):
    found = (
        getattr(c, what) * scale / float(value) - 1
        for c, value in zip(ours, theirs[key], strict=True)
    )
    assert worst(f"{what}, relative", found) < 1e-6


def test_ph_scales_are_those_of_pyco2sys(theirs, ours):
    found = (c.ph_total - float(ph) for c, ph in zip(ours, theirs["pH_total"], strict=True))
    assert worst("pH on the total scale", found) < 1e-6


def test_co2_in_mg_l_is_theirs_through_density(theirs, ours):
    found = (
        c.co2_mg_l / (float(gas) * 1e-6 * 44.009 * seawater.density_kg_m3(t, s)) - 1
        for c, gas, (t, s, *_) in zip(ours, theirs["aqueous_CO2"], CASES, strict=True)
    )
    assert worst("CO2, relative", found) < 1e-6


def test_ph_comes_back_from_inorganic_carbon_and_from_co2(theirs, ours):
    phosphate = [p * 1e-6 * 30.974 for p in theirs["phosphate"]]
    both = zip(ours, phosphate, CASES, strict=True)

    def again(c, p, t, s):
        mg_l = p * seawater.density_kg_m3(t, s)
        yield carbonate.from_dic(c.alkalinity_mg_l, c.dic_mmol_kg, t, s, mg_l)
        yield carbonate.from_co2(c.alkalinity_mg_l, c.co2_mg_l, t, s, mg_l)

    found = (b.ph_nbs - ph for c, p, (t, s, ph, _) in both for b in again(c, p, t, s))
    assert worst("pH after a round trip", found) < 1e-6


@pytest.mark.parametrize(
    ("carbonic", "option", "low"), [("waters", 15, 5), ("millero", 14, 5), ("lueker", 10, 19)]
)
def test_constants_are_those_of_pyco2sys(carbonic, option, low):
    cases = [(t, s) for t, s, *_ in CASES[::25] if low <= s <= 40 and 2 <= t <= 35]
    settings = {**SETTINGS, "opt_k_carbonic": option}
    out = pyco2.sys(
        temperature=[t for t, _ in cases],
        salinity=[s for _, s in cases],
        opt_pH_scale=1,
        **settings,
    )
    names = {
        "k1": "k_carbonic_1",
        "k2": "k_carbonic_2",
        "kb": "k_borate",
        "kw": "k_water",
        "k0": "k_CO2",
        "ks": "k_bisulfate",
        "kf": "k_fluoride",
        "kp1": "k_phosphoric_1",
        "kp2": "k_phosphoric_2",
        "kp3": "k_phosphoric_3",
    }
    for n, (t, s) in enumerate(cases):
        k = constants(t, s, carbonic)
        for mine, their in names.items():
            assert getattr(k, mine) == pytest.approx(float(out[their][n]), rel=1e-9), (mine, t, s)


def test_ammonia_and_sulphide_constants_are_those_of_pyco2sys():
    cases = [(t, s, ph) for t, s, ph, _ in CASES[::25] if s <= 40]
    out = pyco2.sys(
        temperature=[t for t, *_ in cases],
        salinity=[s for _, s, _ in cases],
        opt_pH_scale=1,
        **SETTINGS,
    )
    for n, (t, s, ph) in enumerate(cases):
        assert 10 ** -ammonia.pka_sea(t, s) == pytest.approx(float(out["k_ammonia"][n]), rel=1e-9)
        k = float(out["k_sulfide"][n])
        expected = 10**-ph / (10**-ph + k)
        found = sulphide.hydrogen_sulphide_fraction(t, s, ph)
        assert found == pytest.approx(expected, rel=1e-9)


def test_the_neutral_ph_of_bicarbonate_is_where_pyco2sys_finds_no_change():
    for s, t, expected in ((15, 20, 7.78), (30, 20, 7.64), (35, 28, 7.52)):
        neutral = equilibrium.neutral_ph_total(t, s)
        before = pyco2.sys(
            par1=2000.0,
            par2=neutral,
            par1_type=1,
            par2_type=3,
            salinity=s,
            temperature=t,
            opt_pH_scale=1,
            **SETTINGS,
        )
        after = pyco2.sys(
            par1=2400.0,
            par2=float(before["dic"]) + 400,
            par1_type=1,
            par2_type=2,
            salinity=s,
            temperature=t,
            opt_pH_scale=1,
            **SETTINGS,
        )
        assert float(after["pH_total"]) == pytest.approx(neutral, abs=0.02)
        assert nbs_from_total(neutral, t, s) == pytest.approx(expected, abs=0.06)
